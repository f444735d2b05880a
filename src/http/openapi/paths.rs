//! Every path with its operations.

use super::examples::PLANS;
use super::questions::{self, Asked};
use crate::sums::{self, Kind, Parameter, Sum};
use serde_json::{Map, Value, json};

/// Statuses of problems with the name of their response.
pub const PROBLEMS: &[(u16, &str)] = &[
    (400, "BadRequest"),
    (404, "NotFound"),
    (405, "MethodNotAllowed"),
    (406, "NotAcceptable"),
    (408, "SlowBody"),
    (412, "PreconditionFailed"),
    (413, "TooLarge"),
    (414, "UriTooLong"),
    (415, "UnsupportedMediaType"),
    (422, "Unreadable"),
    (429, "TooManyRequests"),
    (431, "HeadersTooLarge"),
    (500, "Internal"),
    (503, "Unavailable"),
];

/// A form of an answer: suffix of the path, of the operation's name, media type.
struct Suffix {
    path: &'static str,
    name: &'static str,
    says: &'static str,
}

impl Suffix {
    /// Whether what it gives is a picture, or one where `Accept` says so.
    fn may_be_a_picture(&self) -> bool {
        ["", ".svg", ".png"].contains(&self.path)
    }
}

const SUFFIXES: &[Suffix] = &[
    Suffix { path: "", name: "", says: "" },
    Suffix { path: ".json", name: "Json", says: ", as JSON" },
    Suffix { path: ".txt", name: "Text", says: ", as one line" },
    Suffix { path: ".svg", name: "Svg", says: ", as a picture" },
    Suffix { path: ".png", name: "Png", says: ", as a picture in pixels" },
];

/// The `paths` object.
pub fn all() -> Value {
    let mut paths = Map::new();
    for asked in questions::all() {
        question(&mut paths, &asked);
    }
    let list = json!({"$ref": "#/components/schemas/SumList"});
    for suffix in SUFFIXES.iter().filter(|suffix| ![".svg", ".png"].contains(&suffix.path)) {
        let mut content = content(suffix, &list);
        if let Some(content) = content.as_object_mut() {
            content.remove("image/svg+xml");
            content.remove("image/png");
        }
        let get = json!({
            "operationId": format!("listSums{}", suffix.name), "tags": ["sums"],
            "summary": format!("List the sums{}", suffix.says),
            "description": "Every single sum with its parameters, formula and an example.",
            "parameters": [{"$ref": "#/components/parameters/ifNoneMatch"}],
            "responses": with_problems(json!({"200": {"description": "The sums.", "headers": tagged(), "content": content},
                "304": {"$ref": "#/components/responses/NotModified"}}), &[405, 406, 500]),
        });
        paths.insert(format!("/v1/sums{}", suffix.path), json!({"get": get}));
    }
    for sum in sums::registry() {
        one_sum(&mut paths, sum);
    }
    service(&mut paths);
    Value::Object(paths)
}

fn question(paths: &mut Map<String, Value>, asked: &Asked) {
    let Asked { name: path, title, says, schema, document, examples, .. } = asked;
    // A question is asked of a plan, or of a document that holds one.
    let what = if document == "Plan" { "plan" } else { "document" };
    let name = operation(path);
    let schema = json!({"$ref": format!("#/components/schemas/{schema}")});
    for suffix in SUFFIXES {
        let ok = json!({"description": "The answer. A plan that turns out badly is answered too: `verdict` says so.",
            "headers": tagged(), "content": content(suffix, &schema)});
        let picture = suffix.may_be_a_picture().then(|| json!({"$ref": "#/components/parameters/picture"}));
        let mut post = json!({
            "operationId": format!("{name}{}", suffix.name), "tags": ["questions"],
            "summary": format!("{title}{}", suffix.says), "description": says,
            "requestBody": {"required": true, "description": format!("The {what}."),
                "content": {"application/json": {"schema": {"$ref": format!("#/components/schemas/{document}")},
                    "examples": examples()}}},
            "responses": with_problems(json!({"200": ok}), &[400, 405, 406, 408, 412, 413, 415, 422, 500, 503]),
        });
        if let Some(picture) = &picture {
            post["parameters"] = json!([picture]);
        }
        let packed = ["packed", "ifNoneMatch"].map(|name| json!({"$ref": format!("#/components/parameters/{name}")}));
        let parameters: Vec<Value> = packed.into_iter().chain(picture).collect();
        let get = json!({
            "operationId": format!("{name}{}Packed", suffix.name), "tags": ["questions"],
            "summary": format!("{title} of a packed {what}{}", suffix.says), "description": says,
            "parameters": parameters,
            "responses": with_problems(json!({"200": ok, "304": {"$ref": "#/components/responses/NotModified"}}),
                &[400, 405, 406, 413, 422, 500, 503]),
        });
        paths.insert(format!("/v1/{path}{}", suffix.path), json!({"post": post, "get": get}));
    }
}

