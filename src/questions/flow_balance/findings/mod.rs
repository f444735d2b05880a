//! What the balance shows that the author should know, the heaviest first, each with what would mend it.

mod code;
mod limits;
mod notes;
mod short;
mod surplus;

use super::change::{Change, patch_all, say_all};
use super::mend::Mending;
use super::network::Network;
use crate::balance::Balance;
use crate::plan::Plan;
use crate::questions::answer::{Finding, Remedy, finding, heaviest_first};

pub use code::FindingCode;

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
    heaviest_first::<FindingCode>(&mut found);
    found
}

/// Changes as a remedy; none where there are no changes.
fn remedy(plan: &Plan, changes: &[Change]) -> Option<Remedy> {
    (!changes.is_empty()).then(|| Remedy { say: say_all(plan, changes), patch: Some(patch_all(plan, changes)) })
}
