//! Supplies without a rate: what takes from several of them, what stands on their headers, and which of them is drawn on.

use super::super::system::{Flow, Source, System};
use super::{Value, json, near, rehearsed};
use crate::plan::{Limits, Plan};
use crate::rehearsal::Fleet;

fn system(document: &Value) -> (Plan, System) {
    let plan =
        Plan::from_json(document.to_string().as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error}"));
    let system = System::new(&plan, Fleet::of(&[1]));
    (plan, system)
}

/// Headers by name, with a rate each.
type Rates = Vec<(String, f64)>;

/// The machine, by the names of headers: what it stands on, and what it takes off them.
fn machine(document: &Value) -> (Rates, Rates) {
    let (plan, system) = system(document);
    let is_run = |flow: &&Flow| matches!(flow.what, Source::Run(_));
    let flow = system.flows.iter().find(is_run).expect("it runs");
    let name = |header: usize| plan.headers[header].name.clone();
    let on = flow.on.iter().map(|&(header, rate)| (name(header), rate)).collect();
    (on, flow.endless.iter().map(|endless| (name(endless.header), endless.takes)).collect())
}

fn named(rates: &[(&str, f64)]) -> Rates {
    rates.iter().map(|&(name, rate)| (name.to_owned(), rate)).collect()
}

#[test]
fn what_takes_from_endless_headers_alone_stays_on_the_last_of_them() {
    let taps = json!({ "a": { "header": "a" }, "b": { "header": "b" }, "c": { "header": "c" } });
    let (on, endless) =
        machine(&json!({ "units": { "mill": { "count": 1, "takes": { "a": 1, "b": 2, "c": 3 } } }, "supplies": taps }));
    assert_eq!(on, named(&[("c", -3.0)]));
    assert_eq!(endless, named(&[("a", 1.0), ("b", 2.0)]));
    // With something else to stand on it stands on none of them.
    let (on, endless) = machine(&json!({
        "units": { "mill": { "count": 1, "takes": { "a": 1, "b": 2, "c": 3 }, "gives": { "d": 6 } } }, "supplies": taps, "outlets": { "d": {} },
    }));
    assert_eq!(on, named(&[("d", 6.0)]));
    assert_eq!(endless, named(&[("a", 1.0), ("b", 2.0), ("c", 3.0)]));
}

#[test]
fn a_header_is_endless_where_its_tap_stands_alone_and_open() {
    let document = |more: Value| {
        let mut document = json!({
            "units": { "mill": { "count": 1, "takes": { "a": 1 }, "gives": { "d": 1 } } },
            "supplies": { "a": { "header": "a" } },
            "outlets": { "d": {} },
        });
        super::json_patch(&mut document, &more);
        document
    };
    let is_endless = |more: Value| !machine(&document(more)).1.is_empty();
    assert!(is_endless(json!({})));
    assert!(is_endless(json!({ "demands": { "user": { "header": "a", "rate": 5 } } })));
    let pattern = json!({ "on": 1, "every": 2 });
    for more in [
        json!({ "supplies": { "a": { "rate": 5 } } }),
        json!({ "supplies": { "a": { "pattern": pattern } } }),
        json!({ "supplies": { "second": { "header": "a", "rate": 5 } } }),
        json!({ "supplies": { "second": { "header": "a" } } }),
        json!({ "headers": { "a": { "line": 5, "lines": 1 } } }),
        json!({ "stores": { "sump": { "header": "a", "capacity": 5, "level": 0 } } }),
        json!({ "stores": { "sump": { "header": "e", "capacity": 5, "level": 0 } },
                "switches": { "float": { "watch": "sump", "start_at": 4, "stop_at": 1, "runs": "a" } } }),
    ] {
        assert!(!is_endless(more.clone()), "{more}");
    }
}

/// A bank of the first rank is drawn on before a grid of the second, though that has no rate: 100 W for 50 s from the one, then from the other.
#[test]
fn a_store_of_an_earlier_rank_comes_before_what_has_no_end() {
    let (_, found) = rehearsed(&json!({
        "units": { "pump": { "count": 1, "takes": { "well": 1 }, "gives": { "head": 1 }, "draws": 100 } },
        "supplies": { "well": { "header": "well", "rate": 1 }, "grid": { "header": "power", "rank": 2 } },
        "stores": { "bank": { "header": "power", "capacity": 5000, "level": 5000, "rank": 1 } },
        "outlets": { "head": {} },
        "horizon": 80,
    }));
    near(found.units[0].duty_s, 80.0);
    near(found.stores[0].drained, 5000.0);
    near(found.stores[0].first_empty_s.expect("it runs dry"), 50.0);
    near(found.supplies[0].drawn, 3000.0);
}

/// Of two sorts of machine that do the same it is the one that draws less, however many there are of either.
#[test]
fn what_draws_less_on_what_has_no_end_runs() {
    for (frugal, thirsty) in [(1, 4), (4, 1), (1, 1)] {
        for names in [["a", "b"], ["b", "a"]] {
            let unit = |count: u32, takes: f64, from: &str| json!({ "count": count, "takes": { from: takes, "salt": 0.1 }, "gives": { "brine": 1 }, "when": "wanted" });
            let (plan, found) = rehearsed(&json!({
                "units": { names[0]: unit(frugal, 1.0, "lake"), names[1]: unit(thirsty, 1.2, "river") },
                "supplies": { "lake": { "header": "lake" }, "river": { "header": "river" }, "salt": { "header": "salt", "rate": 1 } },
                "demands": { "user": { "header": "brine", "rate": 1 } },
                "horizon": 10,
            }));
            let drawn = |name: &str| {
                let at = plan.supplies.iter().position(|supply| supply.name == name).expect("a supply");
                found.supplies[at].drawn
            };
            near(drawn("lake"), 10.0);
            near(drawn("river"), 0.0);
            near(found.demands[0].served, 10.0);
        }
    }
}
