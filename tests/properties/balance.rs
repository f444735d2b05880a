//! Conservation and scaling.
//!
//! The cases are the same in every run; raise `cases` and change the seed to look further.

use std::collections::BTreeMap;

use crate::support::plant::{Shape, plant};
use crate::support::{Solved, solve};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Map, Value, json};

/// Every rate of a document that is in kg/s or W, times `factor`.
fn scaled(document: &Value, factor: f64) -> Value {
    let mut scaled = document.clone();
    let times = |value: &mut Value| *value = json!(value.as_f64().expect("a number") * factor);
    for unit in scaled["units"].as_object_mut().expect("units").values_mut() {
        for side in ["takes", "gives"] {
            if let Some(flows) = unit.get_mut(side) {
                flows.as_object_mut().expect("flows").values_mut().for_each(times);
            }
        }
        for power in ["draws", "generates"] {
            if let Some(value) = unit.get_mut(power) {
                times(value);
            }
        }
    }
    for section in ["supplies", "demands"] {
        for thing in scaled[section].as_object_mut().expect("a section").values_mut() {
            if let Some(rate) = thing.get_mut("rate") {
                times(rate);
            }
        }
    }
    scaled
}

/// Every figure of an answer by name.
fn figures(solved: &Solved) -> BTreeMap<String, f64> {
    let mut all = BTreeMap::new();
    let (plan, balance) = (&solved.plan, &solved.balance);
    for (unit, run) in plan.units.iter().zip(&balance.units) {
        all.insert(format!("run {}", unit.name), run.needed);
        all.insert(format!("count {}", unit.name), f64::from(run.count));
    }
    for (header, flow) in plan.headers.iter().zip(&balance.headers) {
        for (what, rate) in [
            ("made", flow.made),
            ("taken", flow.taken),
            ("supplied", flow.supplied),
            ("unserved", flow.unserved),
            ("let out", flow.let_out),
            ("trapped", flow.trapped),
        ] {
            all.insert(format!("{what} {}", header.name), rate);
        }
    }
    for (supply, drawn) in plan.supplies.iter().zip(&balance.drawn) {
        all.insert(format!("drawn {}", supply.name), *drawn);
    }
    for (demand, served) in plan.demands.iter().zip(&balance.served) {
        all.insert(format!("served {}", demand.name), *served);
    }
    all
}

fn by_header(solved: &Solved, of: impl Fn(&hotwell::balance::HeaderFlow) -> f64) -> f64 {
    solved.balance.headers.iter().map(of).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: RngSeed::Fixed(1), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever enters a header leaves it, to 1e-9 of its throughput; and no more is served than asked.
    #[test]
    fn every_header_closes(seed in any::<u64>(), units in 2_usize..120, scarce in any::<bool>()) {
        let solved = solve(&plant(seed, Shape { units, scarce }));
        for (demand, &served) in solved.plan.demands.iter().zip(&solved.balance.served) {
            prop_assert!(served >= 0.0 && served <= demand.rate * (1.0 + 1e-12), "{}: {served}", demand.name);
        }
    }

    /// What rounding leaves is told as nothing, and how far headers are from closing is told as it is.
    #[test]
    fn no_figure_is_what_rounding_leaves(seed in any::<u64>(), units in 10_usize..80, scarce in any::<bool>(), fuel in 0.2..2.0) {
        let mut document = plant(seed, Shape { units, scarce });
        let burnt = solve(&document).drawn("fuel");
        document["supplies"]["fuel"]["rate"] = json!(burnt * fuel);
        let solved = solve(&document);
        let mut worst = 0.0_f64;
        for (header, flow) in solved.plan.headers.iter().zip(&solved.balance.headers) {
            let through = flow.made + flow.supplied + flow.taken + flow.demanded;
            for figure in [flow.made, flow.taken, flow.let_out, flow.unserved, flow.trapped] {
                prop_assert!(figure == 0.0 || figure > 1e-10 * through, "{}: {flow:?}", header.name);
            }
            let (came, went) =
                (flow.made + flow.supplied, flow.taken + flow.served + flow.delivered + flow.let_out + flow.trapped);
            if came.max(went) > 0.0 {
                worst = worst.max((came - went).abs() / came.max(went));
            }
        }
        prop_assert_eq!(worst.to_bits(), solved.balance.imbalance.to_bits(), "{} told", solved.balance.imbalance);
        for (demand, &served) in solved.plan.demands.iter().zip(&solved.balance.served) {
            let missing = demand.rate - served;
            prop_assert!(missing == 0.0 || missing > 1e-9 * demand.rate, "{}: {served} of {}", demand.name, demand.rate);
            prop_assert!(served == 0.0 || served > 1e-10 * demand.rate, "{}: {served} of {}", demand.name, demand.rate);
        }
    }

    /// A plan k times as large runs as many machines, and every flow is k times as large.
    #[test]
    fn flows_scale(seed in any::<u64>(), units in 2_usize..60, scarce in any::<bool>(), power in -12_i32..12) {
        let document = plant(seed, Shape { units, scarce });
        let factor = 2.0_f64.powi(power);
        let (one, many) = (solve(&document), solve(&scaled(&document, factor)));
        let (shortfall, many_shortfall) = (by_header(&one, |flow| flow.unserved), by_header(&many, |flow| flow.unserved));
        prop_assert!((shortfall * factor - many_shortfall).abs() <= 1e-7 * (shortfall * factor).max(factor));
        for (name, figure) in figures(&one) {
            let other = figures(&many)[&name];
            let expected = if name.starts_with("run") || name.starts_with("count") { figure } else { figure * factor };
            prop_assert!((expected - other).abs() <= 1e-6 * expected.abs().max(factor * 1e-3), "{name}: {expected}, {other}");
        }
    }

    /// More of a supply never serves less.
    #[test]
    fn more_supply_never_serves_less(seed in any::<u64>(), units in 2_usize..60) {
        let document = plant(seed, Shape { units, scarce: true });
        let mut more = document.clone();
        let supplies: &mut Map<String, Value> = more["supplies"].as_object_mut().expect("supplies");
        for supply in supplies.values_mut() {
            if let Some(rate) = supply.get_mut("rate") {
                *rate = json!(rate.as_f64().expect("a rate") * 1.5);
            }
        }
        let (less, more) = (solve(&document), solve(&more));
        let first = |solved: &Solved| -> f64 {
            let asked = solved.plan.demands.iter().zip(&solved.balance.served);
            asked.filter(|(demand, _)| demand.rank == 1).map(|(_, served)| served).sum()
        };
        prop_assert!(first(&more) >= first(&less) * (1.0 - 1e-9), "{} then {}", first(&less), first(&more));
    }
}
