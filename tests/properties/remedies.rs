//! Whatever a finding offers as a patch mends it: put into the plan, there is no such finding in that place any more.

use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::answer::{Verdict, Weight};
use hotwell::questions::flow_balance::{FlowBalance, ask};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Value, json};

use crate::support::plant::{Random, Shape, plant};

fn answer(document: &Value) -> FlowBalance {
    let plan =
        Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).unwrap_or_else(|error| panic!("{error}"));
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

/// JSON merge patch (RFC 7396).
fn patch(target: &mut Value, change: &Value) {
    let Value::Object(changes) = change else {
        *target = change.clone();
        return;
    };
    if !target.is_object() {
        *target = json!({});
    }
    let entries = target.as_object_mut().expect("an object");
    for (name, change) in changes {
        if change.is_null() {
            entries.remove(name);
        } else {
            patch(entries.entry(name).or_insert(Value::Null), change);
        }
    }
}

/// A plant with some of its units counted, some of its outlets limited and some of its headers on lines.
fn pinched(seed: u64, units: usize) -> Value {
    let mut document = plant(seed, Shape { units, scarce: true });
    let mut random = Random::new(seed ^ 0xF1_0D);
    for unit in document["units"].as_object_mut().expect("units").values_mut() {
        if random.chance(0.1) {
            unit["count"] = json!(random.whole(1, 12));
        }
    }
    let outlets: Vec<String> = document["outlets"].as_object().expect("outlets").keys().cloned().collect();
    for name in outlets {
        if random.chance(0.2) {
            document["outlets"][&name]["limit"] = json!(random.tenths(1, 50));
        } else if random.chance(0.1) {
            document["headers"][&name] = json!({ "line": random.tenths(5, 20), "lines": random.whole(1, 4) });
        }
    }
    document
}

/// What the failures of an answer offer: their codes and places, with the patches.
fn offered(answer: &FlowBalance) -> Vec<(&'static str, &str, &Value)> {
    let failures = answer.findings.iter().filter(|finding| finding.weight == Weight::Failure);
    let with_patch = failures.filter_map(|finding| {
        let change = finding.remedy.as_ref()?.patch.as_ref()?;
        Some((finding.code, finding.at.as_str(), change))
    });
    with_patch.collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, rng_seed: RngSeed::Fixed(4), failure_persistence: None, ..ProptestConfig::default() })]

    /// Where several limits hold, to lift one of them alone only shows the next, so those are not asked one by one.
    #[test]
    fn a_patch_mends_its_finding(seed in any::<u64>(), units in 4_usize..60) {
        let document = pinched(seed, units);
        let before = answer(&document);
        for (code, at, change) in offered(&before) {
            if !["supply-short", "count-bound", "lines-full"].contains(&code) {
                let mut mended = document.clone();
                patch(&mut mended, change);
                let after = answer(&mended);
                let still = after.findings.iter().find(|after| after.code == code && after.at == at);
                prop_assert!(still.is_none(), "{}: {} leaves {:?}", code, change, still);
            }
        }
    }

    /// A plant that makes more traps more, so it takes a few rounds; but then it runs.
    #[test]
    fn all_patches_together_mend_the_plant(seed in any::<u64>(), units in 4_usize..60) {
        let mut document = pinched(seed, units);
        let mut last = answer(&document);
        for _ in 0..6 {
            let before = last;
            for (_, _, change) in offered(&before) {
                patch(&mut document, change);
            }
            last = answer(&document);
        }
        prop_assert!(last.verdict != Verdict::Fails, "{:#?}", last.findings.first());
    }
}
