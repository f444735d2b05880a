//! Answers to small plans.

use serde_json::{Value, json};

use super::{FlowBalance, ask};
use crate::budget::Budget;
use crate::plan::{Limits, Plan};
use crate::questions::answer::{LINE_BYTES, Verdict};

pub(super) fn answer(plan: &Value) -> FlowBalance {
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

/// JSON merge patch (RFC 7396).
fn patched(mut plan: Value, patch: &Value) -> Value {
    fn apply(target: &mut Value, patch: &Value) {
        let Value::Object(changes) = patch else {
            *target = patch.clone();
            return;
        };
        if !target.is_object() {
            *target = json!({});
        }
        let entries = target.as_object_mut().expect("an object");
        for (name, change) in changes {
            if change.is_null() {
                entries.shift_remove(name);
            } else {
                apply(entries.entry(name).or_insert(Value::Null), change);
            }
        }
    }
    apply(&mut plan, patch);
    plan
}

fn codes(answer: &FlowBalance) -> Vec<&'static str> {
    answer.findings.iter().map(|finding| finding.code).collect()
}

/// The remedy of the first finding of that code, put into the plan, leaves no such finding in that place.
fn mends(plan: &Value, code: &str) -> FlowBalance {
    let before = answer(plan);
    let finding = before.findings.iter().find(|finding| finding.code == code);
    let finding = finding.unwrap_or_else(|| panic!("{code} among {:#?}", before.findings));
    let remedy = finding.remedy.as_ref().expect("a remedy");
    let patch = remedy.patch.as_ref().expect("a patch");
    let after = answer(&patched(plan.clone(), patch));
    let still = after.findings.iter().find(|after| after.code == code && after.at == finding.at);
    assert!(still.is_none(), "{patch} leaves {still:#?}");
    before
}

/// Burners whose exhaust is bound by absorbers, and the spent lime driven off again in kilns.
pub(super) fn hall() -> Value {
    json!({
        "title": "Burner hall",
        "units": {
            "burner": {
                "takes": { "methanol": "10 g/s", "oxygen": "14.98 g/s" },
                "gives": { "carbon dioxide": "13.73 g/s", "condensate": "11.25 g/s" },
                "generates": "70 kW"
            },
            "absorber": {
                "takes": { "carbon dioxide": "6 g/s", "quicklime": "7.644 g/s" },
                "gives": { "spent lime": "13.644 g/s" },
                "draws": "1 kW", "build": { "steel": "40 kg" }
            },
            "kiln": {
                "takes": { "spent lime": "60 g/s" },
                "gives": { "quicklime": "33.615 g/s", "waste gas": "26.385 g/s" },
                "draws": "40 kW", "idle_draw": "2 kW", "build": { "steel": "300 kg", "brick": "2 t" }
            }
        },
        "headers": { "methanol": { "line": "60 g/s" } },
        "supplies": {
            "seep": { "header": "methanol", "rate": "60 g/s" },
            "gardens": { "header": "oxygen" }
        },
        "outlets": { "waste gas": {}, "condensate": {}, "quicklime": {} },
        "aim": { "run": { "burner": 5 } }
    })
}

#[test]
fn a_loop_that_holds() {
    let answer = answer(&hall());
    assert_eq!(answer.verdict, Verdict::Holds, "{:#?}", answer.findings);
    insta::assert_json_snapshot!(answer);
}

#[test]
fn an_empty_plan_is_told_that_nothing_is_asked() {
    let answer = answer(&json!({}));
    assert_eq!(answer.verdict, Verdict::HoldsWithCautions);
    assert_eq!(codes(&answer), ["nothing-asked"]);
}

#[test]
fn a_supply_that_is_too_small_names_the_rate_that_suffices() {
    let mut plan = hall();
    plan["supplies"]["seep"]["rate"] = json!("40 g/s");
    plan["headers"]["methanol"]["lines"] = json!(1);
    let before = mends(&plan, "aim-short");
    assert_eq!(before.verdict, Verdict::Fails);
    assert_eq!(codes(&before), ["aim-short", "supply-short"]);
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.patch, Some(json!({ "supplies": { "seep": { "rate": 0.05 } } })));
    assert!(before.say.starts_with("Fails: only 4 of 5 × \"burner\" can run"), "{}", before.say);
    mends(&plan, "supply-short");
}

#[test]
fn an_intermittent_supply_is_raised_by_its_rate_while_on() {
    let mut plan = hall();
    plan["supplies"]["seep"] =
        json!({ "header": "methanol", "rate": "60 g/s", "pattern": { "on": "1 min", "every": "2 min" } });
    let before = mends(&plan, "aim-short");
    assert_eq!(codes(&before), ["aim-short", "supply-short", "pattern-averaged"]);
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.patch, Some(json!({ "supplies": { "seep": { "rate": 0.1 } } })));
}

