//! Nothing stands on anything else.

use proptest::prelude::*;
use serde_json::{Map, Value, json};

use super::layout::{Area, Place};
use super::{area, arranged};
use crate::budget::Budget;
use crate::plan::{Limits, Plan};
use crate::questions::flow_balance::{FlowBalance, ask};

fn answer(plan: &Value) -> FlowBalance {
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

fn assert_apart(answer: &FlowBalance, area: Area) {
    let Some((_, graph, layout)) = arranged(&answer.figures, area) else {
        assert!(answer.figures.units.iter().all(|(_, unit)| unit.needed == 0.0), "something flows and is not drawn");
        return;
    };
    let inside = |place: &Place| {
        place.left >= area.left - 0.1
            && place.left + place.width <= area.left + area.width + 0.1
            && place.top >= area.top - 0.1
            && place.top + place.height <= area.top + area.height + 0.1
    };
    for (at, a) in layout.places.iter().enumerate() {
        assert!(inside(a), "{:?} at {a:?}", graph.nodes[at]);
        for (other, b) in layout.places.iter().enumerate().skip(at + 1) {
            let apart = a.left + a.width <= b.left
                || b.left + b.width <= a.left
                || a.top + a.height <= b.top
                || b.top + b.height <= a.top;
            assert!(apart, "{:?} and {:?}: {a:?} and {b:?}", graph.nodes[at], graph.nodes[other]);
        }
    }
}

fn chain(length: usize) -> Value {
    let mut units = Map::new();
    for at in 0..length {
        let (before, after) = (format!("stage {at}"), format!("stage {}", at + 1));
        units.insert(
            format!("press {at}"),
            json!({ "takes": { before: 0.3 }, "gives": { after: 0.29, "dust": 0.01 }, "draws": "3 kW" }),
        );
    }
    json!({
        "units": units,
        "supplies": { "raw": { "header": "stage 0" }, "mains": { "header": "power" } },
        "demands": { "yard": { "header": format!("stage {length}"), "rate": 2 } },
        "outlets": { "dust": {} }
    })
}

#[test]
fn chains_of_any_length() {
    for length in [1, 2, 3, 5, 8, 13, 15, 30, 100] {
        assert_apart(&answer(&chain(length)), area(88.0, 428.0));
    }
}

#[test]
fn many_side_by_side() {
    for count in [1, 5, 10, 15, 30, 100] {
        let units: Map<String, Value> = (1..=count)
            .map(|at| {
                let unit = json!({ "count": at, "takes": { "water": 0.1 }, "gives": { "grey water": 0.1 } });
                (format!("washer {at}"), unit)
            })
            .collect();
        let plan = json!({
            "units": units, "supplies": { "well": { "header": "water" } }, "outlets": { "grey water": {} }
        });
        assert_apart(&answer(&plan), area(88.0, 428.0));
    }
}

#[test]
fn bands_are_as_wide_as_their_rates() {
    let answer = answer(&chain(4));
    let (_, graph, layout) = arranged(&answer.figures, area(88.0, 428.0)).expect("a picture");
    for band in &layout.bands {
        let rate = graph.edges[band.edge].rate;
        assert!((band.width - (rate * layout.scale).max(1.5)).abs() < 1e-9);
    }
}

prop_compose! {
    fn network()(
        edges in prop::collection::vec((0_usize..12, 0_usize..12, 1_u32..500, 1_u32..500, 1_u32..9), 1..40),
        fed in prop::collection::vec(0_usize..12, 1..6),
    ) -> Value {
        let mut units = Map::new();
        for (at, (from, to, takes, gives, count)) in edges.into_iter().enumerate() {
            let (takes, gives) = (f64::from(takes) / 1000.0, f64::from(gives) / 1000.0);
            units.insert(format!("unit number {at}"), json!({
                "count": count,
                "takes": { format!("stream {from}"): takes },
                "gives": { format!("stream {to}"): gives },
            }));
        }
        let supplies: Map<String, Value> =
            fed.into_iter().map(|at| (format!("well {at}"), json!({ "header": format!("stream {at}") }))).collect();
        let outlets: Map<String, Value> = (0..12).step_by(2).map(|at| (format!("stream {at}"), json!({}))).collect();
        json!({ "units": units, "supplies": supplies, "outlets": outlets })
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_network(plan in network()) {
        assert_apart(&answer(&plan), area(88.0, 428.0));
    }
}
