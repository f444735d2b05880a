//! Where the condition turns between two samples: halving on a grid of decimal numbers.

use super::{Found, Sample, Search, Tried, is_smallest};
use crate::budget::Halt;

/// What halving came to.
pub(super) struct Turned {
    pub found: Option<Found>,
    pub fails_at: Option<f64>,
    /// Plans reckoned.
    pub tried: usize,
}

/// The number sought, beginning from the outermost sample with which the condition holds.
pub(super) fn find(search: &Search<'_>, samples: &[Sample], whole: bool) -> Result<Turned, Halt> {
    let seek = search.seek;
    let holds = |sample: &Sample| sample.holds;
    let outermost = if is_smallest(seek) { samples.iter().position(holds) } else { samples.iter().rposition(holds) };
    let Some(index) = outermost else { return Ok(Turned { found: None, fails_at: None, tried: 0 }) };
    let beyond = if is_smallest(seek) { index.checked_sub(1) } else { Some(index + 1) };
    let mut good = samples[index].number;
    let mut bad = beyond.and_then(|beyond| samples.get(beyond)).map(|sample| sample.number);
    let mut best: Option<Tried> = None;
    let mut tried = 0;
    if let Some(bad) = &mut bad {
        let grid = if whole { Grid { decimals: 0 } } else { Grid::within(seek.tolerance) };
        while let Some(middle) = grid.between(good, *bad) {
            tried += 1;
            match search.attempt(middle)? {
                Ok(attempt) if attempt.holds => (good, best) = (middle, Some(attempt)),
                _ => *bad = middle,
            }
        }
    }
    let best = if best.is_some() {
        best
    } else {
        tried += 1;
        search.attempt(good)?.ok()
    };
    let found = best.map(|best| Found {
        value: seek.span.scale.value(good),
        number: good,
        verdict: best.verdict,
        say: best.say,
        figure: best.figure,
    });
    Ok(Turned { found, fails_at: bad, tried })
}

/// Numbers with so many decimals; fewer than none are whole tens, hundreds and so on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Grid {
    decimals: i32,
}

impl Grid {
    /// The widest that is no wider than the tolerance.
    fn within(tolerance: f64) -> Self {
        // A tolerance lies within what a quantity may be and 12 digits below, so this is a small number.
        #[allow(clippy::cast_possible_truncation)]
        let decimals = -((tolerance * (1.0 + 1e-12)).log10().floor()) as i32;
        Self { decimals }
    }

    /// Decimal numbers come out as they are written: a whole number over a whole power of ten is the nearest double.
    fn number(self, place: f64) -> f64 {
        if self.decimals >= 0 { place / 10_f64.powi(self.decimals) } else { place * 10_f64.powi(-self.decimals) }
    }

    fn place(self, number: f64) -> f64 {
        if self.decimals >= 0 { number * 10_f64.powi(self.decimals) } else { number / 10_f64.powi(-self.decimals) }
    }

    /// A number of the grid strictly between two others and about in the middle, if there is one.
    fn between(self, one: f64, other: f64) -> Option<f64> {
        let (low, high) = (one.min(other), one.max(other));
        let inside = |number: &f64| *number > low && *number < high;
        let middle = self.place(f64::midpoint(low, high)).floor();
        [middle, middle + 1.0].map(|place| self.number(place)).into_iter().find(inside)
    }
}

#[cfg(test)]
mod tests {
    use super::Grid;

    #[test]
    fn a_grid_is_no_wider_than_the_tolerance() {
        for (tolerance, decimals) in [(1.0, 0), (0.1, 1), (0.25, 1), (0.001, 3), (5e-4, 4), (10.0, -1), (99.0, -1)] {
            assert_eq!(Grid::within(tolerance), Grid { decimals }, "{tolerance}");
        }
        assert_eq!(Grid { decimals: 1 }.between(0.0, 1.0), Some(0.5));
        assert_eq!(Grid { decimals: 0 }.between(3.0, 5.0), Some(4.0));
        assert_eq!(Grid { decimals: 0 }.between(3.0, 4.0), None);
        assert_eq!(Grid { decimals: 0 }.between(3.5, 4.4), Some(4.0));
        assert_eq!(Grid { decimals: -1 }.between(3.0, 17.0), Some(10.0));
    }

    #[test]
    fn halving_ends_and_is_as_near_as_the_grid() {
        let mut state = 3_u64;
        for _ in 0..2_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let share = (state >> 11) as f64 / (1_u64 << 53) as f64;
            let size = 10_f64.powf(share * 20.0 - 10.0);
            let (mut low, mut high) = (size, size * (1.5 + share));
            let tolerance = (high - low) * 1e-9;
            let turn = low + (high - low) * (share * 7.3).fract();
            let grid = Grid::within(tolerance);
            let mut steps = 0;
            while let Some(middle) = grid.between(low, high) {
                if middle < turn {
                    low = middle;
                } else {
                    high = middle;
                }
                steps += 1;
                assert!(steps < 64, "{size}");
            }
            assert!(high - low <= tolerance * 1.001 && low <= turn && turn <= high, "{low} {turn} {high}");
        }
    }
}
