//! The document as a tree of JSON values in document order, duplicates and all, borrowing its texts from the bytes.

use std::borrow::Cow;
use std::cell::{Cell, RefCell};
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};

use super::ReadError;

/// The whole document. The entries of all its objects lie in one list, so that reading costs few allocations.
#[derive(Debug)]
pub(super) struct Document<'a> {
    pub root: Node<'a>,
    entries: Vec<Entry<'a>>,
    /// What stands in lists, likewise.
    items: Vec<Node<'a>>,
}

impl<'a> Document<'a> {
    /// The entries of an object; `None` for any other value.
    pub fn entries(&self, node: &Node<'a>) -> Option<&[Entry<'a>]> {
        match &node.value {
            Value::Object { first, count } => self.entries.get(*first..*first + *count),
            _ => None,
        }
    }

    /// What stands in a list; `None` for any other value.
    pub fn items(&self, node: &Node<'a>) -> Option<&[Node<'a>]> {
        match &node.value {
            Value::List { first, count } => self.items.get(*first..*first + *count),
            _ => None,
        }
    }

    /// The entry of an object by name.
    pub fn field(&self, node: &Node<'a>, name: &str) -> Option<&Node<'a>> {
        self.entries(node)?.iter().find(|(key, _)| key == name).map(|(_, child)| child)
    }
}

/// One JSON value with its place in the order of the document.
#[derive(Debug)]
pub(super) struct Node<'a> {
    /// Counts up through the document: an object comes before its entries.
    pub order: u32,
    pub value: Value<'a>,
}

#[derive(Debug)]
pub(super) enum Value<'a> {
    Null,
    Flag(bool),
    Number(f64),
    Text(Cow<'a, str>),
    /// What stands in it lies together in [`Document::items`].
    List {
        first: usize,
        count: usize,
    },
    /// Its entries lie together in [`Document::entries`].
    Object {
        first: usize,
        count: usize,
    },
}

pub(super) type Entry<'a> = (Cow<'a, str>, Node<'a>);

impl Node<'_> {
    /// What stands here, short and without control characters, for a fault to show.
    pub fn found(&self) -> String {
        match &self.value {
            Value::Null => "null".to_owned(),
            Value::Flag(flag) => flag.to_string(),
            Value::Number(number) => {
                if number.abs() < 1e15 {
                    (number + 0.0).to_string()
                } else {
                    format!("{number:e}")
                }
            }
            Value::Text(text) => quoted(text),
            Value::List { count: 0, .. } => "an empty list".to_owned(),
            Value::List { count, .. } => format!("a list of {count}"),
            Value::Object { count: 0, .. } => "an empty object".to_owned(),
            Value::Object { .. } => "an object".to_owned(),
        }
    }
}

/// A text in quotation marks, at most 60 characters of it, with everything that could break a line replaced.
pub(crate) fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for (index, c) in text.chars().enumerate() {
        if index == 60 {
            quoted.push('…');
            break;
        }
        quoted.push(if breaks_line(c) { '\u{FFFD}' } else { c });
    }
    quoted.push('"');
    quoted
}

/// Control characters, and the two separators that Unicode counts as line breaks.
pub(super) fn breaks_line(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}')
}

/// A text without its byte order mark, which a reader of JSON may ignore (RFC 8259, section 8.1).
pub(crate) fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes)
}

/// Reads bytes as JSON.
pub(super) fn parse(bytes: &[u8], depth_limit: usize) -> Result<Document<'_>, ReadError> {
    let bytes = without_mark(bytes);
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        let before = String::from_utf8_lossy(&bytes[..fault.valid_up_to()]);
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().map_or(0, str::len) + 1;
        ReadError::NotJson { line, column, say: "the text is not UTF-8".to_owned() }
    })?;
    if text.trim_ascii().is_empty() {
        return Err(ReadError::NotJson {
            line: 1,
            column: 1,
            say: "there is no document: nothing was sent".to_owned(),
        });
    }
    // A document of this kind has an entry for some 24 bytes.
    let context = Context::new(depth_limit, text.len() / 24);
    let mut reader = serde_json::Deserializer::from_str(text);
    let read =
        Seed { context: &context, depth: 0 }.deserialize(&mut reader).and_then(|node| reader.end().map(|()| node));
    let read = read.map_err(|fault| {
        if context.too_deep.get() {
            return ReadError::TooDeep { limit: depth_limit };
        }
        let text = fault.to_string();
        let say = text.rsplit_once(" at line ").map_or(text.as_str(), |(say, _)| say).to_owned();
        ReadError::NotJson { line: fault.line(), column: fault.column(), say }
    });
    read.map(|root| Document { root, entries: context.entries.into_inner(), items: context.items.into_inner() })
}

/// Takes a JSON value that is in memory already; `None` where it is nested too deep. Its numbers stay what they are, to the
/// last bit, which writing and reading them again would not grant.
pub(super) fn take(value: &serde_json::Value, depth_limit: usize) -> Option<Document<'_>> {
    let context = Context::new(depth_limit, 256);
    let root = Seed { context: &context, depth: 0 }.deserialize(value).ok()?;
    Some(Document { root, entries: context.entries.into_inner(), items: context.items.into_inner() })
}

