//! OpenAPI 3.2 from 3.1: it has a word for the method QUERY.

use serde_json::{Value, json};

/// The document in 3.2.0.
pub fn derive(document: &Value) -> Value {
    let mut derived = document.clone();
    derived["openapi"] = json!("3.2.0");
    for path in derived["paths"].as_object_mut().into_iter().flat_map(|paths| paths.values_mut()) {
        let Some(mut query) = path.get("post").cloned() else { continue };
        if let Some(name) = query["operationId"].as_str().map(|name| format!("{name}Query")) {
            query["operationId"] = json!(name);
        }
        // QUERY is safe, so what the client holds already is told by 304 and not by 412.
        if let Some(responses) = query["responses"].as_object_mut() {
            responses.remove("412");
            responses.insert("304".to_owned(), json!({"$ref": "#/components/responses/NotModified"}));
        }
        path["query"] = query;
    }
    derived
}
