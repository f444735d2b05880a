//! Conservation at every event, scaling, and the shift of the clock.
//!
//! The cases are the same in every run; raise `cases` and change the seed to look further.

use crate::support::works::{Shape, works};
use crate::support::{Rehearsed, rehearse};
use hotwell::rehearsal::What;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Value, json};

fn shape() -> impl Strategy<Value = Shape> {
    (1_usize..5, any::<bool>(), any::<bool>()).prop_map(|(chains, together, powered)| Shape {
        chains,
        together,
        powered,
    })
}

fn until(document: &Value, horizon_s: f64) -> Rehearsed {
    let mut document = document.clone();
    document["horizon"] = json!(horizon_s);
    rehearse(&document)
}

fn near(one: f64, other: f64, size: f64, share: f64) -> bool {
    (one - other).abs() <= share * one.abs().max(other.abs()).max(size)
}

/// Every rate and every amount times `factor`.
fn scaled(document: &Value, factor: f64) -> Value {
    let mut scaled = document.clone();
    let times = |value: &mut Value| {
        if let Some(number) = value.as_f64() {
            *value = json!(number * factor);
        }
    };
    for unit in scaled["units"].as_object_mut().expect("units").values_mut() {
        for side in ["takes", "gives"] {
            unit[side].as_object_mut().expect("flows").values_mut().for_each(times);
        }
        for power in ["draws", "idle_draw"] {
            unit.get_mut(power).into_iter().for_each(times);
        }
    }
    for (section, fields) in [
        ("supplies", &["rate"][..]),
        ("demands", &["rate"]),
        ("stores", &["capacity", "level", "loses"]),
        ("switches", &["start_at", "stop_at"]),
    ] {
        for thing in scaled[section].as_object_mut().expect("a section").values_mut() {
            for field in fields {
                if let Some(value) = thing.get_mut(*field) {
                    times(value);
                }
            }
        }
    }
    scaled
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, rng_seed: RngSeed::Fixed(1), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever comes onto a header goes off it or into its stores, and every store holds what went in, at every event: the
    /// plant is rehearsed anew until each of its events, and `rehearse` holds both.
    #[test]
    fn mass_and_energy_close_at_every_event(seed in any::<u64>(), shape in shape()) {
        let document = works(seed, shape);
        let whole = rehearse(&document);
        for event in whole.rehearsal.events.iter().take(40) {
            if event.at_s > 0.0 {
                let part = until(&document, event.at_s);
                for (store, record) in part.plan.stores.iter().zip(&part.rehearsal.stores) {
                    let within = record.least >= 0.0 && record.greatest <= store.capacity * (1.0 + 1e-12);
                    prop_assert!(within, "{}: {} to {}", store.name, record.least, record.greatest);
                }
            }
        }
        for demand in &whole.rehearsal.demands {
            prop_assert!(demand.served <= demand.wanted * (1.0 + 1e-9));
        }
    }

    /// A plant k times as large does the same at the same times.
    #[test]
    fn size_scales_no_time(seed in any::<u64>(), shape in shape(), power in -8_i32..8) {
        let document = works(seed, shape);
        let factor = 2.0_f64.powi(power);
        let (one, many) = (rehearse(&document).rehearsal, rehearse(&scaled(&document, factor)).rehearsal);
        prop_assert_eq!(one.events.len(), many.events.len());
        for (event, other) in one.events.iter().zip(&many.events) {
            prop_assert_eq!(event.what, other.what);
            prop_assert!(near(event.at_s, other.at_s, 1.0, 1e-9), "{:?} at {} and {}", event.what, event.at_s, other.at_s);
        }
        for (store, other) in one.stores.iter().zip(&many.stores) {
            prop_assert!(near(store.end * factor, other.end, factor, 1e-7), "{} and {}", store.end, other.end);
            prop_assert!(near(store.filled * factor, other.filled, factor, 1e-7));
        }
    }

    /// Beginning anew after a whole common period, with what there is then, is going on.
    #[test]
    fn the_clock_may_be_set_back_by_a_whole_pattern(seed in any::<u64>(), chains in 1_usize..4, powered in any::<bool>()) {
        let document = works(seed, Shape { chains, together: true, powered });
        // 1 to 6 minutes all go into one hour.
        let (first, both) = (until(&document, 3600.0), until(&document, 2.0 * 3600.0));
        let mut later = document.clone();
        let mut levels = serde_json::Map::new();
        for (store, record) in first.plan.stores.iter().zip(&first.rehearsal.stores) {
            levels.insert(store.name.clone(), json!(record.end.clamp(0.0, store.capacity)));
        }
        let mut switches = serde_json::Map::new();
        for (at, switch) in first.plan.switches.iter().enumerate() {
            let record = &first.rehearsal.switches[at];
            switches.insert(switch.name.clone(), json!(record.starts > record.stops));
        }
        later["now"] = json!({ "levels": levels, "switches": switches });
        let second = until(&later, 3600.0);
        for (at, store) in first.plan.stores.iter().enumerate() {
            let (one, other) = (both.rehearsal.stores[at].end, second.rehearsal.stores[at].end);
            prop_assert!(near(one, other, store.capacity, 1e-7), "{}: {one} and {other}", store.name);
        }
        for (at, demand) in first.plan.demands.iter().enumerate() {
            let (one, other) = (
                both.rehearsal.demands[at].served,
                first.rehearsal.demands[at].served + second.rehearsal.demands[at].served,
            );
            prop_assert!(near(one, other, demand.rate, 1e-7), "{}: {one} and {other}", demand.name);
        }
        let starts = |rehearsed: &Rehearsed, at: usize| rehearsed.rehearsal.switches[at].starts;
        for at in 0..first.plan.switches.len() {
            prop_assert_eq!(starts(&both, at), starts(&first, at) + starts(&second, at));
        }
    }

    /// Cycles that are counted are as those that are simulated: ten times the horizon in one go, or listed event by event.
    #[test]
    fn counted_cycles_are_simulated_ones(seed in any::<u64>(), chains in 1_usize..4) {
        let document = works(seed, Shape { chains, together: true, powered: false });
        let whole = until(&document, 36_000.0).rehearsal;
        prop_assume!(whole.event_count < 2_000);
        let starts = whole.events.iter().filter(|event| matches!(event.what, What::Start(_))).count() as u64;
        prop_assert_eq!(starts, whole.switches.iter().map(|switch| switch.starts).sum::<u64>());
        prop_assert_eq!(whole.events.len() as u64, whole.event_count);
        prop_assert!(whole.events.windows(2).all(|pair| pair[0].at_s <= pair[1].at_s));
    }

    /// A grid that gives whatever is asked of it joins nothing, and is as one that gives more than anybody asks.
    #[test]
    fn a_grid_without_a_rate_is_one_with_plenty(seed in any::<u64>(), wanted in any::<bool>()) {
        let mut endless = works(seed, Shape { chains: 1, together: true, powered: true });
        endless["stores"].as_object_mut().expect("stores").remove("bank");
        endless["supplies"]["grid"].as_object_mut().expect("a supply").remove("rate");
        if wanted {
            endless["units"].as_object_mut().expect("units").values_mut().for_each(|pump| pump["when"] = json!("wanted"));
        }
        let mut plenty = endless.clone();
        plenty["supplies"]["grid"]["rate"] = json!(1e6);
        let (one, other) = (rehearse(&endless), rehearse(&plenty));
        let grid = one.plan.supplies.iter().position(|supply| supply.name == "grid").expect("a grid");
        let power = one.plan.power().expect("power").0;
        let (one, other) = (one.rehearsal, other.rehearsal);
        prop_assert!(one.islands.len() > other.islands.len());
        prop_assert_eq!(one.events.len(), other.events.len());
        for (event, beside) in one.events.iter().zip(&other.events) {
            prop_assert_eq!(event.what, beside.what);
            prop_assert!(near(event.at_s, beside.at_s, 1.0, 1e-9), "{:?} at {} and {}", event.what, event.at_s, beside.at_s);
        }
        prop_assert!(one.supplies[grid].drawn > 0.0);
        prop_assert!(near(one.supplies[grid].drawn, other.supplies[grid].drawn, 1.0, 1e-9));
        prop_assert!(near(one.headers[power].supplied, other.headers[power].supplied, 1.0, 1e-9));
        prop_assert!(near(one.headers[power].taken, one.headers[power].supplied, 1.0, 1e-9));
        for (unit, beside) in one.units.iter().zip(&other.units) {
            prop_assert!(near(unit.duty_s, beside.duty_s, 1.0, 1e-9));
            prop_assert_eq!(unit.starts, beside.starts);
        }
    }
}
