//! What the reader makes of inquiries, good and bad.

use serde_json::{Value, json};

use super::{Batch, Better, Compare, Find, Question, Seek, Sweep, Values, Want};
use crate::plan::{At, Faults, Limits, ReadError};

fn told(faults: &Faults) -> Vec<String> {
    let pointer = |at: &At| match at {
        At::Pointer(pointer) => pointer.clone(),
        At::Parameter(name) => panic!("a document has no parameter {name}"),
    };
    faults.listed.iter().map(|fault| format!("{} {}", fault.code.as_str(), pointer(&fault.at))).collect()
}

fn faults<T: std::fmt::Debug>(read: Result<T, ReadError>) -> Vec<String> {
    match read {
        Err(ReadError::Faults(faults)) => told(&faults),
        other => panic!("expected faults, got {other:?}"),
    }
}

fn compare(document: &Value) -> Result<Compare, ReadError> {
    Compare::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)
}

fn sweep(document: &Value) -> Result<Sweep, ReadError> {
    Sweep::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)
}

fn seek(document: &Value) -> Result<Seek, ReadError> {
    Seek::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)
}

fn batch(document: &Value) -> Result<Batch, ReadError> {
    Batch::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)
}

#[test]
fn faults_of_a_plan_lead_into_the_document_that_was_sent() {
    let plan = json!({"unitz": {}, "supplies": {"seep": {"header": "a", "rate": "3 m"}}});
    let inside = ["unknown-field /plan/unitz", "wrong-dimension /plan/supplies/seep/rate"];
    let question = "fill-level";
    let compared = compare(&json!({"plan": plan, "question": question, "variants": {}}));
    assert_eq!(faults(compared), inside);
    let swept = sweep(&json!({"plan": plan, "question": question, "at": "/title", "values": [1]}));
    assert_eq!(faults(swept), inside);
    let items = batch(&json!({"items": [{"plan": plan, "question": question}, {"plan": {}, "question": question}]}));
    let items = items.expect("a batch").items;
    let first = items[0].as_ref().map(|_| ()).map_err(told);
    assert_eq!(first, Err(inside.map(|fault| fault.replace("/plan", "/items/0/plan")).to_vec()));
    assert_eq!(items[1].as_ref().expect("a question").question, Question::FillLevel);
}

#[test]
fn what_an_inquiry_wants_is_told_at_once() {
    assert_eq!(faults(compare(&json!({}))), ["missing-field /plan", "missing-field /variants"]);
    let document = json!({
        "plan": {}, "question": "flow-balence", "variantz": {}, "figures": ["power", {"at": "/power/net_w", "better": "most"}],
        "variants": {"as it is": {}, "one": [], "": {}, "two": {"title": null}}
    });
    assert_eq!(
        faults(compare(&document)),
        [
            "unknown-choice /question",
            "unknown-field /variantz",
            "out-of-range /figures/0",
            "unknown-choice /figures/1/better",
            "contradiction /variants/as it is",
            "wrong-type /variants/one",
            "out-of-range /variants/",
        ]
    );
    let Err(ReadError::Faults(found)) = compare(&document) else { panic!("faults") };
    assert_eq!(found.listed[0].near.as_deref(), Some("flow-balance"));
    assert_eq!(found.listed[1].near.as_deref(), Some("variants"));
}

#[test]
fn names_that_stand_twice_are_told_anywhere() {
    let text =
        r#"{"plan": {}, "question": "fill-level", "variants": {"a": {"units": {"x": {}, "x": {}}}}, "variants": {}}"#;
    let read = Compare::from_json(text.as_bytes(), &Limits::DEFAULT);
    assert_eq!(faults(read), ["duplicate-field /variants/a/units/x", "duplicate-field /variants"]);
}

#[test]
fn a_range_is_of_one_measure() {
    let with = |more: Value| {
        let mut document = json!({"plan": {}, "question": "flow-balance", "at": "/supplies/seep/rate"});
        document.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
        sweep(&document)
    };
    let read = with(json!({"from": "300 g/s", "to": "1 kg/s", "steps": 8})).expect("a sweep");
    let Values::Even(span, 8) = &read.values else { panic!("{:?}", read.values) };
    let values: Vec<Value> = (0..8).map(|index| span.scale.value(span.number(index, 7))).collect();
    assert_eq!(values[0], "300 g/s");
    assert_eq!(values[1], "400 g/s");
    assert_eq!(values[7], "1000 g/s");
    let read = with(json!({"from": "14 °C", "to": "57.2 °F"})).map(|_| ());
    assert!(read.is_ok(), "14 °C and 57.2 °F are one temperature but for rounding: {read:?}");
    for (more, expected) in [
        (json!({"from": "300 g/s", "to": "5 kW"}), "wrong-dimension /to"),
        (json!({"from": "300 g/s", "to": 1}), "wrong-dimension /to"),
        (json!({"from": 1, "to": 1}), "contradiction /to"),
        (json!({"from": 1}), "missing-field /to"),
        (json!({}), "missing-field /values"),
        (json!({"values": [1], "steps": 3}), "contradiction "),
        (json!({"values": []}), "missing-field /values"),
        (json!({"from": 1, "to": 2, "steps": 1}), "out-of-range /steps"),
        (json!({"from": 1, "to": 2, "steps": 2001}), "too-many /steps"),
        (json!({"from": 1, "to": 2, "steps": 2.5}), "wrong-type /steps"),
        (json!({"from": true, "to": 2}), "wrong-type /from"),
        (json!({"values": (0..2001).collect::<Vec<_>>()}), "too-many /values"),
    ] {
        assert_eq!(faults(with(more.clone())), [expected], "{more}");
    }
}

