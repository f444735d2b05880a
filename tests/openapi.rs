//! The API description: committed as it is generated, and sound.
#![cfg(feature = "server")]

use std::collections::HashSet;
use std::fs;

use hotwell::http::openapi::{document, document_3_0, document_3_2, print};
use hotwell::plan::inquiry::{Batch, Compare, Question, Seek, Sweep};
use hotwell::plan::{Limits, Plan};
use serde_json::Value;

/// The committed document is the generated one. `UPDATE_OPENAPI=1 cargo test --test openapi` writes it anew.
fn holds(path: &str, generated: &Value) {
    let text = print(generated);
    if std::env::var_os("UPDATE_OPENAPI").is_some() {
        fs::create_dir_all("openapi").unwrap();
        fs::write(path, &text).unwrap();
    }
    let committed = fs::read_to_string(path).unwrap_or_default();
    assert!(committed == text, "{path} is not what the code generates: UPDATE_OPENAPI=1 cargo test --test openapi");
}

#[test]
fn the_committed_documents_are_the_generated_ones() {
    holds("openapi/openapi.json", document());
    holds("openapi/openapi-3.0.json", &document_3_0());
}

fn walk<'a>(value: &'a Value, at: &str, visit: &mut impl FnMut(&str, &'a Value)) {
    visit(at, value);
    match value {
        Value::Object(object) => {
            for (key, inner) in object {
                walk(inner, &format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), visit);
            }
        }
        Value::Array(list) => {
            for (index, inner) in list.iter().enumerate() {
                walk(inner, &format!("{at}/{index}"), visit);
            }
        }
        _ => {}
    }
}

/// Inside an example or a default, which are data; not a field that happens to be called so.
fn is_example(at: &str) -> bool {
    let at = at.replace("/properties/example", "/properties/").replace("/properties/default", "/properties/");
    at.contains("/example") || at.contains("/default")
}

#[test]
fn every_reference_resolves() {
    for document in [document(), &document_3_0()] {
        walk(document, "", &mut |at, value| {
            if let Some(target) = value.get("$ref").and_then(Value::as_str) {
                let pointer = target.strip_prefix('#').unwrap_or_else(|| panic!("{at}: {target} is outside"));
                assert!(document.pointer(pointer).is_some(), "{at}: {target}");
            }
        });
    }
}

#[test]
fn operations_are_named_once() {
    let mut names = HashSet::new();
    walk(document(), "", &mut |at, value| {
        if let Some(name) = value.get("operationId").and_then(Value::as_str) {
            assert!(names.insert(name), "{at}: {name} twice");
        }
    });
    for expected in [
        "flowBalance",
        "flowBalanceText",
        "flowBalancePacked",
        "fillLevel",
        "fillLevelSvg",
        "fillLevelPng",
        "compare",
        "sweepText",
        "seekSvg",
        "batchPacked",
        "sumUnitsNeeded",
        "sumUnitsNeededText",
        "listSums",
    ] {
        assert!(names.contains(expected), "{expected}");
    }
}

#[test]
fn objects_and_unions_are_named_components() {
    walk(document(), "", &mut |at, value| {
        if is_example(at) || !value.is_object() {
            return;
        }
        let named = at.matches('/').count() == 3 && at.starts_with("/components/schemas/");
        let union = value.get("oneOf").or_else(|| value.get("anyOf")).is_some();
        let object = value.get("properties").is_some_and(Value::is_object) && value.get("type").is_some();
        assert!(named || !(union || object), "{at} is neither a name nor refers to one");
    });
}

#[test]
fn numbers_strings_and_lists_have_bounds() {
    walk(document(), "", &mut |at, value| {
        if is_example(at) || at.contains("/required") {
            return;
        }
        let wants: &[&str] = match value.get("type").and_then(Value::as_str) {
            Some("string") if value.get("enum").is_none() && value.get("const").is_none() => &["maxLength"],
            Some("array") => &["maxItems"],
            Some("number" | "integer") => &["maximum"],
            _ => &[],
        };
        for key in wants {
            let exclusive = *key == "maximum" && value.get("exclusiveMaximum").is_some();
            assert!(value.get(*key).is_some() || exclusive, "{at} has no {key}");
        }
    });
}

#[test]
fn its_examples_are_the_example_plans_and_can_be_read() {
    let examples = document().pointer("/components/examples").and_then(Value::as_object).unwrap();
    let files = fs::read_dir("examples/plans").unwrap().count();
    assert_eq!(examples.len(), files);
    for (name, example) in examples {
        let text = fs::read(format!("examples/plans/{name}.json")).unwrap();
        assert_eq!(serde_json::from_slice::<Value>(&text).unwrap(), example["value"]);
        assert!(Plan::from_json(&text, &Limits::default()).is_ok(), "{name}");
    }
}

#[test]
fn it_tells_of_every_question_that_there_is() {
    let paths = document()["paths"].as_object().unwrap();
    for door in hotwell::http::router::QUESTIONS {
        assert!(paths.contains_key(&format!("/v1/{}", door.name)), "{}", door.name);
    }
    let words: Vec<&str> = Question::ALL.iter().map(|question| question.name()).collect();
    assert_eq!(document()["components"]["schemas"]["QuestionName"]["enum"], serde_json::json!(words));
}

#[test]
fn the_examples_of_inquiries_can_be_read() {
    let limits = Limits::default();
    for (name, read) in [
        ("compare", (|text| Compare::from_json(text, &Limits::default()).is_ok()) as fn(&[u8]) -> bool),
        ("sweep", |text| Sweep::from_json(text, &Limits::default()).is_ok()),
        ("seek", |text| Seek::from_json(text, &Limits::default()).is_ok()),
        ("batch", |text| {
            Batch::from_json(text, &Limits::default()).is_ok_and(|batch| batch.items.iter().all(Result::is_ok))
        }),
    ] {
        let text = fs::read(format!("examples/questions/{name}.json")).unwrap();
        assert!(read(&text), "{name}");
        let at = format!("/paths/~1v1~1{name}/post/requestBody/content/application~1json/examples/{name}/value");
        assert_eq!(document().pointer(&at), Some(&serde_json::from_slice(&text).unwrap()));
    }
    assert!(Sweep::from_json(b"{}", &limits).is_err());
}

#[test]
fn it_carries_the_caution() {
    for document in [document(), &document_3_0()] {
        assert!(document["info"]["description"].as_str().unwrap().contains("licensed practice under local codes"));
    }
}

#[test]
fn the_older_document_speaks_its_own_dialect() {
    let older = document_3_0();
    assert_eq!(older["openapi"], "3.0.3");
    walk(&older, "", &mut |at, value| {
        if is_example(at) {
            return;
        }
        assert!(!value.get("type").is_some_and(Value::is_array), "{at}: a list of types");
        assert!(value.get("const").is_none(), "{at}: const");
        assert!(!value.get("exclusiveMinimum").is_some_and(Value::is_number), "{at}: exclusiveMinimum");
        assert!(!value.get("examples").is_some_and(Value::is_array), "{at}: examples");
        assert!(value.get("type") != Some(&Value::from("null")), "{at}: null");
    });
}

#[test]
fn the_newest_form_describes_query() {
    let newest = document_3_2();
    assert_eq!(newest["openapi"], "3.2.0");
    let query = newest.pointer("/paths/~1v1~1flow-balance/query").expect("an operation");
    assert_eq!(query["operationId"], "flowBalanceQuery");
    assert!(query["responses"].get("304").is_some() && query["responses"].get("412").is_none());
    assert!(newest.pointer("/paths/~1v1~1sums/query").is_none(), "nothing to send there");
}
