//! The findings of all questions as one list: what has one cause is one finding, and the order is that of importance.

use std::cmp::Reverse;

use serde_json::Value;

use super::found::PlanFinding;
use super::rows::{self, RowCode};
use crate::plan::{HeaderId, Plan, Pointer, ZoneId};
use crate::questions::answer::{Code as _, Finding, MOST_FINDINGS, Weight, finding};
use crate::questions::fill_level::FillLevel;
use crate::questions::flow_balance::FlowBalance;
use crate::questions::heat_budget::HeatBudget;

/// The findings as they come in, question after question.
#[derive(Debug, Default)]
pub(super) struct Gathered(Vec<PlanFinding>);

/// What findings of one cause have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cause {
    /// A header has too little for what is asked of it.
    Short(HeaderId),
    /// A header has more than finds a place.
    Lost(HeaderId),
    /// Coolers lack power.
    Unpowered,
    /// The supplies of a header are all but used up.
    Tight(HeaderId),
    /// A zone gets too hot.
    Hot(ZoneId),
}

impl Gathered {
    /// Adds the findings of a question.
    pub fn add(&mut self, question: &'static str, findings: Vec<Finding>) {
        self.0.extend(findings.into_iter().map(|finding| PlanFinding::of(question, finding)));
    }

    /// Those of one cause made one, the most important first.
    pub fn merged(self, plan: &Plan) -> Vec<PlanFinding> {
        let mut kept: Vec<(Option<Cause>, PlanFinding)> = Vec::with_capacity(self.0.len());
        for finding in self.0 {
            // A plan that is rehearsed for its patterns alone has nothing to fill, and need not.
            if finding.told.code == "nothing-to-rehearse" {
                continue;
            }
            let cause = cause(plan, &finding);
            let same = kept.iter_mut().find(|(known, leader)| match cause {
                // A note is no trouble, and none of what is.
                Some(_) => {
                    *known == cause && (leader.told.weight > Weight::Note) == (finding.told.weight > Weight::Note)
                }
                None => is_cause_of(&finding, leader),
            });
            match same {
                Some((_, leader)) => leader.take_in(finding),
                None => kept.push((cause, finding)),
            }
        }
        let mut found: Vec<PlanFinding> = kept.into_iter().map(|(_, finding)| finding).collect();
        found.sort_by(|one, other| {
            let key = |finding: &PlanFinding| Reverse(finding.told.weight);
            key(one)
                .cmp(&key(other))
                .then_with(|| moment(one).total_cmp(&moment(other)))
                .then_with(|| order(one.question).cmp(&order(other.question)))
        });
        cut(&mut found);
        found
    }
}

/// Cuts the list to what is listed. What says that a question found more stays, and so does what is cut here, as a count.
fn cut(found: &mut Vec<PlanFinding>) {
    if found.len() <= MOST_FINDINGS {
        return;
    }
    let is_count = |found: &PlanFinding| found.told.code == RowCode::MoreFindings.as_str();
    let (mut counts, mut listed): (Vec<_>, Vec<_>) = std::mem::take(found).into_iter().partition(is_count);
    let room = MOST_FINDINGS - (counts.len() + 1);
    let more = listed.len().saturating_sub(room);
    listed.truncate(room);
    if more > 0 {
        let say = format!("and {more} more findings of several questions, not listed");
        counts.push(PlanFinding::of(rows::QUESTION, finding(RowCode::MoreFindings, String::new(), say)));
    }
    listed.append(&mut counts);
    *found = listed;
}

/// When a finding first shows, for the order: what is so in steady state is so from the beginning, and what comes about in the
/// long run comes last.
fn moment(finding: &PlanFinding) -> f64 {
    let steady = finding.question == FlowBalance::QUESTION || finding.question == rows::QUESTION;
    finding.told.first_s.unwrap_or(if steady { 0.0 } else { f64::INFINITY })
}

fn order(question: &str) -> usize {
    [FlowBalance::QUESTION, HeatBudget::QUESTION, FillLevel::QUESTION, rows::QUESTION]
        .iter()
        .position(|known| *known == question)
        .unwrap_or(usize::MAX)
}

/// The cause that a finding speaks of, where several questions may speak of it.
fn cause(plan: &Plan, finding: &PlanFinding) -> Option<Cause> {
    let name = named(&finding.told.at);
    let supply = || plan.supplies.iter().find(|supply| supply.name == name).map(|supply| supply.header);
    let demand = || plan.demands.iter().find(|demand| demand.name == name).map(|demand| demand.header);
    let store = || plan.stores.iter().find(|store| store.name == name).map(|store| store.header);
    let zone = || plan.zones.iter().position(|zone| zone.name == name).map(ZoneId);
    match finding.told.code {
        "demand-short" | "demand-cut" => demand().map(Cause::Short),
        "runs-dry" if finding.told.weight == Weight::Failure => store().map(Cause::Short),
        "supply-lost" => supply().map(Cause::Lost),
        "supply-tight" => supply().map(Cause::Tight),
        "overflows" => store().map(Cause::Lost),
        "zone-over-limit" | "ballast-light" => zone().map(Cause::Hot),
        "machine-over-limit" => {
            plan.units.iter().find(|unit| unit.name == name).and_then(|unit| unit.zone).map(Cause::Hot)
        }
        "cooling-short" | "cooler-unpowered" => Some(Cause::Unpowered),
        "coolers-short" | "set-point-too-high" => {
            plan.coolers.iter().find(|cooler| cooler.name == name).map(|cooler| Cause::Hot(cooler.cools))
        }
        _ => None,
    }
}

/// The name of the thing that a pointer leads to or into: `/stores/sump/low` speaks of "sump".
fn named(pointer: &str) -> String {
    Pointer::parse(pointer).and_then(|pointer| pointer.steps().get(1).cloned()).unwrap_or_default()
}

/// Whether a finding tells the limit that holds back what another says is short: its change is a part of what mends that.
fn is_cause_of(finding: &PlanFinding, leader: &PlanFinding) -> bool {
    let limits = ["supply-short", "count-bound", "lines-full"].contains(&finding.told.code);
    let patch = |finding: &PlanFinding| finding.told.remedy.as_ref().and_then(|remedy| remedy.told.patch.clone());
    limits
        && ["aim-short", "demand-short", "cooling-short", "idle-short"].contains(&leader.told.code)
        && matches!((patch(finding), patch(leader)), (Some(part), Some(whole)) if contains(&whole, &part))
}

/// Whether all that one patch changes another changes likewise.
fn contains(whole: &Value, part: &Value) -> bool {
    match (whole, part) {
        (Value::Object(whole), Value::Object(part)) => {
            part.iter().all(|(name, part)| whole.get(name).is_some_and(|whole| contains(whole, part)))
        }
        (whole, part) => whole == part,
    }
}
