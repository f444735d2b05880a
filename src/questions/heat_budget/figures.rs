//! The figures of the answer. Heat is in W, positive into a zone; temperatures are in °C.

use serde::Serialize;

use crate::heat::Curve;
use crate::questions::answer::{Name, Named};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// Whether the zones come to rest: patterns at their average, switches at the middle of their deadband.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Rest {
    /// In one state.
    One,
    /// In several; the figures are of the coldest.
    Several,
    /// In none: switches keep some of them in a cycle. Figures at rest are the means of it.
    Cycles,
    /// In none: they heat up without end.
    Heats,
    /// In none: they cool below absolute zero.
    Cools,
}

/// What brings heat to a zone and what takes it, and how warm it gets.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct ZoneFigures {
    /// All that brings heat, at rest, in W; absent where the zones come to no rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gain_w: Option<f64>,
    /// All that takes heat, at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub removed_w: Option<f64>,
    /// By what brings or takes it, at rest, in W: positive into the zone. Walls are named by what lies behind them.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub heat_w: Named<f64>,
    /// Where it comes to rest, in °C; the mean of its cycle where switches keep it in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settles_at_c: Option<f64>,
    /// The cycle in which switches keep it in the long run; absent where it comes to rest, where patterns drive it, and where no cycle
    /// repeats.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cycle: Option<ZoneCycleFigures>,
    /// Least temperature over the horizon, in °C.
    pub least_c: f64,
    /// Greatest temperature over the horizon, in °C.
    pub greatest_c: f64,
    /// When it first passes its own limit, in s; `null`: not within the horizon. Absent where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<crate::questions::fill_level::Moment>))]
    pub first_over_limit_s: Option<Option<f64>>,
    /// The limit, in °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit_c: Option<f64>,
}

impl ZoneFigures {
    /// The hottest it gets, over the horizon or in the long run, in °C.
    #[must_use]
    pub fn hottest_c(&self) -> f64 {
        let long_run = self.cycle.map(|cycle| cycle.peak_c).or(self.settles_at_c);
        long_run.map_or(self.greatest_c, |at| at.max(self.greatest_c))
    }
}

/// How far the temperature of a zone goes in the cycle in which switches keep it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct ZoneCycleFigures {
    /// Its least temperature, in °C.
    pub trough_c: f64,
    /// Its greatest, in °C.
    pub peak_c: f64,
    /// How long one cycle takes, in s.
    pub period_s: f64,
}

/// What a thermostat does in the long run; its figures are absent where patterns drive its zone and where no cycle repeats.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct ThermostatFigures {
    /// The share of the time that it is on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on_share: Option<f64>,
    /// How often it starts in an hour.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starts_per_h: Option<f64>,
    /// How long one cycle takes, in s; absent where the zones come to rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period_s: Option<f64>,
}

/// What a cooler moves, how many it takes, and where its set point may lie.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct CoolerFigures {
    /// How many at full running hold the zone at the set point, or at its tightest limit where there is no set point; absent
    /// where neither is given or no number does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub needed: Option<f64>,
    /// How many there are, or have to be.
    pub count: u32,
    /// The share of the time that each of them runs, at rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub running_share: Option<f64>,
    /// Heat that all of them move at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moves_w: Option<f64>,
    /// Heat that all of them reject at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rejects_w: Option<f64>,
    /// Electric power that all of them draw at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub draws_w: Option<f64>,
    /// The coldest the coolant gets, in °C: set point less drop; without a set point, the coldest that it takes its coolant in while it
    /// runs, over the horizon and in the long run, less drop. What it takes in is as warm as the zone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coldest_c: Option<f64>,
    /// The warmest the coolant gets where it takes it in, over the horizon and in the long run, in °C; absent where no coolant is named
    /// or it never runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub warmest_c: Option<f64>,
    /// By how much it lowers the coolant, in K.
    pub drop_k: f64,
    /// Below this set point the coolant freezes, in °C: freezing point + margin + drop.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_point_least_c: Option<f64>,
    /// Above this set point the coolant boils or something in the zone passes its limit, in °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_point_greatest_c: Option<f64>,
    /// The recommended set point, in °C: 3 K above the least, or the middle of a narrower window.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_point_advised_c: Option<f64>,
}

/// What turbines make of a zone's heat.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct TurbineFigures {
    /// How many hold the zone where nothing is wasted: at the rated inlet, or at the zone's limit if that is lower.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub needed: Option<f64>,
    /// How many there are, or have to be.
    pub count: u32,
    /// The share of the time that each of them runs, at rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub running_share: Option<f64>,
    /// Inlet temperature at rest, in °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inlet_c: Option<f64>,
    /// Heat that all of them take at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub takes_w: Option<f64>,
    /// Electric power that all of them generate at rest, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub generates_w: Option<f64>,
    /// Of the heat they take, what is above their rating, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wastes_w: Option<f64>,
    /// Heat that their casings give to where they stand, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub casing_w: Option<f64>,
}

/// The power of heating and cooling, at rest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct HeatPower {
    /// Generated by turbines, in W.
    pub generated_w: f64,
    /// Drawn by coolers, in W.
    pub drawn_w: f64,
    /// Generated less drawn, in W.
    pub net_w: f64,
}

/// How warm what a header carries is. It mixes at the rates of the steady state, by mass; what is stored counts as warm as what comes in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct StreamFigures {
    /// At rest, or at the end of the horizon where the zones come to no rest, in °C.
    pub at_c: f64,
}

/// How warm what a unit gives is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct ProductFigures {
    /// At rest, or at the end of the horizon where the zones come to no rest, in °C.
    pub at_c: f64,
    /// The coldest over the horizon and in the long run, in °C; of what several zones warm, that at rest.
    pub least_c: f64,
}

/// What happens when all coolers stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct CoolingStops {
    /// A JSON pointer into the plan: the machine or zone that passes its limit first.
    #[serde(rename = "where")]
    pub at: String,
    /// Its name.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub name: Name,
    /// When, in s after cooling stops.
    pub after_s: f64,
    /// The limit, in °C.
    pub limit_c: f64,
}

/// The window of working-fluid mass of a zone with an intermittent source.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct BallastFigures {
    /// What is in it now, in kg.
    pub present_kg: f64,
    /// With less, the peak passes the zone's limit, in kg; absent where the zone has no limit or no mass keeps it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_kg: Option<f64>,
    /// With more, the vessel chokes what comes in: cells × limit of a cell, in kg; absent where they are not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_kg: Option<f64>,
    /// The peak of the settled cycle at the present mass, in °C; absent where no cycle settles.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_c: Option<f64>,
    /// Its trough, in °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trough_c: Option<f64>,
    /// How long one cycle takes, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period_s: Option<f64>,
}

/// Temperatures over time, for the picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// A local day, s.
    pub day_s: f64,
    /// (s, °C) by zone in the plan's order.
    pub zones: Vec<Curve>,
}
