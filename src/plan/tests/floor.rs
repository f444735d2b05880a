//! Rows of machines.

use super::*;
use serde_json::{Value, json};

fn base() -> Value {
    json!({
        "units": { "kiln": { "width": 4, "height": 3 }, "pump": { "width": 2 } },
        "floor": { "rows": [
            { "name": "lower", "width": 30, "walls": 1, "access": 2, "gap": 1, "height": 3, "symmetric": true,
              "place": { "kiln": 4, "pump": "all" } },
            { "name": "upper", "width": 9, "place": { "pump": "all" } },
        ] },
    })
}

#[test]
fn rows_are_read() {
    let plan = read(&base().to_string()).unwrap();
    assert_eq!((plan.units[0].height, plan.units[1].height), (3, 1));
    let placing = |unit, placed| Placing { unit: UnitId(unit), placed };
    assert_eq!(
        plan.rows[0],
        FloorRow {
            name: "lower".to_owned(),
            width: 30,
            walls: 1,
            access: 2,
            gap: 1,
            height: Some(3),
            place: vec![placing(0, Placed::Count(4)), placing(1, Placed::All)],
            symmetric: true,
        }
    );
    let upper = &plan.rows[1];
    assert_eq!((upper.walls, upper.access, upper.gap, upper.height, upper.symmetric), (0, 0, 0, None, false));
}

#[test]
fn each_fault_of_a_row_is_told_with_its_pointer() {
    let cases: [(&str, Value, &str); 14] = [
        ("/floor", json!({}), "missing-field /floor/rows"),
        ("/floor/rows", json!([]), "missing-field /floor/rows"),
        ("/floor/rows/0/name", json!("upper"), "duplicate-field /floor/rows/1/name"),
        ("/floor/rows/0/name", json!(" "), "out-of-range /floor/rows/0/name"),
        ("/floor/rows/0/width", json!(0), "out-of-range /floor/rows/0/width"),
        ("/floor/rows/0/width", json!(2.5), "wrong-type /floor/rows/0/width"),
        ("/floor/rows/0/walls", json!(-1), "out-of-range /floor/rows/0/walls"),
        ("/floor/rows/0/access", json!("2 m"), "wrong-type /floor/rows/0/access"),
        ("/floor/rows/0/place", json!({}), "missing-field /floor/rows/0/place"),
        ("/floor/rows/0/place", json!({ "kilm": 1 }), "unknown-name /floor/rows/0/place/kilm"),
        ("/floor/rows/0/place/kiln", json!("al"), "unknown-choice /floor/rows/0/place/kiln"),
        ("/floor/rows/0/place/kiln", json!(-1), "out-of-range /floor/rows/0/place/kiln"),
        ("/floor/rows/0/place/kiln", json!(null), "wrong-type /floor/rows/0/place/kiln"),
        // Told once, though two rows place it.
        ("/units/pump", json!({}), "missing-field /units/pump/width"),
    ];
    for (at, value, expected) in cases {
        let mut document = base();
        *document.pointer_mut(at).unwrap() = value;
        assert_eq!(faults(&document.to_string()), [expected], "{at}");
    }
}

#[test]
fn a_width_that_is_at_fault_is_told_once() {
    let mut document = base();
    document["units"]["pump"]["width"] = json!("wide");
    assert_eq!(faults(&document.to_string()), ["wrong-type /units/pump/width"]);
}
