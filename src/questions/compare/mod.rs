//! The comparison: a plan as it is beside variants of it, which is better on each figure, which on the whole, and why.
//!
//! On the whole a verdict counts before all else, then fewer failures, fewer cautions, and then the figures in their order.

mod rank;
mod say;
#[cfg(test)]
mod tests;

use indexmap::IndexMap;
use serde::Serialize;
use serde_json::Value;

use super::Refused;
use super::answer::{
    Answer, Figures, Finding, HeadMeans, Name, Named, Unanswered, Verdict, Weight, codes, finding, heaviest_first,
    quoted,
};
use super::change::with_patch;
use super::registry::{Reply, better, entry, expand};
use crate::budget::{Budget, Halt};
use crate::plan::inquiry::{Better, Compare, Figure};
use crate::plan::{Limits, Pointer, pointer};

codes! {
    /// What a comparison can find. The codes are stable: programs may act on them.
    CompareCode;
    NoSuchFigure = "no-such-figure", Caution: "A pointer leads to no figure of any answer.";
    VariantUnanswered = "variant-unanswered", Caution: "A variant is no plan, or has no answer.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}

/// The most figures that are compared where none are named; the rest is left out.
pub const MOST_KEY_FIGURES: usize = 100;

/// Two numbers nearer than this share of their size are the same.
const SAME: f64 = 1e-9;

/// The answer to the question.
pub type CompareAnswer = Answer<CompareFigures>;

/// Its figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = CompareAnswer))]
pub struct CompareFigures {
    /// The best of all; the plan without any change is called `as it is`.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub best: Name,
    /// Why the best is better than the plan as it is; absent where nothing is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// All that have an answer, the best first.
    pub order: Vec<Placed>,
    /// By the pointer into the answer, in the order of what they matter.
    #[serde(rename = "figures")]
    pub compared: IndexMap<String, ComparedFigures>,
    /// By name, the plan as it is first.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, VariantFigures>))]
    pub variants: Named<VariantFigures>,
}

/// A place in the order.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Placed {
    /// The variant.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub name: Name,
    /// Its place, from 1; what is alike in all that is compared shares a place.
    pub place: usize,
    /// Why it comes before the next; absent for the last and for what shares its place with the next.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// A figure in all variants.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComparedFigures {
    /// Which way it is better.
    pub better: WhichWay,
    /// By variant; absent where the answer does not have it, `null` for never.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, Value>))]
    pub values: Named<Value>,
    /// Who has the best, where they differ and it has a better way.
    #[cfg_attr(feature = "openapi", schema(value_type = Vec<String>))]
    pub best: Vec<Name>,
    /// One sentence.
    pub say: String,
}

/// Which way a figure is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum WhichWay {
    /// More of it.
    More,
    /// Less of it.
    Less,
    /// It decides nothing.
    Neither,
}

impl From<Better> for WhichWay {
    fn from(better: Better) -> Self {
        match better {
            Better::More => Self::More,
            Better::Less => Self::Less,
            Better::Neither => Self::Neither,
        }
    }
}

/// A variant.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct VariantFigures {
    /// How it turns out; absent where there is no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
    /// The line of its answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub say: Option<String>,
    /// What was found in it; `where` is a JSON pointer into the plan of the variant. Remedies are told as their questions tell
    /// them and are not tried out: a variant that is asked by itself, by `/v1/plan`, has them verified.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub findings: Option<Vec<Finding>>,
    /// Whether its answer is the very answer of the plan as it is; absent without an answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same: Option<bool>,
    /// The figures that differ from those of the plan as it is, by pointer.
    #[serde(skip_serializing_if = "IndexMap::is_empty")]
    pub changes: IndexMap<String, ChangeFigures>,
    /// Findings that the plan as it is has not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub brings: Vec<FindingAt>,
    /// Findings that the plan as it is has, and this has not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub mends: Vec<FindingAt>,
    /// Why there is no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unanswered: Option<Unanswered>,
}

/// A figure that differs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ChangeFigures {
    /// In the plan as it is.
    pub from: f64,
    /// In the variant.
    pub to: f64,
    /// The variant's less the plan's.
    pub by: f64,
}

/// A finding by its code and its place.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FindingAt {
    /// Its code.
    pub code: &'static str,
    /// Its place: a JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
}

