//! Pictures of whole plans: sound, within the sheet, and with what matters in words.

use serde_json::{Value, json};

use super::draw;
use crate::budget::Budget;
use crate::plan::{Limits, Plan};
use crate::questions::whole_plan::WholePlan;

fn picture(document: &Value) -> String {
    let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    draw(&WholePlan::ask(&plan, &Budget::unhurried()).expect("an answer")).finish()
}

fn example(name: &str) -> Value {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).expect("an example")).expect("JSON")
}

/// What is written in it, once each.
fn words(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).expect("XML");
    let texts = document.descendants().filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text().map(str::to_owned)).collect()
}

/// Boxes and where texts stand lie on the sheet.
fn within(svg: &str) {
    let document = roxmltree::Document::parse(svg).expect("XML");
    let high = document.root_element().attribute("height").and_then(|text| text.parse::<f64>().ok()).expect("a height");
    assert!((600.0..=840.0).contains(&high), "{high}");
    for node in document.descendants().filter(|node| node.has_tag_name("rect") && node.attribute("x").is_some()) {
        let number = |name: &str| node.attribute(name).and_then(|text| text.parse::<f64>().ok()).expect("a number");
        let (x, y, wide, tall) = (number("x"), number("y"), number("width"), number("height"));
        assert!(x >= -0.5 && y >= -0.5 && x + wide <= 800.5 && y + tall <= high + 0.5, "{x} {y} {wide} {tall}");
    }
}

#[test]
fn the_station_shows_its_stores_zones_and_rows() {
    let svg = picture(&example("kestrel-deep"));
    within(&svg);
    let words = words(&svg);
    // Every type of machine by itself, none gathered with others, though it takes a higher sheet.
    for unit in example("kestrel-deep")["units"].as_object().expect("units").keys() {
        assert!(words.iter().any(|said| said == unit), "{unit} is not among {words:?}");
    }
    assert!(!words.iter().any(|said| said.starts_with("and ")), "{words:?}");
    for word in ["power", "fuel tank", "bank", "vapour hall", "burner row", "garden row", "16 of 16 cells", "kiln"] {
        assert!(words.iter().any(|said| said == word), "{word} is not among {words:?}");
    }
}

#[test]
fn a_plan_without_matter_shows_its_heat() {
    let svg = picture(&example("cooled-hall"));
    within(&svg);
    assert!(words(&svg).iter().any(|said| said.contains("vent")), "the ledger of the vapour hall");
}

#[test]
fn a_sheet_is_no_higher_than_its_network_asks_for() {
    for name in ["burner-hall", "minimal", "short-supply", "trapped-surplus", "two-absorbers", "cooled-hall"] {
        assert!(picture(&example(name)).contains("height=\"600\""), "{name}");
    }
}

#[test]
fn what_is_missing_and_what_runs_dry_is_said() {
    let svg = picture(&json!({
        "units": { "kiln": { "count": 9, "width": 3, "takes": { "air": 1 } } },
        "supplies": { "air": { "header": "air" } },
        "demands": { "yard": { "header": "water", "rate": 1 } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": 100 } },
        "horizon": 200,
        "floor": { "rows": [{ "name": "lower", "width": 30, "walls": 1, "access": 4, "place": { "kiln": "all" } }] },
    }));
    within(&svg);
    let words = words(&svg);
    for word in ["3 cells missing", "runs dry in 1 min 40 s"] {
        assert!(words.iter().any(|said| said == word), "{word} is not among {words:?}");
    }
}

#[test]
fn a_crowd_is_drawn_as_one_and_an_empty_plan_has_a_picture() {
    let crowd = json!({
        "units": { "bed": { "count": 100_000, "width": 2 } },
        "floor": { "rows": [{ "name": "long", "width": 250_000, "place": { "bed": "all" } }] },
    });
    let svg = picture(&crowd);
    within(&svg);
    assert!(svg.len() < 20_000 && words(&svg).iter().any(|said| said == "100000 × bed"), "{} bytes", svg.len());
    within(&picture(&json!({})));
}
