//! What programs rely on is not taken from them without a new version.
//!
//! `openapi/surface.txt` lists what the released version promises, a line each: operations, forms, fields with their types. A line
//! may be added at any time, and taken away only with a new version: of 0.x the second number, later the first. The other way
//! round for what a request *must* hold. `UPDATE_SURFACE=1 cargo test --test compatibility` writes it anew where that is allowed; before
//! the first release of a version the file may be deleted first.
#![cfg(feature = "server")]

use std::collections::BTreeSet;
use std::fs;

use hotwell::http::openapi::document;
use serde_json::Value;

const FILE: &str = "openapi/surface.txt";
const METHODS: [&str; 2] = ["get", "post"];

/// The surface of an API description.
#[derive(Default)]
struct Surface {
    lines: BTreeSet<String>,
    seen: BTreeSet<(bool, String)>,
}

impl Surface {
    fn of(document: &Value) -> BTreeSet<String> {
        let mut surface = Self::default();
        for (path, operations) in document["paths"].as_object().expect("paths") {
            for method in METHODS {
                let Some(operation) = operations.get(method) else { continue };
                surface.operation(document, &format!("{} {path}", method.to_uppercase()), operation);
            }
        }
        surface.lines
    }

    fn operation(&mut self, document: &Value, at: &str, operation: &Value) {
        self.lines.insert(format!("operation {at} as {}", operation["operationId"].as_str().expect("a name")));
        for parameter in operation["parameters"].as_array().into_iter().flatten() {
            let parameter = resolved(document, parameter);
            let name = parameter["name"].as_str().expect("a name");
            self.lines.insert(format!("asks {at} {name}: {}", kind(&parameter["schema"])));
            if parameter["required"] == true {
                self.lines.insert(format!("must {at} {name}"));
            }
        }
        for (media, content) in operation["requestBody"]["content"].as_object().into_iter().flatten() {
            self.lines.insert(format!("asks {at} as {media}: {}", kind(&content["schema"])));
            self.schema(document, true, "", &content["schema"]);
        }
        for (status, response) in operation["responses"].as_object().expect("responses") {
            for (media, content) in resolved(document, response)["content"].as_object().into_iter().flatten() {
                // Any path may be told any problem, and all of them are of one form.
                if status.starts_with('2') {
                    self.lines.insert(format!("answers {at} as {media}: {}", kind(&content["schema"])));
                }
                self.schema(document, false, "", &content["schema"]);
            }
        }
    }

    /// The fields below a schema, each named schema once.
    fn schema(&mut self, document: &Value, asked: bool, at: &str, schema: &Value) {
        if let Some(reference) = schema["$ref"].as_str() {
            let name = reference.rsplit('/').next().expect("a name").to_owned();
            if self.seen.insert((asked, name.clone())) {
                self.schema(document, asked, &name, resolved(document, schema));
            }
            return;
        }
        let side = if asked { "asks" } else { "answers" };
        for (name, field) in schema["properties"].as_object().into_iter().flatten() {
            let below = format!("{at}.{name}");
            self.lines.insert(format!("{side} {below}: {}", kind(field)));
            self.schema(document, asked, &below, field);
        }
        for name in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            self.lines.insert(format!("{} {at}.{name}", if asked { "must" } else { "always" }));
        }
        for word in schema["enum"].as_array().into_iter().flatten() {
            self.lines.insert(format!("{side} {at} = {word}"));
        }
        for inner in ["items", "additionalProperties"] {
            if schema[inner].is_object() {
                self.schema(document, asked, &format!("{at}.*"), &schema[inner]);
            }
        }
        for union in ["oneOf", "anyOf", "allOf"] {
            for one in schema[union].as_array().into_iter().flatten() {
                self.schema(document, asked, at, one);
            }
        }
    }
}

fn resolved<'d>(document: &'d Value, value: &'d Value) -> &'d Value {
    match value["$ref"].as_str() {
        Some(reference) => document.pointer(reference.trim_start_matches('#')).expect("a reference that resolves"),
        None => value,
    }
}

/// A type in a few words.
fn kind(schema: &Value) -> String {
    if let Some(reference) = schema["$ref"].as_str() {
        return reference.rsplit('/').next().expect("a name").to_owned();
    }
    for union in ["oneOf", "anyOf", "allOf"] {
        if let Some(variants) = schema[union].as_array() {
            return variants.iter().map(kind).collect::<Vec<_>>().join(" or ");
        }
    }
    let plain = match &schema["type"] {
        Value::String(kind) => kind.clone(),
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" or "),
        _ => "anything".to_owned(),
    };
    match plain.as_str() {
        "array" => format!("list of {}", kind(&schema["items"])),
        "object" if schema["additionalProperties"].is_object() => {
            format!("names of {}", kind(&schema["additionalProperties"]))
        }
        _ => plain,
    }
}

/// What a line is of: an operation, as `GET /v1/plan`, or a schema.
fn owner(line: &str) -> &str {
    let is_operation = METHODS.iter().any(|method| line.starts_with(&method.to_uppercase()));
    let end = if is_operation { line.match_indices(' ').nth(1).map(|(at, _)| at) } else { line.find('.') };
    &line[..end.unwrap_or(line.len())]
}

