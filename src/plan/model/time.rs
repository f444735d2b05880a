//! What happens over time: stores, the switches that watch them, patterns that repeat, and the charge of closed loops.

use super::{CoolerId, DemandId, HeaderId, HotSourceId, StoreId, SupplyId, TurbineId, UnitId};
use crate::quantity::{Mass, Share, Time};

/// Something that holds what a header carries: a sump, a tank, a bank of batteries. Amounts are kg, on `power` J.
#[derive(Clone, Debug)]
pub struct Store {
    /// Its name.
    pub name: String,
    /// The header it stands on.
    pub header: HeaderId,
    /// What it holds when full; positive.
    pub capacity: f64,
    /// What it holds at time zero; 0 to `capacity`.
    pub level: f64,
    /// Levels that are told when they are passed.
    pub limits: LevelLimits,
    /// What it loses by standing.
    pub loses: StandingLoss,
    /// Taps and wanted units of a rank up to this fill it; those of a later rank are the reserve behind it.
    pub rank: u32,
}

/// Levels with the meaning of ISA-5.1, in kg or J, in order where there are several, and within the store's capacity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LevelLimits {
    /// LL.
    pub low_low: Option<f64>,
    /// L.
    pub low: Option<f64>,
    /// H.
    pub high: Option<f64>,
    /// HH.
    pub high_high: Option<f64>,
}

/// What a store loses by standing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StandingLoss {
    /// Nothing.
    None,
    /// So much in a second while there is any: kg/s or W.
    Rate(f64),
    /// This share of its contents in a second, 1/s.
    Share(f64),
}

/// Starts and stops what it runs by what it watches.
///
/// `start_at` above `stop_at` is the draining sense: it starts at or above the one and stops at or below the other. The other
/// way about it is the filling sense. They are never equal.
#[derive(Clone, Debug)]
pub struct Switch {
    /// Its name.
    pub name: String,
    /// What it watches.
    pub watch: Watched,
    /// Where it starts, in the SI unit of what it watches: kg or J.
    pub start_at: f64,
    /// Where it stops, likewise.
    pub stop_at: f64,
    /// What it starts and stops; no target twice. A target of several switches runs only while all of them are on.
    pub runs: Vec<Gated>,
    /// Whether it is on at time zero.
    pub on: bool,
}

/// What a switch watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// The level of a store.
    Store(StoreId),
}

/// What a switch starts and stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Gated {
    /// A type of machine.
    Unit(UnitId),
    /// A supply.
    Supply(SupplyId),
    /// A demand.
    Demand(DemandId),
    /// A cooler.
    Cooler(CoolerId),
    /// A turbine.
    Turbine(TurbineId),
    /// A hot source.
    HotSource(HotSourceId),
}

/// A pattern that repeats: shares of a rate over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// One cycle of it.
    pub course: Course,
    /// Where it stands at time zero.
    pub start: Start,
    /// A longer cycle that masks it.
    pub seasons: Option<Seasons>,
}

/// One cycle of a pattern.
#[derive(Clone, Debug, PartialEq)]
pub enum Course {
    /// On for a while, then off.
    Pulse {
        /// Length of one pulse, at most `every`.
        on: Time,
        /// From the start of one pulse to the start of the next; positive.
        every: Time,
    },
    /// Step after step; at least one.
    Steps(Vec<Step>),
}

/// One step of a pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// How long it lasts; positive.
    pub length: Time,
    /// The share of the rate meanwhile; may be more than 1.
    pub share: f64,
}

/// Where a pattern stands at time zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Start {
    /// The first cycle begins then; before it there is nothing.
    At(Time),
    /// So much of a cycle is over; less than one cycle.
    Underway(Time),
}

/// A longer cycle that masks a pattern: active, then dormant, again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seasons {
    /// How long it is active; positive.
    pub active: Time,
    /// How long it is dormant.
    pub dormant: Time,
    /// How much of the longer cycle is over at time zero; less than all of it.
    pub elapsed: Time,
}

impl Pattern {
    /// The length of one cycle, seasons apart.
    #[must_use]
    pub fn cycle(&self) -> Time {
        match &self.course {
            Course::Pulse { every, .. } => *every,
            Course::Steps(steps) => steps.iter().fold(Time::ZERO, |sum, step| sum + step.length),
        }
    }

    /// The long-run share of the rate that it lets through:
    /// on/every, or Σ length·share / Σ length, times active/(active + dormant).
    #[must_use]
    pub fn average_share(&self) -> f64 {
        let season = self.seasons.map_or(1.0, |Seasons { active, dormant, .. }| active / (active + dormant));
        let course = match &self.course {
            Course::Pulse { on, every } => *on / *every,
            Course::Steps(steps) => {
                steps.iter().map(|step| step.length.si() * step.share).sum::<f64>() / self.cycle().si()
            }
        };
        course * season
    }
}

/// A closed loop and what is in it.
#[derive(Clone, Debug)]
pub struct Loop {
    /// Its name.
    pub name: String,
    /// What circulates in it.
    pub coolant: String,
    /// What it holds when brim-full; positive.
    pub holds: Mass,
    /// What is in it, cold.
    pub charge: Mass,
    /// What must stay free as a gap that moves round with the flow.
    pub keep_free: Mass,
    /// The share by which the charge grows when it is hot.
    pub expands: Share,
    /// The least charge that circulates: the wanted flow times the time once around, where it is given so.
    pub least: Option<Mass>,
}
