//! Stores, switches, patterns, loops, and readings of now.

use super::*;

const BASE: &str = r#"{
  "day": "1 h", "horizon": "50 day",
  "units": { "drain pump": { "takes": { "condensate": "2 kg/s" } }, "burner": { "generates": "70 kW" } },
  "supplies": { "seep": { "header": "condensate", "rate": "60 g/s",
                  "pattern": { "on": "7 min", "every": "18 min", "now_on": true, "next_change_in": "2 min",
                               "active": "40 day", "dormant": "25 day", "season_elapsed": "10 day" } },
                "melt": { "header": "condensate", "rate": "10 g/s",
                  "pattern": { "on": "1 min", "every": "3 min", "now_on": false, "next_change_in": "30 s" } } },
  "demands": { "garden": { "header": "condensate", "rate": "40 g/s",
                 "pattern": { "steps": [ { "for": "40 min", "share": "150 %" }, { "for": "20 min", "share": 0 } ],
                              "elapsed": "50 min" } } },
  "stores": { "sump": { "header": "condensate", "capacity": "800 kg", "level": "120 kg", "low_low": "2 %", "low": "50 kg",
                        "high": "90 %", "high_high": "95 %", "loses": "1 g/s" },
              "bank": { "header": "power", "capacity": "40 MJ", "level": "60 %", "loses": "0.36 %/day", "rank": 2 } },
  "switches": { "sump pump": { "watch": "sump", "start_at": "80 %", "stop_at": "160 kg", "runs": "drain pump" },
                "stage": { "watch": "bank", "start_at": "35 %", "stop_at": "28 MJ", "runs": [ "burner", "seep" ], "on": true } },
  "loops": { "west": { "coolant": "brine", "holds": "420 kg", "charge": "395 kg", "keep_free": "20 kg", "expands": "2 %",
                       "flow": "2 kg/s", "round_trip": "1.5 min" },
             "east": { "coolant": "water", "holds": "1 t", "charge": 700, "least": "600 kg" } }
}"#;

