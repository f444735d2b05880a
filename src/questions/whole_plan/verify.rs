//! Remedies tried out: the patch is applied to the document, everything is reckoned again, and what was found must be gone.
//!
//! The document is the one that was sent, as a JSON value: what a patch does to a document is defined (RFC 7396), and the plan
//! that comes of it is read and checked like any other. How many are tried, and how long, depends on the plan alone and not on
//! the clock, so that the same plan gives the same answer.

use std::borrow::Cow;

use serde_json::Value;

use super::found::{PlanFinding, PlanRemedy, Trial};
use super::{WholePlan, reckon};
use crate::budget::{Budget, Halt};
use crate::plan::{Plan, ReadError, without_mark};
use crate::questions::answer::{Remedy, Weight, apply, counted, limited, merge, one_line};
use crate::questions::fill_level::Search;
use crate::questions::{Detail, Document, Json};

/// The most patches that are tried.
pub const MOST_TRIED: usize = 6;
/// Plans with more things than this get no remedy tried: it costs as much as some more answers.
const MOST_THINGS: usize = 2_000;
/// Looks at the budget's hook that all trials together may take, where the answer itself took fewer.
const LEAST_LOOKS: u64 = 2_000;
/// Why a remedy was not tried.
const NO_PATCH: &str = "only the author of the plan knows what it would have to have";
const OTHERS_FIRST: &str = "as many as are tried came before it";
const TOO_LONG: &str = "what it takes to try it is more than the answer may take";
/// Bytes of what is said of what remains.
const SAID: usize = 300;

/// Tries out the remedies of failures and cautions, the most important first. `looks` is how often the answer itself looked at
/// the hook.
///
/// # Errors
/// [`Halt`] when the budget's hook says stop.
pub(super) fn verify(
    answer: &mut WholePlan,
    document: &Document<'_>,
    looks: u64,
    budget: &Budget<'_>,
) -> Result<(), Halt> {
    let plan = document.plan;
    if plan.units.len() + plan.supplies.len() + plan.demands.len() + plan.stores.len() > MOST_THINGS {
        untried(answer, "the plan has more things than those whose remedies are tried");
        return Ok(());
    }
    let tried: Vec<usize> = (0..answer.findings.len()).filter(|&at| is_tried(&answer.findings[at])).collect();
    if tried.is_empty() {
        untried(answer, OTHERS_FIRST);
        return Ok(());
    }
    let source = match document.json {
        Json::Tree(tree) => Cow::Borrowed(tree),
        Json::Bytes(bytes) => {
            let Ok(tree) = serde_json::from_slice::<Value>(without_mark(bytes)) else { return Ok(()) };
            Cow::Owned(tree)
        }
    };
    let mut trials = Trials { source: &source, document, left: looks.max(LEAST_LOOKS), done: Vec::new() };
    for &at in &tried {
        if let Some(remedy) = trials.best(&answer.findings, at, budget)? {
            answer.findings[at].told.remedy = Some(remedy);
        }
    }
    // What mends one thing may mend another, whose own remedies do not.
    for at in 0..answer.findings.len() {
        let finding = &answer.findings[at];
        let is_mended = finding.told.remedy.as_ref().is_some_and(|remedy| remedy.trial.verified == Some(true));
        if finding.told.weight == Weight::Failure
            && !is_mended
            && let Some(remedy) = trials.by_another(&answer.findings, at)
        {
            answer.findings[at].told.remedy = Some(remedy);
        }
    }
    untried(answer, OTHERS_FIRST);
    Ok(())
}

/// Says of every remedy that was not tried why not.
fn untried(answer: &mut WholePlan, otherwise: &'static str) {
    for finding in answer.findings.iter_mut().filter(|finding| finding.told.weight > Weight::Note) {
        let Some(remedy) = &mut finding.told.remedy else { continue };
        let is_patch = remedy.told.patch.is_some();
        if remedy.trial.verified.is_none() && remedy.trial.untried.is_none() {
            remedy.trial.untried = Some(if is_patch { otherwise } else { NO_PATCH });
        }
    }
}

/// Failures and cautions that something would mend.
fn is_tried(finding: &PlanFinding) -> bool {
    finding.told.weight > Weight::Note && candidates(finding).next().is_some()
}

/// The remedies of a finding that are patches, the first to be tried first.
fn candidates(finding: &PlanFinding) -> impl Iterator<Item = &PlanRemedy> {
    finding.told.remedy.iter().chain(&finding.others).filter(|remedy| remedy.told.patch.is_some())
}

/// The patches that were tried so far: several findings may have the same.
struct Trials<'a> {
    source: &'a Value,
    document: &'a Document<'a>,
    /// Looks that are left for all that are still to be tried.
    left: u64,
    done: Vec<(PlanRemedy, Option<Outcome>)>,
}

