//! What every part of the reader shares: where it is, what it has found wrong, the headers it has met.

use std::collections::{BinaryHeap, HashMap, HashSet};

use super::fault::{At, Fault, FaultCode, Faults};
use super::limits::Limits;
use super::model::{Carried, Header, HeaderId};
use super::node::{Document, Entry, Node, breaks_line, quoted};
use super::pointer;
use crate::quantity::{QuantityFault, QuantityReader, Time, likeness};

/// The name of the header that carries electric power.
pub(super) const POWER: &str = "power";

/// Where the reader is: a chain of names up to the document, written out only when a fault asks for it.
#[derive(Clone, Copy)]
pub(super) enum Place<'p> {
    Document,
    Below { above: &'p Place<'p>, key: &'p str },
}

impl Place<'_> {
    pub fn below<'p>(&'p self, key: &'p str) -> Place<'p> {
        Place::Below { above: self, key }
    }

    /// The name under which this stands.
    pub fn key(&self) -> &str {
        match self {
            Self::Document => "",
            Self::Below { key, .. } => key,
        }
    }

    pub fn pointer(&self) -> String {
        match self {
            Self::Document => String::new(),
            Self::Below { above, key } => {
                let mut text = above.pointer();
                pointer::push(&mut text, key);
                text
            }
        }
    }
}

/// What a fault says besides its place and kind.
pub(super) struct Detail {
    pub found: String,
    pub expected: String,
    pub near: Option<String>,
}

struct Listed {
    order: (u32, usize),
    fault: Fault,
}

impl PartialEq for Listed {
    fn eq(&self, other: &Self) -> bool {
        self.order == other.order
    }
}
impl Eq for Listed {}
impl PartialOrd for Listed {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Listed {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.order.cmp(&other.order)
    }
}

/// Reads one document.
pub(super) struct Reader<'n> {
    pub document: &'n Document<'n>,
    pub limits: &'n Limits,
    pub quantities: QuantityReader,
    headers: Vec<Header>,
    met: HashMap<&'n str, HeaderId>,
    /// The first faults of the document so far, the last of them on top.
    listed: BinaryHeap<Listed>,
    total: usize,
    near: NearNames,
}

impl<'n> Reader<'n> {
    pub fn new(document: &'n Document<'n>, limits: &'n Limits, day: Time) -> Self {
        Self {
            document,
            limits,
            quantities: QuantityReader::new(day),
            headers: Vec::new(),
            met: HashMap::with_capacity(64),
            listed: BinaryHeap::new(),
            total: 0,
            near: NearNames::new(),
        }
    }

    /// What was read with the headers it named, unless there are faults.
    pub fn finish<T>(self, read: Option<T>) -> Result<(T, Vec<Header>), Faults> {
        if let (Some(read), 0) = (read, self.total) {
            return Ok((read, self.headers));
        }
        let listed = self.listed.into_sorted_vec().into_iter().map(|listed| listed.fault).collect();
        Err(Faults { listed, total: self.total })
    }

    /// Notes a fault. Its texts are made only if it is among the first of the document.
    pub fn fault(
        &mut self,
        node: &Node<'_>,
        place: &Place<'_>,
        code: FaultCode,
        detail: impl FnOnce(&mut NearNames) -> Detail,
    ) {
        let order = (node.order, self.total);
        self.total += 1;
        if self.listed.len() >= self.limits.faults {
            match self.listed.peek() {
                Some(last) if order < last.order => self.listed.pop(),
                _ => return,
            };
        }
        let Detail { found, expected, near } = detail(&mut self.near);
        self.listed
            .push(Listed { order, fault: Fault { at: At::Pointer(place.pointer()), code, found, expected, near } });
    }

    /// Notes a fault that shows what stands there.
    pub fn fault_here(
        &mut self,
        node: &Node<'_>,
        place: &Place<'_>,
        code: FaultCode,
        expected: impl FnOnce() -> String,
    ) {
        self.fault(node, place, code, |_| Detail { found: node.found(), expected: expected(), near: None });
    }

