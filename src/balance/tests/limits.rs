//! Which limits of a plan stand at what they allow, and whether equals share what is short.

use super::plan;
use crate::balance::model::Setting;
use crate::balance::pass::Pass;
use crate::balance::{HeatPower, Limit, settle, turndown};
use crate::budget::Budget;
use crate::plan::{DemandId, OutletId, Plan, SupplyId, UnitId};
use serde_json::{Value, json};

fn settled(document: &Value) -> (Plan, Pass) {
    let plan = plan(&document.to_string());
    let pass = settle(&plan, &Setting::of(&plan, HeatPower::NONE), &Budget::unhurried()).expect("within the budget").0;
    (plan, pass)
}

#[test]
fn a_limit_is_met_where_it_is_used_up() {
    // Three machines, feed for so much, a line that carries so much, an outlet for half of it.
    let meets = |feed: f64, line: f64, outlet: f64| {
        let (plan, pass) = settled(&json!({
            "units": { "press": { "count": 3, "takes": { "a": 1 }, "gives": { "b": 1, "c": 0.5 } } },
            "headers": { "b": { "line": line, "lines": 1 } },
            "supplies": { "a": { "header": "a", "rate": feed } },
            "demands": { "b": { "header": "b", "rate": 9 } },
            "outlets": { "c": { "limit": outlet } },
        }));
        let lines = Limit::Lines(plan.header_named("b").expect("a header"));
        let limits = [Limit::Supply(SupplyId(0)), Limit::Count(UnitId(0)), lines, Limit::Outlet(OutletId(0))];
        limits.map(|limit| pass.meets(&plan, limit))
    };
    assert_eq!(meets(2.0, 5.0, 4.0), [true, false, false, false]);
    assert_eq!(meets(5.0, 5.0, 4.0), [false, true, false, false]);
    assert_eq!(meets(5.0, 2.0, 4.0), [false, false, true, false]);
    assert_eq!(meets(2.0, 5.0, 1.0), [true, false, false, true]);
    assert_eq!(meets(3.0, 3.0, 1.5), [true; 4]);
}

#[test]
fn a_delivery_is_met_where_it_is_all_that_is_asked_for() {
    let meets = |feed: f64| {
        let (plan, pass) = settled(&json!({
            "supplies": { "a": { "header": "a", "rate": feed }, "b": { "header": "b" } },
            "demands": { "a": { "header": "a", "rate": 2 }, "b": { "header": "b", "rate": 1 } },
            "aim": { "most": { "a": 1 } },
        }));
        let at = plan.demands.iter().position(|demand| demand.name == "a").expect("a demand");
        (pass.meets(&plan, Limit::Demand(DemandId(at))), pass.meets(&plan, Limit::Demand(DemandId(1 - at))))
    };
    assert_eq!(meets(5.0), (true, false));
    assert_eq!(meets(1.0), (false, false));
}

#[test]
fn equals_share_where_two_of_the_rank_that_is_short_or_of_a_later_one_are_asked_for() {
    let shared = |feed: f64, ranks: [u32; 3]| {
        let mut document = json!({ "supplies": {}, "demands": {}, "units": {} });
        for (name, rank) in ["a", "b", "c"].into_iter().zip(ranks) {
            // Each on a header of its own, and all of them from one feed.
            document["units"][name] = json!({ "takes": { "feed": 1 }, "gives": { name: 1 } });
            document["demands"][name] = json!({ "header": name, "rate": 1, "rank": rank });
        }
        document["supplies"]["feed"] = json!({ "header": "feed", "rate": feed });
        turndown::is_shared(&settled(&document).1)
    };
    assert!(!shared(3.0, [1, 1, 1]));
    assert!(shared(2.5, [1, 1, 1]));
    assert!(!shared(2.5, [1, 2, 3]));
    assert!(!shared(2.5, [1, 1, 2]));
    assert!(shared(2.5, [1, 2, 2]));
    assert!(shared(0.5, [1, 2, 2]));
    assert!(shared(0.5, [1, 1, 2]));
}
