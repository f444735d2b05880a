//! The fill level: what happens to stores over time. When each first runs dry or overflows, what is lost and who goes short, how
//! often switches act, the cycle that it all settles in, and how big each store must be so that nothing is ever short.

mod case;
mod figures;
mod fill;
mod findings;
mod say;
#[cfg(test)]
mod tests;
mod working;

use serde::Serialize;

use crate::budget::{Budget, Halt};
use crate::plan::inquiry::Better;
use crate::plan::{Count, Plan};
use crate::questions::answer::{
    Answer, Code as _, Figures, Finding, HeadMeans, Named, Verdict, all_within_range, is_within_range,
};
use crate::questions::coupled::Coupled;
use crate::questions::{Detail, OfPlan};
use crate::rehearsal::WarmRecord;
use case::Case;
pub(crate) use case::Search;
use fill::Source;

pub use figures::{
    CourseFigures, CycleFigures, DutyFigures, EventFigures, IntakeFigures, LoopFigures, Moment, ServiceFigures, Size,
    StoreFigures, SwitchFigures,
};
pub use fill::MOST_EVENTS;
pub use findings::FindingCode;

/// The answer to the question.
pub type FillLevel = Answer<LevelFigures>;

/// Its figures. Sections are in the order of the document, which changes no figure; a field that does not apply is absent; `null`
/// is never within the horizon.
/// Amounts are in kg, on the header `power` in J.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = FillLevel))]
pub struct LevelFigures {
    /// The length of the local day, in s.
    pub day_s: f64,
    /// How long was asked for, in s.
    pub horizon_s: f64,
    /// How far it was reckoned, in s: the horizon, or less where the events allowed were spent.
    pub reached_s: f64,
    /// How many events there were in all, those of repeated cycles too.
    pub event_count: u64,
    /// The first events, in order.
    pub events: Vec<EventFigures>,
    /// Where switches start and stop within the courses that are shown: for the picture, which has room for more.
    #[serde(skip)]
    pub acts: Vec<EventFigures>,
    /// By store.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, StoreFigures>))]
    pub stores: Named<StoreFigures>,
    /// By switch.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, SwitchFigures>))]
    pub switches: Named<SwitchFigures>,
    /// By supply.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, IntakeFigures>))]
    pub supplies: Named<IntakeFigures>,
    /// By demand.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, ServiceFigures>))]
    pub demands: Named<ServiceFigures>,
    /// By unit.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, DutyFigures>))]
    pub units: Named<DutyFigures>,
    /// By closed loop.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, LoopFigures>))]
    pub loops: Named<LoopFigures>,
}

impl Figures for LevelFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "fill-level";
    const TITLE: &'static str = "Fill level";
    const SAYS: &'static str =
        "Over time: when stores run dry or overflow, who goes short, how often switches act, how big a store must be.";

    const HEAD: HeadMeans = HeadMeans {
        answer: "The answer to the question. Sections are in the order of the document, which changes no figure; a field \
            that does not apply is absent; `null` is never within the horizon. Amounts are in kg, on the header `power` in J.",
        say: "The answer in one line of at most 400 bytes: the soonest trouble and when.",
        findings: "What was found, the heaviest first, and of one weight the soonest.",
        ..HeadMeans::USUAL
    };
}

impl OfPlan for LevelFigures {
    const KEY_FIGURES: &'static [(&'static str, Better)] = &[
        ("/demands/*/unserved_kg", Better::Less),
        ("/demands/*/unserved_j", Better::Less),
        ("/stores/*/unserved_kg", Better::Less),
        ("/stores/*/unserved_j", Better::Less),
        ("/stores/*/lost_kg", Better::Less),
        ("/stores/*/first_empty_s", Better::Neither),
        ("/stores/*/least_kg", Better::More),
        ("/stores/*/least_j", Better::More),
        ("/stores/*/greatest_kg", Better::Neither),
        ("/stores/*/least_capacity_kg", Better::Less),
        ("/stores/*/least_capacity_j", Better::Less),
        ("/switches/*/starts_per_h", Better::Less),
    ];

    fn codes() -> Vec<&'static str> {
        FindingCode::ALL.iter().map(|code| code.as_str()).collect()
    }

    fn ask(plan: &Plan, _: Detail, budget: &Budget<'_>) -> Result<FillLevel, Halt> {
        ask(plan, budget)
    }
}

/// Answers the question.
///
/// # Errors
/// [`Halt`] when the budget's hook says stop, when a balance takes more steps than the budget has, or when numbers grow beyond
/// what can be reckoned with. A rehearsal that spends the budget's steps is no error: the answer says how far it got.
pub fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<FillLevel, Halt> {
    // Where every count is fixed and nothing has a temperature there is nothing to ask the steady state for.
    let is_sized = plan.units.iter().any(|unit| matches!(unit.count, Count::Sized { .. }));
    let coupled = if is_sized || !plan.zones.is_empty() { Some(Coupled::of(plan, budget)?) } else { None };
    Ok(ask_with(plan, coupled.as_ref(), Search::Sizes, Detail::Figures, budget)?.0)
}

/// Answers the question of a steady state that is solved; it may be left out where every count is fixed and there are no zones.
/// Beside it, what zones went through, with temperatures over time for pictures.
///
/// # Errors
/// As [`ask`].
pub(crate) fn ask_with(
    plan: &Plan,
    coupled: Option<&Coupled>,
    search: Search,
    detail: Detail,
    budget: &Budget<'_>,
) -> Result<(FillLevel, Option<WarmRecord>), Halt> {
    let case = Case::of(plan, coupled, search, detail, budget)?;
    all_within_range(is_finite(&case))?;
    Ok((answer(&case), case.run.warm))
}

/// True where all that is derived from the rehearsal will be finite.
fn is_finite(case: &Case<'_>) -> bool {
    let run = &case.run;
    let stores = run.stores.iter().all(|store| {
        [store.start, store.end, store.least, store.greatest, store.filled, store.drained, store.stood_lost]
            .into_iter()
            .all(is_within_range)
    });
    let supplies = run.supplies.iter().zip(&case.plan.supplies).all(|(record, supply)| {
        is_within_range(record.drawn)
            && is_within_range(record.lost)
            && (supply.rate.is_none() || is_within_range(record.offered))
    });
    let demands = run.demands.iter().all(|demand| is_within_range(demand.wanted) && is_within_range(demand.served));
    let units = run.units.iter().all(|unit| is_within_range(unit.duty_s) && is_within_range(unit.held_s));
    let headers = run.headers.iter().all(|on| {
        [on.made, on.taken, on.supplied, on.served, on.let_out, on.filled, on.drained].into_iter().all(is_within_range)
    });
    stores && supplies && demands && units && headers
}

fn answer(case: &Case<'_>) -> FillLevel {
    let source = Source::new(case);
    let findings = findings::find(case);
    let verdict = Verdict::of(&findings);
    let say = say::say(case, verdict, &findings);
    let figures = LevelFigures {
        day_s: case.plan.day.si(),
        horizon_s: case.run.horizon_s,
        reached_s: case.run.reached_s,
        event_count: case.run.event_count,
        events: source.events(),
        acts: source.acts(),
        stores: source.stores(),
        switches: source.switches(),
        supplies: source.supplies(),
        demands: source.demands(),
        units: source.units(),
        loops: source.loops(),
    };
    let working = working::working(case);
    FillLevel { say, working, ..Answer::new(case.plan, verdict, findings, figures) }
}
