//! The kinds of field that only inquiries have: any JSON value, a merge patch, a JSON pointer, a count of values.

use serde_json::{Map, Value as Json_, json};

use crate::plan::FaultCode;
use crate::plan::field::bare;
use crate::plan::map::{Size, items};
use crate::plan::node::{Document, Node, Value};
use crate::plan::pointer::Pointer;
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::Wire;

/// A JSON value of any type.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Json(pub Json_);

/// A merge patch (RFC 7396).
#[derive(Clone, Debug)]
pub(in crate::plan) struct Patch(pub Json_);

/// The figures that are read of an answer: a list of what leads to each.
#[derive(Clone, Debug)]
pub(in crate::plan) struct FigureList<T>(pub Vec<T>);

impl<T: Wire> Wire for FigureList<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let items = items(node, place, reader, Size::Figures)?;
        let read: Vec<Option<T>> = items
            .iter()
            .enumerate()
            .map(|(index, item)| T::read(item, &place.below(&index.to_string()), reader))
            .collect();
        read.into_iter().collect::<Option<_>>().map(Self)
    }
}

/// The values of a sweep.
#[derive(Clone, Debug)]
pub(in crate::plan) struct JsonList(pub Vec<Json_>);

/// The whole of a value, of equal names the last.
pub(in crate::plan) fn value<'n>(document: &Document<'n>, node: &Node<'n>) -> Json_ {
    match &node.value {
        Value::Null => Json_::Null,
        Value::Flag(flag) => Json_::Bool(*flag),
        Value::Number(number) => number_value(*number),
        Value::Text(text) => Json_::String(text.to_string()),
        Value::List { .. } => {
            document.items(node).unwrap_or_default().iter().map(|item| value(document, item)).collect()
        }
        Value::Object { .. } => {
            let entries = document.entries(node).unwrap_or_default();
            entries.iter().map(|(name, child)| (name.to_string(), value(document, child))).collect::<Map<_, _>>().into()
        }
    }
}

/// A number, without a fraction where it is whole, as people write it.
pub(in crate::plan) fn number_value(number: f64) -> Json_ {
    // Below 2⁵³ each whole double is one integer.
    const WHOLE: f64 = 9_007_199_254_740_992.0;
    #[allow(clippy::cast_possible_truncation)] // whole and below 2⁵³
    if number.fract() == 0.0 && number.abs() < WHOLE { json!(number as i64) } else { json!(number) }
}

/// Notes names that stand twice in one object, anywhere in a value.
fn duplicates<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
    let document = reader.document;
    for (index, item) in document.items(node).unwrap_or_default().iter().enumerate() {
        duplicates(item, &place.below(&index.to_string()), reader);
    }
    let mut met = std::collections::HashSet::new();
    for (name, child) in document.entries(node).unwrap_or_default() {
        if !met.insert(name.as_ref()) {
            reader.duplicate(name, child, place);
        }
        duplicates(child, &place.below(name), reader);
    }
}

impl Wire for Json {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        duplicates(node, place, reader);
        Some(Self(value(reader.document, node)))
    }
}

impl Wire for Patch {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        if !matches!(node.value, Value::Object { .. }) {
            reader.fault_here(node, place, FaultCode::WrongType, || {
                "an object: a merge patch (RFC 7396), what of the plan is other in this variant".to_owned()
            });
            return None;
        }
        Json::read(node, place, reader).map(|json| Self(json.0))
    }
}

impl Wire for JsonList {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let items = items(node, place, reader, Size::Values)?;
        let read =
            items.iter().enumerate().map(|(index, item)| Json::read(item, &place.below(&index.to_string()), reader));
        read.map(|json| json.map(|json| json.0)).collect::<Option<Vec<_>>>().map(Self)
    }
}

impl Wire for Pointer {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let expected = || "a JSON pointer (RFC 6901), such as \"/supplies/seep/rate\"".to_owned();
        let Value::Text(text) = &node.value else {
            reader.fault_here(node, place, FaultCode::WrongType, expected);
            return None;
        };
        // A step names one thing of the document, and the document is no deeper than its limit.
        let longest = reader.limits.name_bytes.saturating_mul(reader.limits.depth).min(16_384);
        let read = Self::parse(text).filter(|pointer| !pointer.steps().is_empty() && text.len() <= longest);
        if read.is_none() {
            reader.fault_here(node, place, FaultCode::OutOfRange, expected);
        }
        read
    }
}

/// A count of values to try, two at least.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct ValueCount(pub usize);

impl Wire for ValueCount {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // whole and between two small numbers
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let limit = reader.limits.values;
        let read = match node.value {
            Value::Number(number) if bare(number).is_ok_and(|number| number.fract() == 0.0) => Ok(number),
            _ => Err(FaultCode::WrongType),
        };
        match read {
            Ok(number) if number > limit as f64 => {
                reader.fault(node, place, FaultCode::TooMany, |_| Detail {
                    found: node.found(),
                    expected: format!("at most {limit}"),
                    near: None,
                });
                None
            }
            Ok(number) if number >= 2.0 => Some(Self(number as usize)),
            read => {
                let code = read.err().unwrap_or(FaultCode::OutOfRange);
                reader.fault_here(node, place, code, || format!("a whole number from 2 to {limit}"));
                None
            }
        }
    }
}
