//! Numbers that can be reckoned with: whatever is derived from them is finite.

use crate::budget::Halt;

/// A plan's own numbers lie between 1e-15 and 1e15 or are nothing, so what is derived from a number within this and a few of
/// those is finite.
const GREATEST: f64 = 1e200;

/// Whether a number can be reckoned with.
pub(crate) fn is_within_range(number: f64) -> bool {
    number.abs() <= GREATEST
}

/// What ends a question of which some number cannot.
///
/// # Errors
/// [`Halt::BeyondRange`] unless all are `within`.
pub(crate) fn all_within_range(within: bool) -> Result<(), Halt> {
    if within { Ok(()) } else { Err(Halt::BeyondRange { limit: GREATEST }) }
}