impl Trials<'_> {
    /// The first remedy that does it: of the finding, of those of its cause, or all of these together. Where none does, the
    /// first with what remains, or the first that took too long; `None` where none was tried.
    fn best(&mut self, found: &[PlanFinding], at: usize, budget: &Budget<'_>) -> Result<Option<PlanRemedy>, Halt> {
        let mut all: Vec<PlanRemedy> = candidates(&found[at]).cloned().collect();
        if all.len() > 1 {
            all.push(together(&all));
        }
        let (mut first, mut halted) = (None, None);
        for mut remedy in all {
            let trial = match self.outcome(&remedy, budget)? {
                Tried::Not => continue,
                Tried::Halted => Trial { untried: Some(TOO_LONG), ..Trial::default() },
                Tried::Out(outcome) => {
                    let remains = outcome.remains(found, at);
                    Trial { verified: Some(remains.is_none()), remains, untried: None }
                }
            };
            let (does_it, is_halted) = (trial.verified == Some(true), trial.untried.is_some());
            remedy.trial = trial;
            if does_it {
                return Ok(Some(remedy));
            }
            if is_halted { &mut halted } else { &mut first }.get_or_insert(remedy);
        }
        Ok(first.or(halted))
    }

    /// What was tried for another finding and mends this one.
    fn by_another(&self, found: &[PlanFinding], at: usize) -> Option<PlanRemedy> {
        let mends =
            |outcome: &Option<Outcome>| outcome.as_ref().is_some_and(|outcome| outcome.remains(found, at).is_none());
        let (remedy, _) = self.done.iter().find(|(_, outcome)| mends(outcome))?;
        Some(PlanRemedy { trial: Trial { verified: Some(true), ..Trial::default() }, ..remedy.clone() })
    }

    /// What comes of a remedy.
    fn outcome(&mut self, remedy: &PlanRemedy, budget: &Budget<'_>) -> Result<Tried<'_>, Halt> {
        let Some(patch) = &remedy.told.patch else { return Ok(Tried::Not) };
        let known = self.done.iter().position(|(other, _)| other.told.patch == remedy.told.patch);
        let at = match known {
            Some(known) => known,
            None if self.done.len() == MOST_TRIED => return Ok(Tried::Not),
            None => {
                let (source, document, left) = (self.source, self.document, self.left);
                let (outcome, looks) = counted(budget, |budget| attempt(source, patch, document, left, budget))?;
                self.left = self.left.saturating_sub(looks);
                self.done.push((remedy.clone(), outcome));
                self.done.len() - 1
            }
        };
        Ok(self.done[at].1.as_ref().map_or(Tried::Halted, Tried::Out))
    }
}

/// All remedies at once; where two change the same place, the first stands.
fn together(all: &[PlanRemedy]) -> PlanRemedy {
    let mut patch = Value::Object(serde_json::Map::new());
    for remedy in all.iter().rev() {
        remedy.told.patch.iter().for_each(|other| merge(&mut patch, other.clone()));
    }
    let said: Vec<&str> = all.iter().map(|remedy| remedy.told.say.as_str()).collect();
    Remedy { say: said.join(", and "), patch: Some(patch) }.into()
}

/// Whether a remedy was tried.
enum Tried<'t> {
    /// It is no patch, or no more are tried.
    Not,
    /// It took more than it may.
    Halted,
    /// To its end.
    Out(&'t Outcome),
}

/// What came of a patch.
enum Outcome {
    /// The document is no plan any more.
    Unreadable(String),
    /// What is found then.
    Found(Vec<PlanFinding>),
}

/// Applies a patch and reckons; `None` where that takes more than it may.
fn attempt(
    source: &Value,
    patch: &Value,
    document: &Document<'_>,
    looks: u64,
    budget: &Budget<'_>,
) -> Result<Option<Outcome>, Halt> {
    let mut changed = Cow::Borrowed(source);
    apply(changed.to_mut(), patch);
    let plan = match Plan::from_value(&changed, document.limits) {
        Ok(plan) => plan,
        Err(ReadError::Faults(faults)) => {
            let first = faults.listed.first().map_or_else(String::new, crate::plan::Fault::say);
            return Ok(Some(Outcome::Unreadable(first)));
        }
        Err(other) => return Ok(Some(Outcome::Unreadable(other.to_string()))),
    };
    let again = limited(budget, looks, |budget| reckon(&plan, Search::Nothing, Detail::Figures, budget))?;
    Ok(again.map(|answer| Outcome::Found(answer.findings)))
}

impl Outcome {
    /// What remains of a finding, or what comes instead; `None` where the remedy does it.
    fn remains(&self, before: &[PlanFinding], at: usize) -> Option<String> {
        let found = match self {
            Self::Unreadable(why) => return Some(one_line(&format!("the plan would not be one: {why}"), SAID)),
            Self::Found(found) => found,
        };
        let mended = &before[at];
        let trouble = || found.iter().filter(|finding| finding.told.weight > Weight::Note);
        let also = || mended.also.iter().map(|also| (also.code, also.at.as_str()));
        let remains = |finding: &&PlanFinding| {
            finding.names(mended.told.code, &mended.told.at) || also().any(|(code, at)| finding.names(code, at))
        };
        if let Some(left) = trouble().find(remains) {
            return Some(one_line(&format!("then {}", left.told.say), SAID));
        }
        let fails = |finding: &&PlanFinding| finding.told.weight == Weight::Failure;
        let was_there = |finding: &PlanFinding| {
            before.iter().any(|known| fails(&known) && known.names(finding.told.code, &finding.told.at))
        };
        let new = trouble().filter(fails).find(|finding| !was_there(finding));
        new.map(|new| one_line(&format!("instead, {}", new.told.say), SAID))
    }
}
