//! The document's schema for the API description, from the same lists of fields as the reader.

mod collections;
mod leaves;
#[cfg(test)]
mod tests;

use std::borrow::Cow;

use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, OneOfBuilder, Schema, Type};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{PartialSchema, ToSchema};

use super::document::PlanDocument;

pub(super) use collections::{list_of, map_of};

/// Named schemas, each once.
pub(super) type Schemas = Vec<(String, RefOr<Schema>)>;

/// A part of the document as the API description shows it.
pub(super) trait Described {
    /// Its name among the components, where it has one.
    const NAME: Option<&'static str>;

    /// The schema itself.
    fn body() -> Schema;

    /// The schemas it refers to.
    fn gather_parts(_into: &mut Schemas) {}

    /// What stands where it is used: a reference to the named schema, or the schema itself.
    fn here() -> RefOr<Schema> {
        match Self::NAME {
            Some(name) => Ref::from_schema_name(name).into(),
            None => Self::body().into(),
        }
    }

    /// Adds it, if it is named and not there yet, and what it refers to.
    fn gather(into: &mut Schemas) {
        if let Some(name) = Self::NAME {
            if into.iter().any(|(known, _)| known == name) {
                return;
            }
            into.push((name.to_owned(), Self::body().into()));
        }
        Self::gather_parts(into);
    }
}

/// The schema of the plan document: named "Plan", with every part of it a named component.
#[derive(Debug)]
pub struct PlanSchema;

impl PartialSchema for PlanSchema {
    fn schema() -> RefOr<Schema> {
        PlanDocument::body().into()
    }
}

impl ToSchema for PlanSchema {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Plan")
    }
    fn schemas(schemas: &mut Schemas) {
        PlanDocument::gather_parts(schemas);
    }
}

/// One field of a struct.
pub(super) struct Field {
    pub name: &'static str,
    pub about: &'static str,
    pub required: bool,
    pub kind: RefOr<Schema>,
}

/// Doc comments as one paragraph.
fn paragraph(about: &str) -> String {
    about.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// An object with these fields and no others.
pub(super) fn structure(about: &str, fields: &[Field]) -> Schema {
    let mut object = ObjectBuilder::new()
        .schema_type(Type::Object)
        .description(Some(paragraph(about)))
        .additional_properties(Some(AdditionalProperties::FreeForm(false)));
    for field in fields {
        let about = paragraph(field.about);
        let kind = match field.kind.clone() {
            RefOr::Ref(mut reference) => {
                reference.description = about;
                RefOr::Ref(reference)
            }
            RefOr::T(Schema::Object(mut object)) => {
                object.description = Some(about);
                RefOr::T(Schema::Object(object))
            }
            RefOr::T(Schema::Array(mut array)) => {
                array.description = Some(about);
                RefOr::T(Schema::Array(array))
            }
            other @ RefOr::T(_) => other,
        };
        object = object.property(field.name, kind);
        if field.required {
            object = object.required(field.name);
        }
    }
    object.build().into()
}

/// A union.
pub(super) fn one_of(about: &str, variants: Vec<RefOr<Schema>>) -> Schema {
    let mut union = OneOfBuilder::new().description(Some(paragraph(about)));
    for variant in variants {
        union = union.item(variant);
    }
    union.build().into()
}

/// A word out of a few.
pub(super) fn words(about: &str, words: &[&str]) -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .description(Some(paragraph(about)))
        .enum_values(Some(words.iter().copied()))
        .build()
        .into()
}
