//! A sweep: a plan, and the values that one place in it takes in turn.

use serde_json::Value as Json;

use super::field::{FigureList, JsonList, ValueCount};
use super::range::{EndDoc, Span};
use super::{Held, Question, QuestionDoc, about_a_plan, settled};
use crate::plan::document::PlanDocument;
use crate::plan::limits::Limits;
use crate::plan::node::Node;
use crate::plan::parse::ReadError;
use crate::plan::pointer::Pointer;
use crate::plan::reader::{Place, Reader};
use crate::plan::wire::{Check, document};

document! {
    /// What becomes of figures while one place of a plan takes one value after another.
    SweepDocument = "SweepInquiry" {
        /// The plan.
        must plan: PlanDocument,
        /// What is asked of it; `plan`, all of it together, unless said.
        may question: QuestionDoc,
        /// The place that is varied: a JSON pointer (RFC 6901) into the plan. Members that are not there are made, as by a
        /// merge patch.
        must at: Pointer,
        /// The values, one after another; either these, or `from`, `to` and `steps`.
        may values: JsonList,
        /// The first value: a number or a quantity.
        may from: EndDoc,
        /// The last value.
        may to: EndDoc,
        /// How many values, evenly from `from` to `to`, both included; 21 unless said. Where only whole numbers can stand, they
        /// are rounded, and each stands once.
        may steps: ValueCount,
        /// The figures to read: JSON pointers into the answer; the first key figures of the question unless said.
        may read: FigureList<Pointer>,
    }
}

/// How many values a range has unless it says otherwise.
const STEPS: usize = 21;

/// The values of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub enum Values {
    /// As they are listed.
    Listed(Vec<Json>),
    /// So many, evenly spaced.
    Even(Span, usize),
}

/// A sweep.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// The plan.
    pub plan: Held,
    /// What is asked.
    pub question: Question,
    /// Where the values go.
    pub at: Pointer,
    /// The values.
    pub values: Values,
    /// The figures to read, where they are said.
    pub read: Option<Vec<Pointer>>,
}

impl Sweep {
    /// Reads one, finding every fault at once.
    ///
    /// # Errors
    /// [`ReadError`], as for a plan; the faults of the plan have pointers below `/plan`.
    pub fn from_json(bytes: &[u8], limits: &Limits) -> Result<Self, ReadError> {
        let (plan, rest) = about_a_plan(bytes, limits, |document: SweepDocument| {
            let SweepDocument { plan, question, at, values, from, to, steps, read } = document;
            (plan, (question, at, values, from, to, steps, read))
        })?;
        let (question, at, values, from, to, steps, read) = rest;
        let question = settled(question);
        let span = from.zip(to).and_then(|(from, to)| Span::between(&from.0, &to.0));
        let values = match (values, span) {
            (Some(listed), _) => Values::Listed(listed.0),
            (None, Some(span)) => Values::Even(span, steps.map_or(STEPS.min(limits.values), |steps| steps.0)),
            // One of the two stands there: that was checked when the document was read.
            (None, None) => Values::Listed(Vec::new()),
        };
        Ok(Self { plan, question, at, values, read: read.map(|read| read.0) })
    }
}

impl Check for SweepDocument {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let has = |name: &str| reader.document.field(node, name).is_some();
        let (listed, ranged) = (has("values"), has("from") || has("to") || has("steps"));
        match (listed, ranged) {
            (true, true) => reader.contradiction(
                node,
                place,
                || "values together with from, to or steps".to_owned(),
                || "either values, or from and to".to_owned(),
            ),
            (false, false) => reader.missing(node, place, "values"),
            (false, true) => {
                for name in ["from", "to"] {
                    if reader.document.field(node, name).is_none() {
                        reader.missing(node, place, name);
                    }
                }
                if let (Some(from), Some(to)) = (&self.from, &self.to) {
                    Span::check(&from.0, &to.0, node, place, reader);
                }
            }
            (true, false) => {}
        }
    }
}
