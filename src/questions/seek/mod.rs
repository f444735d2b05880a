//! The search: the smallest or the largest value of one place of a plan with which a condition holds.
//!
//! Values are sampled evenly over the range; where the condition turns between two of them, the search halves what lies
//! between on a grid of decimal numbers no wider than the tolerance, so that the value found is a short one.

mod say;
#[cfg(test)]
mod tests;
mod turn;

use serde::Serialize;
use serde_json::Value;

use super::Refused;
use super::answer::{Answer, Figures, Finding, HeadMeans, Verdict, codes, finding, heaviest_first, quoted};
use super::change::with_value;
use super::registry::{Entry, Reply, entry};
use super::sweep::takes_whole_numbers_only;
use crate::budget::{Budget, Halt};
use crate::plan::inquiry::{Find, Seek, Want, fault, near};
use crate::plan::{FaultCode, Faults, Limits, Pointer, ReadError};

codes! {
    /// What a search can find. The codes are stable: programs may act on them.
    SeekCode;
    NotFound = "not-found", Failure: "The condition holds with none of the values that were tried.";
    NotMonotone = "not-monotone", Caution: "The condition holds in more than one part of the range, or fails between.";
    HoldsEverywhere = "holds-everywhere", Note: "The condition holds with every value that was tried.";
    NoSuchFigure = "no-such-figure", Caution: "A pointer leads to no figure of any answer.";
    ValueUnanswered = "value-unanswered", Caution: "With a value there is no plan.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}

/// Where in the range the condition holds, as far as the samples tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum HoldsWhere {
    /// With every value.
    Everywhere,
    /// With none.
    Nowhere,
    /// From somewhere on.
    Above,
    /// Up to somewhere.
    Below,
    /// Here and there: it is not monotone in the range.
    Several,
}

/// The answer to the question.
pub type SeekAnswer = Answer<SeekFigures>;

/// Its figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = SeekAnswer))]
pub struct SeekFigures {
    /// The place that was varied: a JSON pointer into the plan.
    pub at: String,
    /// The unit of measure of all numbers of the range; absent for bare numbers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// How near the value found is to where the condition turns, in `unit`.
    pub tolerance: f64,
    /// Where in the range the condition holds.
    pub holds: HoldsWhere,
    /// The value that was sought; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<Found>,
    /// The nearest number beyond it with which the condition does not hold, in `unit`; absent where it holds to the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fails_at: Option<f64>,
    /// The parts of the range in which it holds, as far as the samples tell.
    pub ranges: Vec<HoldsFromTo>,
    /// The samples, in order.
    pub samples: Vec<Sample>,
    /// The greatest distance of one sample from the next, in `unit`: what turns and turns back within it is not seen, so that
    /// whether the condition is monotone, and which value is the smallest or largest, is told as far as the samples tell. More
    /// samples, or a shorter range, see more.
    pub sampled_every: f64,
    /// How many plans were reckoned in all.
    pub tried: usize,
    /// The figure that was asked about, for the picture.
    #[serde(skip)]
    #[cfg_attr(feature = "openapi", schema(ignore))]
    pub figure: Option<Pointer>,
}

/// The value that was sought.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Found {
    /// As it is put into the plan.
    pub value: Value,
    /// The number in it, in `unit`.
    pub number: f64,
    /// How the plan turns out with it.
    pub verdict: Verdict,
    /// The line of that answer.
    pub say: String,
    /// The figure that was asked about, with it; absent where none was, and where it is never reached.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub figure: Option<f64>,
}

/// A part of the range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct HoldsFromTo {
    /// The first sample, in `unit`.
    pub from: f64,
    /// The last.
    pub to: f64,
}

/// A value that was tried.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Sample {
    /// The number, in `unit`.
    pub number: f64,
    /// Whether the condition holds with it.
    pub holds: bool,
    /// The figure that was asked about, with it; absent where none was, and where it is never reached.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub figure: Option<f64>,
}

impl Figures for SeekFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "seek";
    const TITLE: &'static str = "Seek";
    const SAYS: &'static str = "The smallest or the largest value of one place of the plan with which a condition holds, by sampling and halving.";
    const HEAD: HeadMeans = HeadMeans {
        verdict: "`holds` where there is such a value, with cautions where the condition is not monotone in the range; `fails` \
            where\nthere is none. Found by sampling: see `sampled_every`. Remedies of findings are not tried out meanwhile.",
        working: "The search step by step.",
        ..HeadMeans::OF_SEVERAL
    };
}

