//! What the floor fit finds.

use serde_json::{Value, json};

use super::{Away, Pair};

/// Nine kilns of 3 cells in a row of this width.
fn kilns(count: u32, row: &Value) -> Value {
    json!({
        "units": { "kiln": { "count": count, "width": 3, "height": 2, "takes": { "air": 1 } } },
        "supplies": { "air": { "header": "air" } },
        "floor": { "rows": [ row ] },
    })
}

/// All pairs.
pub fn pairs() -> Vec<Pair> {
    let row =
        |width: u32| json!({ "name": "lower", "width": width, "walls": 1, "access": 4, "place": { "kiln": "all" } });
    let mut low = row(40);
    low["height"] = json!(1);
    let mut halves = row(40);
    halves["symmetric"] = json!(true);
    let mut some = row(40);
    some["place"]["kiln"] = json!(5);
    vec![
        ("row-too-narrow", kilns(9, &row(30)), Away::Number("/floor/rows/0/width", json!(33))),
        ("row-too-low", kilns(9, &low), Away::Number("/floor/rows/0/height", json!(2))),
        ("symmetry-odd", kilns(9, &halves), Away::Number("/units/kiln/count", json!(10))),
        ("not-all-placed", kilns(7, &some), Away::Number("/floor/rows/0/place/kiln", json!(7))),
    ]
}
