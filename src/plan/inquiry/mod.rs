//! Documents that ask more of a plan than one question: a comparison, a sweep, a search, a batch. They are read by the same
//! reader as the plan, from the same kind of list of fields, and a fault's pointer is one into the document that was sent.

mod batch;
mod compare;
mod field;
mod range;
mod seek;
mod sweep;
#[cfg(test)]
mod tests;

pub use batch::{Batch, Item};
pub use compare::{Better, Compare, Figure, Variant};
pub use range::{End, Scale, Span};
pub use seek::{Find, Seek, Want};
pub use sweep::{Sweep, Values};

#[cfg(feature = "openapi")]
pub use schema::{BatchSchema, CompareSchema, SeekSchema, SweepSchema};
#[cfg(feature = "openapi")]
mod schema;

use super::document::PlanDocument;
use super::fault::{Fault, FaultCode};
use super::field::day_of;
use super::limits::Limits;
use super::model::Plan;
use super::parse::{ReadError, build, open};
use super::reader::{Place, Reader};
use super::wire::{Wire, choices};

/// Declares the questions that a plan can be asked: the one list of their names.
macro_rules! questions {
    ($($(#[doc = $about:literal])* $name:ident = $word:literal;)*) => {
        /// A question that a plan can be asked.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Question {
            $($(#[doc = $about])* $name,)*
        }

        impl Question {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// Its name, as in the path.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$name => $word),* }
            }
        }

        choices! {
            /// The name of a question that a plan can be asked.
            QuestionDoc(Question) = "QuestionName" {
                $($word => Question::$name,)*
            }
        }
    };
}

questions! {
    /// Counts, rates, lines and power in steady state.
    FlowBalance = "flow-balance";
    /// Stores over time.
    FillLevel = "fill-level";
    /// Temperatures.
    HeatBudget = "heat-budget";
    /// All of it together.
    WholePlan = "plan";
}

impl Question {
    /// What is asked where nothing is said.
    pub const DEFAULT: Self = Self::WholePlan;
}

/// A plan with the text that it was read from, which changes are made to.
#[derive(Clone, Debug)]
pub struct Held {
    /// As it was read.
    pub plan: Plan,
    /// As it was written, but for the order of what JSON leaves open.
    pub written: serde_json::Value,
}

/// Reads an inquiry about one plan, which stands in it as `plan`.
fn about_a_plan<D: Wire, T>(
    bytes: &[u8],
    limits: &Limits,
    split: impl FnOnce(D) -> (PlanDocument, T),
) -> Result<(Held, T), ReadError> {
    open(bytes, limits, |document| {
        let plan = document.field(&document.root, "plan").unwrap_or(&document.root);
        let mut reader = Reader::new(document, limits, day_of(document, plan));
        let read = D::read(&document.root, &Place::Document, &mut reader);
        let (read, headers) = reader.finish(read)?;
        let (written_plan, rest) = split(read);
        Ok((Held { plan: build(written_plan, headers), written: field::value(document, plan) }, rest))
    })
}

/// The question that is asked.
fn settled(question: Option<QuestionDoc>) -> Question {
    question.map_or(Question::DEFAULT, |question| question.0)
}

/// The candidate most like `name`, if one is like it.
#[must_use]
pub fn near<'c>(name: &str, candidates: impl Iterator<Item = &'c str>) -> Option<String> {
    super::reader::NearNames::new().search(name, candidates)
}

/// A fault that is found only once a document has been read.
#[must_use]
pub fn fault(at: String, code: FaultCode, found: String, expected: String, near: Option<String>) -> Fault {
    Fault { at: super::At::Pointer(at), code, found, expected, near }
}
