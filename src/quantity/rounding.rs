//! Rounding of what is needed to what can be had.

/// A number this far above a whole one, relative, is that whole one: 5.000000001 machines are 5.
pub const ROUNDING_TOLERANCE: f64 = 1e-7;

/// The least whole number that covers `needed`, within [`ROUNDING_TOLERANCE`]. Nothing needed, or less, is 0.
#[must_use]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped at 0 below; a cast saturates above"
)]
pub fn whole_up(needed: f64) -> u64 {
    let nearest = needed.round();
    let whole = if (needed - nearest).abs() <= ROUNDING_TOLERANCE * nearest.abs() { nearest } else { needed.ceil() };
    whole.max(0.0) as u64
}

/// The greatest whole number within `had`, within [`ROUNDING_TOLERANCE`]: 4.999999999 is 5. Nothing, or less, is 0.
#[must_use]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped at 0 below; a cast saturates above"
)]
pub fn whole_down(had: f64) -> u64 {
    let nearest = had.round();
    let whole = if (had - nearest).abs() <= ROUNDING_TOLERANCE * nearest.abs() { nearest } else { had.floor() };
    whole.max(0.0) as u64
}

#[cfg(test)]
mod tests {
    use super::{whole_down, whole_up};

    #[test]
    fn rounds_down_but_for_noise() {
        for (had, whole) in [(4.999_999_999, 5), (4.999_99, 4), (5.000_000_001, 5), (0.9, 0), (-0.3, 0), (0.0, 0)] {
            assert_eq!(whole_down(had), whole, "{had}");
        }
    }

    #[test]
    fn rounds_up_but_for_noise() {
        for (needed, whole) in [
            (5.000_000_001, 5),
            (5.0, 5),
            (5.000_01, 6),
            (0.0, 0),
            (-0.3, 0),
            (0.2, 1),
            (4.999_999_999, 5),
            (1e9, 1_000_000_000),
        ] {
            assert_eq!(whole_up(needed), whole, "{needed}");
        }
    }
}