impl Figures for CompareFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "compare";
    const TITLE: &'static str = "Compare";
    const SAYS: &'static str =
        "A plan beside variants of it: verdicts, findings and figures, what differs, which is better on each and why.";
    const HEAD: HeadMeans = HeadMeans {
        verdict: "The verdict of the best.",
        working: "Why each is better than the next, and what each figure comes to.",
        ..HeadMeans::OF_SEVERAL
    };
}

/// A figure that is compared, in all variants that have an answer.
struct Row {
    at: Pointer,
    better: Better,
    /// By the number of the variant.
    values: Vec<Option<Value>>,
}

impl Row {
    /// As a number to compare: never is later, and no size is larger, than any number.
    fn number(&self, variant: usize) -> Option<f64> {
        match self.values.get(variant)?.as_ref()? {
            Value::Null => Some(f64::INFINITY),
            value => value.as_f64(),
        }
    }
}

/// Whether two numbers are the same but for rounding.
fn same(one: f64, other: f64) -> bool {
    one.total_cmp(&other).is_eq() || (one - other).abs() <= SAME * one.abs().max(other.abs())
}

/// Answers the question, variant by variant, whoever works on which.
///
/// # Errors
/// [`Refused::Halt`] when the budget is spent on the plan as it is, or its hook says stop.
pub fn ask(compare: &Compare, limits: &Limits, budget: &Budget<'_>) -> Result<CompareAnswer, Refused> {
    let asked = entry(compare.question);
    let answered = |plan: &crate::plan::Plan| match (asked.ask)(plan, budget) {
        Ok(reply) => Ok(Ok(reply)),
        Err(halt) => Unanswered::halted(halt).map(Err),
    };
    let replies: Vec<Result<Reply, Unanswered>> = budget.each(compare.variants.len() + 1, |index| {
        let Some(index) = index.checked_sub(1) else {
            // Without the plan as it is there is nothing to compare with.
            return (asked.ask)(&compare.plan.plan, budget).map(Ok);
        };
        let variant = &compare.variants[index];
        match with_patch(&compare.plan, &variant.patch, &variant.name, limits) {
            Ok(plan) => answered(&plan),
            Err(faults) => Ok::<_, Halt>(Err(faults.into())),
        }
    })?;
    let names: Vec<Name> = std::iter::once(Compare::AS_IT_IS)
        .chain(compare.variants.iter().map(|variant| variant.name.as_str()))
        .map(Name::from)
        .collect();
    let rows = rows(compare, &replies);
    let (places, why) = rank::rank(&names, &replies, &rows);
    let best = places.first().map_or_else(|| names[0].clone(), |placed| placed.name.clone());
    let best_reply = names.iter().position(|name| *name == best).and_then(|index| replies[index].as_ref().ok());
    let verdict = best_reply.map_or(Verdict::Fails, |reply| reply.verdict);
    let findings = findings(compare, &names, &replies, &rows);
    let figures = CompareFigures {
        best,
        why,
        order: places,
        compared: rows.iter().map(|row| (row.at.as_str().to_owned(), figures(row, &names))).collect(),
        variants: variants(&names, replies, &rows),
    };
    let mut answer = Answer::of_several(compare.question, &compare.plan.plan, verdict, findings, figures);
    answer.working = say::working(&answer.figures);
    answer.say = say::say(&answer);
    Ok(answer)
}

/// The figures that are compared: those that are named, or the key figures that any of the answers has.
fn rows(compare: &Compare, replies: &[Result<Reply, Unanswered>]) -> Vec<Row> {
    let asked = entry(compare.question);
    let answers = || replies.iter().flatten().map(|reply| &reply.figures);
    let named: Vec<(Pointer, Better)> = if let Some(figures) = &compare.figures {
        let way = |figure: &Figure| figure.better.or_else(|| better(&asked, &figure.at)).unwrap_or(Better::Neither);
        figures.iter().map(|figure| (figure.at.clone(), way(figure))).collect()
    } else {
        let mut found: IndexMap<String, Better> = IndexMap::new();
        for (pattern, better) in asked.key_figures {
            let mut of_pattern: Vec<String> = answers().flat_map(|answer| expand(pattern, answer)).collect();
            of_pattern.sort_unstable();
            found.extend(of_pattern.into_iter().map(|at| (at, *better)));
        }
        // What is nothing in every answer is no news.
        let is_nothing = |at: &str| answers().all(|answer| answer.pointer(at).and_then(Value::as_f64) == Some(0.0));
        let found = found.into_iter().filter(|(at, _)| !is_nothing(at));
        let read = found.filter_map(|(at, better)| Some((Pointer::parse(&at)?, better)));
        read.take(MOST_KEY_FIGURES).collect()
    };
    let scalar = |reply: &Result<Reply, Unanswered>, at: &Pointer| {
        let value = at.find(&reply.as_ref().ok()?.figures)?;
        (!value.is_object() && !value.is_array()).then(|| value.clone())
    };
    named
        .into_iter()
        .map(|(at, better)| Row { values: replies.iter().map(|reply| scalar(reply, &at)).collect(), at, better })
        .collect()
}

