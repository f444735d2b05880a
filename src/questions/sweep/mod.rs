//! The sweep: what becomes of figures while one place of a plan takes one value after another.

mod axis;
mod say;
#[cfg(test)]
mod tests;

use indexmap::IndexMap;
use serde::Serialize;
use serde_json::Value;

use super::Refused;
use super::answer::{Answer, Figures, Finding, HeadMeans, Unanswered, Verdict, codes, finding, heaviest_first, quoted};
use super::change::with_value;
use super::registry::{Reply, entry, expand};
use crate::budget::{Budget, Halt};
use crate::plan::inquiry::{Span, Sweep, Values};
use crate::plan::{At, FaultCode, Faults, Limits, Plan, Pointer, ReadError};

pub use axis::Axis;

codes! {
    /// What a sweep can find. The codes are stable: programs may act on them.
    SweepCode;
    NoSuchFigure = "no-such-figure", Caution: "A pointer leads to no figure of any answer.";
    ValueUnanswered = "value-unanswered", Caution: "With a value there is no plan, or no answer.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}

/// The most figures that are read where none are named.
const MOST_KEY_FIGURES: usize = 8;

/// The answer to the question.
pub type SweepAnswer = Answer<SweepFigures>;

/// Its figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = SweepAnswer))]
pub struct SweepFigures {
    /// The place that was varied: a JSON pointer into the plan.
    pub at: String,
    /// The unit of measure that all values have in common; absent for bare numbers and where there is none such.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// The figures that were read: JSON pointers into the answer.
    pub read: Vec<String>,
    /// What came of each value, in their order.
    pub rows: Vec<SweepRow>,
    /// The values as numbers, for the picture.
    #[serde(skip)]
    #[cfg_attr(feature = "openapi", schema(ignore))]
    pub axis: Axis,
}

/// What comes of one value.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SweepRow {
    /// The value as it was put into the plan.
    pub value: Value,
    /// The number in it, in `unit`, or in SI units where the values have several; absent where it is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<f64>,
    /// How the plan turns out; absent where there is no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
    /// What was read, by pointer; what the answer does not have is absent.
    #[serde(skip_serializing_if = "IndexMap::is_empty")]
    pub figures: IndexMap<String, Value>,
    /// Why there is no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unanswered: Option<Unanswered>,
}

impl Figures for SweepFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "sweep";
    const TITLE: &'static str = "Sweep";
    const SAYS: &'static str = "A question asked again and again while one place of the plan takes one value after another: a table and a curve.";
    const HEAD: HeadMeans = HeadMeans {
        verdict: "`holds` where every plan holds, `fails` where every one fails or is none, otherwise `holds-with-cautions`.",
        working: "For each verdict and for each figure a line.\nOnly figures and verdicts are read of the answers: remedies are \
            not tried out.",
        ..HeadMeans::OF_SEVERAL
    };
}

/// What one value gives: the figures that were asked for, or the key figures with their pointers.
enum Outcome {
    Answered(Verdict, IndexMap<String, Value>),
    Faulty(Faults),
    Halted(Unanswered),
}

/// Answers the question, value by value, whoever works on which.
///
/// # Errors
/// [`Refused::Read`] where no value gives a plan, with the faults of all; [`Refused::Halt`] when the budget's hook says stop.
pub fn ask(sweep: &Sweep, limits: &Limits, budget: &Budget<'_>) -> Result<SweepAnswer, Refused> {
    let values = values(sweep, limits);
    let outcomes = budget.each(values.len(), |index| {
        let place = place(sweep, index, values.len());
        match with_value(&sweep.plan, &sweep.at, values[index].clone(), &place, limits) {
            Ok(plan) => outcome(sweep, &plan, budget),
            Err(faults) => Ok(Outcome::Faulty(faults)),
        }
    })?;
    if outcomes.iter().all(|outcome| matches!(outcome, Outcome::Faulty(_))) {
        return Err(ReadError::Faults(all_faults(outcomes, limits)).into());
    }
    let axis = axis::of(&sweep.values, &values, sweep.plan.plan.day);
    let read = pointers(sweep, &outcomes);
    let rows: Vec<SweepRow> = outcomes
        .into_iter()
        .zip(values)
        .enumerate()
        .map(|(index, (outcome, value))| row(value, axis.numbers.get(index).copied(), outcome, &read))
        .collect();
    let findings = findings(sweep, &rows, &read);
    let verdict = verdict(&rows);
    let figures = SweepFigures { at: sweep.at.as_str().to_owned(), unit: axis.unit.clone(), read, rows, axis };
    let mut answer = Answer::of_several(sweep.question, &sweep.plan.plan, verdict, findings, figures);
    answer.working = say::working(&answer.figures);
    answer.say = say::say(&answer.figures);
    Ok(answer)
}

/// The values in their order.
fn values(sweep: &Sweep, limits: &Limits) -> Vec<Value> {
    match &sweep.values {
        Values::Listed(listed) => listed.clone(),
        Values::Even(span, count) => {
            let whole = takes_whole_numbers_only(&sweep.plan, &sweep.at, span, limits);
            let last = count.saturating_sub(1).max(1);
            let numbers = (0..=last).map(|index| span.number(index, last));
            let mut numbers: Vec<f64> = if whole { numbers.map(f64::round).collect() } else { numbers.collect() };
            numbers.dedup();
            numbers.into_iter().map(|number| span.scale.value(number)).collect()
        }
    }
}