#[test]
fn a_cut_demand_names_its_share_and_what_mends_it() {
    let plan = json!({
        "supplies": { "well": { "header": "water", "rate": "40 g/s" } },
        "demands": {
            "hall": { "header": "water", "rate": "10 g/s" },
            "beds": { "header": "water", "rate": "42 g/s", "rank": 2 }
        }
    });
    let before = mends(&plan, "demand-short");
    assert_eq!(codes(&before), ["demand-short", "supply-short"]);
    let say = "short 12 g/s of \"water\": demand \"beds\" of rank 2 is cut by 28.6 %";
    assert_eq!(before.findings[0].say, say);
    assert_eq!(before.findings[0].at, "/demands/beds/rate");
    assert_eq!(
        before.say,
        "Fails: short 12 g/s of \"water\": demand \"beds\" of rank 2 is cut by 28.6 %; raise supply \"well\" from 40 g/s to 52 g/s. And 1 more failure."
    );
}

#[test]
fn counts_and_lines_that_bind_are_named() {
    let mut plan = hall();
    plan["units"]["absorber"]["count"] = json!({ "at_most": 9 });
    plan["units"]["kiln"]["count"] = json!(2);
    plan["aim"] = json!({ "make": { "waste gas": "60 g/s" } });
    let before = mends(&plan, "aim-short");
    assert!(codes(&before).contains(&"count-bound"), "{:#?}", before.findings);
    mends(&plan, "count-bound");

    let mut plan = hall();
    plan["headers"]["methanol"]["line"] = json!("12 g/s");
    plan["headers"]["methanol"]["lines"] = json!(3);
    let before = mends(&plan, "lines-full");
    assert_eq!(before.findings[0].code, "aim-short");
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.say, "add 2 lines of \"methanol\" (5 in all)");
    mends(&plan, "aim-short");
}

#[test]
fn several_limits_at_once_are_lifted_together() {
    let mut plan = hall();
    plan["supplies"]["seep"]["rate"] = json!("40 g/s");
    plan["supplies"]["gardens"]["rate"] = json!("30 g/s");
    let before = mends(&plan, "aim-short");
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.patch, Some(json!({ "supplies": { "seep": { "rate": 0.05 }, "gardens": { "rate": 0.0749 } } })));
}

#[test]
fn a_loop_that_loses_is_offered_a_make_up() {
    let plan = json!({
        "units": {
            "chiller": { "takes": { "cold": 1 }, "gives": { "warm": 0.98, "vapour": 0.02 } },
            "cooler": { "takes": { "warm": 1 }, "gives": { "cold": 1 } }
        },
        "outlets": { "vapour": {} },
        "aim": { "run": { "chiller": 5 } }
    });
    let before = mends(&plan, "aim-short");
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.say, "add a supply of 100 g/s of \"cold\"");
}

#[test]
fn a_mistyped_header_is_told_first() {
    let mut plan = hall();
    plan["supplies"]["seep"]["header"] = json!("methnaol");
    let before = mends(&plan, "nothing-feeds");
    assert_eq!(before.findings[0].code, "nothing-feeds");
    assert_eq!(before.findings[0].at, "/units/burner/takes/methanol");
    assert!(before.say.starts_with("Fails: nothing feeds \"methanol\"; did you mean \"methnaol\"? "), "{}", before.say);
}

#[test]
fn names_that_differ_in_digits_are_not_mistyped() {
    let plan = json!({
        "units": { "press": { "takes": { "stream 9": 1 }, "gives": { "cake": 1 } } },
        "supplies": { "well": { "header": "stream 19", "rate": 9 } },
        "outlets": { "cake": {} },
        "aim": { "run": { "press": 2 } }
    });
    let before = mends(&plan, "nothing-feeds");
    let found = before.findings.iter().find(|finding| finding.code == "nothing-feeds").expect("a finding");
    assert_eq!(found.say, "nothing feeds \"stream 9\"");
    mends(&plan, "aim-short");
}

#[test]
fn a_surplus_is_let_out_or_taken_by_more_of_what_takes_it() {
    let mut plan = hall();
    plan["outlets"].as_object_mut().expect("outlets").shift_remove("condensate");
    let before = mends(&plan, "surplus-trapped");
    assert_eq!(before.verdict, Verdict::Fails);
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.say, "add an outlet of 56.3 g/s for \"condensate\"");

    let mut plan = hall();
    plan["units"]["absorber"]["count"] = json!(10);
    let before = mends(&plan, "surplus-trapped");
    let remedy = before.findings[0].remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.patch, Some(json!({ "units": { "absorber": { "count": 12 } } })));
}

