//! A state of all zones to compare a later one with, and what had been booked by then.

use super::accounts::Accounts;
use super::block::{HeatBlock, Mode, Phase};

/// The state of all zones at a moment.
#[derive(Clone, Debug)]
pub struct HeatMark {
    /// °C, by zone.
    pub temperatures: Vec<f64>,
    /// By zone.
    pub phases: Vec<Phase>,
    /// What runs, which switches are on, and where zones stand among their steps.
    pub mode: Mode,
    /// What had flowed.
    pub accounts: Accounts,
}

impl HeatBlock<'_> {
    /// The state now. Least and greatest temperatures of a cycle begin here.
    #[must_use]
    pub fn mark(&mut self) -> HeatMark {
        let (temperatures, now) = (self.temperatures().to_vec(), self.now());
        self.accounts.begin_cycle(&temperatures, now);
        HeatMark { temperatures, phases: self.phases().to_vec(), mode: self.mode(), accounts: self.accounts.clone() }
    }

    /// By how much temperatures differ from those of a mark, K; `None` where something else does.
    #[must_use]
    pub fn drift(&self, mark: &HeatMark) -> Option<f64> {
        if mark.mode != self.mode() || !same_phases(&mark.phases, self.phases()) {
            return None;
        }
        let apart = mark.temperatures.iter().zip(self.temperatures()).map(|(then, now)| (then - now).abs());
        Some(apart.fold(0.0, f64::max))
    }

    /// Least and greatest temperature of each zone since the last mark, °C.
    #[must_use]
    pub fn span_c(&self) -> Vec<(f64, f64)> {
        let spans = self.accounts.least_lately.iter().zip(&self.accounts.greatest_lately);
        spans.map(|(least, greatest)| (least.at_c, greatest.at_c)).collect()
    }
}

/// Whether a drift that was `before` a cycle ago, and is `now`, has died away: all that is still to come of it is less than
/// [`SETTLED_K`].
#[must_use]
pub fn has_settled(before: Option<f64>, now: f64) -> bool {
    if now <= STILL_K {
        return true;
    }
    // What is still to come of a drift that shrinks by so much each cycle.
    before.is_some_and(|before| now < before && now + now * now / (before - now) <= SETTLED_K)
}

/// A cycle has settled when all that it will still drift by is less than this, K.
pub const SETTLED_K: f64 = 1e-9;
/// What rounding makes of a cycle that comes back to itself, K.
const STILL_K: f64 = 1e-13;

fn same_phases(one: &[Phase], other: &[Phase]) -> bool {
    one.iter().zip(other).all(|pair| match pair {
        (Phase::Settled(one), Phase::Settled(other)) => one == other,
        (Phase::Changing { change: one, taken_j: a }, Phase::Changing { change: other, taken_j: b }) => {
            one == other && (a - b).abs() <= 1e-10 * a.abs().max(b.abs())
        }
        _ => false,
    })
}
