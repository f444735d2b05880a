//! The cited rows of `rows.json` and `stores.json`: problem, expected figures with tolerances, published figures with the window within which
//! their rounding lets one agree, and the source of each.

use serde_json::{Map, Value};

/// One cited row.
pub struct Row {
    id: String,
    given: Map<String, Value>,
    expected: Map<String, Value>,
    published: Map<String, Value>,
}

fn object(row: &Value, field: &str) -> Map<String, Value> {
    row[field].as_object().unwrap_or_else(|| panic!("{field} of {}", row["id"])).clone()
}

/// The row of that id.
pub fn row(id: &str) -> Row {
    let read = |text: &str| serde_json::from_str::<Vec<Value>>(text).expect("a list of rows");
    let mut rows = read(include_str!("rows.json"));
    rows.extend(read(include_str!("stores.json")));
    let row = rows.iter().find(|row| row["id"] == id).unwrap_or_else(|| panic!("no row {id}"));
    for part in ["author", "title", "edition", "locator"] {
        assert!(row["source"][part].is_string(), "{id} cites no {part}");
    }
    assert!(row["certainty"].is_string(), "{id} does not say how certain it is");
    Row {
        id: id.to_owned(),
        given: object(row, "given"),
        expected: object(row, "expected"),
        published: object(row, "published"),
    }
}

impl Row {
    /// A number that the problem gives.
    pub fn given(&self, name: &str) -> f64 {
        self.given_value(name).as_f64().unwrap_or_else(|| panic!("{name} of {} is no number", self.id))
    }

    /// Whatever the problem gives.
    pub fn given_value(&self, name: &str) -> &Value {
        self.given.get(name).unwrap_or_else(|| panic!("{} gives no {name}", self.id))
    }

    /// A list of numbers that the problem gives.
    pub fn given_list(&self, name: &str) -> Vec<f64> {
        let list = self.given_value(name).as_array().unwrap_or_else(|| panic!("{name} of {} is no list", self.id));
        list.iter().map(|number| number.as_f64().expect("a number")).collect()
    }

    /// Holds found figures against the row: every expected figure must be among them, and none else.
    pub fn holds(&self, found: &[(&str, f64)]) {
        for (name, expected) in &self.expected {
            let (_, found) =
                found.iter().find(|(given, _)| given == name).unwrap_or_else(|| panic!("{}: no {name}", self.id));
            let value = expected["value"].as_f64().expect("a value");
            let tolerance = expected["tolerance"].as_f64().expect("a tolerance");
            let room = match expected["kind"].as_str() {
                Some("relative") => tolerance * value.abs(),
                Some("absolute") => tolerance,
                kind => panic!("{}: tolerance of kind {kind:?}", self.id),
            };
            assert!((found - value).abs() <= room, "{} {name}: {found}, expected {value} ± {room}", self.id);
            if let Some(published) = self.published.get(name) {
                let (value, window) = (published["value"].as_f64(), published["window"].as_f64());
                let (value, window) = (value.expect("a value"), window.expect("a window"));
                assert!((found - value).abs() <= window, "{} {name}: {found}, published {value} ± {window}", self.id);
            }
        }
        for (name, _) in found {
            assert!(self.expected.contains_key(*name), "{} expects no {name}", self.id);
        }
        for name in self.published.keys() {
            assert!(self.expected.contains_key(name), "{} publishes {name}, which is not expected", self.id);
        }
    }
}

#[test]
#[should_panic(expected = "expected 36")]
fn a_wrong_figure_fails() {
    row("A12").holds(&[("x1_batch", 2.0), ("x2_batch", 6.0), ("Z_thousand_usd", 36.1)]);
}

#[test]
#[should_panic(expected = "no y1_thousand_usd_per_h")]
fn a_missing_figure_fails() {
    row("A12").holds(&[("x1_batch", 2.0), ("x2_batch", 6.0), ("Z_thousand_usd", 36.0)]);
}
