//! What is wrong with a document, each fault with its place: what was found, what was expected, and a near name.

use std::fmt;

use crate::quantity::QuantityFault;

/// Where a fault lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum At {
    /// A JSON pointer (RFC 6901) into the document.
    Pointer(String),
    /// A query parameter.
    Parameter(String),
}

/// The kinds of fault: stable codes that programs may act on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum FaultCode {
    /// A field that the schema does not know.
    UnknownField,
    /// A field that must be there and is not.
    MissingField,
    /// The same field twice.
    DuplicateField,
    /// The wrong JSON type.
    WrongType,
    /// Text that is not a number with a unit.
    UnreadableQuantity,
    /// A unit that nobody knows.
    UnknownUnit,
    /// A unit of another dimension.
    WrongDimension,
    /// A number outside its bounds.
    OutOfRange,
    /// A name that resolves to nothing.
    UnknownName,
    /// A word that is none of the choices.
    UnknownChoice,
    /// Two statements that cannot both be true.
    Contradiction,
    /// More things than a limit allows.
    TooMany,
}

impl FaultCode {
    /// The code as printed.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::UnknownField => "unknown-field",
            Self::MissingField => "missing-field",
            Self::DuplicateField => "duplicate-field",
            Self::WrongType => "wrong-type",
            Self::UnreadableQuantity => "unreadable-quantity",
            Self::UnknownUnit => "unknown-unit",
            Self::WrongDimension => "wrong-dimension",
            Self::OutOfRange => "out-of-range",
            Self::UnknownName => "unknown-name",
            Self::UnknownChoice => "unknown-choice",
            Self::Contradiction => "contradiction",
            Self::TooMany => "too-many",
        }
    }
}

impl From<&QuantityFault> for FaultCode {
    fn from(fault: &QuantityFault) -> Self {
        match fault {
            QuantityFault::Unreadable(_) => Self::UnreadableQuantity,
            QuantityFault::UnknownUnit { .. } => Self::UnknownUnit,
            QuantityFault::WrongDimension { .. } => Self::WrongDimension,
            QuantityFault::OutOfRange => Self::OutOfRange,
            QuantityFault::TooManySpellings => Self::TooMany,
        }
    }
}

/// One fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where.
    pub at: At,
    /// What kind.
    pub code: FaultCode,
    /// What stood there, shortened, without control characters.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// The nearest known name, where one was mistyped.
    pub near: Option<String>,
}

/// All faults of a document, in document order; at least one. Past a cap only the count goes on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults {
    /// The first faults, up to the cap.
    pub listed: Vec<Fault>,
    /// How many there are in all.
    pub total: usize,
}

impl Fault {
    /// One sentence a person can act on.
    #[must_use]
    pub fn say(&self) -> String {
        let place = match &self.at {
            At::Pointer(pointer) if pointer.is_empty() => "the document",
            At::Pointer(text) | At::Parameter(text) => text,
        };
        let near = self.near.as_ref().map_or(String::new(), |near| format!("; did you mean {near:?}?"));
        format!("{place}: found {}, expected {}{near}", self.found, self.expected)
    }
}

impl Faults {
    /// How many there are, and the first.
    #[must_use]
    pub fn say(&self) -> String {
        match self.listed.first() {
            Some(first) if self.total == 1 => first.say(),
            Some(first) => format!("{} faults, the first: {}", self.total, first.say()),
            None => "it cannot be read".to_owned(),
        }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.listed.iter().enumerate() {
            if index > 0 {
                f.write_str("; ")?;
            }
            f.write_str(&fault.say())?;
        }
        let more = self.total - self.listed.len();
        if more > 0 { write!(f, "; and {more} more") } else { Ok(()) }
    }
}

impl std::error::Error for Faults {}