/// One value tried.
struct Tried {
    holds: bool,
    /// Whether there is such a figure at all.
    has_figure: bool,
    figure: Option<f64>,
    verdict: Verdict,
    say: String,
}

/// What a search works with.
struct Search<'s> {
    seek: &'s Seek,
    entry: Entry,
    limits: &'s Limits,
    budget: &'s Budget<'s>,
}

impl Search<'_> {
    /// Tries a number; the faults, where no plan comes of it.
    fn attempt(&self, number: f64) -> Result<Result<Tried, Faults>, Halt> {
        let seek = self.seek;
        let span = &seek.span;
        // The ends are what they are, to the bit.
        #[allow(clippy::float_cmp)]
        let place = if number == span.from {
            "/from"
        } else if number == span.to {
            "/to"
        } else {
            "/at"
        };
        match with_value(&seek.plan, &seek.at, span.scale.value(number), place, self.limits) {
            Ok(plan) => Ok(Ok(held_against(&seek.want, (self.entry.ask)(&plan, self.budget)?))),
            Err(faults) => Ok(Err(faults)),
        }
    }
}

fn held_against(want: &Want, reply: Reply) -> Tried {
    let Reply { verdict, say, findings, figures } = reply;
    let (holds, has_figure, figure) = match want {
        Want::Holds { with_cautions } => {
            (verdict == Verdict::Holds || *with_cautions && verdict == Verdict::HoldsWithCautions, true, None)
        }
        Want::Absent(code) => (findings.iter().all(|finding| finding.code != code), true, None),
        Want::Figure { at, at_least, at_most } => match at.find(&figures) {
            // `null` is never, or no size is enough: later and more than any number.
            Some(Value::Null) => (at_most.is_none(), true, None),
            Some(value) => {
                let number = value.as_f64();
                let within = |number: f64| {
                    at_least.is_none_or(|least| number >= least) && at_most.is_none_or(|most| number <= most)
                };
                (number.is_some_and(within), number.is_some(), number)
            }
            None => (false, false, None),
        },
    };
    Tried { holds, has_figure, figure, verdict, say }
}

/// Answers the question.
///
/// # Errors
/// [`Refused::Read`] where no value of the range gives a plan, or a finding of that code is never found;
/// [`Refused::Halt`] when the budget is spent or its hook says stop.
pub fn ask(seek: &Seek, limits: &Limits, budget: &Budget<'_>) -> Result<SeekAnswer, Refused> {
    let search = Search { seek, entry: entry(seek.question), limits, budget };
    known_code(&search)?;
    let whole = takes_whole_numbers_only(&seek.plan, &seek.at, &seek.span, limits);
    let numbers = samples(seek, whole);
    let mut tried = budget.each(numbers.len(), |index| search.attempt(numbers[index]))?;
    let unread = tried.iter().filter(|tried| tried.is_err()).count();
    if unread == tried.len() {
        let faults = tried.swap_remove(0).err().unwrap_or(Faults { listed: Vec::new(), total: 0 });
        return Err(ReadError::Faults(faults).into());
    }
    let samples: Vec<Sample> = numbers
        .iter()
        .zip(&tried)
        .map(|(number, tried)| match tried {
            Ok(tried) => Sample { number: *number, holds: tried.holds, figure: tried.figure },
            Err(_) => Sample { number: *number, holds: false, figure: None },
        })
        .collect();
    let turned = turn::find(&search, &samples, whole)?;
    let figures = SeekFigures {
        at: seek.at.as_str().to_owned(),
        unit: (!seek.span.scale.unit.is_empty()).then(|| seek.span.scale.unit.clone()),
        tolerance: if whole { 1.0 } else { seek.tolerance },
        holds: holds_where(&samples),
        found: turned.found,
        fails_at: turned.fails_at,
        ranges: ranges(&samples),
        sampled_every: samples.windows(2).map(|pair| pair[1].number - pair[0].number).fold(0.0, f64::max),
        tried: samples.len() + turned.tried,
        samples,
        figure: match &seek.want {
            Want::Figure { at, .. } => Some(at.clone()),
            Want::Holds { .. } | Want::Absent(_) => None,
        },
    };
    let missing = tried.iter().all(|tried| tried.as_ref().is_ok_and(|tried| !tried.has_figure));
    let first_fault = tried.into_iter().find_map(Result::err);
    let findings = findings(seek, &figures, missing, first_fault.map(|faults| (unread, faults)));
    let verdict = Verdict::of(&findings);
    let mut answer = Answer::of_several(seek.question, &seek.plan.plan, verdict, findings, figures);
    answer.working = say::working(seek, &answer.figures, whole);
    answer.say = say::say(seek, &answer.figures);
    Ok(answer)
}

