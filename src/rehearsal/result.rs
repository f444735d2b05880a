//! What a rehearsal found. Times are seconds from the plan's time zero; amounts are kg, or J on a header of power; rates are
//! kg/s or W.

use crate::heat::{Accounts, Curve, LimitOf};
use crate::plan::{DemandId, HotSourceId, StoreId, SupplyId, SwitchId, ThermostatId, ZoneId};

/// What happened over the horizon. Lists are indexed as the plan's own.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    /// How long was asked for.
    pub horizon_s: f64,
    /// How far it was reckoned: the horizon, or less where the budget of events was spent.
    pub reached_s: f64,
    /// The first events in order of time, at most [`super::MOST_EVENTS`].
    pub events: Vec<Event>,
    /// How many events there were in all, those of counted cycles too.
    pub event_count: u64,
    /// How many of them were simulated.
    pub simulated: u64,
    /// How many balances of a moment were solved for it.
    pub modes: u64,
    /// By store.
    pub stores: Vec<StoreRecord>,
    /// By supply.
    pub supplies: Vec<SupplyRecord>,
    /// By demand.
    pub demands: Vec<DemandRecord>,
    /// By unit.
    pub units: Vec<UnitRecord>,
    /// By switch.
    pub switches: Vec<SwitchRecord>,
    /// By header.
    pub headers: Vec<HeaderRecord>,
    /// By outlet, what left there.
    pub let_out: Vec<f64>,
    /// Temperatures, where zones were rehearsed.
    pub warm: Option<WarmRecord>,
    /// Parts of the plant that act on each other, each with its settled cycle where one was found.
    pub islands: Vec<Island>,
}

/// A moment at which something changed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When.
    pub at_s: f64,
    /// What.
    pub what: What,
}

/// What changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum What {
    /// A supply's pattern came on or went off, or took another step.
    Supply(SupplyId, Turn),
    /// The same of a demand.
    Demand(DemandId, Turn),
    /// A store ran dry.
    Empty(StoreId),
    /// A store filled up.
    Full(StoreId),
    /// A switch started what it runs.
    Start(SwitchId),
    /// A switch stopped it.
    Stop(SwitchId),
    /// A hot source's pattern came on or went off, or took another step.
    HotSource(HotSourceId, Turn),
    /// A thermostat started what it runs.
    CutIn(ThermostatId),
    /// A thermostat stopped it.
    CutOut(ThermostatId),
    /// A zone first passed a limit of its own or of what stands in it.
    Past(ZoneId, LimitOf),
}

/// Which way a pattern turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Turn {
    /// From nothing to something.
    On,
    /// From something to nothing.
    Off,
    /// From something to something else.
    Step,
}

/// What a store went through.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StoreRecord {
    /// Level at time zero.
    pub start: f64,
    /// Level at the end.
    pub end: f64,
    /// Least level, and when it was first reached.
    pub least: f64,
    /// When.
    pub least_at_s: f64,
    /// Greatest level.
    pub greatest: f64,
    /// When it was first reached.
    pub greatest_at_s: f64,
    /// When it first stood empty.
    pub first_empty_s: Option<f64>,
    /// When it first stood full.
    pub first_full_s: Option<f64>,
    /// How long it stood empty in all.
    pub empty_s: f64,
    /// How long it stood full in all.
    pub full_s: f64,
    /// What flowed in.
    pub filled: f64,
    /// What flowed out, standing loss apart.
    pub drained: f64,
    /// What it lost standing.
    pub stood_lost: f64,
    /// When its level first went below (low-low, low) or above (high, high-high) its limits, in that order.
    pub first_past_s: [Option<f64>; 4],
    /// (time, level) at the beginning, at every change of its net rate, and at the last recorded moment: straight between
    /// them unless it loses a share of its contents. At most [`super::MOST_POINTS`].
    pub course: Vec<(f64, f64)>,
}

/// What a supply gave.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SupplyRecord {
    /// What it could have given.
    pub offered: f64,
    /// What was drawn.
    pub drawn: f64,
    /// What a supply that pushes could not get rid of.
    pub lost: f64,
    /// When it first lost some.
    pub first_lost_s: Option<f64>,
    /// How long it was on.
    pub on_s: f64,
}

