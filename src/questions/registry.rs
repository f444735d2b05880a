//! The questions that a plan can be asked by name: one line each.

use serde_json::Value;
use serde_json::value::RawValue;

use super::answer::{Finding, Verdict};
use super::fill_level::LevelFigures;
use super::flow_balance::FlowFigures;
use super::heat_budget::HeatFigures;
use super::whole_plan::PlanFigures;
use super::{Detail, Document, OfPlan};
use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::plan::inquiry::{Better, Question};

/// A question as whoever asks several of them sees it.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Its title.
    pub title: &'static str,
    /// The figures that matter most: see [`OfPlan::KEY_FIGURES`].
    pub key_figures: &'static [(&'static str, Better)],
    /// The codes of all that it can find.
    pub codes: fn() -> Vec<&'static str>,
    /// Answers it as a tree, to read figures from. Remedies are told and not tried out.
    pub ask: fn(&Plan, &Budget<'_>) -> Result<Reply, Halt>,
    /// Answers it as JSON, to the byte as it answers when it is asked alone.
    pub write: fn(&Document<'_>, &Budget<'_>) -> Result<Written, Halt>,
}

/// An answer as a tree.
#[derive(Clone, Debug, PartialEq)]
pub struct Reply {
    /// How the plan turns out.
    pub verdict: Verdict,
    /// The one line.
    pub say: String,
    /// What was found.
    pub findings: Vec<Finding>,
    /// The whole answer.
    pub figures: Value,
}

/// An answer as JSON.
#[derive(Clone, Debug)]
pub struct Written {
    /// How the plan turns out.
    pub verdict: Verdict,
    /// The one line.
    pub say: String,
    /// The whole answer.
    pub json: Box<RawValue>,
}

/// What is known of a question.
#[must_use]
pub fn entry(question: Question) -> Entry {
    match question {
        Question::FlowBalance => of::<FlowFigures>(),
        Question::FillLevel => of::<LevelFigures>(),
        Question::HeatBudget => of::<HeatFigures>(),
        Question::WholePlan => of::<PlanFigures>(),
    }
}

fn of<F: OfPlan>() -> Entry {
    Entry { title: F::TITLE, key_figures: F::KEY_FIGURES, codes: F::codes, ask: ask::<F>, write: write::<F> }
}

fn ask<F: OfPlan>(plan: &Plan, budget: &Budget<'_>) -> Result<Reply, Halt> {
    let answer = F::ask(plan, Detail::Figures, budget)?;
    // An answer has text keys only, so it always has a tree.
    let figures = serde_json::to_value(&answer).unwrap_or_default();
    let findings = answer.findings.into_iter().map(Into::into).collect();
    Ok(Reply { verdict: answer.verdict, say: answer.say, findings, figures })
}

fn write<F: OfPlan>(document: &Document<'_>, budget: &Budget<'_>) -> Result<Written, Halt> {
    let answer = F::ask_of(document, budget)?;
    // Likewise.
    let json = serde_json::value::to_raw_value(&answer).unwrap_or_else(|_| RawValue::NULL.to_owned());
    Ok(Written { verdict: answer.verdict, say: answer.say, json })
}

/// The pointers that a pattern with `*` for every name means in an answer, in the order of the names: what comes first decides
/// first between variants, and the order of the document must decide nothing.
#[must_use]
pub fn expand(pattern: &str, answer: &Value) -> Vec<String> {
    let mut found = vec![(String::new(), answer)];
    for step in pattern.split('/').skip(1) {
        found = found
            .into_iter()
            .flat_map(|(at, value)| match value.as_object() {
                Some(members) if step == "*" => members
                    .iter()
                    .map(|(name, child)| (at.clone() + &crate::plan::pointer(&[name]), child))
                    .collect::<Vec<_>>(),
                members => members
                    .and_then(|members| members.get(step))
                    .map(|child| (format!("{at}/{step}"), child))
                    .into_iter()
                    .collect(),
            })
            .collect();
    }
    let mut found: Vec<String> = found.into_iter().map(|(at, _)| at).collect();
    found.sort_unstable();
    found
}

/// Which way the figure at a pointer is better, by the patterns of its question.
#[must_use]
pub fn better(entry: &Entry, at: &crate::plan::Pointer) -> Option<Better> {
    let fits = |pattern: &str| {
        let steps: Vec<&str> = pattern.split('/').skip(1).collect();
        steps.len() == at.steps().len() && steps.iter().zip(at.steps()).all(|(step, name)| *step == "*" || step == name)
    };
    entry.key_figures.iter().find(|(pattern, _)| fits(pattern)).map(|(_, better)| *better)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{Question, entry, expand};

    #[test]
    fn a_pattern_means_every_name() {
        let answer = json!({"units": {"c": {}, "a/b": {"count": 1}}, "power": {"net_w": 1.0}});
        assert_eq!(expand("/units/*/count", &answer), ["/units/a~1b/count"]);
        assert_eq!(expand("/power/net_w", &answer), ["/power/net_w"]);
        assert_eq!(expand("/units/*", &answer), ["/units/a~1b", "/units/c"]);
        assert!(expand("/zones/*/least_c", &answer).is_empty());
    }

    #[test]
    fn every_question_answers_to_its_name() {
        for question in Question::ALL {
            let plan = crate::plan::Plan::from_json(b"{}", &crate::plan::Limits::DEFAULT).expect("a plan");
            let reply = (entry(*question).ask)(&plan, &crate::budget::Budget::unhurried()).expect("an answer");
            assert_eq!(reply.figures["question"], question.name());
            assert!(!(entry(*question).codes)().is_empty());
        }
    }
}