    /// Notes what is wrong with a quantity.
    pub fn quantity_fault(
        &mut self,
        node: &Node<'_>,
        place: &Place<'_>,
        fault: &QuantityFault,
        expected: impl FnOnce() -> String,
    ) {
        self.fault(node, place, fault.into(), |_| {
            let found = match fault {
                QuantityFault::WrongDimension { found, .. } => format!("{} ({found})", node.found()),
                _ => node.found(),
            };
            let expected = match fault {
                QuantityFault::Unreadable(why) => format!("{}: {why}", expected()),
                QuantityFault::OutOfRange | QuantityFault::TooManySpellings => format!("{}; {fault}", expected()),
                QuantityFault::UnknownUnit { .. } | QuantityFault::WrongDimension { .. } => expected(),
            };
            Detail { found, expected, near: fault.near().map(str::to_owned) }
        });
    }

    /// Notes two statements that cannot both be true.
    pub fn contradiction(
        &mut self,
        node: &Node<'_>,
        place: &Place<'_>,
        found: impl FnOnce() -> String,
        expected: impl FnOnce() -> String,
    ) {
        self.fault(node, place, FaultCode::Contradiction, |_| Detail {
            found: found(),
            expected: expected(),
            near: None,
        });
    }

    /// Notes a field that must be there and is not.
    pub fn missing(&mut self, node: &Node<'_>, place: &Place<'_>, field: &str) {
        self.fault(node, &place.below(field), FaultCode::MissingField, |_| Detail {
            found: "nothing".to_owned(),
            expected: format!("the field {field:?}"),
            near: None,
        });
    }

    /// Notes where one of two fields stands without the other.
    pub fn together(&mut self, node: &'n Node<'n>, place: &Place<'_>, fields: [&str; 2]) {
        let has = fields.map(|field| self.document.field(node, field).is_some());
        match has {
            [true, false] => self.missing(node, place, fields[1]),
            [false, true] => self.missing(node, place, fields[0]),
            _ => {}
        }
    }

    /// Notes where more than one of these fields stands there; true where not.
    pub fn one_of(&mut self, node: &'n Node<'n>, place: &Place<'_>, fields: &[&str]) -> bool {
        let document = self.document;
        let there: Vec<&str> = fields.iter().copied().filter(|field| document.field(node, field).is_some()).collect();
        if there.len() < 2 {
            return true;
        }
        self.contradiction(
            node,
            place,
            || format!("{} together", there.join(" and ")),
            || format!("only one of {}", fields.join(", ")),
        );
        false
    }

    /// Notes a field that the schema does not know.
    pub fn unknown_field(&mut self, key: &str, node: &Node<'_>, place: &Place<'_>, known: &[&str]) {
        self.fault(node, &place.below(key), FaultCode::UnknownField, |near| {
            let near = near.search(key, known.iter().copied());
            let expected = match known {
                [only] => format!("the field {only:?}"),
                // Where it is clear what was meant, a long list would only push that out of a line.
                [first @ .., _] if near.is_some() && known.len() > 12 => {
                    format!("one of {} and {} more", first[..3].join(", "), known.len() - 3)
                }
                _ => format!("one of {}", known.join(", ")),
            };
            Detail { found: format!("the field {}", quoted(key)), expected, near }
        });
    }

    /// Notes a field that stands there a second time.
    pub fn duplicate(&mut self, key: &str, node: &Node<'_>, place: &Place<'_>) {
        self.fault(node, &place.below(key), FaultCode::DuplicateField, |_| Detail {
            found: format!("{} a second time", quoted(key)),
            expected: "each name once".to_owned(),
            near: None,
        });
    }

