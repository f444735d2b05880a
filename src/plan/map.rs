//! Fields that are maps by the author's own names, and lists.

use super::FaultCode;
use super::field::RateOnKey;
use super::limits::Limits;
use super::model::HeaderId;
use super::node::{Node, Value};
use super::reader::{Detail, Place, Reader};
use super::wire::Wire;

/// How many entries a map may have.
#[derive(Clone, Copy, Debug)]
pub(super) enum Size {
    /// As a section of the document.
    Section,
    /// As a map or a list of one thing.
    Flows,
    /// As the variants of a comparison.
    Variants,
    /// As the values of a sweep.
    Values,
    /// As the figures that are read of an answer.
    Figures,
    /// As the questions of a batch.
    Items,
}

impl Size {
    pub fn limit(self, limits: &Limits) -> usize {
        match self {
            Self::Section => limits.things,
            Self::Flows => limits.flows,
            Self::Variants => limits.variants,
            Self::Values => limits.values,
            Self::Figures => limits.figures,
            Self::Items => limits.items,
        }
    }
}

/// A section: things by the names that the author gives them, in document order.
#[derive(Debug)]
pub(super) struct Section<T>(pub Vec<(String, T)>);

/// A map of one unit by names that are not headers.
#[derive(Debug)]
pub(super) struct Parts<T>(pub Vec<(String, T)>);

/// A section by header.
#[derive(Debug)]
pub(super) struct ByHeader<T>(pub Vec<(HeaderId, T)>);

/// A map of one unit by header.
#[derive(Debug)]
pub(super) struct Flows(pub Vec<(HeaderId, RateOnKey)>);

/// A map that says nothing when it is empty, and so must not be.
#[derive(Debug)]
pub(super) struct AtLeastOne<T>(pub T);

impl<T: Wire> Wire for AtLeastOne<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        if matches!(node.value, Value::Object { count: 0, .. }) {
            reader.fault_here(node, place, FaultCode::MissingField, || "at least one entry".to_owned());
            return None;
        }
        T::read(node, place, reader).map(Self)
    }
}

fn read_map<'n, T: Wire, K>(
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
    size: Size,
    key: impl Fn(&'n str, &mut Reader<'n>) -> K,
) -> Option<Vec<(K, T)>> {
    let limit = size.limit(reader.limits);
    reader.named_entries(node, place, limit, |name, child, below, reader| {
        // The header is met by its name even where what stands under it is at fault.
        let id = key(name, reader);
        T::read(child, below, reader).map(|value| (id, value))
    })
}

impl<T: Wire> Wire for Section<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_map(node, place, reader, Size::Section, |name, _| name.to_owned()).map(Self)
    }
}

impl<T: Wire> Wire for Parts<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_map(node, place, reader, Size::Flows, |name, _| name.to_owned()).map(Self)
    }
}

impl<T: Wire> Wire for ByHeader<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_map(node, place, reader, Size::Section, |name, reader| reader.header(name)).map(Self)
    }
}

impl Wire for Flows {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_map(node, place, reader, Size::Flows, |name, reader| reader.header(name)).map(Self)
    }
}

/// A list with at least one thing in it.
#[derive(Debug)]
pub(super) struct List<T>(pub Vec<T>);

/// What stands in a list, which must hold something and not too much.
pub(super) fn items<'n>(
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
    size: Size,
) -> Option<&'n [Node<'n>]> {
    let document = reader.document;
    let Some(items) = document.items(node) else {
        reader.fault_here(node, place, FaultCode::WrongType, || "a list".to_owned());
        return None;
    };
    let limit = size.limit(reader.limits);
    if items.is_empty() {
        reader.fault_here(node, place, FaultCode::MissingField, || "at least one entry".to_owned());
        return None;
    }
    if items.len() > limit {
        reader.fault(node, place, FaultCode::TooMany, |_| Detail {
            found: format!("{} entries", items.len()),
            expected: format!("at most {limit}"),
            near: None,
        });
        return None;
    }
    Some(items)
}

impl<T: Wire> Wire for List<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let items = items(node, place, reader, Size::Flows)?;
        let mut read = Vec::with_capacity(items.len());
        for (index, item) in items.iter().enumerate() {
            read.extend(T::read(item, &place.below(&index.to_string()), reader));
        }
        (read.len() == items.len()).then_some(Self(read))
    }
}

/// One thing, or a list of them.
#[derive(Debug)]
pub(super) struct OneOrMore<T>(pub Vec<T>);

impl<T: Wire> Wire for OneOrMore<T> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        match node.value {
            Value::List { .. } => List::read(node, place, reader).map(|list| Self(list.0)),
            _ => T::read(node, place, reader).map(|one| Self(vec![one])),
        }
    }
}
