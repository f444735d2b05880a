//! The heat budget: what brings heat to each zone and what takes it, where zones settle, how many coolers and turbines it
//! takes, where set points may lie, what pulses do, and what fails first when cooling stops.

mod ballast;
mod figures;
mod fill;
mod findings;
mod reckon;
mod say;
#[cfg(test)]
mod tests;
mod working;

use std::fmt;

use serde::Serialize;

use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::plan::inquiry::Better;
use crate::quantity::number;
use crate::questions::answer::{Answer, Code as _, Figures, Finding, Named, Verdict};
use crate::questions::coupled::{self, Coupled};
use crate::questions::{Detail, OfPlan};
use crate::rehearsal::WarmRecord;

pub use figures::{
    BallastFigures, CoolerFigures, CoolingStops, Course, HeatPower, ProductFigures, Rest, StreamFigures,
    ThermostatFigures, TurbineFigures, ZoneCycleFigures, ZoneFigures,
};
pub use findings::HeatCode;
pub use working::MOST_HEAT_LINES;

/// The answer to the question.
pub type HeatBudget = Answer<HeatFigures>;

/// Its figures. Sections are in the order of the document, which changes no figure; a field that does not apply is absent.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = HeatBudget))]
pub struct HeatFigures {
    /// Whether the zones come to rest.
    pub rest: Rest,
    /// By zone.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, ZoneFigures>))]
    pub zones: Named<ZoneFigures>,
    /// By cooler.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, CoolerFigures>))]
    pub coolers: Named<CoolerFigures>,
    /// By turbine.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, TurbineFigures>))]
    pub turbines: Named<TurbineFigures>,
    /// By thermostat.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, ThermostatFigures>))]
    pub thermostats: Named<ThermostatFigures>,
    /// By header of which something says how warm it is: a supply, a product or a zone that warms it.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, StreamFigures>))]
    pub streams: Named<StreamFigures>,
    /// By unit of whose products something says how warm they are.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, ProductFigures>))]
    pub products: Named<ProductFigures>,
    /// The power of it; absent where there are neither coolers nor turbines, or no rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power: Option<HeatPower>,
    /// What passes its limit first when all coolers stop; `null`: nothing within the horizon. Absent where nothing is cooled
    /// or nothing has a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<CoolingStops>))]
    pub cooling_stops: Option<Option<CoolingStops>>,
    /// By zone with an intermittent source.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, BallastFigures>))]
    pub ballast: Named<BallastFigures>,
    /// Temperatures over time, for the picture: empty where it is not wanted ([`Detail`]).
    #[serde(skip)]
    #[cfg_attr(feature = "openapi", schema(ignore))]
    pub course: Course,
}

impl Figures for HeatFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "heat-budget";
    const TITLE: &'static str = "Heat budget";
    const SAYS: &'static str =
        "Temperatures: heat in and out of zones, coolers, turbines, set points, ballast, and what fails first of heat.";
}

impl OfPlan for HeatFigures {
    const KEY_FIGURES: &'static [(&'static str, Better)] = &[
        ("/power/net_w", Better::More),
        ("/zones/*/settles_at_c", Better::Neither),
        ("/zones/*/greatest_c", Better::Neither),
        ("/coolers/*/count", Better::Less),
        ("/coolers/*/needed", Better::Less),
        ("/coolers/*/draws_w", Better::Less),
        ("/turbines/*/generates_w", Better::More),
    ];

    fn codes() -> Vec<&'static str> {
        HeatCode::ALL.iter().map(|code| code.as_str()).collect()
    }

    fn ask(plan: &Plan, detail: Detail, budget: &Budget<'_>) -> Result<HeatBudget, Halt> {
        ask_with(plan, &Coupled::of(plan, budget)?, detail, None, budget)
    }
}

/// Answers the question.
///
/// # Errors
/// [`Halt`] when the budget is spent or its hook says stop, or a number leaves the range that can be reckoned with.
pub fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<HeatBudget, Halt> {
    HeatFigures::ask(plan, Detail::Pictures, budget)
}

/// Answers the question of flow and heat that are solved, and of what happens to zones in a rehearsal of the whole plant, where
/// there was one; otherwise they are rehearsed by themselves, as if power were never short.
///
/// # Errors
/// As [`ask`].
pub(crate) fn ask_with(
    plan: &Plan,
    coupled: &Coupled,
    detail: Detail,
    rehearsed: Option<WarmRecord>,
    budget: &Budget<'_>,
) -> Result<HeatBudget, Halt> {
    let by_itself;
    let warm = if let Some(warm) = &coupled.warm {
        warm
    } else {
        by_itself = coupled::warm(plan, &coupled.balance, budget)?;
        &by_itself
    };
    let reckoned = reckon::reckon(plan, coupled, warm, detail, rehearsed, budget)?;
    let findings = findings::find(plan, &reckoned);
    let verdict = Verdict::of(&findings);
    let (coolers, turbines) = (fill::coolers(plan, &reckoned), fill::turbines(plan, &reckoned));
    let working = working::working(plan, &reckoned);
    let figures = HeatFigures {
        rest: fill::rest(&reckoned),
        zones: fill::zones(plan, &reckoned),
        power: fill::power(&coolers, &turbines),
        coolers,
        turbines,
        thermostats: fill::thermostats(plan, &reckoned),
        streams: fill::streams(plan, &reckoned),
        products: fill::products(plan, &reckoned),
        cooling_stops: reckoned
            .without_cooling
            .map(|stopped| stopped.first.map(|first| fill::cooling_stops(plan, first))),
        ballast: fill::ballast(plan, &reckoned),
        course: fill::course(plan, &reckoned),
    };
    let mut answer = HeatBudget { working, ..Answer::new(plan, verdict, findings, figures) };
    answer.say = say::say(&answer);
    Ok(answer)
}

/// A temperature as people read it.
fn celsius(at_c: f64) -> Celsius {
    Celsius(at_c)
}

/// What [`celsius`] says, written where it is shown.
#[derive(Clone, Copy, Debug)]
struct Celsius(f64);

impl fmt::Display for Celsius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Rounding to the microkelvin keeps 14.000000000000002 from being read as anything but 14.
        let rounded = (self.0 * 1e6).round() / 1e6;
        let sign = if rounded < 0.0 { "−" } else { "" };
        write!(f, "{sign}{} °C", number(rounded.abs()))
    }
}
