//! The registry as an answer: every sum with its parameters and an example.

use serde::Serialize;

use super::{Kind, Parameter, Sum, registry};

/// Every single sum there is.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SumList {
    /// Version of the engine.
    pub engine: &'static str,
    /// The sums.
    pub sums: Vec<SumEntry>,
}

/// A single sum, and how to ask it.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SumEntry {
    /// Its name in a link.
    pub name: &'static str,
    /// Its name for people.
    pub title: &'static str,
    /// What it answers, in one sentence.
    pub says: &'static str,
    /// How it is reckoned.
    pub formula: &'static str,
    /// What it is asked with.
    pub parameters: Vec<SumParameter>,
    /// A query string that it answers.
    pub example: &'static str,
}

/// A parameter of a single sum.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SumParameter {
    /// Its name in the query string.
    pub name: &'static str,
    /// What it is, in a few words.
    pub says: &'static str,
    /// What is read from its text.
    pub kind: Kind,
    /// The unit of measure of a number that is written without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<&'static str>,
    /// Whether the sum cannot do without it.
    pub required: bool,
    /// Whether it is a list, its items apart by commas.
    #[serde(skip_serializing_if = "is_not")]
    pub list: bool,
    /// The words that it may be.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    pub choices: &'static [&'static str],
    /// What it is when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub default: Option<&'static str>,
    /// The least it may be, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least: Option<f64>,
    /// The most it may be, in `unit`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub most: Option<f64>,
    /// One way to write it.
    pub example: &'static str,
}

impl From<&'static Sum> for SumEntry {
    fn from(sum: &'static Sum) -> Self {
        let Sum { name, title, says, formula, parameters, example, .. } = *sum;
        Self { name, title, says, formula, parameters: parameters.iter().map(SumParameter::from).collect(), example }
    }
}

impl From<&Parameter> for SumParameter {
    fn from(parameter: &Parameter) -> Self {
        let Parameter { name, says, kind, required, default, example, many: list, choices, .. } = *parameter;
        let bounded = !matches!(kind, Kind::Flag | Kind::Choice);
        let (least, most) = (bounded.then_some(parameter.least), bounded.then_some(parameter.most));
        Self { name, says, kind, unit: kind.unit(), required, list, choices, default, least, most, example }
    }
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde asks for")]
fn is_not(flag: &bool) -> bool {
    !flag
}

/// Every sum with its parameters.
#[must_use]
pub fn listing() -> SumList {
    SumList { engine: env!("CARGO_PKG_VERSION"), sums: registry().iter().map(SumEntry::from).collect() }
}
