use serde_json::{Value as Json, json};

use super::*;
use crate::plan::{Limits, Plan};

fn components() -> Json {
    let mut schemas: Schemas = vec![("Plan".to_owned(), PlanSchema::schema())];
    PlanSchema::schemas(&mut schemas);
    schemas.into_iter().map(|(name, schema)| (name, serde_json::to_value(schema).unwrap())).collect()
}

/// A value that the schema allows; `choice` picks among the variants of each union.
fn sample(schema: &Json, all: &Json, choice: usize) -> Json {
    if let Some(name) = schema["$ref"].as_str() {
        return sample(&all[name.rsplit_once('/').unwrap().1], all, choice);
    }
    if let Some(variants) = schema["oneOf"].as_array() {
        return sample(&variants[choice % variants.len()], all, choice);
    }
    if let Some(words) = schema["enum"].as_array() {
        return words[choice % words.len()].clone();
    }
    match schema["type"].as_str() {
        Some("object") => {
            if let Some(properties) = schema["properties"].as_object() {
                assert_eq!(schema["additionalProperties"], json!(false));
                return properties.iter().map(|(name, kind)| (name.clone(), sample(kind, all, choice))).collect();
            }
            assert!(schema["maxProperties"].is_u64());
            json!({ "x": sample(&schema["additionalProperties"], all, choice) })
        }
        Some("array") => {
            assert!(schema["minItems"] == json!(1) && schema["maxItems"].is_u64());
            json!([sample(&schema["items"], all, choice)])
        }
        Some("boolean") => json!(true),
        Some("integer") => schema["minimum"].clone(),
        Some("number") => {
            assert!(schema["maximum"].is_number());
            if let Some(examples) = schema["examples"].as_array() {
                return examples[0].clone();
            }
            if schema["exclusiveMinimum"].is_number() { json!(1) } else { schema["minimum"].clone() }
        }
        Some("string") => {
            assert!(schema["minLength"].is_u64() && schema["maxLength"].is_u64());
            schema["examples"].as_array().map_or(json!("x"), |examples| examples[0].clone())
        }
        other => panic!("a schema of type {other:?}: {schema}"),
    }
}

/// Settles what no schema can say: fields of which only one may stand there, and what holds between two of them.
fn settle(document: &mut Json, choice: usize) {
    let without = |thing: &mut Json, fields: &[&str]| {
        for field in fields {
            thing.as_object_mut().unwrap().remove(*field);
        }
    };
    let starts: [&[&str]; 3] =
        [&["elapsed", "now_on", "next_change_in"], &["offset", "now_on", "next_change_in"], &["offset", "elapsed"]];
    // Names that switches and readings mean must be clear.
    for (section, name) in [("supplies", "seep"), ("demands", "garden")] {
        let thing = document[section].as_object_mut().unwrap().remove("x").unwrap();
        document[section][name] = thing;
        let pattern = &mut document[section][name]["pattern"];
        let way = if pattern["steps"].is_array() { choice % 2 } else { choice % 3 };
        without(pattern, starts[way]);
    }
    let mut pattern = document["now"]["patterns"].as_object_mut().unwrap().remove("x").unwrap();
    let has_steps = document["supplies"]["seep"]["pattern"]["steps"].is_array();
    without(&mut pattern, starts[if has_steps { 1 } else { 1 + choice % 2 }]);
    document["now"]["patterns"]["seep"] = pattern;
    document["switches"]["x"]["start_at"] = json!("100 %");
    document["switches"]["x"]["stop_at"] = json!(0);
    // What a pressure goes with.
    document["substances"]["x"]["properties"] = json!("iapws-if97");
    let closed = &mut document["loops"]["x"];
    without(closed, if choice.is_multiple_of(2) { &["flow", "round_trip"] } else { &["least"] });
    closed["keep_free"] = json!(0);
    let even = choice.is_multiple_of(2);
    let wall = &mut document["zones"]["x"]["walls"][0];
    without(wall, if even { &["area", "layers", "surfaces"] } else { &["conductance"] });
    let mut cooler = document["coolers"].as_object_mut().unwrap().remove("x").unwrap();
    without(&mut cooler, if even { &["rejects_to", "duty", "cop"] } else { &["rejects_to", "drop", "flow", "draws"] });
    document["coolers"]["loop"] = cooler;
    let mut source = document["hot_sources"].as_object_mut().unwrap().remove("x").unwrap();
    without(&mut source, if even { &["heat"] } else { &["flow", "substance", "at"] });
    let has_steps = source["pattern"]["steps"].is_array();
    without(&mut source["pattern"], starts[if has_steps { choice % 2 } else { choice % 3 }]);
    document["hot_sources"]["vent"] = source;
    for (section, name) in [("turbines", "expander"), ("thermostats", "eye")] {
        let thing = document[section].as_object_mut().unwrap().remove("x").unwrap();
        document[section][name] = thing;
    }
    document["thermostats"]["eye"]["runs"] = json!(["loop", "vent", "seep"]);
}

#[test]
fn a_document_made_from_the_schema_alone_is_a_plan() {
    let all = components();
    for choice in 0..6 {
        let mut document = sample(&all["Plan"], &all, choice);
        settle(&mut document, choice);
        // Every field of every struct is in it, so a field that the reader did not know would be a fault.
        assert_eq!(document["units"]["x"].as_object().unwrap().len(), 17);
        let read = Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT);
        assert!(read.is_ok(), "{read:?} on {document}");
    }
}

#[test]
fn every_reference_resolves_and_every_component_is_described() {
    let all = components();
    let text = all.to_string();
    for reference in text.split("\"#/components/schemas/").skip(1) {
        let name = reference.split('"').next().unwrap();
        assert!(all[name].is_object(), "{name} is referred to and not there");
    }
    for (name, schema) in all.as_object().unwrap() {
        assert!(schema["description"].as_str().is_some_and(|about| about.len() > 8), "{name}: {schema}");
    }
    for variant in ["RunAim", "MakeAim", "MostAim"] {
        assert_eq!(all[variant]["required"].as_array().unwrap().len(), 1, "{variant} has one tag");
    }
    assert_eq!(all["RunAim"]["properties"]["run"]["minProperties"], json!(1));
}