/// What breaks programs that rely on `released`.
fn broken(released: &BTreeSet<String>, now: &BTreeSet<String>) -> Vec<String> {
    let gone = released.difference(now).filter(|line| !line.starts_with("must ")).map(|line| format!("gone: {line}"));
    // What was there before must now hold more; what is new may ask for what it likes.
    let known: BTreeSet<&str> = released
        .iter()
        .filter_map(|line| line.strip_prefix("asks ").or(line.strip_prefix("operation ")))
        .map(owner)
        .collect();
    let new = now.difference(released).filter_map(|line| line.strip_prefix("must "));
    let wanted = new.filter(|line| known.contains(owner(line)));
    gone.chain(wanted.map(|line| format!("wanted now: {line}"))).collect()
}

/// What a version may break: of 0.x the second number, later the first.
fn promise(version: &str) -> &str {
    let mut dots = version.match_indices('.').map(|(at, _)| at);
    let end = if version.starts_with("0.") { dots.nth(1) } else { dots.next() };
    &version[..end.unwrap_or(version.len())]
}

#[test]
fn nothing_is_taken_from_programs_without_a_new_version() {
    let version = env!("CARGO_PKG_VERSION");
    let now = Surface::of(document());
    let text = fs::read_to_string(FILE).unwrap_or_default();
    let mut lines = text.lines();
    let released_version = lines.next().and_then(|line| line.strip_prefix("version ")).unwrap_or("none").to_owned();
    let released: BTreeSet<String> = lines.map(str::to_owned).collect();
    let broken = if promise(version) == promise(&released_version) { broken(&released, &now) } else { Vec::new() };
    assert!(broken.is_empty(), "programs written for {released_version} would break:\n{}", broken.join("\n"));
    if std::env::var_os("UPDATE_SURFACE").is_some() {
        let lines: Vec<_> = now.iter().map(|line| format!("{line}\n")).collect();
        fs::write(FILE, format!("version {version}\n{}", lines.concat())).expect("written");
    } else {
        assert!(!released.is_empty(), "UPDATE_SURFACE=1 cargo test --test compatibility writes {FILE}");
    }
    assert!(now.len() > 1_000, "{} lines", now.len());
}

#[test]
fn what_breaks_is_found_and_what_is_added_is_not() {
    let document = document();
    let before = Surface::of(document);
    let changed = |change: &dyn Fn(&mut Value)| {
        let mut other = document.clone();
        change(&mut other);
        broken(&before, &Surface::of(&other))
    };
    let schema = |document: &mut Value, name: &str| document["components"]["schemas"][name].take();
    assert_eq!(changed(&|_| {}), Vec::<String>::new());
    assert_eq!(
        changed(&|other| {
            let mut answer = schema(other, "FlowBalance");
            answer["properties"]["extra_kg"] = serde_json::json!({"type": "number"});
            other["components"]["schemas"]["FlowBalance"] = answer;
            other["paths"]["/v1/new"] = other["paths"]["/v1/sums"].clone();
            let sum = other["paths"]["/v1/sums/units-needed"].clone();
            other["paths"]["/v1/sums/units-needed-anew"] = sum;
        }),
        Vec::<String>::new()
    );
    let gone = changed(&|other| {
        other["components"]["schemas"]["FlowBalance"]["properties"].as_object_mut().expect("fields").remove("verdict");
        other["components"]["schemas"]["FlowBalance"]["required"] = serde_json::json!([]);
    });
    assert!(gone.contains(&"gone: answers FlowBalance.verdict: Verdict".to_owned()), "{gone:?}");
    assert!(gone.contains(&"gone: always FlowBalance.verdict".to_owned()), "{gone:?}");
    let wanted = changed(&|other| other["components"]["schemas"]["Plan"]["required"] = serde_json::json!(["title"]));
    assert_eq!(wanted, ["wanted now: Plan.title"]);
    let asked = changed(&|other| {
        let parameters = &mut other["paths"]["/v1/sums/units-needed"]["get"]["parameters"];
        let all = parameters.as_array_mut().expect("parameters");
        all.push(
            serde_json::json!({ "name": "haste", "in": "query", "required": true, "schema": { "type": "number" } }),
        );
    });
    assert_eq!(asked, ["wanted now: GET /v1/sums/units-needed haste"]);
    let renamed = changed(&|other| other["paths"]["/v1/sums"]["get"]["operationId"] = serde_json::json!("sums"));
    assert_eq!(renamed, ["gone: operation GET /v1/sums as listSums"]);
    let path = changed(&|other| drop(other["paths"].as_object_mut().expect("paths").remove("/v1/plan.svg")));
    assert!(path.len() > 3, "{path:?}");
}

#[test]
fn versions_promise_up_to_their_first_number_that_counts() {
    assert_eq!(promise("0.1.7"), "0.1");
    assert_eq!(promise("1.2.3"), "1");
    assert_eq!(promise("none"), "none");
}
