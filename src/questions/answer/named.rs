//! Names and what stands under them, in the order of the document.

use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

use serde::ser::{Serialize, SerializeMap, Serializer};

/// A name of the author's, shared by every place of an answer that says it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(Arc<str>);

impl From<&str> for Name {
    fn from(name: &str) -> Self {
        Self(name.into())
    }
}

impl Deref for Name {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Serialize for Name {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

/// A JSON object whose keys are names of the plan, in the order of the document. The names are unique because they are in the
/// plan; so a list will do, which costs no hashing.
#[derive(Clone, Debug, PartialEq)]
pub struct Named<T>(Vec<(Name, T)>);

impl<T> Default for Named<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> Named<T> {
    /// True where nothing is in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What stands under `name`.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&T> {
        self.0.iter().find(|(known, _)| &**known == name).map(|(_, value)| value)
    }

    /// All entries in order.
    pub fn iter(&self) -> std::slice::Iter<'_, (Name, T)> {
        self.0.iter()
    }

    /// All entries in the order of names: what is said of them must not depend on the order of the document.
    #[must_use]
    pub fn by_name(&self) -> Vec<&(Name, T)> {
        let mut entries: Vec<&(Name, T)> = self.0.iter().collect();
        entries.sort_unstable_by(|one, other| one.0.cmp(&other.0));
        entries
    }

    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }
}

impl<T> FromIterator<(Name, T)> for Named<T> {
    fn from_iter<I: IntoIterator<Item = (Name, T)>>(entries: I) -> Self {
        Self(entries.into_iter().collect())
    }
}

impl<'a, T> IntoIterator for &'a Named<T> {
    type Item = &'a (Name, T);
    type IntoIter = std::slice::Iter<'a, (Name, T)>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

impl<T: Serialize> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, value) in &self.0 {
            map.serialize_entry(&**name, value)?;
        }
        map.end()
    }
}
