//! A batch: questions, each with its plan, each read for itself so that what is wrong with one is no matter to another.

use super::field::value;
use super::{Held, Question, QuestionDoc, settled};
use crate::plan::document::PlanDocument;
use crate::plan::fault::Faults;
use crate::plan::field::{day_of, standard_day};
use crate::plan::limits::Limits;
use crate::plan::map::{Size, items};
use crate::plan::node::{Document, Node};
use crate::plan::parse::{ReadError, build, open};
use crate::plan::reader::{Place, Reader};
use crate::plan::wire::{Check, Wire, document};

document! {
    /// One question of a batch.
    ItemDocument = "BatchItem" {
        /// What is asked; `plan`, all of it together, unless said.
        may question: QuestionDoc,
        /// The plan.
        must plan: PlanDocument,
    }
}

/// The fields of the batch itself; its questions are read one by one.
const FIELDS: &[&str] = &["items"];

/// One question of a batch.
#[derive(Clone, Debug)]
pub struct Item {
    /// What is asked.
    pub question: Question,
    /// Of which plan.
    pub held: Held,
}

/// A batch.
#[derive(Clone, Debug)]
pub struct Batch {
    /// Its questions, or what is wrong with each; pointers are into the batch, below `/items/0` and so on.
    pub items: Vec<Result<Item, Faults>>,
}

impl Batch {
    /// Reads one, finding every fault of every question.
    ///
    /// # Errors
    /// [`ReadError`] where there is no list of questions, or something besides.
    pub fn from_json(bytes: &[u8], limits: &Limits) -> Result<Self, ReadError> {
        open(bytes, limits, |document| {
            let mut reader = Reader::new(document, limits, standard_day());
            let place = Place::Document;
            let mut list: Option<Option<&[Node<'_>]>> = None;
            for (key, child) in reader.object(&document.root, &place, "a batch").unwrap_or_default() {
                match key.as_ref() {
                    "items" if list.is_some() => reader.duplicate(key, child, &place),
                    "items" => list = Some(items(child, &place.below(key), &mut reader, Size::Items)),
                    _ => reader.unknown_field(key, child, &place, FIELDS),
                }
            }
            if list.is_none() && document.entries(&document.root).is_some() {
                reader.missing(&document.root, &place, "items");
            }
            let (list, _) = reader.finish(list.flatten())?;
            let below = place.below("items");
            let read =
                |(index, node): (usize, &Node<'_>)| item(document, limits, node, &below.below(&index.to_string()));
            Ok(Self { items: list.iter().enumerate().map(read).collect() })
        })
    }
}

fn item<'n>(
    document: &'n Document<'n>,
    limits: &'n Limits,
    node: &'n Node<'n>,
    place: &Place<'_>,
) -> Result<Item, Faults> {
    let plan = document.field(node, "plan").unwrap_or(node);
    let mut reader = Reader::new(document, limits, day_of(document, plan));
    let read = ItemDocument::read(node, place, &mut reader);
    let (read, headers) = reader.finish(read)?;
    let question = settled(read.question);
    let held = Held { plan: build(read.plan, headers), written: value(document, plan) };
    Ok(Item { question, held })
}

impl Check for ItemDocument {}
