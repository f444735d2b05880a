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
use crate::questions::answer::{Code as _, Finding, Named, Verdict, counted};
use crate::questions::coupled::{self, Coupled};
use crate::questions::fill_level::{self, FillLevel, Search};
use crate::questions::flow_balance::{self, FlowBalance};
use crate::questions::heat_budget::{self, HeatBudget};
use crate::questions::{Answer, Document};

pub use found::{AlsoFound, PlanFinding, PlanRemedy};
pub use key_figures::KeyFigures;
pub use margin::Margin;
pub use rows::{RowCode, RowFigures, StandFigures};

/// The most lines of `working`; the last says how many are left out.
pub const MOST_LINES: usize = 400;

/// The answer to the question. It is written as one flat document, with the sections of the single questions under the names
/// that they have there; what the rehearsal finds under the same names stands in `rehearsal`.
#[derive(Clone, Debug, PartialEq)]
pub struct WholePlan {
    /// What the author calls the plan.
    pub title: Option<String>,
    /// How the plan turns out.
    pub verdict: Verdict,
    /// The answer in one line of at most 400 bytes.
    pub say: String,
    /// What was found, the heaviest first, and of one weight what shows first.
    pub findings: Vec<PlanFinding>,
    /// The arithmetic in order, ready to read aloud.
    pub working: Vec<String>,
    /// The figures that plans are compared by.
    pub key_figures: KeyFigures,
    /// What comes closest to its limit, where anything has one.
    pub tightest: Option<Margin>,
    /// Steady state.
    pub flow: FlowBalance,
    /// Temperatures, where the plan has zones.
    pub heat: Option<HeatBudget>,
    /// Time, where the plan has stores, loops or patterns.
    pub fill: Option<FillLevel>,
    /// The floor, where the plan has rows.
    pub floor: Named<RowFigures>,
}

impl Answer for WholePlan {
    const QUESTION: &'static str = "plan";
    const TITLE: &'static str = "Whole plan";
    const SAYS: &'static str =
        "Flow, heat, level over time and floor together: one verdict, the first thing to go wrong, remedies tried out.";

    const KEY_FIGURES: &'static [(&'static str, Better)] = key_figures::BETTER;

    fn codes() -> Vec<&'static str> {
        let mut codes = [FlowBalance::codes(), HeatBudget::codes(), FillLevel::codes()].concat();
        codes.extend(RowCode::ALL.iter().map(|code| code.as_str()));
        codes
    }

    fn outcome(&self) -> (Verdict, &str, Vec<Finding>) {
        (self.verdict, &self.say, self.findings.iter().map(PlanFinding::plain).collect())
    }

    /// Without the document remedies are told and not tried out.
    fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<Self, Halt> {
        reckon(plan, Search::WhereShort, budget)
    }

    fn ask_of(document: &Document<'_>, budget: &Budget<'_>) -> Result<Self, Halt> {
        let (mut answer, looks) = counted(budget, |budget| reckon(document.plan, Search::WhereShort, budget))?;
        verify::verify(&mut answer, document, looks, budget)?;
        answer.say = say::say(document.plan, &answer);
        Ok(answer)
    }
}

/// Asks every question that the plan has something for.
fn reckon(plan: &Plan, search: Search, budget: &Budget<'_>) -> Result<WholePlan, Halt> {
    let coupled = Coupled::of(plan, budget)?;
    let mut flow = flow_balance::ask_with(plan, &coupled.balance, budget)?;
    let (mut fill, rehearsed) = if is_rehearsed(plan) {
        let (fill, rehearsed) = fill_level::ask_with(plan, Some(&coupled), search, budget)?;
        (Some(fill), rehearsed)
    } else {
        (None, None)
    };
    let mut heat =
        if plan.zones.is_empty() { None } else { Some(heat_budget::ask_with(plan, &coupled, rehearsed, budget)?) };
    let mut rows = (!plan.rows.is_empty()).then(|| rows::reckon(plan, &coupled.units()));
    let mut gathered = gather::Gathered::default();
    let mut working = Vec::new();
    gathered.add(FlowBalance::QUESTION, std::mem::take(&mut flow.findings));
    working.append(&mut flow.working);
    if let Some(heat) = &mut heat {
        gathered.add(HeatBudget::QUESTION, std::mem::take(&mut heat.findings));
        working.append(&mut heat.working);
    }
    if let Some(fill) = &mut fill {
        gathered.add(FillLevel::QUESTION, std::mem::take(&mut fill.findings));
        working.append(&mut fill.working);
    }
    if let Some(rows) = &mut rows {
        gathered.add(rows::QUESTION, std::mem::take(&mut rows.findings));
        working.append(&mut rows.working);
    }
    if working.len() > MOST_LINES {
        let more = working.len() - (MOST_LINES - 1);
        working.truncate(MOST_LINES - 1);
        working.push(format!("and {more} more lines, not shown"));
    }
    let findings = gathered.merged(plan);
    let verdict = Verdict::of_weights(findings.iter().map(|finding| finding.weight));
    let mut answer = WholePlan {
        title: plan.title.clone(),
        verdict,
        say: String::new(),
        findings,
        working,
        key_figures: KeyFigures::default(),
        tightest: None,
        flow,
        heat,
        fill,
        floor: rows.map_or_else(Named::default, |rows| rows.figures),
    };
    answer.tightest = margin::tightest(plan, &answer);
    answer.key_figures = KeyFigures::of(&answer);
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
