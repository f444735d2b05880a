//! What a sum answers, and how it declines to.

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::Sum;
use super::arguments::Arguments;
use super::medium::Medium;
use crate::plan::{At, Fault, FaultCode};
use crate::questions::answer::{Finding, Remedy, Verdict, Weight};

/// The answer to a single sum.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SumAnswer {
    /// `sums/` and the name of the sum.
    pub question: String,
    /// Version of the engine.
    pub engine: &'static str,
    /// How it turns out.
    pub verdict: Verdict,
    /// The one line: at most 400 bytes, no control characters.
    pub say: String,
    /// What is worth watching; `where` points at a parameter, as into an object of them.
    pub findings: Vec<Finding>,
    /// The arithmetic in order.
    pub working: Vec<String>,
    /// The figures by name; a name ends in its SI unit of measure (`_kg_s`, `_w`, `_s`, `_share`), a count is plain.
    pub figures: Figures,
}

/// The figures of a sum, by name, in the order in which they are reckoned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures(Vec<(&'static str, f64)>);

impl Figures {
    /// The figure of that name.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<f64> {
        self.0.iter().find(|(known, _)| *known == name).map(|(_, figure)| *figure)
    }

    /// Every name with its figure.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, f64)> + '_ {
        self.0.iter().copied()
    }
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, figure) in &self.0 {
            map.serialize_entry(name, figure)?;
        }
        map.end()
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::RefOr;
    use utoipa::openapi::schema::{AdditionalProperties, Object, ObjectBuilder, Schema, Type};
    use utoipa::{PartialSchema, ToSchema};

    use super::Figures;

    impl PartialSchema for Figures {
        fn schema() -> RefOr<Schema> {
            let number = RefOr::T(Schema::Object(Object::with_type(Type::Number)));
            ObjectBuilder::new()
                .schema_type(Type::Object)
                .description(Some("Numbers by name; a name ends in its SI unit of measure, a count is plain."))
                .additional_properties(Some(AdditionalProperties::RefOr(number)))
                .into()
        }
    }

    impl ToSchema for Figures {
        fn name() -> std::borrow::Cow<'static, str> {
            "SumFigures".into()
        }
    }
}

/// The name of a figure that is a rate: `rate_figure!("spare")` is `spare_kg_s`, `spare_w` or `spare_m3_s`.
macro_rules! rate_figure {
    ($stem:literal) => {
        [concat!($stem, "_kg_s"), concat!($stem, "_w"), concat!($stem, "_m3_s")]
    };
}
/// As `rate_figure!`, for an amount: in kg, J or m³.
macro_rules! amount_figure {
    ($stem:literal) => {
        [concat!($stem, "_kg"), concat!($stem, "_j"), concat!($stem, "_m3")]
    };
}
pub(super) use {amount_figure, rate_figure};

/// What the formula of a sum makes: an answer without its frame.
#[derive(Debug, Default)]
pub struct Outcome {
    pub(super) say: String,
    pub(super) findings: Vec<Finding>,
    pub(super) working: Vec<String>,
    pub(super) figures: Figures,
    /// Only the line is wanted: working and figures are not written.
    brief: bool,
}

impl Outcome {
    /// Nothing yet; as much is written as the arguments ask for.
    pub(super) fn of(arguments: &Arguments<'_>) -> Self {
        if arguments.brief() {
            return Self { brief: true, ..Self::default() };
        }
        Self { figures: Figures(Vec::with_capacity(8)), working: Vec::with_capacity(4), ..Self::default() }
    }

    pub(super) fn figure(&mut self, name: &'static str, figure: f64) {
        if !self.brief {
            // Adding nothing turns -0 into 0.
            self.figures.0.push((name, figure + 0.0));
        }
    }

    pub(super) fn carried(&mut self, carried: Medium, names: [&'static str; 3], figure: f64) {
        self.figure(carried.pick(names), figure);
    }

    pub(super) fn work(&mut self, line: impl FnOnce() -> String) {
        if !self.brief {
            self.working.push(line());
        }
    }

    pub(super) fn found(&mut self, finding: Finding) {
        self.findings.push(finding);
    }
}

/// A finding at a parameter, without figures and remedy.
pub(super) fn concern(code: &'static str, weight: Weight, parameter: &str, say: String) -> Finding {
    let at = ["/", parameter].concat();
    Finding { code, weight, at, first_s: None, value: None, limit: None, margin: None, unit: None, say, remedy: None }
}

/// What would mend a finding.
#[allow(clippy::unnecessary_wraps, reason = "what `Finding::mended` takes")]
pub(super) fn remedy(say: String) -> Option<Remedy> {
    Some(Remedy { say, patch: None })
}

impl SumAnswer {
    pub(super) fn new(sum: &Sum, outcome: Outcome) -> Self {
        let Outcome { say, findings, working, figures, brief: _ } = outcome;
        let verdict = Verdict::of(&findings);
        let question = ["sums/", sum.name].concat();
        Self { question, engine: env!("CARGO_PKG_VERSION"), verdict, say, findings, working, figures }
    }
}

/// Why a formula takes its arguments for impossible, at one of them.
#[derive(Debug)]
pub struct Refusal {
    pub(super) parameter: &'static str,
    pub(super) code: FaultCode,
    pub(super) found: String,
    pub(super) expected: String,
}

impl Refusal {
    pub(super) fn missing(parameter: &'static str, expected: impl Into<String>) -> Self {
        Self { parameter, code: FaultCode::MissingField, found: "nothing".to_owned(), expected: expected.into() }
    }

    pub(super) fn contradiction(parameter: &'static str, found: String, expected: String) -> Self {
        Self { parameter, code: FaultCode::Contradiction, found, expected }
    }
}

impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Self {
        let Refusal { parameter, code, found, expected } = refusal;
        Self { at: At::Parameter(parameter.to_owned()), code, found, expected, near: None }
    }
}