fn one_sum(paths: &mut Map<String, Value>, sum: &Sum) {
    let schema = json!({"$ref": "#/components/schemas/SumAnswer"});
    let mut parameters: Vec<Value> = sum.parameters.iter().map(parameter).collect();
    parameters.push(json!({"$ref": "#/components/parameters/ifNoneMatch"}));
    for suffix in SUFFIXES {
        let picture = suffix.may_be_a_picture().then(|| json!({"$ref": "#/components/parameters/picture"}));
        let parameters: Vec<Value> = parameters.iter().cloned().chain(picture).collect();
        let ok = json!({"description": "The answer.", "headers": tagged(), "content": content(suffix, &schema)});
        let get = json!({
            "operationId": format!("sum{}{}", camel(sum.name), suffix.name), "tags": ["sums"],
            "summary": format!("{}{}", sum.title, suffix.says),
            "description": format!("{}\n\nFormula: {}\n\nExample: `/v1/sums/{}{}?{}`",
                sum.says, sum.formula, sum.name, suffix.path, sum.example),
            "parameters": parameters,
            "responses": with_problems(json!({"200": ok, "304": {"$ref": "#/components/responses/NotModified"}}),
                &[405, 406, 422, 500, 503]),
        });
        paths.insert(format!("/v1/sums/{}{}", sum.name, suffix.path), json!({"get": get}));
    }
}

fn parameter(parameter: &Parameter) -> Value {
    let schema = match parameter.kind {
        Kind::Flag => json!({"type": "string", "enum": ["yes", "no"]}),
        Kind::Choice => json!({"type": "string", "enum": parameter.choices}),
        _ if parameter.many => json!({"type": "string", "minLength": 1, "maxLength": Parameter::LONGEST_LIST}),
        _ => json!({"type": "string", "minLength": 1, "maxLength": 64}),
    };
    let unit = parameter.kind.unit().map_or(String::new(), |unit| format!(" A bare number is in {unit}."));
    let default = parameter.default.map_or(String::new(), |default| format!(" Left out, it is {default}."));
    json!({"name": parameter.name, "in": "query", "required": parameter.required, "schema": schema,
        "example": parameter.example, "description": format!("{}.{unit}{default}", parameter.says.trim_end_matches('.'))})
}

