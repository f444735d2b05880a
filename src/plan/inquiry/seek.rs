//! A search: a plan, a place in it with a range, and a condition that the answer shall meet.

use super::field::ValueCount;
use super::range::{End, EndDoc, Span};
use super::{Held, Question, QuestionDoc, about_a_plan, settled};
use crate::plan::FaultCode;
use crate::plan::document::PlanDocument;
use crate::plan::field::Name;
use crate::plan::limits::Limits;
use crate::plan::node::Node;
use crate::plan::parse::ReadError;
use crate::plan::pointer::Pointer;
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::{Check, choices, document, union};

document! {
    /// The smallest or the largest value of one place of a plan with which a condition holds.
    SeekDocument = "SeekInquiry" {
        /// The plan.
        must plan: PlanDocument,
        /// What is asked of it; `plan`, all of it together, unless said.
        may question: QuestionDoc,
        /// The place that is varied: a JSON pointer (RFC 6901) into the plan. Members that are not there are made, as by a
        /// merge patch.
        must at: Pointer,
        /// The least value: a number or a quantity.
        must from: EndDoc,
        /// The greatest value.
        must to: EndDoc,
        /// What shall hold.
        must want: WantDoc,
        /// Which of the values with which it holds.
        must find: FindDoc,
        /// How near the value found must be to where the condition turns: a number in SI or a difference; a millionth of the
        /// range unless said. Where only whole numbers can stand, the value is the very one.
        may tolerance: EndDoc,
        /// How many values, evenly from `from` to `to`, are tried before the search narrows down; 33 unless said. What turns and
        /// turns back between two of them is not seen.
        may samples: ValueCount,
    }

    /// That the plan turns out so, or better.
    WantVerdict = "WantVerdict" {
        /// The verdict.
        must verdict: VerdictDoc,
    }

    /// That nothing of a kind is found.
    WantAbsent = "WantAbsent" {
        /// The code of the finding.
        must absent: Name,
    }

    /// That a figure is so much at least, or at most.
    WantFigure = "WantFigure" {
        /// A JSON pointer (RFC 6901) into the answer.
        must figure: Pointer,
        /// The least it may be: in SI, or a quantity.
        may at_least: EndDoc,
        /// The most it may be: in SI, or a quantity.
        may at_most: EndDoc,
    }
}

union! {
    /// What shall hold: exactly one of `verdict`, `absent` and `figure`.
    WantDoc = "Want" {
        /// A verdict.
        Verdict(WantVerdict) by verdict,
        /// A finding that is not there.
        Absent(WantAbsent) by absent,
        /// A figure within bounds.
        Figure(WantFigure) by figure,
    }
}

choices! {
    /// Which value is sought.
    FindDoc(Find) = "Find" {
        "smallest" => Find::Smallest,
        "largest" => Find::Largest,
    }
    /// A verdict that is good enough: `holds`, or `holds-with-cautions` or better.
    VerdictDoc(bool) = "WantedVerdict" {
        "holds" => false,
        "holds-with-cautions" => true,
    }
}

/// Which value is sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Find {
    /// The smallest that will do.
    Smallest,
    /// The largest that will do.
    Largest,
}

/// What shall hold.
#[derive(Clone, Debug, PartialEq)]
pub enum Want {
    /// The plan holds; cautions may be allowed.
    Holds {
        /// Whether cautions are no matter.
        with_cautions: bool,
    },
    /// Nothing of this code is found.
    Absent(String),
    /// A figure lies within bounds, each of which may be left out.
    Figure {
        /// Where it stands in the answer.
        at: Pointer,
        /// The least, in SI.
        at_least: Option<f64>,
        /// The most, in SI.
        at_most: Option<f64>,
    },
}

/// How many values are tried at first, unless it is said.
const SAMPLES: usize = 33;