#[test]
fn an_outlet_that_is_too_small_is_widened() {
    let mut plan = hall();
    plan["outlets"]["condensate"]["limit"] = json!("50 g/s");
    let before = mends(&plan, "surplus-trapped");
    assert_eq!(before.findings[0].at, "/outlets/condensate/limit");
    mends(&plan, "outlet-full");
}

/// Two stills, one after the other, each with a surplus that has no way out: nothing runs, and it takes both outlets.
#[test]
fn value_that_is_held_back_for_want_of_an_outlet() {
    let mut plan = json!({
        "units": {
            "still": { "takes": { "mash": 2 }, "gives": { "spirit": 1, "slops": 1 }, "count": 5 },
            "column": { "takes": { "spirit": 1 }, "gives": { "product": 0.75, "tails": 0.25 } }
        },
        "supplies": { "tun": { "header": "mash", "rate": 8 } },
        "aim": { "most": { "product": 2 } }
    });
    let before = mends(&plan, "outlet-missing");
    assert_eq!(before.verdict, Verdict::HoldsWithCautions);
    let finding = &before.findings[0];
    assert_eq!((finding.code, finding.value, finding.limit), ("outlet-missing", Some(0.0), Some(6.0)));
    let remedy = finding.remedy.as_ref().expect("a remedy");
    assert_eq!(remedy.patch, Some(json!({ "outlets": { "slops": { "limit": 4.0 }, "tails": { "limit": 1.0 } } })));
    // With room for some of it the plant runs, and what is told is worth knowing.
    plan["outlets"] = json!({ "tails": {} });
    plan["demands"] = json!({ "feeder": { "header": "slops", "rate": 1 } });
    let part = mends(&plan, "outlet-missing");
    assert_eq!(
        (part.verdict, part.findings[0].code, part.findings[0].value),
        (Verdict::Holds, "outlet-missing", Some(1.5))
    );
}

#[test]
fn a_supply_that_pushes_and_backs_up() {
    let plan = json!({
        "supplies": { "spring": { "header": "water", "rate": "50 g/s", "when": "always" } },
        "demands": { "beds": { "header": "water", "rate": "20 g/s" } },
        "outlets": { "water": { "limit": "10 g/s" } }
    });
    let before = mends(&plan, "supply-lost");
    assert_eq!(before.verdict, Verdict::HoldsWithCautions);
    let lost = before.findings.iter().find(|finding| finding.code == "supply-lost").expect("a finding");
    assert_eq!(lost.value.map(|lost| (lost * 1e9).round() / 1e9), Some(0.02));
}

#[test]
fn what_is_close_to_its_limit() {
    let plan = json!({
        "supplies": { "well": { "header": "water", "rate": "20 g/s" } },
        "headers": { "water": { "line": "10 g/s", "lines": 2 } },
        "demands": { "beds": { "header": "water", "rate": "19.5 g/s" } }
    });
    let before = mends(&plan, "supply-tight");
    assert_eq!(codes(&before), ["supply-tight", "lines-tight"]);
    mends(&plan, "lines-tight");
    // A reserve behind a supply that is used up is room enough.
    let backed = patched(plan, &json!({ "supplies": { "lake": { "header": "water", "rank": 2 } } }));
    assert_eq!(codes(&answer(&backed)), ["lines-tight"]);
}

#[test]
fn the_most_without_a_limit_names_what_grows() {
    let plan = json!({
        "units": { "press": { "takes": { "seed": 1 }, "gives": { "oil": 1 } } },
        "supplies": { "field": { "header": "seed" } },
        "aim": { "most": { "oil": 2 } }
    });
    let answer = answer(&plan);
    assert_eq!(answer.verdict, Verdict::Fails);
    assert_eq!((answer.findings[0].code, answer.findings[0].at.as_str()), ("no-limit", "/supplies/field"));
}

#[test]
fn the_most_of_what_there_is() {
    let plan = json!({
        "units": { "press": { "takes": { "seed": 1 }, "gives": { "oil": 0.4, "cake": 0.6 }, "count": 3, "running_cost": 0.1 } },
        "supplies": { "field": { "header": "seed", "rate": 2 } },
        "outlets": { "cake": {} },
        "aim": { "most": { "oil": 2 } },
        "worth": true
    });
    let answer = answer(&plan);
    assert_eq!(answer.verdict, Verdict::Holds, "{:#?}", answer.findings);
    let aim = answer.figures.aim.as_ref().expect("an aim");
    let value = aim.value_per_s.expect("a value");
    assert!((value - 1.4).abs() < 1e-9, "2 · 0.4 · 2 − 2 · 0.1, not {value}");
    assert_eq!(answer.figures.binding.len(), 1);
    assert_eq!(answer.figures.binding[0].at, "/supplies/field/rate");
    let worth = answer.figures.binding[0].worth.expect("a worth");
    assert!((worth - 0.7).abs() < 1e-6, "{worth}");
    assert_eq!(answer.figures.binding[0].worth_per, Some("kg/s"));
}