/// The numbers to try first: evenly, whole where only those can stand, each once.
fn samples(seek: &Seek, whole: bool) -> Vec<f64> {
    let last = seek.samples.saturating_sub(1).max(1);
    let numbers = (0..=last).map(|index| seek.span.number(index, last));
    let mut numbers: Vec<f64> = if whole { numbers.map(f64::round).collect() } else { numbers.collect() };
    numbers.dedup();
    numbers
}

/// Refuses a code that the question never finds: a search for its absence would hold everywhere and mean nothing.
fn known_code(search: &Search<'_>) -> Result<(), Refused> {
    let Want::Absent(code) = &search.seek.want else { return Ok(()) };
    let known = (search.entry.codes)();
    if known.contains(&code.as_str()) {
        return Ok(());
    }
    let expected = format!("a code of a finding of {}", search.seek.question.name());
    let near = near(code, known.into_iter());
    let fault = fault("/want/absent".to_owned(), FaultCode::UnknownChoice, quoted(code), expected, near);
    Err(ReadError::Faults(Faults { listed: vec![fault], total: 1 }).into())
}

fn holds_where(samples: &[Sample]) -> HoldsWhere {
    let turns = samples.windows(2).filter(|pair| pair[0].holds != pair[1].holds).count();
    match (turns, samples.first().is_some_and(|sample| sample.holds)) {
        (0, true) => HoldsWhere::Everywhere,
        (0, false) => HoldsWhere::Nowhere,
        (1, true) => HoldsWhere::Below,
        (1, false) => HoldsWhere::Above,
        _ => HoldsWhere::Several,
    }
}

fn ranges(samples: &[Sample]) -> Vec<HoldsFromTo> {
    samples
        .chunk_by(|one, next| one.holds == next.holds)
        .filter_map(|part| match (part.first(), part.last()) {
            (Some(first), Some(last)) if first.holds => Some(HoldsFromTo { from: first.number, to: last.number }),
            _ => None,
        })
        .collect()
}

fn findings(seek: &Seek, figures: &SeekFigures, missing: bool, unread: Option<(usize, Faults)>) -> Vec<Finding> {
    let mut found = Vec::new();
    let scale = &seek.span.scale;
    let range = format!("from {} to {}", scale.text(seek.span.from), scale.text(seek.span.to));
    let count = figures.samples.len();
    let mut note = |code, at: &str, say| found.push(finding(code, at.to_owned(), say));
    match figures.holds {
        HoldsWhere::Nowhere => {
            note(SeekCode::NotFound, "/want", format!("with none of {count} values {range} {}", say::want(seek)));
        }
        HoldsWhere::Everywhere => {
            note(
                SeekCode::HoldsEverywhere,
                "/want",
                format!("with each of {count} values {range} {}", say::want(seek)),
            );
        }
        HoldsWhere::Several => {
            let parts = say::parts(seek, figures);
            note(SeekCode::NotMonotone, "/at", format!("it is not monotone {range}: it holds {parts}"));
        }
        HoldsWhere::Above | HoldsWhere::Below => {}
    }
    if missing && let Want::Figure { at, .. } = &seek.want {
        let say = format!("{} leads to no number of any answer", quoted(at.as_str()));
        note(SeekCode::NoSuchFigure, "/want/figure", say);
    }
    if let Some((unread, faults)) = unread {
        let first = faults.listed.first().map_or(String::new(), crate::plan::Fault::say);
        note(SeekCode::ValueUnanswered, "/at", format!("{unread} of {count} values give no plan, the first: {first}"));
    }
    heaviest_first::<SeekCode>(&mut found);
    found
}

/// Which end of a part that holds is sought.
fn is_smallest(seek: &Seek) -> bool {
    seek.find == Find::Smallest
}
