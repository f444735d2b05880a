//! The cycle that zones settle in under patterns that repeat: the temperatures that come back to themselves after one period.
//!
//! One period takes temperatures at its beginning to temperatures at its end, piece by piece affinely. Newton's method on
//! that finds the fixed point at once where the pieces stay the same, instead of waiting for the drift to die away.

use nalgebra::{DMatrix, DVector};

use super::network::Network;
use super::rehearse::{HeatRehearsal, Pulsed, rehearse};
use crate::budget::{Budget, Halt};

/// Rounds of Newton's method.
const ROUNDS: usize = 24;
/// The cycle is found when a period changes no temperature by more, K.
const FOUND_K: f64 = 1e-9;

/// One settled period, begun at its own beginning, or `None` where it was not found: switches with a deadband may have a cycle
/// of their own.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn periodic(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    period_s: f64,
    guess_c: &[f64],
    budget: &Budget<'_>,
) -> Result<Option<HeatRehearsal>, Halt> {
    let zones = network.zones.len();
    let mut network = network.clone();
    let mut begin = guess_c.to_vec();
    let run = |network: &mut Network, from: &[f64]| {
        network.zones.iter_mut().zip(from).for_each(|(zone, t)| zone.start_c = *t);
        rehearse(network, pulsed, period_s, budget)
    };
    for _ in 0..ROUNDS {
        let period = run(&mut network, &begin)?;
        let drift = DVector::from_iterator(zones, period.end_c.iter().zip(&begin).map(|(end, begin)| end - begin));
        if drift.amax() <= FOUND_K {
            return Ok(Some(period));
        }
        let mut slope = DMatrix::identity(zones, zones);
        // A zone that comes back exactly is held: what it begins at decides nothing.
        for zone in (0..zones).filter(|zone| drift[*zone] != 0.0) {
            let step = 1e-3;
            let mut moved = begin.clone();
            moved[zone] += step;
            let after = run(&mut network, &moved)?;
            for (row, (after, end)) in after.end_c.iter().zip(&period.end_c).enumerate() {
                slope[(row, zone)] -= (after - end) / step;
            }
        }
        let Some(step) = slope.lu().solve(&drift) else { return Ok(None) };
        for (t, step) in begin.iter_mut().zip(step.iter()) {
            *t += step;
        }
        if begin.iter().any(|t| !t.is_finite() || t.abs() > 1e6) {
            return Ok(None);
        }
    }
    Ok(None)
}
