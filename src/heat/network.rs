//! A plant as heat sees it: zones, walls between them, and flows of heat that machines and streams cause.
//!
//! Temperatures are in degrees Celsius, heat in W (into a zone positive), capacities in J/K. Zones are indexed as the plan's.

use smallvec::SmallVec;

/// What holds heat.
#[derive(Clone, Debug)]
pub struct Zone {
    /// J/K in each phase, from the coldest up: one more than `changes`, all positive.
    pub capacities: SmallVec<[f64; 2]>,
    /// Where its contents change phase, from the coldest up.
    pub changes: SmallVec<[Change; 1]>,
    /// Temperature at time zero.
    pub start_c: f64,
    /// Temperatures to tell when they are first passed.
    pub limits: SmallVec<[Limit; 2]>,
}

/// A change of phase of some of a zone's contents.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// At which temperature.
    pub at_c: f64,
    /// What it takes from the lower phase to the upper, J; may be nothing.
    pub heat_j: f64,
    /// Whether contents that stand at just this temperature are in the upper phase (melted, rather than not yet boiled).
    pub upper: bool,
}

/// A temperature to be told when it is first passed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Which.
    pub at_c: f64,
    /// Whether passing means going above it.
    pub above: bool,
}

/// A wall: heat flows as conductance times the difference of temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// One side.
    pub zone: usize,
    /// The other side.
    pub to: Side,
    /// W/K.
    pub conductance: f64,
}

/// What lies behind a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Side {
    /// Another zone.
    Zone(usize),
    /// Something that keeps its temperature.
    Fixed(f64),
}

/// A flow of heat: what one machine, cooler, turbine or stream brings into zones and takes out of them at full running.
#[derive(Clone, Debug, Default)]
pub struct HeatFlow {
    /// Into which zones how much.
    pub parts: SmallVec<[Part; 2]>,
    /// By which temperature it turns itself on and off; a flow with a relay senses no other zone than the relay's.
    pub relay: Option<Relay>,
    /// How much of it runs (in machines), by count, duty and pattern.
    pub running: f64,
    /// What it generates.
    pub rating: Option<Rating>,
}

/// `constant + per_kelvin·T`, W into a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// The zone it goes into.
    pub into: usize,
    /// W.
    pub constant: f64,
    /// W/K of the temperature of a zone.
    pub per_kelvin: Option<(usize, f64)>,
}

/// A flow that runs on one side of a temperature only. On it, it runs as much of the time as keeps the zone there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Relay {
    /// The zone it senses.
    pub zone: usize,
    /// The temperature.
    pub at_c: f64,
    /// Whether it runs above it, or below.
    pub above: bool,
}

/// Generation in proportion to temperature above an outlet, up to a rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rating {
    /// The zone that feeds it.
    pub zone: usize,
    /// Nothing is generated here.
    pub outlet_c: f64,
    /// All of `power_w` is generated from here on.
    pub rated_c: f64,
    /// W of one machine.
    pub power_w: f64,
}

/// A switch on a zone, with a deadband.
#[derive(Clone, Debug)]
pub struct Thermostat {
    /// The zone it watches.
    pub zone: usize,
    /// Starts here: at or above where it is the higher of the two, else at or below.
    pub start_at_c: f64,
    /// Stops here.
    pub stop_at_c: f64,
    /// The flows it gates.
    pub runs: Vec<usize>,
    /// Whether it is on at time zero.
    pub on: bool,
}

/// The plant.
#[derive(Clone, Debug, Default)]
pub struct Network {
    /// Zones.
    pub zones: Vec<Zone>,
    /// Walls.
    pub walls: Vec<Wall>,
    /// Flows of heat.
    pub flows: Vec<HeatFlow>,
    /// Switches on zones.
    pub thermostats: Vec<Thermostat>,
}
