//! What has temperatures: zones, their walls, what cools them and what turns their heat into power.
//!
//! Temperatures are in degrees Celsius, all above absolute zero. Every mass, flow and heat capacity that divides is positive.

use super::{Gated, Pattern, SubstanceId, ZoneId};
use crate::quantity::{Mass, MassRate, Power, Share};

/// Absolute zero, °C.
pub const ABSOLUTE_ZERO_C: f64 = -273.15;

/// A substance with the properties that questions need.
#[derive(Clone, Debug)]
pub struct Substance {
    /// Its name.
    pub name: String,
    /// Specific heat as a liquid, or of the only phase that the plan knows, J/(kg·K); positive.
    pub specific_heat: Option<f64>,
    /// Specific heat as a solid, J/(kg·K); as liquid where it is not given.
    pub solid_heat: Option<f64>,
    /// Specific heat as a gas, J/(kg·K); as liquid where it is not given.
    pub gas_heat: Option<f64>,
    /// Where it freezes and melts.
    pub freezes_at_c: Option<f64>,
    /// Where it boils and condenses; above `freezes_at_c`.
    pub boils_at_c: Option<f64>,
    /// What melts 1 kg, J/kg; may be nothing.
    pub fusion_j_kg: f64,
    /// What boils 1 kg, J/kg; may be nothing.
    pub vaporisation_j_kg: f64,
}

impl Substance {
    /// Specific heat at a temperature, J/(kg·K), where it has one.
    #[must_use]
    pub fn heat_at(&self, at_c: f64) -> Option<f64> {
        if self.freezes_at_c.is_some_and(|freezes| at_c < freezes) {
            self.solid_heat.or(self.specific_heat)
        } else if self.boils_at_c.is_some_and(|boils| at_c > boils) {
            self.gas_heat.or(self.specific_heat)
        } else {
            self.specific_heat
        }
    }
}

/// A room, vessel or other lump that has one temperature.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Its name.
    pub name: String,
    /// What is in it; at least one substance with a specific heat and a positive mass.
    pub contents: Vec<(SubstanceId, Mass)>,
    /// Temperature at time zero.
    pub at_c: f64,
    /// Walls to other zones (each wall stands with one of its two) and to the ambient.
    pub walls: Vec<Wall>,
    /// Floor cells, and what one of them holds at most.
    pub cells: Option<u32>,
    /// The most mass in one cell: above it sources are choked.
    pub cell_limit: Option<Mass>,
    /// The greatest temperature it may have.
    pub limit_c: Option<f64>,
    /// The least temperature it may have.
    pub least_c: Option<f64>,
}

/// A wall with heat flow conductance · (difference of temperatures).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// Another zone; `None`: the ambient.
    pub to: Option<ZoneId>,
    /// W/K.
    pub conductance: f64,
}

/// What moves heat out of a zone. Rates are of one at full running.
#[derive(Clone, Debug)]
pub struct Cooler {
    /// Its name.
    pub name: String,
    /// The zone it cools.
    pub cools: ZoneId,
    /// The zone that the heat goes to; `None`: away, out of the plant.
    pub rejects_to: Option<ZoneId>,
    /// What circulates in its loop.
    pub coolant: Option<SubstanceId>,
    /// How it moves heat.
    pub moving: Moving,
    /// Temperature of the coolant where the cooler takes it in: the zone is not cooled below it, and the coolant leaves the
    /// cooler by the drop colder. Without one it runs always.
    pub set_point_c: Option<f64>,
    /// Electric power at full running.
    pub draws: Power,
    /// Whether the power it draws is rejected as heat besides what it moves.
    pub rejects_draw: bool,
    /// How far the coolant must stay from freezing and from boiling, K.
    pub margin_k: f64,
    /// How many there are; `None`: as many as are needed.
    pub count: Option<u32>,
}

/// How a cooler moves heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Moving {
    /// It lowers a flow of coolant by a fixed difference: flow · specific heat · drop.
    Drop {
        /// Coolant.
        flow: MassRate,
        /// K.
        drop_k: f64,
        /// Specific heat of the coolant, J/(kg·K).
        specific_heat: f64,
    },
    /// It moves a fixed heat flow.
    Duty {
        /// W.
        duty: Power,
    },
}

