//! What the rehearsal shows that the author should know: the heaviest first, and of one weight the soonest.

mod code;
mod cooling;
mod loops;
mod notes;
mod stages;
mod stores;
mod switches;

use super::case::Case;
use crate::questions::answer::{Finding, heaviest_first, span};

pub use code::FindingCode;

/// What the parts of this module look at and add to.
struct Search<'c, 'p> {
    case: &'c Case<'p>,
    /// With the time from which on it holds; infinite where it is not of any moment.
    found: Vec<(f64, Finding)>,
}

/// All findings, and the time of the soonest trouble.
pub(super) fn find(case: &Case<'_>) -> Vec<Finding> {
    let mut search = Search { case, found: Vec::new() };
    search.stores();
    search.demands();
    search.loops();
    search.switches();
    search.stages();
    search.cooling();
    search.notes();
    let mut found = search.found;
    found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let mut found = found.into_iter().map(|(_, finding)| finding).collect();
    heaviest_first::<FindingCode>(&mut found);
    found
}

impl Search<'_, '_> {
    /// Adds a finding of a moment.
    fn add(&mut self, at_s: f64, finding: Finding) {
        self.found.push((at_s, Finding { first_s: Some(at_s), ..finding }));
    }

    /// Adds a finding that is not of any moment.
    fn add_lasting(&mut self, finding: Finding) {
        self.found.push((f64::INFINITY, finding));
    }

    /// A length of time as people say it.
    fn span(&self, seconds: f64) -> String {
        span(seconds, self.case.plan.day)
    }

    /// "at once", or "after 3 min 20 s".
    fn after(&self, seconds: f64) -> String {
        if seconds <= 0.0 { "at once".to_owned() } else { format!("after {}", self.span(seconds)) }
    }
}