fn figures(row: &Row, names: &[Name]) -> ComparedFigures {
    let values = names.iter().zip(&row.values).filter_map(|(name, value)| Some((name.clone(), value.clone()?)));
    let best = rank::best(row).into_iter().map(|index| names[index].clone()).collect();
    let say = say::figure(row, names);
    ComparedFigures { better: row.better.into(), values: values.collect(), best, say }
}

fn variants(names: &[Name], replies: Vec<Result<Reply, Unanswered>>, rows: &[Row]) -> Named<VariantFigures> {
    let base = replies.first().and_then(|reply| reply.as_ref().ok()).cloned();
    let changes = |index: usize| {
        rows.iter()
            .filter_map(|row| {
                let (from, to) = (row.values[0].as_ref()?.as_f64()?, row.values[index].as_ref()?.as_f64()?);
                let changed = ChangeFigures { from, to, by: to - from };
                (!same(from, to)).then(|| (row.at.as_str().to_owned(), changed))
            })
            .collect()
    };
    names
        .iter()
        .zip(replies)
        .enumerate()
        .map(|(index, (name, reply))| {
            let figures = match reply {
                Ok(reply) => {
                    let before = base.as_ref().map_or(&[][..], |base| &base.findings);
                    VariantFigures {
                        verdict: Some(reply.verdict),
                        say: Some(reply.say),
                        same: Some(base.as_ref().is_some_and(|base| base.figures == reply.figures)),
                        changes: changes(index),
                        brings: without(&reply.findings, before),
                        mends: without(before, &reply.findings),
                        findings: Some(reply.findings),
                        unanswered: None,
                    }
                }
                Err(unanswered) => VariantFigures {
                    verdict: None,
                    say: None,
                    findings: None,
                    same: None,
                    changes: IndexMap::new(),
                    brings: Vec::new(),
                    mends: Vec::new(),
                    unanswered: Some(unanswered),
                },
            };
            (name.clone(), figures)
        })
        .collect()
}

/// The findings of one list that another has not, by code and place.
fn without(these: &[Finding], others: &[Finding]) -> Vec<FindingAt> {
    these
        .iter()
        .filter(|finding| !others.iter().any(|other| other.code == finding.code && other.at == finding.at))
        .map(|finding| FindingAt { code: finding.code, at: finding.at.clone() })
        .collect()
}

fn findings(compare: &Compare, names: &[Name], replies: &[Result<Reply, Unanswered>], rows: &[Row]) -> Vec<Finding> {
    let mut found = Vec::new();
    for (name, reply) in names.iter().zip(replies) {
        if let Err(unanswered) = reply {
            let say = format!("variant {} has no answer: {}", quoted(name), unanswered.say);
            found.push(finding(CompareCode::VariantUnanswered, pointer(&["variants", name]), say));
        }
    }
    for (index, row) in rows.iter().enumerate() {
        if compare.figures.is_some() && row.values.iter().all(Option::is_none) {
            let say = format!("{} leads to no single figure of any answer", quoted(row.at.as_str()));
            found.push(finding(CompareCode::NoSuchFigure, format!("/figures/{index}"), say));
        }
    }
    heaviest_first::<CompareCode>(&mut found);
    found
}

/// A figure as people read it; `null` is never.
#[must_use]
pub fn shown_figure(at: &Pointer, value: &Value) -> String {
    say::figure_value(at, value)
}

/// How many findings weigh so much.
fn weighing(reply: &Reply, weight: Weight) -> usize {
    reply.findings.iter().filter(|finding| finding.weight == weight).count()
}
