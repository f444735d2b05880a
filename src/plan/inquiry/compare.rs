//! A comparison: a plan, and variants of it as merge patches.

use serde_json::Value as Json;

use super::field::{FigureList, Patch};
use super::{Held, Question, QuestionDoc, about_a_plan, settled};
use crate::plan::FaultCode;
use crate::plan::document::PlanDocument;
use crate::plan::limits::Limits;
use crate::plan::map::Size;
use crate::plan::node::{Node, Value};
use crate::plan::parse::ReadError;
use crate::plan::pointer::Pointer;
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::{Check, Wire, choices, document};

document! {
    /// A plan as it is beside variants of it.
    CompareDocument = "CompareInquiry" {
        /// The plan as it is.
        must plan: PlanDocument,
        /// What is asked of it; `plan`, all of it together, unless said.
        may question: QuestionDoc,
        /// Variants by name, each a merge patch (RFC 7396) on the plan.
        must variants: Variants,
        /// The figures to compare, in the order of what they matter; the key figures of the question unless said.
        may figures: FigureList<FigureEntry>,
    }

    /// A figure and which way it is better.
    FigureDoc = "DirectedFigure" {
        /// A JSON pointer (RFC 6901) into the answer.
        must at: Pointer,
        /// Which way it is better; where it is not said and the question does not know, it decides nothing.
        may better: BetterDoc,
    }
}

choices! {
    /// Which way a figure is better.
    BetterDoc(Better) = "Better" {
        "more" => Better::More,
        "less" => Better::Less,
        "neither" => Better::Neither,
    }
}

/// Which way a figure is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// More of it.
    More,
    /// Less of it.
    Less,
    /// It is told and decides nothing.
    Neither,
}

/// A figure to compare.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Where it stands in the answer.
    pub at: Pointer,
    /// Which way it is better, where that is said.
    pub better: Option<Better>,
}

/// A variant: its name and what of the plan is other in it.
#[derive(Clone, Debug)]
pub struct Variant {
    /// The author's name for it.
    pub name: String,
    /// A merge patch.
    pub patch: Json,
}

/// A comparison.
#[derive(Clone, Debug)]
pub struct Compare {
    /// The plan as it is.
    pub plan: Held,
    /// What is asked.
    pub question: Question,
    /// The variants, in the order of the document.
    pub variants: Vec<Variant>,
    /// The figures, where they are said.
    pub figures: Option<Vec<Figure>>,
}

impl Compare {
    /// What the plan without any change is called among its variants.
    pub const AS_IT_IS: &'static str = "as it is";

    /// Reads one, finding every fault at once.
    ///
    /// # Errors
    /// [`ReadError`], as for a plan; the faults of the plan have pointers below `/plan`.
    pub fn from_json(bytes: &[u8], limits: &Limits) -> Result<Self, ReadError> {
        let (plan, (question, variants, figures)) = about_a_plan(bytes, limits, |document: CompareDocument| {
            (document.plan, (document.question, document.variants, document.figures))
        })?;
        let question = settled(question);
        Ok(Self {
            plan,
            question,
            variants: variants.0,
            figures: figures.map(|figures| figures.0.into_iter().map(|entry| entry.0).collect()),
        })
    }
}

impl Check for CompareDocument {}

impl Check for FigureDoc {}

/// Variants by name.
#[derive(Debug)]
pub(in crate::plan) struct Variants(pub Vec<Variant>);

impl Wire for Variants {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let limit = Size::Variants.limit(reader.limits);
        let read = reader.named_entries(node, place, limit, |name, child, below, reader| {
            if name == Compare::AS_IT_IS {
                reader.fault(child, below, FaultCode::Contradiction, |_| Detail {
                    found: format!("a variant called {name:?}"),
                    expected: "another name: the plan without any change is called so".to_owned(),
                    near: None,
                });
                return None;
            }
            Patch::read(child, below, reader).map(|patch| Variant { name: name.to_owned(), patch: patch.0 })
        });
        read.map(Self)
    }
}

/// A figure by its pointer, or with which way it is better.
#[derive(Debug)]
pub(in crate::plan) struct FigureEntry(Figure);

impl Wire for FigureEntry {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let figure = match node.value {
            Value::Object { .. } => FigureDoc::read(node, place, reader)
                .map(|doc| Figure { at: doc.at, better: doc.better.map(|better| better.0) }),
            _ => Pointer::read(node, place, reader).map(|at| Figure { at, better: None }),
        };
        figure.map(Self)
    }
}
