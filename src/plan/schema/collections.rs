//! Sections, maps and lists of a document.

use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, Schema, Type};

use super::leaves::name;
use super::{Described, Schemas, one_of};
use crate::plan::field::{Name, RateOnKey};
use crate::plan::limits::Limits;
use crate::plan::map::{AtLeastOne, ByHeader, Flows, List, OneOrMore, Parts, Section, Size};

fn map(of: RefOr<Schema>, size: Size) -> Schema {
    map_of(of, size.limit(&Limits::DEFAULT))
}

/// An object by names of the author's.
pub(in crate::plan) fn map_of(of: RefOr<Schema>, most: usize) -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::Object)
        .property_names(Some(Schema::from(name().build())))
        .additional_properties(Some(of))
        .max_properties(Some(most))
        .build()
        .into()
}

macro_rules! maps {
    ($($name:ident, $size:ident;)*) => {$(
        impl<T: Described> Described for $name<T> {
            const NAME: Option<&'static str> = None;
            fn body() -> Schema {
                map(T::here(), Size::$size)
            }
            fn gather_parts(into: &mut Schemas) {
                T::gather(into);
            }
        }
    )*};
}

maps! {
    Section, Section;
    ByHeader, Section;
    Parts, Flows;
}

/// A list of something, not empty.
pub(in crate::plan) fn list_of(of: RefOr<Schema>, most: usize) -> Schema {
    ArrayBuilder::new().items(of).min_items(Some(1)).max_items(Some(most)).build().into()
}

impl<T: Described> Described for List<T> {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        list_of(T::here(), Size::Flows.limit(&Limits::DEFAULT))
    }
    fn gather_parts(into: &mut Schemas) {
        T::gather(into);
    }
}

impl Described for OneOrMore<Name> {
    const NAME: Option<&'static str> = Some("Names");
    fn body() -> Schema {
        one_of(
            "The name of something in the plan, or a list of such names.",
            vec![Name::here(), List::<Name>::body().into()],
        )
    }
    fn gather_parts(into: &mut Schemas) {
        Name::gather(into);
    }
}

impl<T: Described> Described for AtLeastOne<T> {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        match T::body() {
            Schema::Object(mut map) => {
                map.min_properties = Some(1);
                Schema::Object(map)
            }
            other => other,
        }
    }
    fn gather_parts(into: &mut Schemas) {
        T::gather(into);
    }
}

impl Described for Flows {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        map(RateOnKey::here(), Size::Flows)
    }
    fn gather_parts(into: &mut Schemas) {
        RateOnKey::gather(into);
    }
}