#[test]
fn machines_that_are_not_needed_and_mass_that_is_not_closed_are_noted() {
    let mut plan = hall();
    plan["units"]["absorber"]["count"] = json!(20);
    plan["units"]["kiln"]["gives"]["waste gas"] = json!("20 g/s");
    let answer = answer(&plan);
    assert_eq!(codes(&answer), ["mass-not-closed", "idle-machines"]);
    assert_eq!(answer.findings[1].say, "8 of 20 × \"absorber\" are not needed");
}

#[test]
fn idle_machines_that_get_no_power() {
    let plan = json!({
        "units": { "pump": { "takes": { "water": 1 }, "gives": { "head": 1 }, "idle_draw": "2 kW", "count": 4 } },
        "supplies": { "well": { "header": "water", "rate": 1 } },
        "demands": { "house": { "header": "head", "rate": 1 } }
    });
    let before = mends(&plan, "idle-short");
    assert_eq!(before.findings[0].at, "/units/pump/idle_draw");
}

/// One press of 10 kW runs, and a second, which would idle for half its duty at 6 kW, is not there: 16 kW are not enough for both, nor all
/// drawn for one. What is short is the demand, and power mends it, though no limit is met exactly.
#[test]
fn a_machine_that_power_is_short_for_is_mended_by_power() {
    let plan = json!({
        "units": { "press": { "takes": { "a": 1 }, "gives": { "cake": 1 }, "draws": "10 kW", "idle_draw": "6 kW" } },
        "supplies": { "a": { "header": "a" }, "mains": { "header": "power", "rate": "16 kW" } },
        "demands": { "baker": { "header": "cake", "rate": 1.5 } }
    });
    let before = mends(&plan, "demand-short");
    assert_eq!(before.figures.units.get("press").map(|unit| unit.count), Some(1));
    assert!(codes(&before).iter().all(|code| !["idle-short", "idle-machines", "supply-short"].contains(code)));
}

#[test]
fn a_balance_that_does_not_close_or_is_not_proven_says_so() {
    let plan = Plan::from_json(hall().to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    let mut balance = crate::balance::balance(&plan, &Budget::unhurried()).expect("a balance");
    balance.imbalance = 2e-3;
    balance.proven = false;
    let network = super::Network::of(&plan);
    let answer = super::answer(&plan, &balance, &network, &super::Mending::default());
    assert_eq!(codes(&answer), ["balance-open", "counts-unproven"]);
    assert_eq!(answer.verdict, Verdict::HoldsWithCautions);
    balance.units[0].needed = f64::NAN;
    assert!(!super::is_finite(&balance));
    balance.units[0].needed = 1e250;
    assert!(!super::is_finite(&balance));
}

#[test]
fn many_findings_and_many_lines_are_capped_and_counted() {
    let units: serde_json::Map<String, Value> = (0..400)
        .map(|at| (format!("mill {at}"), json!({ "takes": { "grain": 2 }, "gives": { "flour": 1 }, "count": 1 })))
        .collect();
    let plan = json!({ "units": units, "supplies": { "silo": { "header": "grain" } }, "outlets": { "flour": {} } });
    let answer = answer(&plan);
    assert_eq!(answer.findings.len(), crate::questions::answer::MOST_FINDINGS);
    assert_eq!(answer.findings.last().map(|finding| finding.code), Some("more-findings"));
    assert_eq!(answer.findings.last().map(|finding| finding.say.as_str()), Some("and 202 more findings, not listed"));
    assert_eq!(answer.working.len(), super::MOST_LINES);
    let last = answer.working.last().expect("a line");
    assert!(last.starts_with("and ") && last.ends_with(" more steps, left out"), "{last}");
}

#[test]
fn the_line_is_short_whatever_the_names() {
    let name = "ü".repeat(100);
    let plan = json!({
        "units": { name.clone(): { "takes": { name.clone(): 1 }, "count": 1 } },
        "aim": { "run": { name.clone(): 1 } }
    });
    assert!(answer(&plan).say.len() <= LINE_BYTES);
}

#[test]
fn every_pointer_leads_somewhere() {
    let mut plan = hall();
    plan["supplies"]["seep"]["rate"] = json!("40 g/s");
    plan["outlets"]["condensate"]["limit"] = json!("5 g/s");
    plan["units"]["absorber"]["count"] = json!(3);
    plan["units"]["kiln"]["gives"]["waste gas"] = json!("20 g/s");
    let answer = answer(&plan);
    assert!(answer.findings.len() > 4);
    for finding in &answer.findings {
        assert!(plan.pointer(&finding.at).is_some(), "{}: {}", finding.code, finding.at);
    }
}