#[test]
fn the_sections_about_time_are_read() {
    let plan = read(BASE).unwrap();
    assert_eq!(plan.horizon.si(), 180e3);
    let [bank, sump] = plan.stores.as_slice() else { panic!("two stores") };
    assert_eq!((sump.name.as_str(), plan.header(sump.header).name.as_str()), ("sump", "condensate"));
    assert_eq!((sump.capacity, sump.level, sump.rank, sump.loses), (800.0, 120.0, 1, StandingLoss::Rate(0.001)));
    let limits = LevelLimits { low_low: Some(16.0), low: Some(50.0), high: Some(720.0), high_high: Some(760.0) };
    assert_eq!(sump.limits, limits);
    assert_eq!((bank.header, bank.capacity, bank.level, bank.rank), (plan.power().unwrap(), 40e6, 24e6, 2));
    let StandingLoss::Share(share) = bank.loses else { panic!("a share of its contents") };
    approx::assert_relative_eq!(share, 1e-6, max_relative = 1e-14); // the local day has 3600 s
    assert_eq!(bank.limits, LevelLimits::default());

    let [stage, pump] = plan.switches.as_slice() else { panic!("two switches") };
    assert_eq!((pump.watch, pump.start_at, pump.stop_at), (Watched::Store(StoreId(1)), 640.0, 160.0));
    assert_eq!((pump.runs.as_slice(), pump.on), ([Gated::Unit(UnitId(1))].as_slice(), false));
    assert_eq!((stage.watch, stage.start_at, stage.stop_at), (Watched::Store(StoreId(0)), 14e6, 28e6));
    assert_eq!(stage.runs, [Gated::Unit(UnitId(0)), Gated::Supply(SupplyId(1))]);
    assert!(stage.on);

    let seep = plan.supplies[1].pattern.as_ref().unwrap();
    assert_eq!(seep.start, Start::Underway(secs(300.0)), "5 of 7 min are over");
    assert_eq!(seep.seasons, Some(Seasons { active: secs(144e3), dormant: secs(90e3), elapsed: secs(36e3) }));
    assert_eq!(plan.supplies[0].pattern.as_ref().unwrap().start, Start::Underway(secs(150.0)));
    let garden = plan.demands[0].pattern.as_ref().unwrap();
    let steps = [Step { length: secs(2400.0), share: 1.5 }, Step { length: secs(1200.0), share: 0.0 }];
    assert_eq!((&garden.course, garden.start), (&Course::Steps(steps.to_vec()), Start::Underway(secs(3000.0))));
    assert_eq!((garden.cycle(), garden.average_share()), (secs(3600.0), 1.0));

    let [east, west] = plan.loops.as_slice() else { panic!("two loops") };
    assert_eq!((west.name.as_str(), west.coolant.as_str(), west.holds.si()), ("west", "brine", 420.0));
    assert_eq!((west.charge.si(), west.keep_free.si(), west.expands.si()), (395.0, 20.0, 0.02));
    assert_eq!((west.least.unwrap().si(), east.least.unwrap().si()), (180.0, 600.0));
    assert_eq!((east.keep_free.si(), east.expands.si()), (0.0, 0.0));

    let empty = read(r#"{"day":"1 h"}"#).unwrap();
    assert_eq!(empty.horizon.si(), 36e3, "ten local days");
}

/// The base with `change` merged into it (RFC 7396).
fn changed(change: &serde_json::Value) -> String {
    fn merge(into: &mut serde_json::Value, change: &serde_json::Value) {
        let Some(change) = change.as_object() else { return *into = change.clone() };
        if !into.is_object() {
            *into = serde_json::json!({});
        }
        for (name, value) in change {
            if value.is_null() {
                into.as_object_mut().unwrap().remove(name);
            } else {
                merge(&mut into[name], value);
            }
        }
    }
    let mut document = serde_json::from_str(BASE).unwrap();
    merge(&mut document, change);
    document.to_string()
}

#[test]
fn readings_of_now_take_the_place_of_what_the_plan_says() {
    let plan = read(&changed(&serde_json::json!({ "now": {
        "levels": { "sump": "10 %", "bank": "8 MJ" },
        "switches": { "sump pump": true, "stage": false },
        "patterns": { "seep": { "now_on": false, "next_change_in": "4 min", "season_elapsed": 0 },
                      "melt": { "now_on": false, "next_change_in": "4 min" },
                      "garden": { "elapsed": "60 min" } } } })))
    .unwrap();
    assert_eq!((plan.stores[0].level, plan.stores[1].level), (8e6, 80.0));
    assert!(!plan.switches[0].on && plan.switches[1].on);
    let start = |pattern: &Option<Pattern>| pattern.as_ref().unwrap().start;
    assert_eq!(start(&plan.supplies[1].pattern), Start::Underway(secs(840.0)));
    assert_eq!(plan.supplies[1].pattern.as_ref().unwrap().seasons.unwrap().elapsed, Time::ZERO);
    assert_eq!(
        start(&plan.supplies[0].pattern),
        Start::At(secs(240.0)),
        "longer than any pause: before the first pulse"
    );
    assert_eq!(start(&plan.demands[0].pattern), Start::Underway(Time::ZERO), "a whole cycle is none of the next");
}

#[test]
#[allow(clippy::too_many_lines, reason = "a list")]
fn each_fault_of_the_sections_about_time_is_told_with_its_pointer() {
    use serde_json::json;
    for (change, expected) in [
        (json!({"stores":{"sump":{"level":"900 kg"}}}), "contradiction /stores/sump/level"),
        (json!({"stores":{"sump":{"level":801}}}), "contradiction /stores/sump/level"),
        (json!({"stores":{"sump":{"level":"101 %"}}}), "out-of-range /stores/sump/level"),
        (json!({"stores":{"sump":{"level":"5 MJ"}}}), "wrong-dimension /stores/sump/level"),
        (json!({"stores":{"sump":{"level":"5 kg/s"}}}), "wrong-dimension /stores/sump/level"),
        (json!({"stores":{"sump":{"level":-1}}}), "out-of-range /stores/sump/level"),
        (json!({"stores":{"sump":{"level":true}}}), "wrong-type /stores/sump/level"),
        (json!({"stores":{"sump":{"capacity":0}}}), "out-of-range /stores/sump/capacity"),
        (json!({"stores":{"sump":{"capacity":"50 %"}}}), "wrong-dimension /stores/sump/capacity"),
        (json!({"stores":{"bank":{"capacity":"50 kg"}}}), "wrong-dimension /stores/bank/capacity"),
        (json!({"stores":{"bank":{"capacity":1e300}}}), "out-of-range /stores/bank/capacity"),
        (json!({"stores":{"bank":{"capacity":1e-300}}}), "out-of-range /stores/bank/capacity"),
        (json!({"stores":{"bank":{"capacity":null}}}), "missing-field /stores/bank/capacity"),
        (json!({"stores":{"sump":{"low":"10 kg"}}}), "contradiction /stores/sump/low"),
        (json!({"stores":{"sump":{"high":"40 kg"}}}), "contradiction /stores/sump/high"),
        (json!({"stores":{"sump":{"high_high":"801 kg"}}}), "contradiction /stores/sump/high_high"),
        (json!({"stores":{"sump":{"loses":"5 W"}}}), "wrong-dimension /stores/sump/loses"),
        (json!({"stores":{"bank":{"loses":"5 kg"}}}), "wrong-dimension /stores/bank/loses"),
        (json!({"stores":{"bank":{"loses":"-1 %/day"}}}), "out-of-range /stores/bank/loses"),
        (json!({"switches":{"stage":{"watch":"bnk"}}}), "unknown-name /switches/stage/watch"),
        (json!({"switches":{"stage":{"stop_at":"35 %"}}}), "contradiction /switches/stage/stop_at"),
        (json!({"switches":{"stage":{"stop_at":"14 MJ"}}}), "contradiction /switches/stage/stop_at"),
        (json!({"switches":{"stage":{"start_at":"41 MJ"}}}), "contradiction /switches/stage/start_at"),
        (json!({"switches":{"stage":{"start_at":"101 %"}}}), "out-of-range /switches/stage/start_at"),
        (json!({"switches":{"stage":{"start_at":"4 kg"}}}), "wrong-dimension /switches/stage/start_at"),
        (json!({"switches":{"stage":{"runs":"burnr"}}}), "unknown-name /switches/stage/runs"),
        (json!({"switches":{"stage":{"runs":["burner","x"]}}}), "unknown-name /switches/stage/runs/1"),
        (json!({"switches":{"stage":{"runs":["burner","seep","burner"]}}}), "duplicate-field /switches/stage/runs/2"),
        (json!({"switches":{"stage":{"runs":[]}}}), "missing-field /switches/stage/runs"),
        (json!({"switches":{"stage":{"runs":["burner",5]}}}), "wrong-type /switches/stage/runs/1"),
        (json!({"switches":{"stage":{"on":"yes"}}}), "wrong-type /switches/stage/on"),
        (json!({"units":{"seep":{}}}), "contradiction /switches/stage/runs/1"),
        (json!({"supplies":{"seep":{"rate":1e300}}}), "out-of-range /supplies/seep/rate"),
        (json!({"supplies":{"seep":{"rate":1e-300}}}), "out-of-range /supplies/seep/rate"),
        (json!({"supplies":{"seep":{"pattern":{"on":"19 min"}}}}), "contradiction /supplies/seep/pattern/on"),
        (json!({"supplies":{"seep":{"pattern":{"every":0}}}}), "out-of-range /supplies/seep/pattern/every"),
        (
            json!({"supplies":{"seep":{"pattern":{"next_change_in":"8 min"}}}}),
            "contradiction /supplies/seep/pattern/next_change_in",
        ),
        (json!({"supplies":{"seep":{"pattern":{"now_on":null}}}}), "missing-field /supplies/seep/pattern/now_on"),
        (json!({"supplies":{"seep":{"pattern":{"offset":1}}}}), "contradiction /supplies/seep/pattern"),
        (json!({"supplies":{"seep":{"pattern":{"elapsed":1}}}}), "contradiction /supplies/seep/pattern"),
        (json!({"supplies":{"seep":{"pattern":{"dormant":null}}}}), "missing-field /supplies/seep/pattern/dormant"),
        (
            json!({"supplies":{"seep":{"pattern":{"season_elapsed":"66 day"}}}}),
            "contradiction /supplies/seep/pattern/season_elapsed",
        ),
        (json!({"supplies":{"melt":{"pattern":{"season_elapsed":1}}}}), "missing-field /supplies/melt/pattern/active"),
        (
            json!({"supplies":{"melt":{"rate":null,"pattern":{"steps":[{"for":1,"share":1}],"on":null,"every":null,
                   "now_on":null,"next_change_in":null}}}}),
            "missing-field /supplies/melt/rate",
        ),
        (json!({"demands":{"garden":{"pattern":{"steps":[]}}}}), "missing-field /demands/garden/pattern/steps"),
        (json!({"demands":{"garden":{"pattern":{"steps":{}}}}}), "wrong-type /demands/garden/pattern/steps"),
        (
            json!({"demands":{"garden":{"pattern":{"steps":[{"for":"1 h","share":1},{"for":0,"share":1}]}}}}),
            "out-of-range /demands/garden/pattern/steps/1/for",
        ),
        (
            json!({"demands":{"garden":{"pattern":{"steps":[{"share":1}],"elapsed":null}}}}),
            "missing-field /demands/garden/pattern/steps/0/for",
        ),
        (
            json!({"demands":{"garden":{"pattern":{"steps":[{"for":"1 h","share":1000001}]}}}}),
            "out-of-range /demands/garden/pattern/steps/0/share",
        ),
        (
            json!({"demands":{"garden":{"pattern":{"elapsed":"61 min"}}}}),
            "contradiction /demands/garden/pattern/elapsed",
        ),
        (json!({"demands":{"garden":{"pattern":{"on":"1 min"}}}}), "unknown-field /demands/garden/pattern/on"),
        (json!({"horizon":0}), "out-of-range /horizon"),
        (json!({"loops":{"west":{"keep_free":"420 kg"}}}), "contradiction /loops/west/keep_free"),
        (json!({"loops":{"west":{"flow":null}}}), "missing-field /loops/west/flow"),
        (json!({"loops":{"west":{"least":1}}}), "contradiction /loops/west"),
        (json!({"loops":{"west":{"expands":2}}}), "out-of-range /loops/west/expands"),
        (json!({"now":{"levels":{"smp":0}}}), "unknown-name /now/levels/smp"),
        (json!({"now":{"levels":{"sump":"900 kg"}}}), "contradiction /now/levels/sump"),
        (json!({"now":{"switches":{"sump":true}}}), "unknown-name /now/switches/sump"),
        (json!({"now":{"patterns":{"sepe":{}}}}), "unknown-name /now/patterns/sepe"),
        (
            json!({"now":{"patterns":{"garden":{"now_on":true,"next_change_in":1}}}}),
            "contradiction /now/patterns/garden/next_change_in",
        ),
        (
            json!({"now":{"patterns":{"garden":{"season_elapsed":1}}}}),
            "contradiction /now/patterns/garden/season_elapsed",
        ),
        (
            json!({"demands":{"heat":{"header":"x","rate":1}},"now":{"patterns":{"heat":{"elapsed":1}}}}),
            "contradiction /now/patterns/heat",
        ),
    ] {
        assert_eq!(faults(&changed(&change)), [expected], "{change}");
    }
    // Twice the same name is one fault, of the second.
    let twice =
        BASE.replacen("\"stores\": {", "\"stores\": { \"bank\": { \"header\": \"power\", \"capacity\": 40e6 },", 1);
    assert_eq!(faults(&twice), ["duplicate-field /stores/bank"]);
}

#[test]
fn a_mistyped_name_has_a_near_one() {
    let change =
        serde_json::json!({"switches":{"stage":{"watch":"bnk","runs":["burnr"]}},"now":{"patterns":{"sepe":{}}}});
    let Err(ReadError::Faults(faults)) = read(&changed(&change)) else { panic!("three names are wrong") };
    let mut near: Vec<_> = faults.listed.iter().map(|fault| fault.near.as_deref().unwrap()).collect();
    near.sort_unstable();
    assert_eq!(near, ["bank", "burner", "seep"]);
}
