//! How much work answers take, in pivots and in balances of a moment: the same on every machine.
//!
//! What is held here is what the engines are built for. A guess that follows the flows leaves the simplex next to nothing to do, and the
//! balance of a state is asked for once, however often the state comes again.

use crate::support::plant::{Random, Shape, plant};
use crate::support::works::works;
use crate::support::{rehearse, solve};
use serde_json::{Map, Value, json};

fn pivots(documents: impl Iterator<Item = Value>) -> u64 {
    documents.map(|document| solve(&document).balance.steps).sum()
}

/// A plant whose aim fixes every flow: chains with by-products, some of which a cleaner has to take; supplies by rank that are not enough
/// alone; and where it `recycles`, part of what a stage gives goes back before it.
fn fixed(seed: u64, recycles: bool) -> Value {
    let mut random = Random::new(seed);
    let (mut units, mut supplies, mut demands, mut outlets) = (Map::new(), Map::new(), Map::new(), Map::new());
    for chain in 0..random.whole(1, 3) {
        let header = |stage: u64| format!("c{chain} h{stage}");
        let stages = random.whole(2, 7);
        for stage in 0..stages {
            let takes = random.tenths(5, 40);
            let mut gives = Map::new();
            gives.insert(header(stage + 1), json!(takes * 0.6));
            if stage > 0 && recycles && random.chance(0.4) {
                gives.insert(header(stage - 1), json!(takes * 0.1));
            }
            if random.chance(0.5) {
                let waste = format!("c{chain} waste{stage}");
                gives.insert(waste.clone(), json!(takes * 0.2));
                if random.chance(0.5) {
                    outlets.insert(waste, json!({}));
                } else {
                    let cake = format!("c{chain} cake{stage}");
                    outlets.insert(cake.clone(), json!({}));
                    let each = random.tenths(3, 9);
                    let cleaner = json!({ "takes": { (waste): each }, "gives": { (cake): each } });
                    units.insert(format!("c{chain} cleaner{stage}"), cleaner);
                }
            }
            let unit = json!({ "takes": { header(stage): takes }, "gives": gives, "draws": random.whole(1, 9) * 100 });
            units.insert(format!("c{chain} u{stage}"), unit);
        }
        let asked = random.tenths(10, 100);
        demands.insert(format!("c{chain} out"), json!({ "header": header(stages), "rate": asked }));
        for rank in 1..=3 {
            let mut supply = json!({ "header": header(0), "rank": rank });
            if rank < 3 {
                supply["rate"] = json!(asked * random.tenths(3, 20));
            }
            supplies.insert(format!("c{chain} in{rank}"), supply);
        }
    }
    units.insert(
        "generator".to_owned(),
        json!({ "takes": { "fuel": 0.1 }, "gives": { "exhaust": 0.1 }, "generates": 7e3 }),
    );
    supplies.insert("fuel".to_owned(), json!({ "header": "fuel" }));
    outlets.insert("exhaust".to_owned(), json!({}));
    json!({ "units": units, "supplies": supplies, "demands": demands, "outlets": outlets })
}

#[test]
fn where_the_aim_fixes_every_flow_nothing_is_searched() {
    let each: Vec<u64> = (0..30).map(|seed| solve(&fixed(seed, false)).balance.steps).collect();
    assert_eq!(each, [0; 30]);
    // Where some comes back the guess takes the first that takes it, which need not be who makes what is asked for.
    let taken = pivots((0..30).map(|seed| fixed(seed, true)));
    assert!(taken <= 335, "{taken} pivots");
}

#[test]
fn random_plants_take_few_pivots() {
    let taken = pivots((0..12).map(|seed| plant(seed, Shape { units: 60, scarce: false })));
    assert!(taken <= 230, "{taken} pivots");
}

#[test]
fn plants_that_are_short_take_few_pivots() {
    let short = (0..8).map(|seed| {
        let mut document = plant(seed, Shape { units: 40, scarce: true });
        document["supplies"]["fuel"]["rate"] = json!(0.5);
        document
    });
    let taken = pivots(short);
    assert!(taken <= 310, "{taken} pivots");
}

#[test]
fn the_balance_of_a_state_is_asked_for_once() {
    for seed in 0..6 {
        let shape = crate::support::works::Shape { chains: 2, together: false, powered: seed % 2 == 0 };
        let mut document = works(seed, shape);
        let mut after = |horizon_s: f64| {
            document["horizon"] = json!(horizon_s);
            let found = rehearse(&document).rehearsal;
            (found.modes, found.simulated)
        };
        let ((few, short), (more, long)) = (after(20_000.0), after(60_000.0));
        assert!(long > 2 * short, "{short} and {long} simulated");
        assert!((1..=32).contains(&few) && more == few, "{few} and {more} balances for {short} and {long} events");
    }
}

#[test]
fn a_cycle_that_is_found_costs_no_more_for_a_longer_horizon() {
    let mut all = 0;
    for seed in 0..8 {
        let shape = crate::support::works::Shape { chains: 2, together: true, powered: false };
        let mut document = works(seed, shape);
        let mut simulated = |horizon_s: f64| {
            document["horizon"] = json!(horizon_s);
            rehearse(&document).rehearsal.simulated
        };
        let (one, ten) = (simulated(3.2e6), simulated(3.2e7));
        // What is left after the last whole cycle differs.
        assert!(ten.abs_diff(one) <= 40, "{one} and {ten} simulated");
        all += one;
    }
    assert!(all <= 2_500, "{all} simulated");
}