/// The document with every number that no double holds put in quotation marks, so that the fault can be told with its pointer;
/// `None` where there is no such number. `1e400` is JSON, but the JSON reader gives up on it.
pub(super) fn endless_numbers_as_texts(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut marked = Vec::with_capacity(bytes.len() + 16);
    let mut rest = bytes;
    let mut found = false;
    while let Some(first) = rest.first() {
        let length = match first {
            b'"' => text_length(rest),
            b'-' | b'0'..=b'9' => {
                rest.iter().take_while(|byte| matches!(byte, b'-' | b'+' | b'.' | b'e' | b'E' | b'0'..=b'9')).count()
            }
            _ => 1,
        };
        let (token, behind) = rest.split_at(length);
        let number = std::str::from_utf8(token).ok().and_then(|text| text.parse::<f64>().ok());
        if *first != b'"' && number.is_some_and(f64::is_infinite) {
            found = true;
            marked.push(b'"');
            marked.extend_from_slice(token);
            marked.push(b'"');
        } else {
            marked.extend_from_slice(token);
        }
        rest = behind;
    }
    found.then_some(marked)
}

/// How long the text in quotation marks is that `bytes` begins with.
fn text_length(bytes: &[u8]) -> usize {
    let mut escaped = false;
    for (index, byte) in bytes.iter().enumerate().skip(1) {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return index + 1,
            _ => {}
        }
    }
    bytes.len()
}

struct Context<'de> {
    next: Cell<u32>,
    too_deep: Cell<bool>,
    depth_limit: usize,
    /// Entries of objects that are read to their end.
    entries: RefCell<Vec<Entry<'de>>>,
    /// Entries of objects that are still open, outermost first.
    open: RefCell<Vec<Entry<'de>>>,
    /// The same of lists.
    items: RefCell<Vec<Node<'de>>>,
    open_items: RefCell<Vec<Node<'de>>>,
}

impl Context<'_> {
    fn new(depth_limit: usize, entries: usize) -> Self {
        Self {
            next: Cell::new(0),
            too_deep: Cell::new(false),
            depth_limit,
            entries: RefCell::new(Vec::with_capacity(entries)),
            open: RefCell::new(Vec::with_capacity(64)),
            items: RefCell::new(Vec::new()),
            open_items: RefCell::new(Vec::new()),
        }
    }
}

#[derive(Clone, Copy)]
struct Seed<'c, 'de> {
    context: &'c Context<'de>,
    depth: usize,
}

impl<'de> Seed<'_, 'de> {
    /// The place in the order of the document, which holds less than 2³² values by its limit of bytes.
    fn order(self) -> u32 {
        let order = self.context.next.get();
        self.context.next.set(order.saturating_add(1));
        order
    }

    fn below<E: serde::de::Error>(self) -> Result<Self, E> {
        if self.depth >= self.context.depth_limit {
            self.context.too_deep.set(true);
            return Err(E::custom("nested too deep"));
        }
        Ok(Self { depth: self.depth + 1, ..self })
    }

    fn node(self, value: Value<'de>) -> Node<'de> {
        Node { order: self.order(), value }
    }
}

impl<'de> DeserializeSeed<'de> for Seed<'_, 'de> {
    type Value = Node<'de>;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node<'de>, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Seed<'_, 'de> {
    type Value = Node<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_unit<E>(self) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Null))
    }
    fn visit_bool<E>(self, flag: bool) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Flag(flag)))
    }
    fn visit_i64<E>(self, number: i64) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Number(number as f64)))
    }
    fn visit_u64<E>(self, number: u64) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Number(number as f64)))
    }
    fn visit_f64<E>(self, number: f64) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Number(number)))
    }
    fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Text(Cow::Borrowed(text))))
    }
    fn visit_str<E>(self, text: &str) -> Result<Node<'de>, E> {
        Ok(self.node(Value::Text(Cow::Owned(text.to_owned()))))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Node<'de>, A::Error> {
        let (order, below) = (self.order(), self.below()?);
        let mut count = 0;
        while let Some(item) = list.next_element_seed(below)? {
            self.context.open_items.borrow_mut().push(item);
            count += 1;
        }
        let (mut open, mut items) = (self.context.open_items.borrow_mut(), self.context.items.borrow_mut());
        let (first, from) = (items.len(), open.len() - count);
        items.extend(open.drain(from..));
        Ok(Node { order, value: Value::List { first, count } })
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node<'de>, A::Error> {
        let (order, below) = (self.order(), self.below()?);
        let mut count = 0;
        while let Some(key) = map.next_key_seed(Key)? {
            let value = map.next_value_seed(below)?;
            self.context.open.borrow_mut().push((key, value));
            count += 1;
        }
        let (mut open, mut entries) = (self.context.open.borrow_mut(), self.context.entries.borrow_mut());
        let (first, from) = (entries.len(), open.len() - count);
        entries.extend(open.drain(from..));
        Ok(Node { order, value: Value::Object { first, count } })
    }
}

struct Key;

impl<'de> DeserializeSeed<'de> for Key {
    type Value = Cow<'de, str>;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Cow<'de, str>, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl<'de> Visitor<'de> for Key {
    type Value = Cow<'de, str>;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a name")
    }
    fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Cow<'de, str>, E> {
        Ok(Cow::Borrowed(text))
    }
    fn visit_str<E>(self, text: &str) -> Result<Cow<'de, str>, E> {
        Ok(Cow::Owned(text.to_owned()))
    }
}
