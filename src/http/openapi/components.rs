//! Named schemas, parameters, headers and responses.

use super::paths::PROBLEMS;
use super::questions;
use crate::http::conditional::IF_NONE_MATCH_BYTES;
use crate::http::problem::{Kind, ProblemBody};
use crate::sums::{SumAnswer, SumList};
use serde_json::{Map, Value, json};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

pub(super) type Schemas = Vec<(String, RefOr<Schema>)>;

/// Schemas in which `null` says something.
const NULLABLE: [&str; 3] = ["Moment", "Size", "CoolingStopsOrNothing"];
/// Fields of which `null` says something.
const NULL_FIELDS: [(&str, &str); 2] = [("HeatBudget", "cooling_stops"), ("WholePlan", "cooling_stops")];

/// The `components` object.
pub fn all() -> Value {
    json!({
        "schemas": schemas(),
        "examples": super::examples::plans(),
        "parameters": parameters(),
        "headers": headers(),
        "responses": responses(),
    })
}

pub(super) fn gather<T: ToSchema + PartialSchema>(schemas: &mut Schemas) {
    schemas.push((T::name().into_owned(), T::schema()));
    T::schemas(schemas);
}

fn schemas() -> Value {
    let mut named = named();
    for (name, schema) in &mut named {
        if !NULLABLE.contains(&name.as_str()) {
            tidy(schema);
        }
        for (_, field) in NULL_FIELDS.iter().filter(|(holder, _)| holder == name) {
            let field = &mut schema["properties"][*field];
            let about = field["description"].take();
            *field = json!({"$ref": "#/components/schemas/CoolingStopsOrNothing", "description": about});
        }
        if name == "BatchInquiry" {
            schema["properties"]["items"]["items"] = json!({"$ref": "#/components/schemas/BatchEntry"});
        }
    }
    Value::Object(named.into_iter().collect())
}

/// Every schema by its name, once.
fn named() -> Vec<(String, Value)> {
    let mut found: Schemas = Vec::new();
    for asked in questions::all() {
        (asked.gather)(&mut found);
    }
    gather::<SumAnswer>(&mut found);
    gather::<SumList>(&mut found);
    gather::<ProblemBody<'_>>(&mut found);
    let mut named: Vec<(String, Value)> = found
        .into_iter()
        // A schema is made of strings, numbers and lists: it always has a JSON form.
        .map(|(name, schema)| (name, serde_json::to_value(schema).unwrap_or_default()))
        .collect();
    named.extend(questions::batch());
    named.push((
        "CoolingStopsOrNothing".to_owned(),
        json!({"description": "What comes of it that all coolers stop; null: nothing within the horizon.",
               "oneOf": [{"$ref": "#/components/schemas/CoolingStops"}, {"type": "null"}]}),
    ));
    named.push((
        "Line".to_owned(),
        json!({"type": "string", "maxLength": 400, "description": "One line without control characters.",
               "examples": ["9 units: 2.5 kg/s ÷ 300 g/s = 8.33, the ninth runs at 33 %."]}),
    ));
    named.push((
        "Picture".to_owned(),
        json!({"type": "string", "maxLength": 4_000_000, "description": "An SVG document on a transparent ground: a sheet 800 wide. Where it is shown at most 560 px wide, as an image \
               or by itself, a card with the verdict, the line and the figures that tell most takes the place of the sheet; \
               put into a page as elements, it goes by the width of the page."}),
    ));
    named.push((
        "PictureInPixels".to_owned(),
        json!({"type": "string", "format": "binary", "maxLength": 8_000_000,
               "description": "The sheet in pixels, or the card, on a transparent ground."}),
    ));
    named.push((
        "PackedDocument".to_owned(),
        json!({"type": "string", "minLength": 1, "maxLength": 2_097_152, "pattern": "^[A-Za-z0-9_-]+$",
               "description": "A document through zlib (RFC 1950), then base64url (RFC 4648) without padding."}),
    ));
    named.sort_by(|a, b| a.0.cmp(&b.0));
    // One type is met in many places; two types of one name would hide one another, which a test rules out.
    named.dedup();
    for asked in questions::all() {
        // Each answer says which question it answers: that is how a reader of a batch tells them apart.
        for (_, schema) in named.iter_mut().filter(|(name, _)| *name == asked.schema) {
            schema["properties"]["question"]["enum"] = json!([asked.name]);
        }
    }
    named
}

