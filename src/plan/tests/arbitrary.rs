//! Documents at random: whatever they are, they are a plan or have faults.

use proptest::prelude::*;
use serde_json::{Map, Value as Json};

use super::*;

const WORDS: &[&str] = &[
    "title",
    "day",
    "substances",
    "units",
    "headers",
    "supplies",
    "demands",
    "outlets",
    "aim",
    "worth",
    "count",
    "takes",
    "gives",
    "generates",
    "draws",
    "idle_draw",
    "rank",
    "when",
    "turndown",
    "running_cost",
    "width",
    "build",
    "line",
    "lines",
    "header",
    "rate",
    "pattern",
    "on",
    "every",
    "offset",
    "active",
    "dormant",
    "limit",
    "run",
    "make",
    "most",
    "at_least",
    "at_most",
    "stores",
    "switches",
    "loops",
    "horizon",
    "now",
    "capacity",
    "level",
    "low",
    "high",
    "loses",
    "watch",
    "start_at",
    "stop_at",
    "runs",
    "steps",
    "for",
    "share",
    "elapsed",
    "now_on",
    "next_change_in",
    "levels",
    "patterns",
    "coolant",
    "holds",
    "charge",
    "power",
    "water",
    "a/b~c",
    "x",
];

fn leaf() -> impl Strategy<Value = Json> {
    prop_oneof![
        Just(Json::Null),
        any::<bool>().prop_map(Json::from),
        any::<f64>().prop_map(Json::from),
        (0..2000_i32).prop_map(Json::from),
        prop::sample::select(vec![
            "300 g/s", "2 kW", "5 min", "75 %", "fed", "wanted", "power", "water", "1e999 W", ""
        ])
        .prop_map(Json::from),
        "\\PC{0,12}".prop_map(Json::from),
    ]
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![8 => prop::sample::select(WORDS).prop_map(str::to_owned), 1 => any::<String>()]
}

fn json() -> impl Strategy<Value = Json> {
    leaf().prop_recursive(6, 128, 10, |inner| {
        prop_oneof![
            4 => prop::collection::vec((name(), inner.clone()), 0..10)
                .prop_map(|entries| Json::Object(entries.into_iter().collect::<Map<_, _>>())),
            1 => prop::collection::vec(inner, 0..4).prop_map(Json::from),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, ..ProptestConfig::default() })]

    #[test]
    fn any_json_is_a_plan_or_has_faults_that_point_into_it(document in json()) {
        let text = document.to_string();
        match read(&text) {
            Ok(plan) => {
                let rates = plan.units.iter().flat_map(|unit| unit.takes.iter().chain(&unit.gives));
                for flow in rates {
                    prop_assert!(flow.header.0 < plan.headers.len() && flow.rate >= 0.0 && flow.rate <= 1e15);
                }
            }
            Err(ReadError::Faults(faults)) => {
                prop_assert!(faults.total >= 1 && faults.listed.len() == faults.total.min(100));
                for fault in &faults.listed {
                    let At::Pointer(pointer) = &fault.at else { panic!("a document has no parameters") };
                    let parent = pointer.rsplit_once('/').map_or("", |(parent, _)| parent);
                    let place = if fault.code == FaultCode::MissingField { parent } else { pointer };
                    prop_assert!(document.pointer(place).is_some(), "{} points nowhere in {}", pointer, text);
                    prop_assert!(!fault.say().contains(|c: char| c.is_control() && !pointer.contains(c)));
                }
            }
            Err(other) => prop_assert!(false, "{} on {}", other, text),
        }
    }

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = Plan::from_json(&bytes, &Limits::DEFAULT);
    }

    #[test]
    fn any_cut_or_flip_of_a_plan_is_answered(at in 0..HALL.len(), byte: u8, cut: bool) {
        let mut bytes = HALL.as_bytes().to_vec();
        if cut { bytes.truncate(at) } else { bytes[at] = byte }
        let _ = Plan::from_json(&bytes, &Limits::DEFAULT);
    }
}
