//! From JSON values to typed fields: the trait that every part of the document implements, and the macros that write the
//! reader and the schema of a struct from one list of fields, so that the two cannot drift apart.

use super::node::Node;
use super::reader::{Place, Reader};

/// A part of the document.
pub(super) trait Wire: Sized {
    /// Reads it, noting every fault. `None` means that there was one.
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self>;
}

/// What holds between the fields of one struct.
pub(super) trait Check {
    /// Notes contradictions, and settles what depends on a sibling field.
    fn check<'n>(&mut self, _node: &'n Node<'n>, _place: &Place<'_>, _reader: &mut Reader<'n>) {}
}

macro_rules! field_type {
    (may $kind:ty) => { Option<$kind> };
    (must $kind:ty) => { $kind };
}

/// The name of a field in the document, which may be a word that Rust keeps for itself.
macro_rules! field_name {
    ($field:ident) => {
        stringify!($field)
    };
    ($field:ident $wire:literal) => {
        $wire
    };
}

macro_rules! field_value {
    (may $slot:ident, $name:expr, $node:ident, $place:ident, $reader:ident) => {
        Some($slot.flatten())
    };
    (must $slot:ident, $name:expr, $node:ident, $place:ident, $reader:ident) => {{
        if $slot.is_none() {
            $reader.missing($node, $place, $name);
        }
        $slot.flatten()
    }};
}

