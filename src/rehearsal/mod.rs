//! The time engine: what happens to stores, supplies, demands and machines over a horizon, event by event.
//!
//! Between events every rate is constant and every level a straight line (or, where a store loses a share of its contents,
//! one exponential), so time is not stepped: the next event is solved for and jumped to. At each event the balance of the
//! moment ([`cell`]) says what flows; it depends only on which stores are empty or full, which switches are on and which step
//! each pattern is in, and of these only on those nearby, so it is asked once and remembered ([`rates`]). Parts that do not act on each other are
//! rehearsed alone ([`part`]). A state that comes again is recognised and the rest is counted ([`cycle`]).
//!
//! How it is decided what flows, and in which order things at one moment happen, stands at [`cell`] and [`island`].

#![allow(
    clippy::float_cmp,
    reason = "what is compared is the same number or another one, not the outcome of two reckonings"
)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts stay below 2^53 and indices below 2^32 by the limits of a plan"
)]

mod blocks;
mod cell;
mod cycle;
mod endless;
mod island;
mod level;
mod part;
mod queue;
mod rates;
mod record;
mod result;
pub mod sizing;
mod state;
mod system;
#[cfg(test)]
mod tests;
mod warm;

use crate::budget::{Budget, Halt};
use crate::heat::Running;
use crate::plan::Plan;
use island::Island;
use rates::Memory;
use record::Records;
use system::System;

pub use island::ONE_MOMENT;
pub use result::{
    CoolerRecord, DemandRecord, Event, HeaderRecord, Island as IslandRecord, Rehearsal, Settled, StoreRecord,
    SupplyRecord, SwitchRecord, Turn, UnitRecord, WarmRecord, What,
};
pub use warm::STEPS;

/// The most events that a result lists.
pub const MOST_EVENTS: usize = 2_000;
/// The most points of the course of one store.
pub const MOST_POINTS: usize = 2_000;
/// The most events that one rehearsal simulates, whatever its budget: about a second of work.
pub const MOST_SIMULATED: u64 = 1_000_000;

/// Temperatures beyond this are none, °C.
const MOST_C: f64 = 1e15;

/// The machines that a rehearsal has.
#[derive(Clone, Copy, Debug)]
pub struct Fleet<'a> {
    /// How many of each unit.
    pub units: &'a [u32],
    /// How many coolers and turbines; where it is given, zones are rehearsed too. Its rates say how warm streams are.
    pub warm: Option<Running<'a>>,
    /// Whether temperatures over time are wanted, and not their extremes and ends alone.
    pub curves: bool,
}

impl<'a> Fleet<'a> {
    /// So many of each unit, temperatures left out.
    #[must_use]
    pub fn of(units: &'a [u32]) -> Self {
        Self { units, warm: None, curves: false }
    }
}

/// Rehearses a plan over its horizon with these machines.
///
/// The budget's steps and [`MOST_SIMULATED`] bound the events that are simulated; where they are spent the result says how far
/// it got ([`Rehearsal::reached_s`]).
///
/// # Errors
/// [`Halt`] when the hook says stop, or when the balance of a single moment exceeds the budget.
pub fn rehearse(plan: &Plan, fleet: Fleet<'_>, budget: &Budget<'_>) -> Result<Rehearsal, Halt> {
    let horizon_s = plan.horizon.si();
    let system = System::new(plan, fleet);
    let parts = part::split(&system);
    let mut records = Records::new(plan, &system, fleet.units, horizon_s);
    let mut left = budget.steps.min(MOST_SIMULATED);
    for (number, part) in parts.iter().enumerate() {
        let mut island = Island::new(part, horizon_s, Memory::default());
        // What earlier parts left over goes to the later ones.
        let share = left / (parts.len() - number) as u64;
        island.run(horizon_s, share, budget)?;
        let temperatures = island.heat.iter().flat_map(|heat| heat.block.temperatures());
        if temperatures.copied().any(|t| !t.is_finite() || t.abs() > MOST_C) {
            return Err(Halt::BeyondRange { limit: MOST_C });
        }
        left -= island.simulated.min(left);
        records.add(island);
    }
    Ok(records.finish())
}