/// Whether only whole numbers can stand at a place: a whole one is of the right type there, and the one half more is not.
pub(super) fn takes_whole_numbers_only(
    plan: &crate::plan::inquiry::Held,
    at: &Pointer,
    span: &Span,
    limits: &Limits,
) -> bool {
    let of_wrong_type = |number: f64| {
        let read = with_value(plan, at, span.scale.value(number), "/here", limits);
        let here = |fault: &crate::plan::Fault| fault.at == At::Pointer("/here".to_owned());
        read.is_err_and(|faults| faults.listed.iter().any(|fault| here(fault) && fault.code == FaultCode::WrongType))
    };
    span.is_whole() && of_wrong_type(span.from + 0.5) && !of_wrong_type(span.from)
}

/// Where in the document the value stands.
pub(super) fn place(sweep: &Sweep, index: usize, count: usize) -> String {
    match &sweep.values {
        Values::Listed(_) => format!("/values/{index}"),
        Values::Even(..) if index == 0 => "/from".to_owned(),
        Values::Even(..) if index + 1 == count => "/to".to_owned(),
        Values::Even(..) => "/at".to_owned(),
    }
}

fn outcome(sweep: &Sweep, plan: &Plan, budget: &Budget<'_>) -> Result<Outcome, Halt> {
    let asked = entry(sweep.question);
    let Reply { verdict, figures, .. } = match (asked.ask)(plan, budget) {
        Ok(reply) => reply,
        Err(halt) => return Unanswered::halted(halt).map(Outcome::Halted),
    };
    let scalar = |at: &str| figures.pointer(at).filter(|value| !value.is_object() && !value.is_array()).cloned();
    let found = if let Some(read) = &sweep.read {
        read.iter().filter_map(|at| Some((at.as_str().to_owned(), scalar(at.as_str())?))).collect()
    } else {
        let patterns = asked.key_figures.iter().flat_map(|(pattern, _)| expand(pattern, &figures));
        patterns.filter_map(|at| scalar(&at).map(|value| (at, value))).take(MOST_KEY_FIGURES).collect()
    };
    Ok(Outcome::Answered(verdict, found))
}

/// The pointers that are read: those that were named, or the first key figures of any answer.
fn pointers(sweep: &Sweep, outcomes: &[Outcome]) -> Vec<String> {
    if let Some(read) = &sweep.read {
        return read.iter().map(|at| at.as_str().to_owned()).collect();
    }
    let mut found: IndexMap<&str, ()> = IndexMap::new();
    for outcome in outcomes {
        if let Outcome::Answered(_, figures) = outcome {
            found.extend(figures.keys().map(|at| (at.as_str(), ())));
        }
    }
    found.into_keys().take(MOST_KEY_FIGURES).map(str::to_owned).collect()
}

fn row(value: Value, number: Option<f64>, outcome: Outcome, read: &[String]) -> SweepRow {
    let (verdict, mut figures, unanswered) = match outcome {
        Outcome::Answered(verdict, figures) => (Some(verdict), figures, None),
        Outcome::Faulty(faults) => (None, IndexMap::new(), Some(faults.into())),
        Outcome::Halted(unanswered) => (None, IndexMap::new(), Some(unanswered)),
    };
    figures.retain(|at, _| read.contains(at));
    SweepRow { value, number, verdict, figures, unanswered }
}

fn verdict(rows: &[SweepRow]) -> Verdict {
    let holds = |row: &SweepRow| row.verdict == Some(Verdict::Holds);
    let fails = |row: &SweepRow| row.verdict.is_none_or(|verdict| verdict == Verdict::Fails);
    if rows.iter().all(holds) {
        Verdict::Holds
    } else if rows.iter().all(fails) {
        Verdict::Fails
    } else {
        Verdict::HoldsWithCautions
    }
}

fn findings(sweep: &Sweep, rows: &[SweepRow], read: &[String]) -> Vec<Finding> {
    let mut found = Vec::new();
    for (index, at) in read.iter().enumerate() {
        if sweep.read.is_some() && rows.iter().all(|row| !row.figures.contains_key(at)) {
            let say = format!("{} leads to no single figure of any answer", quoted(at));
            found.push(finding(SweepCode::NoSuchFigure, format!("/read/{index}"), say));
        }
    }
    for (index, row) in rows.iter().enumerate() {
        if let Some(unanswered) = &row.unanswered {
            let say = format!("with {} there is no answer: {}", say::value(&row.value), unanswered.say);
            found.push(finding(SweepCode::ValueUnanswered, place(sweep, index, rows.len()), say));
        }
    }
    heaviest_first::<SweepCode>(&mut found);
    found
}

/// The faults of all values, each fault once.
fn all_faults(outcomes: Vec<Outcome>, limits: &Limits) -> Faults {
    let mut all = Faults { listed: Vec::new(), total: 0 };
    for outcome in outcomes {
        let Outcome::Faulty(faults) = outcome else { continue };
        for fault in faults.listed {
            if !all.listed.contains(&fault) {
                all.total += 1;
                if all.listed.len() < limits.faults {
                    all.listed.push(fault);
                }
            }
        }
    }
    all
}