fn service(paths: &mut Map<String, Value>) {
    let plain = |operation: &str, summary: &str, media: &str, statuses: &[u16]| {
        json!({"get": {"operationId": operation, "tags": ["service"], "summary": summary, "description": summary,
            "responses": with_problems(json!({"200": {"description": summary, "content":
                {media: {"schema": {"type": "string", "maxLength": 4_000_000}}}}}), statuses)}})
    };
    let mut home =
        plain("home", "The page for people; for who does not read pages, where to look.", "text/html", &[405, 500]);
    home["get"]["responses"]["200"]["content"]["text/plain"] =
        json!({"schema": {"type": "string", "maxLength": 4_000_000}});
    home["get"]["responses"]["304"] = json!({"$ref": "#/components/responses/NotModified"});
    paths.insert("/".to_owned(), home);
    paths.insert(
        "/examples".to_owned(),
        plain_json("listExamples", "The example plans: name, title and link of each.", json!([]), &[405, 500]),
    );
    let name = json!([{"name": "example", "in": "path", "required": true, "description": "The name of an example plan.",
        "schema": {"type": "string", "enum": PLANS.iter().map(|(name, _)| *name).collect::<Vec<_>>()}}]);
    paths.insert(
        "/examples/{example}.json".to_owned(),
        plain_json("example", "One example plan.", name, &[404, 405, 500]),
    );
    paths.insert("/docs".to_owned(), plain("docs", "This description as pages.", "text/html", &[405, 500]));
    paths.insert("/healthz".to_owned(), plain("health", "Whether the process lives.", "text/plain", &[405, 500]));
    paths.insert("/readyz".to_owned(), plain("ready", "Whether it takes traffic.", "text/plain", &[405, 500, 503]));
    let metrics = plain("metrics", "Figures for Prometheus.", "application/openmetrics-text", &[405, 500]);
    paths.insert("/metrics".to_owned(), metrics);
    for (path, operation, version) in [
        ("/openapi.json", "openapi", "3.1"),
        ("/openapi-3.0.json", "openapi30", "3.0.3"),
        ("/openapi-3.2.json", "openapi32", "3.2.0"),
    ] {
        let summary = format!("This description as OpenAPI {version}.");
        paths.insert(
            path.to_owned(),
            json!({"get": {"operationId": operation, "tags": ["service"], "summary": summary,
            "description": summary, "responses": with_problems(json!({"200": {"description": "The document.",
                "content": {"application/json": {"schema": {"type": "object", "additionalProperties": true}}}}}),
                &[405, 500])}}),
        );
    }
}

/// A path that gives JSON of no further schema.
fn plain_json(operation: &str, summary: &str, parameters: Value, statuses: &[u16]) -> Value {
    let mut get = json!({"operationId": operation, "tags": ["service"], "summary": summary, "description": summary,
        "responses": with_problems(json!({"200": {"description": summary,
            "content": {"application/json": {"schema": {"type": "object", "additionalProperties": true}}}}}), statuses)});
    if parameters.as_array().is_some_and(|listed| !listed.is_empty()) {
        get["parameters"] = parameters;
    }
    json!({ "get": get })
}

/// The contents of an answer in the forms that a path gives.
fn content(suffix: &Suffix, schema: &Value) -> Value {
    let json_form = json!({"schema": schema});
    let line = json!({"schema": {"$ref": "#/components/schemas/Line"}});
    let picture = json!({"schema": {"$ref": "#/components/schemas/Picture"}});
    let pixels = json!({"schema": {"$ref": "#/components/schemas/PictureInPixels"}});
    match suffix.path {
        ".json" => json!({"application/json": json_form}),
        ".txt" => json!({"text/plain": line}),
        ".svg" => json!({"image/svg+xml": picture}),
        ".png" => json!({"image/png": pixels}),
        _ => json!({"application/json": json_form, "text/plain": line, "image/svg+xml": picture, "image/png": pixels}),
    }
}

fn tagged() -> Value {
    json!({"ETag": {"$ref": "#/components/headers/ETag"}, "X-Request-Id": {"$ref": "#/components/headers/RequestId"}})
}

/// What any request may be told, whatever it asks for.
const ANYWHERE: [u16; 3] = [414, 429, 431];

fn with_problems(mut responses: Value, statuses: &[u16]) -> Value {
    for &(status, name) in PROBLEMS {
        if statuses.contains(&status) || ANYWHERE.contains(&status) {
            responses[status.to_string()] = json!({"$ref": format!("#/components/responses/{name}")});
        }
    }
    responses
}

/// `flow-balance` as `flowBalance`.
fn operation(name: &str) -> String {
    let mut letters = camel(name);
    if let Some(first) = letters.get_mut(..1) {
        first.make_ascii_lowercase();
    }
    letters
}

/// `units-needed` as `UnitsNeeded`.
fn camel(name: &str) -> String {
    name.split('-')
        .map(|word| {
            let mut letters = word.chars();
            letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
        })
        .collect()
}