#[test]
fn the_local_day_counts_in_a_range() {
    let document =
        json!({"plan": {"day": "1 h"}, "question": "fill-level", "at": "/horizon", "from": "1 day", "to": "3 h"});
    let Values::Even(span, _) = sweep(&document).expect("a sweep").values else { panic!("a range") };
    assert!((span.to - 3.0).abs() < 1e-12, "{span:?}");
}

#[test]
fn a_search_is_read_with_its_condition() {
    let with = |more: Value| {
        let mut document = json!({
            "plan": {}, "question": "heat-budget", "at": "/coolers/loop/set_point", "from": "4 °C", "to": "14 °C",
            "want": {"figure": "/zones/hall/settles_at_c", "at_most": "300 K"}, "find": "largest"
        });
        document.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
        seek(&document)
    };
    let read = with(json!({"tolerance": "0.1 K", "samples": 5})).expect("a search");
    assert_eq!((read.find, read.samples), (Find::Largest, 5));
    assert!((read.tolerance - 0.1).abs() < 1e-12);
    let Want::Figure { at_least: None, at_most: Some(most), .. } = read.want else { panic!("{:?}", read.want) };
    assert!((most - 26.85).abs() < 1e-9, "figures of temperature are told in °C: {most}");
    let unsaid = with(json!({})).expect("a search").tolerance;
    assert!((unsaid - 1e-5).abs() < 1e-12, "a millionth of the range: {unsaid}");
    for (more, expected) in [
        (json!({"from": "20 °C"}), "contradiction /to"),
        (json!({"tolerance": "1 kg"}), "wrong-dimension /tolerance"),
        (json!({"tolerance": 0}), "out-of-range /tolerance"),
        (json!({"want": {"verdict": "fails"}}), "unknown-choice /want/verdict"),
        (json!({"want": {}}), "missing-field /want"),
        (json!({"want": {"verdict": "holds", "absent": "x"}}), "contradiction /want"),
        (json!({"want": {"figure": "/a"}}), "missing-field /want/at_least"),
        (json!({"want": {"figure": "/a", "at_least": 2, "at_most": 1}}), "contradiction /want"),
        (json!({"want": {"figure": "a", "at_least": 2}}), "out-of-range /want/figure"),
        (json!({"find": "best"}), "unknown-choice /find"),
        (json!({"at": ""}), "out-of-range /at"),
        (json!({"at": "/a~"}), "out-of-range /at"),
        (json!({"at": 7}), "wrong-type /at"),
    ] {
        assert_eq!(faults(with(more.clone())), [expected], "{more}");
    }
}

#[test]
fn limits_are_told_by_what_passes_them() {
    let limits = Limits { variants: 1, values: 3, figures: 1, items: 2, ..Limits::DEFAULT };
    let question = "flow-balance";
    let document = json!({"plan": {}, "question": question, "variants": {"a": {}, "b": {}}}).to_string();
    assert_eq!(faults(Compare::from_json(document.as_bytes(), &limits)), ["too-many /variants"]);
    let document = json!({"plan": {}, "question": question, "at": "/horizon", "values": [1, 2, 3, 4]}).to_string();
    assert_eq!(faults(Sweep::from_json(document.as_bytes(), &limits)), ["too-many /values"]);
    let read = json!(["/verdict", "/say"]);
    let document = json!({"plan": {}, "question": question, "at": "/horizon", "values": [1], "read": read}).to_string();
    assert_eq!(faults(Sweep::from_json(document.as_bytes(), &limits)), ["too-many /read"]);
    let document = json!({"items": [{}, {}, {}]}).to_string();
    assert_eq!(faults(Batch::from_json(document.as_bytes(), &limits)), ["too-many /items"]);
    assert_eq!(faults(Batch::from_json(b"[]", &limits)), ["wrong-type "]);
    assert_eq!(faults(Batch::from_json(b"{\"item\": 1}", &limits)), ["missing-field /items", "unknown-field /item"]);
}

#[test]
fn all_of_it_is_asked_unless_something_else_is_said() {
    let read = compare(&json!({"plan": {}, "variants": {}})).expect("a comparison");
    assert_eq!(read.question, Question::WholePlan);
}

#[test]
fn figures_may_say_which_way_they_are_better() {
    let figures = json!(["/power/net_w", {"at": "/units/kiln/count", "better": "less"}]);
    let document = json!({"plan": {}, "question": "flow-balance", "variants": {"a": {}}, "figures": figures});
    let figures = compare(&document).expect("a comparison").figures.expect("figures");
    let told: Vec<_> = figures.iter().map(|figure| (figure.at.as_str(), figure.better)).collect();
    assert_eq!(told, [("/power/net_w", None), ("/units/kiln/count", Some(Better::Less))]);
}
