//! Published problems and problems of our own, posed as single sums.
//!
//! `cases.json` has each with its source, the sums it is posed as, the figures to expect with their tolerances, and what was
//! published with the window within which its rounding lets one agree. `left` says what a sum does not tell, and why.
//!
//! | case | posed as |
//! |---|---|
//! | B01 pan and water | `sensible-heat`, the pan first |
//! | B02 mixing, B03 ice in soda | `mixing-temperature`, without and with a solid |
//! | B04 ice box | `wall-loss` without surfaces, then `latent-duty` of its heat |
//! | B07 cooling from a reading | `cool-down` in °F |
//! | B09 thermocouple bead | `lumped-sphere`, then `cool-down` |
//! | B10 glazing | `wall-loss`, single and double |
//! | B12 exchanger | `heat-exchanger`: correlation, exact cross flow, counterflow |
//! | B14 Rankine cycle | `steam-cycle` |
//! | B15 Carnot | `carnot-limit` |
//! | B16 verification values of IAPWS-IF97 | `steam-state` |
//! | B18 chiller | `refrigeration-cycle` |
//! | B23 ballast under pulses | `pulsed-heat` |
//! | B25 load levelling | `load-levelling`, the day's load in one of three steps |
//! | C01 wet well | `pump-volume` |
//! | C03, C05 sequent peak | `sequent-peak`, once and over and over |
//! | C07, C08 draining | `gravity-drain` in feet |
//! | C10 time to empty | `time-to-full-or-empty`; amounts of substance as masses, by 86.2 kg/kmol; the gas takes y/(1 − y) of the carrier |
//! | C11 battery | `battery-for-outage`; 200 Ah at 12 V are 2.4 kWh |
//! | C13 stock cycle | `stock-cycle`, one unit as a kilogram |
//! | C14 expansion vessel | `expansion-vessel` |
//!
//! The others of the project's list are no sums: a pump and a battery over time want a rehearsal (C16, C18).

use serde_json::Value;

use super::told;

fn rows() -> Vec<Value> {
    serde_json::from_str(include_str!("cases.json")).expect("cases.json is JSON")
}

fn number(value: &Value, what: &str) -> f64 {
    value[what].as_f64().unwrap_or_else(|| panic!("no {what} in {value}"))
}

/// The figures of a row by the name of what is expected.
fn found(row: &Value) -> Vec<(String, f64)> {
    let mut found = Vec::new();
    for posed in row["posed"].as_array().expect("posed") {
        let (sum, query) = (posed["sum"].as_str().expect("a sum"), posed["query"].as_str().expect("a query"));
        let answer = told(sum, query);
        for (name, figure) in posed["figures"].as_object().expect("figures") {
            let wanted = figure["figure"].as_str().expect("a figure");
            let value = answer.figures.get(wanted).unwrap_or_else(|| panic!("{sum}?{query} has no {wanted}"));
            found.push((name.clone(), value * number(figure, "times") + figure["plus"].as_f64().unwrap_or(0.0)));
        }
    }
    found
}

/// Holds the figures against what is expected and published; every expected figure is found or left with a reason.
fn holds(row: &Value, found: &[(String, f64)]) {
    let id = &row["id"];
    let expected = row["expected"].as_object().expect("expected");
    for (name, expected) in expected {
        if row["left"][name].is_string() {
            continue;
        }
        let (_, figure) = found.iter().find(|(known, _)| known == name).unwrap_or_else(|| panic!("{id}: no {name}"));
        let (value, tolerance) = (number(expected, "value"), number(expected, "tolerance"));
        let room = match expected["kind"].as_str() {
            Some("relative") => tolerance * value.abs(),
            Some("absolute") => tolerance,
            kind => panic!("{id}: tolerance of kind {kind:?}"),
        };
        assert!((figure - value).abs() <= room, "{id} {name}: {figure}, expected {value} ± {room}");
        let published = &row["published"][name];
        if published.is_object() {
            let (value, window) = (number(published, "value"), number(published, "window"));
            assert!((figure - value).abs() <= window, "{id} {name}: {figure}, published {value} ± {window}");
        }
    }
    assert!(found.iter().all(|(name, _)| expected.contains_key(name)), "{id} expects fewer");
}

#[test]
fn cases_come_out_as_cited() {
    let rows = rows();
    assert!(rows.len() >= 9);
    for row in &rows {
        for part in ["author", "title", "edition", "locator"] {
            assert!(row["source"][part].is_string(), "{} cites no {part}", row["id"]);
        }
        assert!(row["certainty"].is_string(), "{} does not say how certain it is", row["id"]);
        holds(row, &found(row));
    }
}

#[test]
#[should_panic(expected = "expected 4500")]
fn a_wrong_figure_fails() {
    let rows = rows();
    let row = rows.iter().find(|row| row["id"] == "C01").expect("C01");
    let mut found = found(row);
    found[0].1 *= 1.000_001;
    holds(row, &found);
}