/// A search.
#[derive(Clone, Debug)]
pub struct Seek {
    /// The plan.
    pub plan: Held,
    /// What is asked.
    pub question: Question,
    /// Where the value goes.
    pub at: Pointer,
    /// From the least to the greatest.
    pub span: Span,
    /// What shall hold.
    pub want: Want,
    /// Which value is sought.
    pub find: Find,
    /// How near, in the unit of measure of the range.
    pub tolerance: f64,
    /// How many values are tried at first.
    pub samples: usize,
}

impl Seek {
    /// Reads one, finding every fault at once.
    ///
    /// # Errors
    /// [`ReadError`], as for a plan; the faults of the plan have pointers below `/plan`.
    pub fn from_json(bytes: &[u8], limits: &Limits) -> Result<Self, ReadError> {
        let (plan, rest) = about_a_plan(bytes, limits, |document: SeekDocument| {
            let SeekDocument { plan, question, at, from, to, want, find, tolerance, samples } = document;
            (plan, (question, at, from.0, to.0, want, find.0, tolerance, samples))
        })?;
        let (question, at, from, to, want, find, tolerance, samples) = rest;
        let question = settled(question);
        // That there is a range was checked when the document was read.
        let span = Span::between(&from, &to).unwrap_or(Span { from: from.number, to: from.number, scale: from.scale });
        let wide = span.to - span.from;
        let tolerance = tolerance.map_or(wide * 1e-6, |tolerance| tolerance.0.difference_in(&span.scale));
        Ok(Self {
            plan,
            question,
            at,
            // Nearer than this, numbers of the range are hardly told apart.
            tolerance: tolerance.max(wide * 1e-12),
            span,
            want: wanted(want),
            find,
            samples: samples.map_or(SAMPLES.min(limits.values), |samples| samples.0),
        })
    }
}

fn wanted(want: WantDoc) -> Want {
    match want {
        WantDoc::Verdict(want) => Want::Holds { with_cautions: want.verdict.0 },
        WantDoc::Absent(want) => Want::Absent(want.absent.0),
        WantDoc::Figure(want) => {
            let temperature = want.figure.steps().last().is_some_and(|name| name.ends_with("_c"));
            let bound = |end: Option<EndDoc>| end.map(|end| bound(&end.0, temperature));
            Want::Figure { at_least: bound(want.at_least), at_most: bound(want.at_most), at: want.figure }
        }
    }
}

/// A bound of a figure, as figures are told: in SI, temperatures in °C.
fn bound(end: &End, temperature: bool) -> f64 {
    const CELSIUS_ZERO_K: f64 = 273.15;
    let si = end.si();
    if temperature && !end.scale.unit.is_empty() { si - CELSIUS_ZERO_K } else { si }
}

impl Check for SeekDocument {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let Some(span) = Span::check(&self.from.0, &self.to.0, node, place, reader) else { return };
        let child = |name: &str| reader.document.field(node, name).unwrap_or(node);
        if span.from > span.to {
            let to = child("to");
            reader.contradiction(to, &place.below("to"), || to.found(), || "more than from".to_owned());
        }
        let Some(EndDoc(tolerance)) = &self.tolerance else { return };
        let said = child("tolerance");
        if !tolerance.is_difference_on(&span.scale) {
            reader.fault(said, &place.below("tolerance"), FaultCode::WrongDimension, |_| Detail {
                found: said.found(),
                expected: format!("a difference of quantities like from, {}", span.scale.text(span.from)),
                near: None,
            });
        } else if tolerance.number <= 0.0 {
            reader.fault_here(said, &place.below("tolerance"), FaultCode::OutOfRange, || "more than 0".to_owned());
        }
    }
}

impl Check for WantVerdict {}
impl Check for WantAbsent {}

impl Check for WantFigure {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let has = ["at_least", "at_most"].map(|name| reader.document.field(node, name).is_some());
        if has == [false, false] {
            reader.missing(node, place, "at_least");
        }
        if let (Some(EndDoc(least)), Some(EndDoc(most))) = (&self.at_least, &self.at_most)
            && least.si() > most.si()
        {
            let found = || format!("at_least {} and at_most {}", least.text(), most.text());
            reader.contradiction(node, place, found, || "at_least no greater than at_most".to_owned());
        }
    }
}