    /// The entries of an object.
    pub fn object(&mut self, node: &'n Node<'n>, place: &Place<'_>, what: &str) -> Option<&'n [Entry<'n>]> {
        let document = self.document;
        if let Some(entries) = document.entries(node) {
            return Some(entries);
        }
        self.fault_here(node, place, FaultCode::WrongType, || format!("an object: {what}"));
        None
    }

    /// Reads the entries of an object whose keys are the author's own names: each name fit and there once, and not too many.
    pub fn named_entries<T>(
        &mut self,
        node: &'n Node<'n>,
        place: &Place<'_>,
        limit: usize,
        mut read: impl FnMut(&'n str, &'n Node<'n>, &Place<'_>, &mut Self) -> Option<T>,
    ) -> Option<Vec<T>> {
        let entries = self.object(node, place, "names and what they stand for")?;
        if entries.len() > limit {
            self.fault(node, place, FaultCode::TooMany, |_| Detail {
                found: format!("{} entries", entries.len()),
                expected: format!("at most {limit}"),
                near: None,
            });
            return None;
        }
        let mut seen = Seen::new(entries.len());
        let mut fit = Vec::with_capacity(entries.len());
        for (key, child) in entries {
            let below = place.below(key);
            if !seen.insert(key, entries) {
                self.duplicate(key, child, place);
            } else if self.name(key, child, &below) {
                fit.extend(read(key, child, &below, self));
            }
        }
        Some(fit)
    }

    /// Whether a text will do as a name; notes the fault if not.
    pub fn name(&mut self, name: &str, node: &Node<'_>, place: &Place<'_>) -> bool {
        let limit = self.limits.name_bytes;
        // The first look settles it for all but the oddest names.
        let plain = name.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ');
        let wrong = if name.len() > limit {
            Some("too long")
        } else if plain {
            name.bytes().all(|byte| byte == b' ').then_some("blank")
        } else if name.chars().any(breaks_line) {
            Some("with a control character or a line break")
        } else {
            name.chars().all(char::is_whitespace).then_some("blank")
        };
        let Some(wrong) = wrong else { return true };
        self.fault(node, place, FaultCode::OutOfRange, |_| Detail {
            found: format!("{} ({wrong})", quoted(name)),
            expected: format!("a name: 1 to {limit} bytes, not blank, without control characters"),
            near: None,
        });
        false
    }

    /// The header of that name; whatever names one makes it.
    pub fn header(&mut self, name: &'n str) -> HeaderId {
        if let Some(id) = self.met.get(name) {
            return *id;
        }
        let id = HeaderId(self.headers.len());
        let carries = Carried::by_name(name);
        self.headers.push(Header { name: name.to_owned(), carries, line: None, lines: None, declared: false });
        self.met.insert(name, id);
        id
    }

    /// What the header carries.
    pub fn carried(&self, id: HeaderId) -> Carried {
        self.headers.get(id.0).map_or(Carried::Matter, |header| header.carries)
    }
}

/// Names met in one object: by looking for few, by hash for many.
struct Seen<'n> {
    met: Option<HashSet<&'n str>>,
    count: usize,
}

impl<'n> Seen<'n> {
    fn new(expected: usize) -> Self {
        Self { met: (expected > 8).then(|| HashSet::with_capacity(expected)), count: 0 }
    }

    /// Notes the next key of `entries`; false if it was there before.
    fn insert(&mut self, key: &'n str, entries: &'n [Entry<'n>]) -> bool {
        let before = self.count;
        self.count += 1;
        match &mut self.met {
            Some(met) => met.insert(key),
            None => entries[..before].iter().all(|(earlier, _)| earlier != key),
        }
    }
}

/// The search for near names, whose work in one document is bounded.
pub(super) struct NearNames {
    work_left: usize,
}

impl NearNames {
    /// With the work that one document may cause.
    pub fn new() -> Self {
        Self { work_left: 2_000_000 }
    }

    /// The candidate most like `name`, if one is like it.
    pub fn search<'c>(&mut self, name: &str, candidates: impl Iterator<Item = &'c str>) -> Option<String> {
        let mut best: Option<(f64, &str)> = None;
        for candidate in candidates {
            // Names of very different length are never near; to pass over them costs next to nothing.
            if candidate.len().abs_diff(name.len()) > 2 + name.len() / 2 {
                continue;
            }
            let Some(left) = self.work_left.checked_sub((name.len() + 8) * (candidate.len() + 8)) else { break };
            self.work_left = left;
            if let Some(like) = likeness(name, candidate)
                && best.is_none_or(|(most, _)| like > most)
            {
                best = Some((like, candidate));
            }
        }
        best.map(|(_, candidate)| candidate.to_owned())
    }
}
