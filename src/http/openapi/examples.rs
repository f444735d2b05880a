//! The example plans, as they stand in `examples/plans`.

use serde_json::{Map, Value, json};

macro_rules! plans {
    ($($name:literal)*) => {
        &[$(($name, include_str!(concat!("../../../examples/plans/", $name, ".json")))),*]
    };
}

/// Name and text of each example plan.
pub const PLANS: &[(&str, &str)] = plans! {
    "burner-hall" "minimal" "short-supply" "trapped-surplus" "two-absorbers" "three-lines" "net-power" "best-use"
    "sump-and-seep" "battery-bands" "cooled-hall" "kestrel-deep"
};

/// The plans as OpenAPI examples.
pub fn plans() -> Value {
    let mut examples = Map::new();
    for (name, text) in PLANS {
        // The texts are read by a test; one that is no JSON is left out rather than shown broken.
        if let Ok(plan) = serde_json::from_str::<Value>(text) {
            let summary = plan["title"].as_str().unwrap_or(name).to_owned();
            examples.insert((*name).to_owned(), json!({"summary": summary, "value": plan}));
        }
    }
    Value::Object(examples)
}

/// References to them.
pub fn references() -> Value {
    let reference = |name: &str| (name.to_owned(), json!({"$ref": format!("#/components/examples/{name}")}));
    Value::Object(PLANS.iter().map(|(name, _)| reference(name)).collect())
}

macro_rules! inquiries {
    ($($name:ident)*) => {$(
        /// An example of this inquiry, as it stands in `examples/questions`.
        pub fn $name() -> Value {
            example(stringify!($name), include_str!(concat!("../../../examples/questions/", stringify!($name), ".json")))
        }
    )*};
}

inquiries! { compare sweep seek batch }

fn example(name: &str, text: &str) -> Value {
    // Likewise read by a test.
    let document: Value = serde_json::from_str(text).unwrap_or_default();
    let mut examples = Map::new();
    examples.insert(name.to_owned(), json!({"summary": format!("Kestrel Deep: a {name}"), "value": document}));
    Value::Object(examples)
}
