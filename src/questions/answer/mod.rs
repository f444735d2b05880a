//! What every answer carries: a verdict, one line, findings with remedies, and the arithmetic.

mod allowance;
mod code;
mod figure;
mod found;
mod head;
mod named;
mod patch;
mod pattern;
mod range;
#[cfg(feature = "openapi")]
pub(crate) mod schema;
mod span;
mod text;
mod unanswered;

use serde::Serialize;

pub(crate) use allowance::{counted, limited};
pub(crate) use code::codes;
pub use figure::{figure_name, figure_text, sum};
pub use found::{Code, MOST_FINDINGS, finding, heaviest_first};
pub use head::{Answer, Figures, HeadMeans};
pub use named::{Name, Named};
pub use patch::{apply, merge, nest, round_up};
pub use pattern::{factors, rhythm};
pub(crate) use range::{all_within_range, is_within_range};
pub use span::span;
pub use text::{LINE_BYTES, is_invisible, listed, made_one_line, one_line, quoted, short};
pub use unanswered::{FaultFigures, Unanswered};

/// How a plan turns out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing stands against it.
    Holds,
    /// It works, with something to watch.
    HoldsWithCautions,
    /// It does not do what was asked.
    Fails,
}

impl Verdict {
    /// As printed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::HoldsWithCautions => "holds-with-cautions",
            Self::Fails => "fails",
        }
    }

    /// What the heaviest of the findings makes of a plan.
    #[must_use]
    pub fn of(findings: &[Finding]) -> Self {
        Self::of_weights(findings.iter().map(|finding| finding.weight))
    }

    /// The same of their weights alone.
    #[must_use]
    pub fn of_weights(weights: impl Iterator<Item = Weight>) -> Self {
        match weights.max() {
            Some(Weight::Failure) => Self::Fails,
            Some(Weight::Caution) => Self::HoldsWithCautions,
            Some(Weight::Note) | None => Self::Holds,
        }
    }
}

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Weight {
    /// Worth knowing.
    Note,
    /// Worth watching.
    Caution,
    /// The plan fails by it.
    Failure,
}

/// Something the reckoning found.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Finding<R: Mends = Remedy> {
    /// A stable code, such as `demand-short`.
    pub code: &'static str,
    /// How much it weighs.
    pub weight: Weight,
    /// A JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
    /// When it first shows, in s from time zero, where it is of a moment; for the order in which questions are told together.
    #[serde(skip_serializing_if = "is_untold::<R>")]
    #[cfg_attr(feature = "openapi", schema(ignore))]
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
    #[cfg_attr(feature = "openapi", schema(value_type = Option<Remedy>))]
    pub remedy: Option<R>,
}

/// What may mend a finding: a [`Remedy`] as a question gives it, or one that was tried out.
pub trait Mends: Serialize {
    /// Whether findings with it are those of several questions, which tell when they first show.
    const OF_SEVERAL: bool;
}

impl Mends for Remedy {
    const OF_SEVERAL: bool = false;
}

#[allow(clippy::ref_option, reason = "what serde hands over")]
fn is_untold<R: Mends>(first_s: &Option<f64>) -> bool {
    !R::OF_SEVERAL || first_s.is_none()
}

/// What would mend a finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Remedy {
    /// One sentence that names the amount.
    pub say: String,
    /// The same as a JSON merge patch (RFC 7396) on the plan, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub patch: Option<serde_json::Value>,
}