impl Cooler {
    /// Heat that one moves at full running, W.
    #[must_use]
    pub fn moves_w(&self) -> f64 {
        match self.moving {
            Moving::Drop { flow, drop_k, specific_heat } => flow.si() * specific_heat * drop_k,
            Moving::Duty { duty } => duty.si(),
        }
    }

    /// How much colder the coolant leaves it, K.
    #[must_use]
    pub fn drop_k(&self) -> f64 {
        match self.moving {
            Moving::Drop { drop_k, .. } => drop_k,
            Moving::Duty { .. } => 0.0,
        }
    }

    /// Heat that one rejects at full running, W.
    #[must_use]
    pub fn rejects_w(&self) -> f64 {
        self.moves_w() + if self.rejects_draw { self.draws.si() } else { 0.0 }
    }
}

/// What takes heat from a zone's fluid and makes power of it: flow · specific heat · (inlet − outlet), the fluid coming back at
/// the outlet's temperature. Rates are of one.
#[derive(Clone, Debug)]
pub struct Turbine {
    /// Its name.
    pub name: String,
    /// The zone whose temperature is its inlet's.
    pub zone: ZoneId,
    /// What passes through it.
    pub fluid: SubstanceId,
    /// How much of it.
    pub flow: MassRate,
    /// Specific heat of the fluid at the inlet, J/(kg·K).
    pub specific_heat: f64,
    /// Below this inlet temperature it stands still.
    pub inlet_min_c: f64,
    /// At this inlet temperature it generates all it can; what is above is wasted.
    pub inlet_rated_c: f64,
    /// The temperature at which the fluid comes back; below both others.
    pub outlet_c: f64,
    /// Electric power at the rated inlet.
    pub generates: Power,
    /// The share of the heat it takes that its casing gives to `casing_zone`.
    pub casing_share: Share,
    /// Where it stands.
    pub casing_zone: Option<ZoneId>,
    /// How many there are; `None`: as many as are needed.
    pub count: Option<u32>,
}

impl Turbine {
    /// Heat flow of one per kelvin of its fluid, W/K.
    #[must_use]
    pub fn per_kelvin(&self) -> f64 {
        self.flow.si() * self.specific_heat
    }

    /// Heat that one takes at an inlet temperature, W.
    #[must_use]
    pub fn takes_w(&self, inlet_c: f64) -> f64 {
        if inlet_c < self.inlet_min_c { 0.0 } else { self.per_kelvin() * (inlet_c - self.outlet_c) }
    }

    /// Power that one generates at an inlet temperature, W.
    #[must_use]
    pub fn generates_w(&self, inlet_c: f64) -> f64 {
        if inlet_c < self.inlet_min_c {
            return 0.0;
        }
        let share = (inlet_c - self.outlet_c) / (self.inlet_rated_c - self.outlet_c);
        self.generates.si() * share.min(1.0)
    }
}

/// Heat that comes into a zone from outside the plant.
#[derive(Clone, Debug)]
pub struct HotSource {
    /// Its name.
    pub name: String,
    /// The zone it heats.
    pub zone: ZoneId,
    /// What it brings.
    pub brings: Brings,
    /// When it comes and goes.
    pub pattern: Option<Pattern>,
}

/// What a hot source brings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Brings {
    /// Heat.
    Heat(Power),
    /// Matter at a temperature, which leaves at the zone's: heat flow · specific heat · (at − zone).
    Matter {
        /// How much.
        flow: MassRate,
        /// Specific heat, J/(kg·K).
        specific_heat: f64,
        /// How hot it comes.
        at_c: f64,
    },
}

/// How warm the products of a unit leave it.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum ProductAt {
    /// As warm as its feed is on average. The unit's zone gives and takes no heat for it.
    #[default]
    Feed,
    /// As warm as its zone, which warms or cools the feed.
    Zone,
    /// At a temperature of the machine's own making, °C.
    Fixed(f64),
}

/// A switch that watches a zone. With `start_at_c` above `stop_at_c` it starts what cools, the other way about what warms.
#[derive(Clone, Debug)]
pub struct Thermostat {
    /// Its name among the switches.
    pub name: String,
    /// What it watches.
    pub watch: ZoneId,
    /// Where it starts; never equal to `stop_at_c`.
    pub start_at_c: f64,
    /// Where it stops.
    pub stop_at_c: f64,
    /// What it starts and stops; no target twice.
    pub runs: Vec<Gated>,
    /// Whether it is on at time zero.
    pub on: bool,
}
