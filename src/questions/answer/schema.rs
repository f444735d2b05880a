//! Schemas of objects that are written as one with another.

use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{Object, Schema};

/// An object followed by the fields of another, as `serde(flatten)` writes them.
pub(crate) fn with_fields_of(mut first: Object, second: RefOr<Schema>) -> Object {
    if let RefOr::T(Schema::Object(second)) = second {
        first.properties.extend(second.properties);
        first.required.extend(second.required);
    }
    first
}