/// What a demand got.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DemandRecord {
    /// What it asked for.
    pub wanted: f64,
    /// What it got.
    pub served: f64,
    /// When it was first cut.
    pub first_short_s: Option<f64>,
    /// How long it was cut in all.
    pub short_s: f64,
    /// How often it began to be cut.
    pub cuts: u64,
}

/// How a type of machine ran.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UnitRecord {
    /// Machines that the rehearsal had.
    pub count: u32,
    /// Machine-seconds at full duty.
    pub duty_s: f64,
    /// How long any of them ran.
    pub running_s: f64,
    /// How often they began to run.
    pub starts: u64,
    /// When first held below what its gate and its way of running let it do: an input missing or an output blocked.
    pub first_held_s: Option<f64>,
    /// Machine-seconds that it was held back so.
    pub held_s: f64,
}

/// How a switch acted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SwitchRecord {
    /// How often it started what it runs.
    pub starts: u64,
    /// How often it stopped it.
    pub stops: u64,
    /// How long it was on.
    pub on_s: f64,
    /// When it first started.
    pub first_start_s: Option<f64>,
    /// The shortest time from one start to the next.
    pub least_cycle_s: Option<f64>,
}

/// What passed through a header:
/// made + supplied + drained from stores = taken + served + let out + filled into stores (+ trapped power, which is spilled).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeaderRecord {
    /// Given by units.
    pub made: f64,
    /// Taken by units.
    pub taken: f64,
    /// Drawn from supplies.
    pub supplied: f64,
    /// Served to demands.
    pub served: f64,
    /// Left by the outlet; on power, spilled.
    pub let_out: f64,
    /// Into its stores.
    pub filled: f64,
    /// Out of its stores.
    pub drained: f64,
}

/// What zones went through, and what followed from it.
#[derive(Clone, Debug)]
pub struct WarmRecord {
    /// Temperatures at the end, °C, by zone.
    pub end_c: Vec<f64>,
    /// Heat that flowed, extremes and limits passed.
    pub accounts: Accounts,
    /// Temperatures of each zone over time.
    pub curves: Vec<Curve>,
    /// How often zones were left alone for a five-thousandth of the horizon, because what runs in them hunted at one moment.
    pub hunts: u64,
    /// By cooler.
    pub coolers: Vec<CoolerRecord>,
    /// By turbine: what it gave, J, read in steps of a [`super::STEPS`]th of its rating: within a 320th of full power for as long as
    /// it ran. [`Accounts`] has the integral.
    pub generated_j: Vec<f64>,
}

/// How coolers of a type were powered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CoolerRecord {
    /// What they drew, J.
    pub drawn_j: f64,
    /// When their power was first cut.
    pub first_cut_s: Option<f64>,
    /// How long it was cut in all.
    pub cut_s: f64,
}

/// A part of the plant that acts on no other: connected by headers, units and switches.
#[derive(Clone, Debug)]
pub struct Island {
    /// Its stores.
    pub stores: Vec<StoreId>,
    /// Its switches.
    pub switches: Vec<SwitchId>,
    /// Supplies of the island.
    pub supplies: Vec<SupplyId>,
    /// Demands of the island.
    pub demands: Vec<DemandId>,
    /// The settled cycle, where its state was seen to repeat within the horizon.
    pub settled: Option<Settled>,
    /// True where all patterns of the island repeat together within the horizon (or it has none).
    pub commensurate: bool,
    /// How far it was reckoned.
    pub reached_s: f64,
}

/// A cycle that repeats for good. What is between `from_s` and `from_s + period_s` happens again and again.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// From when the state was seen to repeat.
    pub from_s: f64,
    /// How long one cycle takes; 0 where nothing changes any more.
    pub period_s: f64,
    /// How many whole cycles were counted instead of simulated.
    pub counted: u64,
    /// Starts of each of the island's switches in one cycle, in the order of [`Island::switches`].
    pub starts: Vec<u64>,
    /// Least and greatest level of each of the island's stores within a cycle, in the order of [`Island::stores`].
    pub span: Vec<(f64, f64)>,
    /// Least and greatest temperature of each zone within a cycle, °C, where the island has the zones.
    pub span_c: Vec<(f64, f64)>,
}
