//! OpenAPI 3.0.3 from 3.1: what JSON Schema 2020-12 says and 3.0's older dialect has other words for.

use serde_json::{Map, Value, json};

/// The document in 3.0.3.
pub fn derive(document: &Value) -> Value {
    let mut derived = document.clone();
    derived["openapi"] = json!("3.0.3");
    if let Some(info) = derived["info"].as_object_mut() {
        info.remove("summary");
        if let Some(license) = info.get_mut("license").and_then(Value::as_object_mut) {
            license.remove("identifier");
            license.insert("url".to_owned(), json!("https://spdx.org/licenses/MIT.html"));
        }
    }
    convert(&mut derived);
    derived
}

fn convert(value: &mut Value) {
    match value {
        Value::Array(list) => list.iter_mut().for_each(convert),
        Value::Object(object) => {
            nullable(object);
            if let Some(one) = object.remove("const") {
                object.insert("enum".to_owned(), json!([one]));
            }
            exclusive(object, "exclusiveMinimum", "minimum");
            exclusive(object, "exclusiveMaximum", "maximum");
            // `examples` is a list in a schema; beside a media type it is an object and stays.
            if let Some(Value::Array(mut examples)) = object.get("examples").cloned() {
                object.remove("examples");
                if !examples.is_empty() {
                    object.insert("example".to_owned(), examples.remove(0));
                }
            }
            object.remove("propertyNames");
            object.remove("contentMediaType");
            if object.len() > 1
                && let Some(reference) = object.get("$ref").cloned()
            {
                object.remove("$ref");
                object.insert("allOf".to_owned(), json!([{"$ref": reference}]));
            }
            for (key, inner) in object.iter_mut() {
                match key.as_str() {
                    "example" | "examples" | "default" | "enum" => {}
                    // The keys in there are the author's names, whatever they are called.
                    "properties" => inner.as_object_mut().into_iter().flatten().for_each(|(_, inner)| convert(inner)),
                    _ => convert(inner),
                }
            }
        }
        _ => {}
    }
}

/// `type: [x, null]` is `type: x, nullable: true`; several types become `anyOf`.
fn nullable(object: &mut Map<String, Value>) {
    if let Some(Value::Array(kinds)) = object.get("type").cloned() {
        let mut kept: Vec<Value> = kinds.iter().filter(|kind| *kind != "null").cloned().collect();
        if kept.len() < kinds.len() {
            object.insert("nullable".to_owned(), json!(true));
        }
        if kept.len() == 1 {
            object.insert("type".to_owned(), kept.remove(0));
        } else {
            object.remove("type");
            let kinds: Vec<Value> = kept.into_iter().map(|kind| json!({"type": kind})).collect();
            object.insert("anyOf".to_owned(), Value::Array(kinds));
        }
    }
    for union in ["oneOf", "anyOf"] {
        let Some(Value::Array(variants)) = object.get(union).cloned() else { continue };
        let real: Vec<Value> = variants.iter().filter(|variant| variant["type"] != "null").cloned().collect();
        if real.len() == variants.len() {
            continue;
        }
        object.insert("nullable".to_owned(), json!(true));
        object.remove(union);
        if let [only] = real.as_slice() {
            // Beside `nullable` there must be a type, and what is named here are objects.
            object.insert("type".to_owned(), json!("object"));
            object.insert("allOf".to_owned(), json!([only]));
        } else {
            object.insert(union.to_owned(), Value::Array(real));
        }
    }
}

fn exclusive(object: &mut Map<String, Value>, key: &str, bound: &str) {
    if let Some(limit) = object.get(key).filter(|limit| limit.is_number()).cloned() {
        object.insert(bound.to_owned(), limit);
        object.insert(key.to_owned(), json!(true));
    }
}
