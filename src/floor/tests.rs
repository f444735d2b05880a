//! Rows by hand.

use super::{Fit, fit};
use crate::plan::{Limits, Plan};
use serde_json::{Value, json};

fn read(units: &Value, rows: &Value) -> Plan {
    let document = json!({ "units": units, "floor": { "rows": rows } });
    Plan::from_json(document.to_string().as_bytes(), &Limits::default()).expect("a plan")
}

fn fitted(units: &Value, rows: &Value) -> Fit {
    let plan = read(units, rows);
    let counts: Vec<u32> = plan
        .units
        .iter()
        .map(|unit| match unit.count {
            crate::plan::Count::Fixed(count) => count,
            crate::plan::Count::Sized { .. } => 0,
        })
        .collect();
    fit(&plan, &counts)
}

/// Every cell of a row, by the unit that stands there: what no machine has is a dot.
fn drawn(fit: &Fit, row: usize, width: usize) -> String {
    let mut cells = vec!['.'; width];
    for run in &fit.rows[row].runs {
        for machine in 0..run.count {
            for cell in 0..run.each {
                let at = usize::try_from(run.at + machine * run.pitch + cell).expect("within the row");
                assert_eq!(cells[at], '.', "two machines on cell {at}");
                cells[at] = char::from(b'a' + u8::try_from(run.unit.0).expect("few units"));
            }
        }
    }
    cells.into_iter().collect()
}

#[test]
fn nine_needed_eight_fit() {
    // 2 · 1 wall + 4 access + 8 · 3 = 30; a ninth needs 33.
    let row = json!([{ "name": "lower", "width": 30, "walls": 1, "access": 4, "place": { "a": "all" } }]);
    let fit = fitted(&json!({ "a": { "count": 9, "width": 3 } }), &row);
    let lower = &fit.rows[0];
    assert_eq!((lower.needed, lower.used, lower.missing), (33, 30, 3));
    let kind = lower.kinds[0];
    assert_eq!((kind.wanted, kind.placed, kind.fits, kind.homeless, kind.wider), (9, 8, 8, 1, 3));
    assert_eq!(drawn(&fit, 0, 30), ".aaaaaaaaaaaaaaaaaaaaaaaa.....");
    assert_eq!(lower.access_at, 25);
    let wide = json!([{ "name": "lower", "width": 33, "walls": 1, "access": 4, "place": { "a": "all" } }]);
    let fit = fitted(&json!({ "a": { "count": 9, "width": 3 } }), &wide);
    assert_eq!((fit.rows[0].missing, fit.rows[0].kinds[0].homeless), (0, 0));
}

#[test]
fn what_does_not_fit_goes_on_to_the_next_row_that_places_it() {
    let units = json!({ "a": { "count": 7, "width": 4 }, "b": { "count": 2, "width": 5 } });
    let rows = json!([
        { "name": "one", "width": 14, "place": { "a": "all", "b": 1 } },
        { "name": "two", "width": 9, "place": { "b": 1 } },
        { "name": "three", "width": 20, "place": { "a": "all" } },
    ]);
    let fit = fitted(&units, &rows);
    // The widest first: 5 + 4 + 4 = 13 of 14; five of a go on past the row that does not place them.
    assert_eq!(drawn(&fit, 0, 14), "bbbbbaaaaaaaa.");
    assert_eq!(fit.rows[0].needed, 5 + 7 * 4);
    assert_eq!(fit.rows[0].missing, 0);
    assert_eq!(fit.rows[1].kinds[0].fits, 1);
    assert_eq!(fit.rows[2].kinds[0].wanted, 5);
    assert_eq!((fit.rows[2].kinds[0].placed, fit.rows[2].missing), (5, 0));
    assert_eq!(fit.unasked, [0, 0]);
}

#[test]
fn machines_that_no_row_is_asked_to_place_are_counted() {
    let units = json!({ "a": { "count": 7, "width": 1 }, "b": { "count": 2, "width": 1 } });
    let fit = fitted(&units, &json!([{ "name": "one", "width": 9, "place": { "a": 5 } }]));
    assert_eq!(fit.unasked, [2, 0]);
}

#[test]
fn halves_mirror_each_other() {
    let units = json!({ "a": { "count": 4, "width": 3 }, "b": { "count": 2, "width": 2 } });
    let row = |width: u32, access: u32| {
        json!([{ "name": "one", "width": width, "walls": 1, "access": access, "symmetric": true,
                 "place": { "a": "all", "b": "all" } }])
    };
    let fit = fitted(&units, &row(20, 2));
    let line = drawn(&fit, 0, 20);
    assert_eq!(line, ".aaaaaabb..bbaaaaaa.");
    assert_eq!(line.chars().rev().collect::<String>(), line);
    assert_eq!((fit.rows[0].access_at, fit.rows[0].mirrors), (9, Some(true)));
    // With one odd count and no access, one stands in the middle.
    let odd = json!({ "a": { "count": 3, "width": 3 }, "b": { "count": 2, "width": 2 } });
    let fit = fitted(&odd, &row(15, 0));
    assert_eq!((drawn(&fit, 0, 15).as_str(), fit.rows[0].missing), (".aaabbaaabbaaa.", 0));
    assert_eq!(fit.rows[0].mirrors, Some(true));
    // With an access in the middle its mirror place stays empty: 2 + 2 + 4 · 3 + 2 · 2 = 20.
    let fit = fitted(&odd, &row(20, 2));
    assert_eq!(drawn(&fit, 0, 20), ".aaaaaabb..bb...aaa.");
    assert_eq!((fit.rows[0].mirrors, fit.rows[0].needed), (Some(false), 20));
    // The widest take 2 + 2 + 12 of 19, and 3 cells are no pair of 2.
    let fit = fitted(&odd, &row(19, 2));
    assert_eq!((fit.rows[0].kinds[0].homeless, fit.rows[0].kinds[1].homeless, fit.rows[0].missing), (0, 2, 1));
}

#[test]
fn what_is_too_tall_fits_nowhere() {
    let units = json!({ "a": { "count": 1, "width": 3, "height": 4 } });
    let row = |height: u32| json!([{ "name": "one", "width": 9, "height": height, "place": { "a": "all" } }]);
    let low = fitted(&units, &row(3));
    assert!(low.rows[0].kinds[0].too_tall);
    assert_eq!((low.rows[0].kinds[0].homeless, low.rows[0].missing), (1, 0));
    assert_eq!(fitted(&units, &row(4)).rows[0].kinds[0].placed, 1);
}

#[test]
fn gaps_stand_between_machines_of_any_kind() {
    let units = json!({ "a": { "count": 2, "width": 3 }, "b": { "count": 2, "width": 2 } });
    let row = |width: u32| json!([{ "name": "one", "width": width, "gap": 1, "place": { "a": "all", "b": "all" } }]);
    // 3 + 1 + 3 + 1 + 2 + 1 + 2 = 13.
    assert_eq!(drawn(&fitted(&units, &row(13)), 0, 13), "aaa.aaa.bb.bb");
    assert_eq!(fitted(&units, &row(12)).rows[0].missing, 1);
}

#[test]
fn the_order_of_names_decides_nothing() {
    let rows = |place: Value| json!([{ "name": "one", "width": 10, "place": place }]);
    let units = json!({ "a": { "count": 2, "width": 3 }, "b": { "count": 2, "width": 3 } });
    let one = fitted(&units, &rows(json!({ "a": "all", "b": "all" })));
    let other = fitted(&units, &rows(json!({ "b": "all", "a": "all" })));
    assert_eq!(one.rows[0].runs, other.rows[0].runs);
}
