//! What the whole plan costs: `cargo bench --no-default-features --bench whole_plan`.
//!
//! The full demo, `examples/plans/kestrel-deep.json`, over its fifty days: all of it from bytes to answer, and its parts. Then
//! the same plan made to fail, so that remedies are tried out; and plans of up to 1,000 types of unit and 100
//! stores.

use std::time::{Duration, Instant};

use hotwell::balance::balance;
use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::answer::Verdict;
use hotwell::questions::whole_plan::WholePlan;
use hotwell::questions::{Detail, Document, Json, fill_level, flow_balance, heat_budget};
use hotwell::rehearsal::{Fleet, rehearse};
use serde_json::{Map, Value, json};

const DEMO: &str = include_str!("../examples/plans/kestrel-deep.json");

fn median(times: usize, mut run: impl FnMut()) -> Duration {
    let mut all: Vec<Duration> = (0..times)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    all.sort();
    all[times / 2]
}

fn read(json: &str) -> Plan {
    Plan::from_json(json.as_bytes(), &Limits::default()).expect("a plan")
}

fn whole(json: &str) -> WholePlan {
    let plan = read(json);
    let document = Document {
        plan: &plan,
        json: Json::Bytes(json.as_bytes()),
        limits: &Limits::default(),
        detail: Detail::Figures,
    };
    WholePlan::ask_of(&document, &Budget::unhurried()).expect("an answer")
}

fn say(what: &str, time: Duration) {
    println!("{what}: {:.2} ms", time.as_secs_f64() * 1e3);
}

/// What the power of [`large`] comes from.
#[derive(Clone, Copy)]
enum Grid {
    /// Nothing draws any: each chain is by itself.
    None,
    /// Whatever is asked of it.
    Endless,
    /// A twentieth less than what is asked of it, so that all chains are cut together.
    Short,
}

/// Chains of a spring, a store, ten types of unit and a use; on one grid or none.
fn large(chains: usize, grid: Grid) -> Value {
    let (mut units, mut supplies, mut demands, mut stores) = (Map::new(), Map::new(), Map::new(), Map::new());
    for chain in 0..chains {
        let header = |stage: usize| format!("stream {chain}.{stage}");
        let pattern = json!({ "on": 1800, "every": 3600 });
        supplies.insert(format!("spring {chain}"), json!({ "header": header(0), "rate": 2.4, "pattern": pattern }));
        stores.insert(format!("tank {chain}"), json!({ "header": header(0), "capacity": 4000, "level": 2500 }));
        for stage in 0..10 {
            let mut unit = json!({ "takes": { (header(stage)): 0.4 }, "gives": { (header(stage + 1)): 0.4 } });
            if !matches!(grid, Grid::None) {
                unit["draws"] = json!(500);
            }
            units.insert(format!("stage {chain}.{stage}"), unit);
        }
        demands.insert(format!("use {chain}"), json!({ "header": header(10), "rate": 1 }));
    }
    match grid {
        Grid::None => {}
        Grid::Endless => drop(supplies.insert("grid".to_owned(), json!({ "header": "power" }))),
        // Ten stages at 2.5 machines of 500 W.
        Grid::Short => {
            let rate = 0.95 * 12_500.0 * chains as f64;
            supplies.insert("grid".to_owned(), json!({ "header": "power", "rate": rate }));
        }
    }
    json!({ "units": units, "supplies": supplies, "demands": demands, "stores": stores, "horizon": 864_000 })
}

fn main() {
    let budget = Budget::unhurried();
    let plan = read(DEMO);
    say("the demo, read and answered", median(31, || drop(whole(DEMO))));
    say("  reading", median(31, || drop(read(DEMO))));
    say("  balance", median(31, || drop(balance(&plan, &budget))));
    say("  flow balance, with its balance", median(31, || drop(flow_balance::ask(&plan, &budget))));
    say("  heat budget, with its balance", median(31, || drop(heat_budget::ask(&plan, &budget))));
    say("  fill level, with its balance", median(31, || drop(fill_level::ask(&plan, &budget))));
    let counts: Vec<u32> = balance(&plan, &budget).expect("a balance").units.iter().map(|unit| unit.count).collect();
    let alone = |plan: &Plan| WholePlan::ask(plan, &budget).expect("an answer");
    say("  all of it but reading", median(31, || drop(alone(&plan))));
    say("  one rehearsal of it", median(31, || drop(rehearse(&plan, Fleet::of(&counts), &budget))));
    let mut failing: Value = serde_json::from_str(DEMO).expect("JSON");
    failing["supplies"]["near seep"]["rate"] = json!(0.002);
    let failing = failing.to_string();
    let tried = whole(&failing);
    assert_eq!(tried.verdict, Verdict::Fails, "{}", tried.say);
    let remedies = tried.findings.iter().filter_map(|finding| finding.told.remedy.as_ref()?.trial.verified).count();
    say(&format!("the demo made to fail, {remedies} remedies tried out"), median(11, || drop(whole(&failing))));
    for (grid, how) in [
        (Grid::None, "each chain by itself"),
        (Grid::Endless, "on one grid"),
        (Grid::Short, "on one grid that is short"),
    ] {
        for chains in [10, 30, 100] {
            let json = large(chains, grid).to_string();
            let time = median(3, || drop(whole(&json)));
            say(&format!("{} types of unit, {chains} stores, {how}", chains * 10), time);
        }
    }
}
