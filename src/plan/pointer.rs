//! JSON pointers (RFC 6901): written, read, followed.

use serde_json::{Map, Value};

/// The pointer to the place that these names lead to, each escaped: `["units", "a/b"]` is `/units/a~1b`.
#[must_use]
pub fn pointer(names: &[&str]) -> String {
    let mut text = String::with_capacity(names.iter().map(|name| name.len() + 1).sum());
    for name in names {
        push(&mut text, name);
    }
    text
}

/// Adds one step to a pointer.
pub(super) fn push(pointer: &mut String, name: &str) {
    pointer.push('/');
    for c in name.chars() {
        match c {
            '~' => pointer.push_str("~0"),
            '/' => pointer.push_str("~1"),
            _ => pointer.push(c),
        }
    }
}

/// A JSON pointer that has been read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pointer {
    steps: Vec<String>,
    text: String,
}

/// Why a value cannot be put where a pointer leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blocked {
    /// After so many steps stands something that has no members: a number, a text, `null`.
    NoMembers(usize),
    /// After so many steps stands a list, and the next step is no place in it.
    NoPlace(usize),
}

impl Pointer {
    /// Reads a pointer; `None` where the text is none.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let mut parts = text.split('/');
        if parts.next() != Some("") {
            return None;
        }
        let unescaped = |part: &str| {
            // A tilde means nothing by itself.
            let sound = part.match_indices('~').all(|(at, _)| matches!(part.as_bytes().get(at + 1), Some(b'0' | b'1')));
            sound.then(|| part.replace("~1", "/").replace("~0", "~"))
        };
        Some(Self { steps: parts.map(unescaped).collect::<Option<_>>()?, text: text.to_owned() })
    }

    /// The names it leads along.
    #[must_use]
    pub fn steps(&self) -> &[String] {
        &self.steps
    }

    /// As it was written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The pointer of its first `count` steps.
    #[must_use]
    pub fn first(&self, count: usize) -> String {
        pointer(&self.steps.iter().take(count).map(String::as_str).collect::<Vec<_>>())
    }

    /// What stands there.
    #[must_use]
    pub fn find<'v>(&self, value: &'v Value) -> Option<&'v Value> {
        value.pointer(&self.text)
    }

    /// Puts `value` there. Objects on the way, and the member itself, are made where they are absent, as a merge patch
    /// would; in a list a place is one that is there.
    ///
    /// # Errors
    /// [`Blocked`] where the way leads through something that has no members.
    pub fn put(&self, into: &mut Value, value: Value) -> Result<(), Blocked> {
        let mut place = into;
        for (taken, step) in self.steps.iter().enumerate() {
            place = match place {
                Value::Object(members) => members.entry(step.as_str()).or_insert_with(|| Value::Object(Map::new())),
                Value::Array(items) => {
                    index(step).and_then(|index| items.get_mut(index)).ok_or(Blocked::NoPlace(taken))?
                }
                _ => return Err(Blocked::NoMembers(taken)),
            };
        }
        *place = value;
        Ok(())
    }
}

/// A place in a list, written as RFC 6901 has it: digits, without a zero before others.
fn index(step: &str) -> Option<usize> {
    let plain = step.bytes().all(|byte| byte.is_ascii_digit()) && (step == "0" || !step.starts_with('0'));
    if plain { step.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{Blocked, Pointer, pointer};

    #[test]
    fn names_are_escaped_and_the_whole_document_is_empty() {
        assert_eq!(pointer(&[]), "");
        assert_eq!(pointer(&["units", "burner", "count"]), "/units/burner/count");
        assert_eq!(pointer(&["units", "a/b~c", ""]), "/units/a~1b~0c/");
    }

    #[test]
    fn what_is_written_is_read() {
        for names in [&[][..], &["units", "a/b~c", ""], &["~1"], &["~", "/", "~~//"]] {
            let text = pointer(names);
            let read = Pointer::parse(&text).expect("a pointer");
            assert_eq!(read.steps(), names);
            assert_eq!(read.first(names.len()), text);
        }
        for text in ["units", " /a", "/a~", "/a~2b", "#/a"] {
            assert_eq!(Pointer::parse(text), None, "{text}");
        }
    }

    #[test]
    fn a_value_is_put_where_it_was_and_where_nothing_was() {
        let put = |at: &str, into: serde_json::Value| {
            let mut into = into;
            Pointer::parse(at).expect("a pointer").put(&mut into, json!(7)).map(|()| into)
        };
        assert_eq!(put("/a/b", json!({"a": {"b": 1, "c": 2}})), Ok(json!({"a": {"b": 7, "c": 2}})));
        assert_eq!(put("/a/b/c", json!({"x": 1})), Ok(json!({"x": 1, "a": {"b": {"c": 7}}})));
        assert_eq!(put("/a/1/b", json!({"a": [{}, {"b": 1}]})), Ok(json!({"a": [{}, {"b": 7}]})));
        assert_eq!(put("/a/0", json!({"a": [1]})), Ok(json!({"a": [7]})));
        for (at, into, blocked) in [
            ("/a/b", json!({"a": 3}), Blocked::NoMembers(1)),
            ("/a/b/c", json!({"a": {"b": null}}), Blocked::NoMembers(2)),
            ("/a/1", json!({"a": [1]}), Blocked::NoPlace(1)),
            ("/a/01", json!({"a": [1, 2]}), Blocked::NoPlace(1)),
            ("/a/-", json!({"a": [1, 2]}), Blocked::NoPlace(1)),
        ] {
            assert_eq!(put(at, into), Err(blocked), "{at}");
        }
    }
}
