//! What the balance shows that the author should know, the heaviest first, each with what would mend it.

mod code;
mod limits;
mod notes;
mod short;
mod surplus;

use std::cmp::Reverse;

use super::mend::{self, Change, Mending};
use super::network::Network;
use crate::balance::Balance;
use crate::plan::Plan;
use crate::questions::answer::{Finding, Remedy, Weight};

pub use code::FindingCode;

/// The most findings listed; the rest is counted.
pub const MOST_FINDINGS: usize = 200;

/// What the parts of this module look at and add to.
struct Search<'a> {
    plan: &'a Plan,
    balance: &'a Balance,
    network: &'a Network,
    mending: &'a Mending,
    found: Vec<Finding>,
}

/// All findings.
pub(super) fn find(plan: &Plan, balance: &Balance, network: &Network, mending: &Mending) -> Vec<Finding> {
    let mut search = Search { plan, balance, network, mending, found: Vec::new() };
    search.shortages();
    search.surpluses();
    search.limits();
    search.notes();
    let mut found = search.found;
    found.sort_by_key(|finding| Reverse(finding.weight));
    if found.len() > MOST_FINDINGS {
        let more = found.len() - (MOST_FINDINGS - 1);
        found.truncate(MOST_FINDINGS - 1);
        found.push(finding(FindingCode::MoreFindings, String::new(), format!("and {more} more findings, not listed")));
    }
    found
}

/// A finding without figures and remedy.
fn finding(code: FindingCode, at: String, say: String) -> Finding {
    Finding {
        code: code.as_str(),
        weight: code.weight(),
        at,
        value: None,
        limit: None,
        margin: None,
        unit: None,
        say,
        remedy: None,
    }
}

/// Adds the figures: margin is limit − value, or value − limit where more is better.
trait Figured {
    /// `value` should not pass `limit`.
    fn at_most(self, value: f64, limit: f64, unit: &'static str) -> Self;
    /// `value` should reach `limit`.
    fn at_least(self, value: f64, limit: f64, unit: &'static str) -> Self;
    /// What would mend it.
    fn mended(self, remedy: Option<Remedy>) -> Self;
    /// With another weight than the code's usual one.
    fn weighing(self, weight: Weight) -> Self;
}

impl Figured for Finding {
    fn at_most(self, value: f64, limit: f64, unit: &'static str) -> Self {
        Self { value: Some(value), limit: Some(limit), margin: Some(limit - value), unit: Some(unit), ..self }
    }

    fn at_least(self, value: f64, limit: f64, unit: &'static str) -> Self {
        Self { value: Some(value), limit: Some(limit), margin: Some(value - limit), unit: Some(unit), ..self }
    }

    fn mended(self, remedy: Option<Remedy>) -> Self {
        Self { remedy, ..self }
    }

    fn weighing(self, weight: Weight) -> Self {
        Self { weight, ..self }
    }
}

/// Changes as a remedy; none where there are no changes.
fn remedy(plan: &Plan, changes: &[Change]) -> Option<Remedy> {
    (!changes.is_empty())
        .then(|| Remedy { say: mend::say_all(plan, changes), patch: Some(mend::patch_all(plan, changes)) })
}
