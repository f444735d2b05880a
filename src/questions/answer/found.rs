//! Findings in the making, and in order.

use std::cmp::Reverse;

use super::{Finding, Mends, Remedy, Weight};

/// The most findings listed; the rest is counted.
pub const MOST_FINDINGS: usize = 200;

/// A code of a finding: stable, with the weight that it usually has.
pub trait Code: Copy {
    /// That there are more findings than are listed.
    const MORE: Self;

    /// The code as printed.
    #[must_use]
    fn as_str(self) -> &'static str;

    /// How much it weighs.
    #[must_use]
    fn weight(self) -> Weight;
}

/// A finding without figures and remedy.
#[must_use]
pub fn finding(code: impl Code, at: String, say: String) -> Finding {
    Finding {
        code: code.as_str(),
        weight: code.weight(),
        at,
        first_s: None,
        value: None,
        limit: None,
        margin: None,
        unit: None,
        say,
        remedy: None,
    }
}

/// The figures of a finding: margin is limit − value, or value − limit where more is better.
impl Finding {
    /// `value` should not pass `limit`.
    #[must_use]
    pub fn at_most(self, value: f64, limit: f64, unit: &'static str) -> Self {
        Self { value: Some(value), limit: Some(limit), margin: Some(limit - value), unit: Some(unit), ..self }
    }

    /// `value` should reach `limit`.
    #[must_use]
    pub fn at_least(self, value: f64, limit: f64, unit: &'static str) -> Self {
        Self { value: Some(value), limit: Some(limit), margin: Some(value - limit), unit: Some(unit), ..self }
    }

    /// What would mend it.
    #[must_use]
    pub fn mended(self, remedy: Option<Remedy>) -> Self {
        Self { remedy, ..self }
    }

    /// With another weight than the code's usual one.
    #[must_use]
    pub fn weighing(self, weight: Weight) -> Self {
        Self { weight, ..self }
    }
}

impl<R: Mends> Finding<R> {
    /// The same with another sort of remedy.
    pub(crate) fn map<S: Mends>(self, with: impl FnOnce(R) -> S) -> Finding<S> {
        let Self { code, weight, at, first_s, value, limit, margin, unit, say, remedy } = self;
        Finding { code, weight, at, first_s, value, limit, margin, unit, say, remedy: remedy.map(with) }
    }
}

/// Puts the heaviest first, and cuts the list at [`MOST_FINDINGS`], the last of which then counts the rest.
pub fn heaviest_first<C: Code>(found: &mut Vec<Finding>) {
    found.sort_by_key(|finding| Reverse(finding.weight));
    if found.len() > MOST_FINDINGS {
        let more = found.len() - (MOST_FINDINGS - 1);
        found.truncate(MOST_FINDINGS - 1);
        found.push(finding(C::MORE, String::new(), format!("and {more} more findings, not listed")));
    }
}