/// Declares structs of the document. Each field is `may` (it can be left out) or `must`. From the one list come the struct,
/// its reader, which finds every fault, the list of known fields, and the schema.
macro_rules! document {
    ($($(#[doc = $about:literal])* $name:ident = $label:literal {
        $($(#[doc = $doc:literal])* $need:ident $field:ident $(as $wire:literal)?: $kind:ty,)*
    })*) => {$(
        $(#[doc = $about])*
        #[derive(Debug)]
        pub(in crate::plan) struct $name {
            $($(#[doc = $doc])* pub $field: crate::plan::wire::field_type!($need $kind),)*
        }

        impl $name {
            /// The fields the schema knows.
            pub const FIELDS: &'static [&'static str] = &[$(crate::plan::wire::field_name!($field $($wire)?)),*];
        }

        impl crate::plan::wire::Wire for $name {
            fn read<'n>(
                node: &'n crate::plan::node::Node<'n>,
                place: &crate::plan::reader::Place<'_>,
                reader: &mut crate::plan::reader::Reader<'n>,
            ) -> Option<Self> {
                $(let mut $field: Option<Option<$kind>> = None;)*
                for (key, child) in reader.object(node, place, $label)? {
                    match key.as_ref() {
                        $(crate::plan::wire::field_name!($field $($wire)?) => {
                            if $field.is_some() {
                                reader.duplicate(key, child, place);
                            } else {
                                $field = Some(<$kind as crate::plan::wire::Wire>::read(child, &place.below(key), reader));
                            }
                        })*
                        _ => reader.unknown_field(key, child, place, Self::FIELDS),
                    }
                }
                $(let $field = crate::plan::wire::field_value!(
                    $need $field, crate::plan::wire::field_name!($field $($wire)?), node, place, reader
                );)*
                let mut read = Self { $($field: $field?),* };
                crate::plan::wire::Check::check(&mut read, node, place, reader);
                Some(read)
            }
        }

        #[cfg(feature = "openapi")]
        impl crate::plan::schema::Described for $name {
            const NAME: Option<&'static str> = Some($label);
            #[allow(clippy::large_stack_arrays, reason = "run once, for the description")]
            fn body() -> utoipa::openapi::schema::Schema {
                crate::plan::schema::structure(
                    concat!($($about, "\n"),*),
                    &[$(crate::plan::schema::Field {
                        name: crate::plan::wire::field_name!($field $($wire)?),
                        about: concat!($($doc, "\n"),*),
                        required: stringify!($need) == "must",
                        kind: <$kind as crate::plan::schema::Described>::here(),
                    }),*],
                )
            }
            fn gather_parts(into: &mut crate::plan::schema::Schemas) {
                $(<$kind as crate::plan::schema::Described>::gather(into);)*
            }
        }
    )*};
}

/// Declares objects that hold exactly one of several fields: a union whose tag is the one field of each variant.
macro_rules! union {
    ($($(#[doc = $about:literal])* $name:ident = $label:literal {
        $($(#[doc = $doc:literal])* $variant:ident($part:ident) by $tag:ident,)*
    })*) => {$(
        $(#[doc = $about])*
        #[derive(Debug)]
        pub(in crate::plan) enum $name {
            $($(#[doc = $doc])* $variant($part),)*
        }

        impl $name {
            /// The tags, of which exactly one must stand there.
            pub const TAGS: &'static [&'static str] = &[$(stringify!($tag)),*];
        }

        impl crate::plan::wire::Wire for $name {
            fn read<'n>(
                node: &'n crate::plan::node::Node<'n>,
                place: &crate::plan::reader::Place<'_>,
                reader: &mut crate::plan::reader::Reader<'n>,
            ) -> Option<Self> {
                let entries = reader.object(node, place, $label)?;
                let tags = || entries.iter().map(|(key, _)| key.as_ref()).filter(|key| Self::TAGS.contains(key));
                let tag = tags().next();
                // The same tag twice is a duplicate, which the reader of the variant finds.
                let second = tags().find(|second| Some(*second) != tag);
                match (tag, second) {
                    (Some(tag), Some(second)) => {
                        reader.contradiction(
                            node,
                            place,
                            || format!("both {tag:?} and {second:?}"),
                            || format!("exactly one of {}", Self::TAGS.join(", ")),
                        );
                        None
                    }
                    $((Some(stringify!($tag)), None) => {
                        Some(Self::$variant(<$part as crate::plan::wire::Wire>::read(node, place, reader)?))
                    })*
                    _ => {
                        for (key, child) in entries {
                            reader.unknown_field(key, child, place, Self::TAGS);
                        }
                        if entries.is_empty() {
                            reader.fault_here(node, place, crate::plan::FaultCode::MissingField, || {
                                format!("exactly one of {}", Self::TAGS.join(", "))
                            });
                        }
                        None
                    }
                }
            }
        }

        #[cfg(feature = "openapi")]
        impl crate::plan::schema::Described for $name {
            const NAME: Option<&'static str> = Some($label);
            fn body() -> utoipa::openapi::schema::Schema {
                crate::plan::schema::one_of(
                    concat!($($about, "\n"),*),
                    vec![$(<$part as crate::plan::schema::Described>::here()),*],
                )
            }
            fn gather_parts(into: &mut crate::plan::schema::Schemas) {
                $(<$part as crate::plan::schema::Described>::gather(into);)*
            }
        }
    )*};
}

/// Declares a word out of a few.
macro_rules! choices {
    ($($(#[doc = $about:literal])* $name:ident($inner:ty) = $label:literal {
        $($word:literal => $value:expr,)*
    })*) => {$(
        $(#[doc = $about])*
        #[derive(Clone, Copy, Debug)]
        pub(in crate::plan) struct $name(pub $inner);

        impl crate::plan::wire::Wire for $name {
            fn read<'n>(
                node: &'n crate::plan::node::Node<'n>,
                place: &crate::plan::reader::Place<'_>,
                reader: &mut crate::plan::reader::Reader<'n>,
            ) -> Option<Self> {
                let words: &[&str] = &[$($word),*];
                let crate::plan::node::Value::Text(text) = &node.value else {
                    reader.fault_here(node, place, crate::plan::FaultCode::WrongType, || format!("one of {}", words.join(", ")));
                    return None;
                };
                match text.as_ref() {
                    $($word => Some(Self($value)),)*
                    other => {
                        reader.fault(node, place, crate::plan::FaultCode::UnknownChoice, |near| crate::plan::reader::Detail {
                            found: node.found(),
                            expected: format!("one of {}", words.join(", ")),
                            near: near.search(other, words.iter().copied()),
                        });
                        None
                    }
                }
            }
        }

        #[cfg(feature = "openapi")]
        impl crate::plan::schema::Described for $name {
            const NAME: Option<&'static str> = Some($label);
            fn body() -> utoipa::openapi::schema::Schema {
                crate::plan::schema::words(concat!($($about, "\n"),*), &[$($word),*])
            }
        }
    )*};
}

pub(super) use {choices, document, field_name, field_type, field_value, union};