/// Bounds where the types have none of their own, so that every number, string and list has some; and no `null` where a
/// field that does not apply is absent instead.
fn tidy(schema: &mut Value) {
    match schema {
        Value::Object(object) => {
            drop_null(object);
            let is = |object: &Map<String, Value>, kind: &str| match object.get("type") {
                Some(Value::String(text)) => text == kind,
                Some(Value::Array(kinds)) => kinds.iter().any(|one| one == kind),
                _ => false,
            };
            if is(object, "string") && !object.contains_key("maxLength") && !object.contains_key("enum") {
                object.insert("maxLength".to_owned(), json!(100_000));
            }
            if is(object, "array") && !object.contains_key("maxItems") {
                object.insert("maxItems".to_owned(), json!(100_000));
            }
            if is(object, "number") && !object.contains_key("maximum") {
                object.insert("minimum".to_owned(), object.get("minimum").cloned().unwrap_or_else(|| json!(-1e300)));
                object.insert("maximum".to_owned(), json!(1e300));
            }
            if is(object, "integer") && !object.contains_key("maximum") {
                object.insert("minimum".to_owned(), object.get("minimum").cloned().unwrap_or_else(|| json!(0)));
                object.insert("maximum".to_owned(), json!(4_294_967_295_u32));
            }
            for (key, value) in object.iter_mut() {
                match key.as_str() {
                    "example" | "examples" | "default" => {}
                    // The keys in there are names of fields, whatever they are called.
                    "properties" => value.as_object_mut().into_iter().flatten().for_each(|(_, value)| tidy(value)),
                    _ => tidy(value),
                }
            }
        }
        Value::Array(list) => list.iter_mut().for_each(tidy),
        _ => {}
    }
}

/// Answers leave out what does not apply: an optional field is absent, never `null`.
fn drop_null(object: &mut Map<String, Value>) {
    if let Some(Value::Array(kinds)) = object.get_mut("type") {
        kinds.retain(|kind| kind != "null");
        if let [only] = kinds.as_slice() {
            let only = only.clone();
            object.insert("type".to_owned(), only);
        }
    }
    let Some(Value::Array(variants)) = object.get_mut("oneOf") else { return };
    variants.retain(|variant| variant["type"] != "null");
    if let [only] = variants.as_slice()
        && let Some(only) = only.as_object().cloned()
    {
        object.remove("oneOf");
        object.extend(only);
    }
}

fn parameters() -> Value {
    json!({
        "packed": {"name": "z", "in": "query", "required": true, "schema": {"$ref": "#/components/schemas/PackedDocument"},
            "description": "The document, packed into the link."},
        "picture": {"name": "picture", "in": "query", "required": false,
            "schema": {"type": "string", "enum": ["sheet", "card"]},
            "description": "What a picture shows: the sheet, or the card with what tells most in large letters, for link previews. \
                Left out, an SVG document holds both and a PNG is the sheet. Other forms do not look at it."},
        "ifNoneMatch": {"name": "If-None-Match", "in": "header", "required": false,
            "schema": {"type": "string", "maxLength": IF_NONE_MATCH_BYTES},
            "description": "Entity tags that the client holds: a match is answered 304 without a body. Longer ones are answered 431."},
    })
}

fn headers() -> Value {
    json!({
        "ETag": {"description": "A strong entity tag over the document, the engine and the form.",
            "schema": {"type": "string", "maxLength": 128}},
        "RequestId": {"description": "Finds this request in the log of the service.",
            "schema": {"type": "string", "maxLength": 128}},
        "Allow": {"description": "The methods that work here.", "schema": {"type": "string", "maxLength": 128}},
        "RateLimitPolicy": {"description": "What one client may send, where that is limited: `q` requests in `w` seconds \
            (draft-ietf-httpapi-ratelimit-headers-10).", "schema": {"type": "string", "maxLength": 128}},
        "RateLimit": {"description": "What is left of it: `r` requests now, all of them in `t` seconds.",
            "schema": {"type": "string", "maxLength": 128}},
        "RetryAfter": {"description": "Seconds to wait before asking again.",
            "schema": {"type": "integer", "minimum": 0, "maximum": 3600}},
    })
}

/// A response per status that problems have; each lists the kinds it can be.
fn responses() -> Value {
    let mut responses = Map::new();
    for &(status, name) in PROBLEMS {
        let kinds: Vec<Kind> = Kind::ALL.iter().copied().filter(|kind| kind.status().as_u16() == status).collect();
        let about: Vec<String> = kinds.iter().map(|kind| format!("`{}`: {}", kind.code(), kind.title())).collect();
        let mut headers = json!({"X-Request-Id": {"$ref": "#/components/headers/RequestId"}});
        if status == 429 {
            headers["RateLimit-Policy"] = json!({"$ref": "#/components/headers/RateLimitPolicy"});
            headers["RateLimit"] = json!({"$ref": "#/components/headers/RateLimit"});
        }
        if status == 429 || status == 503 {
            headers["Retry-After"] = json!({"$ref": "#/components/headers/RetryAfter"});
        }
        if status == 405 {
            headers["Allow"] = json!({"$ref": "#/components/headers/Allow"});
        }
        let content = json!({
            "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}},
            "text/plain": {"schema": {"$ref": "#/components/schemas/Line"}},
        });
        responses
            .insert(name.to_owned(), json!({"description": about.join("; "), "headers": headers, "content": content}));
    }
    responses.insert("NotModified".to_owned(), json!({"description": "The client holds this answer already."}));
    Value::Object(responses)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_types_have_one_name() {
        let named = named();
        let twice: Vec<_> = named.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| &pair[0].0).collect();
        assert!(twice.is_empty(), "{twice:?}");
    }
}
