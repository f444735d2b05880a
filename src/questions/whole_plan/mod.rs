//! The whole plan: flow, heat, level and floor reckoned together, with one verdict, one line that names the first thing to go
//! wrong or the tightest margin, the findings of all with duplicates of one cause merged, and remedies that are tried out.
//!
//! The balance is solved once and passed down to every question that is asked of it. Heat is asked where the plan has zones,
//! level where it has stores, loops, patterns or cooling that needs power, the floor where it has rows. How big stores must be
//! is searched for where something is short, which is what a remedy needs; the fill level by itself always searches, which
//! takes many rehearsals.

mod found;
mod gather;
mod key_figures;
mod margin;
mod rows;
mod say;
mod sheet;
#[cfg(test)]
mod tests;
mod verify;

use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::plan::inquiry::Better;
use crate::questions::answer::{Answer, Code as _, Figures, Finding, HeadMeans, Named, Verdict, counted};
use crate::questions::coupled::{self, Coupled};
use crate::questions::fill_level::{self, LevelFigures, Search};
use crate::questions::flow_balance::{self, FlowFigures};
use crate::questions::heat_budget::{self, HeatFigures};
use crate::questions::{Detail, Document, OfPlan};

pub use found::{AlsoFound, PlanFinding, PlanRemedy, Trial};
pub use key_figures::KeyFigures;
pub use margin::Margin;
pub use rows::{RowCode, RowFigures, StandFigures};

/// The most lines of `working`; the last says how many are left out.
pub const MOST_LINES: usize = 400;

/// The answer to the question.
pub type WholePlan = Answer<PlanFigures>;

/// Its figures. They are written as one flat object, with the sections of the single questions under the names that they have
/// there; what the rehearsal finds under the same names stands in `rehearsal`.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanFigures {
    /// The figures that plans are compared by.
    pub key_figures: KeyFigures,
    /// What comes closest to its limit, where anything has one.
    pub tightest: Option<Margin>,
    /// Steady state.
    pub flow: FlowFigures,
    /// Temperatures, where the plan has zones.
    pub heat: Option<HeatFigures>,
    /// Time, where the plan has stores, loops or patterns.
    pub fill: Option<LevelFigures>,
    /// The floor, where the plan has rows.
    pub floor: Named<RowFigures>,
}

impl Figures for PlanFigures {
    type Finding = PlanFinding;

    const QUESTION: &'static str = "plan";
    const TITLE: &'static str = "Whole plan";
    const SAYS: &'static str =
        "Flow, heat, level over time and floor together: one verdict, the first thing to go wrong, remedies tried out.";

    const HEAD: HeadMeans = HeadMeans {
        say: "The answer in one line of at most 400 bytes: the first thing that goes wrong, or the tightest margin.",
        findings: "What was found, the heaviest first, and of one weight what shows first. What has one cause is one finding.",
        working: "The arithmetic in order, ready to read aloud: flow, heat, level, floor.",
        ..HeadMeans::USUAL
    };
}

impl OfPlan for PlanFigures {
    const KEY_FIGURES: &'static [(&'static str, Better)] = key_figures::BETTER;

    fn codes() -> Vec<&'static str> {
        let mut codes = [FlowFigures::codes(), HeatFigures::codes(), LevelFigures::codes()].concat();
        codes.extend(RowCode::ALL.iter().map(|code| code.as_str()));
        codes
    }

    /// Without the document remedies are told and not tried out.
    fn ask(plan: &Plan, detail: Detail, budget: &Budget<'_>) -> Result<WholePlan, Halt> {
        reckon(plan, Search::WhereShort, detail, budget)
    }

    fn ask_of(document: &Document<'_>, budget: &Budget<'_>) -> Result<WholePlan, Halt> {
        let (mut answer, looks) =
            counted(budget, |budget| reckon(document.plan, Search::WhereShort, document.detail, budget))?;
        verify::verify(&mut answer, document, looks, budget)?;
        answer.say = say::say(document.plan, &answer);
        Ok(answer)
    }
}

/// What the questions find and reckon, one after the other.
#[derive(Debug, Default)]
struct Told {
    gathered: gather::Gathered,
    working: Vec<String>,
}

impl Told {
    /// Takes in an answer, of which the figures remain.
    fn take<F: Figures<Finding = Finding>>(&mut self, answer: Answer<F>) -> F {
        let Answer { findings, mut working, figures, .. } = answer;
        self.gathered.add(F::QUESTION, findings);
        self.working.append(&mut working);
        figures
    }
}

/// Asks every question that the plan has something for.
fn reckon(plan: &Plan, search: Search, detail: Detail, budget: &Budget<'_>) -> Result<WholePlan, Halt> {
    let coupled = Coupled::of(plan, budget)?;
    let flow = flow_balance::ask_with(plan, &coupled.balance, budget)?;
    let (fill, rehearsed) = if is_rehearsed(plan) {
        let (fill, rehearsed) = fill_level::ask_with(plan, Some(&coupled), search, detail, budget)?;
        (Some(fill), rehearsed)
    } else {
        (None, None)
    };
    let heat = if plan.zones.is_empty() {
        None
    } else {
        Some(heat_budget::ask_with(plan, &coupled, detail, rehearsed, budget)?)
    };
    let rows = (!plan.rows.is_empty()).then(|| rows::reckon(plan, &coupled.units()));
    let mut told = Told::default();
    let flow = told.take(flow);
    let heat = heat.map(|heat| told.take(heat));
    let fill = fill.map(|fill| told.take(fill));
    let floor = rows.map_or_else(Named::default, |mut rows| {
        told.gathered.add(rows::QUESTION, rows.findings);
        told.working.append(&mut rows.working);
        rows.figures
    });
    let Told { gathered, mut working } = told;
    if working.len() > MOST_LINES {
        let more = working.len() - (MOST_LINES - 1);
        working.truncate(MOST_LINES - 1);
        working.push(format!("and {more} more lines, not shown"));
    }
    let findings = gathered.merged(plan);
    let verdict = Verdict::of_weights(findings.iter().map(|finding| finding.told.weight));
    let mut figures = PlanFigures { key_figures: KeyFigures::default(), tightest: None, flow, heat, fill, floor };
    figures.tightest = margin::tightest(plan, &figures);
    figures.key_figures = KeyFigures::of(&figures, &findings);
    let mut answer = WholePlan { working, ..Answer::new(plan, verdict, findings, figures) };
    answer.say = say::say(plan, &answer);
    Ok(answer)
}

/// Whether time changes anything: where something is stored, or comes and goes.
fn is_rehearsed(plan: &Plan) -> bool {
    !plan.stores.is_empty()
        || !plan.loops.is_empty()
        || plan.supplies.iter().any(|supply| supply.pattern.is_some())
        || plan.demands.iter().any(|demand| demand.pattern.is_some())
        || coupled::moves_power(plan)
}
