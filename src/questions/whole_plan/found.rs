//! A finding of the whole plan: as a single question tells it, with who found it, what else says the same, and whether its
//! remedy was tried out.

use serde::Serialize;
use serde_json::Value;

use crate::questions::answer::{Finding, Remedy, Weight};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// Something the reckoning found.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct PlanFinding {
    /// Who found it: `flow-balance`, `heat-budget`, `fill-level` or `floor`.
    pub question: &'static str,
    /// A stable code, such as `demand-short`.
    pub code: &'static str,
    /// How much it weighs.
    pub weight: Weight,
    /// A JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
    /// When it first shows, in s from time zero; absent where it is of no moment.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_s: Option<f64>,
    /// The figure that was found, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// What it is held against, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// How far it is from the limit, in `unit`; negative when past it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<f64>,
    /// The SI unit of `value`, `limit` and `margin`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<&'static str>,
    /// One sentence.
    pub say: String,
    /// What amount of what would mend it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remedy: Option<PlanRemedy>,
    /// What else was found that has the same cause.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<AlsoFound>,
    /// What those of the same cause would be mended by, where that is something else: tried where the first does not do it.
    #[serde(skip)]
    #[cfg_attr(feature = "openapi", schema(ignore))]
    pub(super) others: Vec<PlanRemedy>,
}

/// What would mend a finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct PlanRemedy {
    /// One sentence that names the amount.
    pub say: String,
    /// The same as a JSON merge patch (RFC 7396) on the plan, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub patch: Option<Value>,
    /// Whether it was tried out and does it: with the patch applied and everything reckoned again, the finding and what else
    /// has its cause are gone, and nothing fails that did not before. Absent where it was not tried out: there is no patch, or
    /// there were more than are tried.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verified: Option<bool>,
    /// Where it does not do it: what remains, or what comes instead.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remains: Option<String>,
}

/// What else was found that has the same cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct AlsoFound {
    /// Who found it.
    pub question: &'static str,
    /// Its code.
    pub code: &'static str,
    /// A JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
    /// One sentence.
    pub say: String,
}

impl PlanFinding {
    /// As a single question would tell it.
    pub(super) fn plain(&self) -> Finding {
        let remedy = self.remedy.as_ref().map(|remedy| Remedy { say: remedy.say.clone(), patch: remedy.patch.clone() });
        Finding {
            code: self.code,
            weight: self.weight,
            at: self.at.clone(),
            first_s: self.first_s,
            value: self.value,
            limit: self.limit,
            margin: self.margin,
            unit: self.unit,
            say: self.say.clone(),
            remedy,
        }
    }

    /// A finding of a single question.
    pub(super) fn of(question: &'static str, finding: Finding) -> Self {
        let Finding { code, weight, at, value, limit, margin, unit, say, remedy, first_s } = finding;
        let remedy =
            remedy.map(|remedy| PlanRemedy { say: remedy.say, patch: remedy.patch, verified: None, remains: None });
        // What has no moment is said to be infinitely far off.
        let first_s = first_s.filter(|first| first.is_finite());
        let (also, others) = (Vec::new(), Vec::new());
        Self { question, code, weight, at, first_s, value, limit, margin, unit, say, remedy, also, others }
    }

    /// Takes in one of the same cause.
    pub(super) fn take_in(&mut self, other: Self) {
        self.weight = self.weight.max(other.weight);
        self.first_s = match (self.first_s, other.first_s) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        for remedy in other.remedy.into_iter().chain(other.others) {
            let is_known = |known: &&PlanRemedy| known.patch == remedy.patch;
            if self.remedy.is_none() {
                self.remedy = Some(remedy);
            } else if self.remedy.iter().chain(&self.others).find(is_known).is_none() {
                self.others.push(remedy);
            }
        }
        let Self { question, code, at, say, also, .. } = other;
        self.also.push(AlsoFound { question, code, at, say });
        self.also.extend(also);
    }

    /// Whether this, or what has its cause, is a finding of that code at that place.
    pub(super) fn names(&self, code: &str, at: &str) -> bool {
        (self.code == code && self.at == at) || self.also.iter().any(|also| also.code == code && also.at == at)
    }
}
