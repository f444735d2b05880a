//! What the reader makes of documents, good and bad.

#![allow(clippy::float_cmp)] // what is written exactly is read exactly

use super::*;
use crate::quantity::Time;

mod arbitrary;
mod floor;
mod time;

fn read(text: &str) -> Result<Plan, ReadError> {
    Plan::from_json(text.as_bytes(), &Limits::default())
}

fn secs(si: f64) -> Time {
    Time::from_si(si).unwrap()
}

/// The one fault of a document, as "code pointer".
fn faults(text: &str) -> Vec<String> {
    match read(text) {
        Err(ReadError::Faults(faults)) => faults
            .listed
            .iter()
            .map(|fault| match &fault.at {
                At::Pointer(pointer) => format!("{} {pointer}", fault.code.as_str()),
                At::Parameter(name) => panic!("a document has no parameter {name}"),
            })
            .collect(),
        other => panic!("expected faults, got {other:?}"),
    }
}

const HALL: &str = r#"{
  "title": "Hall", "day": "1 h",
  "substances": { "water": { "specific_heat": "4.18 kJ/(kg·K)" } },
  "units": {
    "burner": { "count": 5, "takes": { "methanol": "10 g/s", "oxygen": 0.015 },
                "gives": { "carbon dioxide": "13.7 g/s", "condensate": "11.3 g/s" },
                "generates": "70 kW", "draws": 0, "idle_draw": "0 W", "rank": 2, "when": "wanted", "turndown": "25 %",
                "running_cost": 0.5, "width": 4, "build": { "steel": "1.8 t" } },
    "kiln": { "count": { "at_least": 1, "at_most": 7 }, "draws": "12 kW" },
    "absorber": {} },
  "headers": { "methanol": { "line": "50 g/s", "lines": 2 }, "spare": {} },
  "supplies": { "seep": { "header": "methanol", "rate": "60 g/s", "rank": 1, "when": "always",
                "pattern": { "on": "7 min", "every": "18 min", "active": "40 day", "dormant": "25 day" } },
                "grid": { "header": "power" } },
  "demands": { "greenhouse": { "header": "condensate", "rate": "40 g/s", "rank": 3 } },
  "outlets": { "carbon dioxide": { "limit": "5 g/s" }, "heat": {} },
  "aim": { "run": { "burner": 5 } },
  "worth": true
}"#;

#[test]
fn a_whole_plan_is_read() {
    let plan = read(HALL).unwrap();
    let header = |name: &str| plan.header_named(name).unwrap();
    assert_eq!(plan.title.as_deref(), Some("Hall"));
    assert_eq!(plan.day.si(), 3600.0);
    assert_eq!(plan.substances[0].specific_heat.unwrap(), 4180.0);
    let names: Vec<&str> = plan.headers.iter().map(|header| header.name.as_str()).collect();
    assert_eq!(names, ["carbon dioxide", "condensate", "heat", "methanol", "oxygen", "power", "spare"]);
    // What is listed is in the order of the document.
    let listed: Vec<&str> = in_order(&plan.listed.units, &plan.units).map(|(_, unit)| unit.name.as_str()).collect();
    assert_eq!(listed, ["burner", "kiln", "absorber"]);
    let listed = in_order(&plan.listed.headers, &plan.headers).map(|(_, header)| header.name.as_str());
    let first_named = ["methanol", "oxygen", "carbon dioxide", "condensate", "power", "spare", "heat"];
    assert_eq!(listed.collect::<Vec<_>>(), first_named);
    assert_eq!(plan.power(), Some(header("power")));
    assert_eq!(plan.header(header("power")).carries, Carried::Power);

    let [bare, burner, kiln] = plan.units.as_slice() else { panic!("three units") };
    assert_eq!(burner.count, Count::Fixed(5));
    assert_eq!(
        burner.takes,
        [Flow { header: header("methanol"), rate: 0.01 }, Flow { header: header("oxygen"), rate: 0.015 }]
    );
    assert_eq!(burner.gives[0].header, header("carbon dioxide"));
    approx::assert_relative_eq!(burner.gives[0].rate, 0.0137, max_relative = 1e-15);
    assert_eq!((burner.generates.si(), burner.draws.si(), burner.idle_draw.si()), (70e3, 0.0, 0.0));
    assert_eq!((burner.rank, burner.when, burner.turndown.si()), (2, Runs::Wanted, 0.25));
    assert_eq!((burner.running_cost, burner.width), (0.5, Some(4)));
    assert_eq!((burner.build[0].0.as_str(), burner.build[0].1.si()), ("steel", 1800.0));
    assert_eq!(kiln.count, Count::Sized { at_least: 1, at_most: Some(7) });
    assert_eq!((bare.count, bare.rank), (Count::Sized { at_least: 0, at_most: None }, 1));
    assert_eq!((bare.when, bare.turndown.si(), bare.width), (Runs::Fed, 0.0, None));

    let methanol = plan.header(header("methanol"));
    assert_eq!((methanol.line, methanol.lines, methanol.declared), (Some(0.05), Some(2), true));
    assert!(plan.header(header("spare")).declared && !plan.header(header("oxygen")).declared);

    let [grid, seep] = plan.supplies.as_slice() else { panic!("two supplies") };
    assert_eq!((seep.header, seep.rate, seep.rank, seep.when), (header("methanol"), Some(0.06), 1, When::Always));
    let pattern = seep.pattern.clone().unwrap();
    assert_eq!(pattern.course, Course::Pulse { on: secs(420.0), every: secs(1080.0) });
    assert_eq!(pattern.start, Start::At(Time::ZERO));
    assert_eq!(pattern.seasons, Some(Seasons { active: secs(144e3), dormant: secs(90e3), elapsed: Time::ZERO }));
    assert_eq!((grid.rate, grid.when), (None, When::Wanted));
    let demand = &plan.demands[0];
    assert_eq!((demand.header, demand.rate, demand.rank), (header("condensate"), 0.04, 3));
    assert_eq!((plan.outlets[0].header, plan.outlets[0].limit), (header("carbon dioxide"), Some(0.005)));
    assert_eq!((plan.outlets[1].header, plan.outlets[1].limit), (header("heat"), None));
    assert_eq!(plan.aim, Aim::Run(vec![(UnitId(1), 5.0)]));
    assert!(plan.wants_worth);
}

#[test]
fn the_other_aims_are_read() {
    let make = read(r#"{"aim":{"make":{"power":"300 kW","water":"2 kg/s"}}}"#).unwrap();
    assert_eq!(
        make.aim,
        Aim::Make(vec![Target { header: HeaderId(0), rate: 3e5 }, Target { header: HeaderId(1), rate: 2.0 }])
    );
    let least_cost = read(r#"{"aim":{"most":{}}}"#).unwrap();
    assert_eq!(least_cost.aim, Aim::Most(vec![]));
    let most = read(r#"{"aim":{"most":{"water":3,"power":0.001}}}"#).unwrap();
    assert_eq!(
        most.aim,
        Aim::Most(vec![Value { header: HeaderId(0), each: 0.001 }, Value { header: HeaderId(1), each: 3.0 }])
    );
    let empty = read("{}").unwrap();
    assert_eq!((empty.day.si(), empty.power(), empty.wants_worth), (86_400.0, None, false));
    assert_eq!(empty.aim, Aim::Unsaid);
}

#[test]
fn each_kind_of_fault_is_told_with_its_pointer() {
    for (text, expected) in [
        (r#"{"unit":{}}"#, "unknown-field /unit"),
        (r#"{"units":{"a/b~c":{"take":{}}}}"#, "unknown-field /units/a~1b~0c/take"),
        (r#"{"demands":{"d":{"header":"x"}}}"#, "missing-field /demands/d/rate"),
        (r#"{"title":"a","title":"b"}"#, "duplicate-field /title"),
        (r#"{"units":{"a":{},"a":{}}}"#, "duplicate-field /units/a"),
        (r#"{"units":{"a":{"takes":{"x":1,"x":1}}}}"#, "duplicate-field /units/a/takes/x"),
        (r#"{"units":[]}"#, "wrong-type /units"),
        ("[]", "wrong-type "),
        (r#"{"units":{"a":{"count":2.5}}}"#, "wrong-type /units/a/count"),
        (r#"{"units":{"a":{"takes":{"x":"NaN"}}}}"#, "unreadable-quantity /units/a/takes/x"),
        (r#"{"units":{"a":{"takes":{"x":"0,5 kg/s"}}}}"#, "unreadable-quantity /units/a/takes/x"),
        (r#"{"units":{"a":{"draws":"5 KW"}}}"#, "unknown-unit /units/a/draws"),
        (r#"{"units":{"a":{"draws":"5 kg"}}}"#, "wrong-dimension /units/a/draws"),
        (r#"{"units":{"a":{"gives":{"power":"5 kg/s"}}}}"#, "wrong-dimension /units/a/gives/power"),
        (r#"{"units":{"a":{"gives":{"water":"5 kW"}}}}"#, "wrong-dimension /units/a/gives/water"),
        (r#"{"supplies":{"s":{"rate":"5 kg/s","header":"power"}}}"#, "wrong-dimension /supplies/s/rate"),
        (r#"{"headers":{"power":{"line":"5 kg/s"}}}"#, "wrong-dimension /headers/power/line"),
        (r#"{"outlets":{"water":{"limit":"5 kW"}}}"#, "wrong-dimension /outlets/water/limit"),
        (r#"{"demands":{"d":{"header":"x","rate":-1}}}"#, "out-of-range /demands/d/rate"),
        (r#"{"headers":{"x":{"line":0}}}"#, "out-of-range /headers/x/line"),
        (r#"{"units":{"a":{"turndown":"101 %"}}}"#, "out-of-range /units/a/turndown"),
        (r#"{"units":{"a":{"rank":0}}}"#, "out-of-range /units/a/rank"),
        (r#"{"units":{"a":{"draws":1e300}}}"#, "out-of-range /units/a/draws"),
        (r#"{"units":{"a":{"draws":"1e400 W"}}}"#, "out-of-range /units/a/draws"),
        (r#"{"units":{" ":{}}}"#, "out-of-range /units/ "),
        (r#"{"units":{"a":{}},"aim":{"run":{"b":1}}}"#, "unknown-name /aim/run/b"),
        (r#"{"units":{"a":{"when":"always"}}}"#, "unknown-choice /units/a/when"),
        (r#"{"units":{"a":{"count":{"at_least":3,"at_most":2}}}}"#, "contradiction /units/a/count"),
        (r#"{"aim":{"run":{},"make":{}}}"#, "contradiction /aim"),
        (r#"{"aim":{}}"#, "missing-field /aim"),
        (r#"{"aim":{"run":{}}}"#, "missing-field /aim/run"),
    ] {
        assert_eq!(faults(text), [expected], "{text}");
    }
}

#[test]
fn bytes_that_are_not_json_say_where() {
    for (text, line, column, part) in [
        ("", 1, 1, "no document"),
        (" \n ", 1, 1, "no document"),
        ("{\n  \"title\": nope }", 2, 13, "expected ident"),
        ("{} {}", 1, 4, "trailing characters"),
        ("{\"title\": \"a", 1, 12, "EOF"),
        ("{\"units\":{\"a\":{\"draws\":NaN}}}", 1, 24, "expected value"),
        ("{\"a\":1e400,}", 1, 11, "number out of range"),
    ] {
        match read(text) {
            Err(ReadError::NotJson { line: at_line, column: at_column, say }) => {
                assert!(say.contains(part) && !say.contains(" at line "), "{text:?}: {say}");
                if part != "number out of range" {
                    assert_eq!((at_line, at_column), (line, column), "{text:?}");
                }
            }
            other => panic!("{text:?}: {other:?}"),
        }
    }
    let not_utf8 = Plan::from_json(b"{\n\"title\":\"\xff\"}", &Limits::DEFAULT).unwrap_err();
    assert_eq!(not_utf8, ReadError::NotJson { line: 2, column: 10, say: "the text is not UTF-8".to_owned() });
    assert!(read("\u{feff}{}").is_ok(), "a byte order mark is passed over");
}

#[test]
fn depth_has_a_limit_of_its_own() {
    for open in ["[", "{\"a\":"] {
        assert_eq!(read(&open.repeat(1_000)).unwrap_err(), ReadError::TooDeep { limit: 64 });
        assert_eq!(read(&open.repeat(1_000_000)).unwrap_err(), ReadError::TooDeep { limit: 64 });
    }
    let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
    assert!(matches!(read(&nested(64)), Err(ReadError::Faults(_))), "64 are allowed, though a plan is no list");
    assert!(matches!(read(&nested(65)), Err(ReadError::TooDeep { .. })));
}

#[test]
fn a_number_that_no_double_holds_is_told_with_its_pointer() {
    let text =
        r#"{"title":"1e400 \" 1e400","demands":{"d":{"header":"x","rate":-1e400},"e":{"header":"x","rate":1E+999}}}"#;
    assert_eq!(faults(text), ["out-of-range /demands/d/rate", "out-of-range /demands/e/rate"]);
    assert_eq!(
        faults(&format!("{{\"units\":{{\"a\":{{\"count\":{}}}}}}}", "9".repeat(400))),
        ["wrong-type /units/a/count"]
    );
}

#[test]
fn sums_of_the_greatest_rates_stay_finite() {
    let takes: Vec<String> = (0..1_000).map(|index| format!("\"h{index}\":1e15")).collect();
    let plan = read(&format!("{{\"units\":{{\"a\":{{\"takes\":{{{}}}}}}}}}", takes.join(","))).unwrap();
    let sum: f64 = plan.units[0].takes.iter().map(|flow| flow.rate * 1e6 * 1e9).sum();
    assert!(sum.is_finite());
    assert_eq!(faults(r#"{"demands":{"d":{"header":"x","rate":1e308}}}"#), ["out-of-range /demands/d/rate"]);
}

#[test]
fn nothing_is_never_negative() {
    let plan = read(r#"{"demands":{"d":{"header":"x","rate":-0.0},"e":{"header":"x","rate":"-0 g/s"}}}"#).unwrap();
    assert!(plan.demands.iter().all(|demand| demand.rate == 0.0 && demand.rate.is_sign_positive()));
}

#[test]
fn all_faults_are_told_at_once_in_document_order() {
    let text = r#"{
      "aim": { "run": { "burnr": 5, "kiln": -1 } },
      "titel": "x",
      "units": {
        "burner": { "takes": { "methanol": "10 g/z", "oxygen": "15 kg" }, "generates": "70", "when": "fedd",
                    "count": { "at_least": 5, "at_most": 2, "atmost": 2 } },
        "kiln": { "draws": null, "width": 0, "build": { "steel": "1,5 t" } },
        "": {} },
      "supplies": { "seep": { "rate": "60 kW", "header": "methanol",
                              "pattern": { "on": "20 min", "every": "18 min", "active": "1 day" } } },
      "demands": [],
      "outlets": { "power": { "limit": "1 kg/s" } }
    }"#;
    let Err(ReadError::Faults(faults)) = read(text) else { panic!("the document is full of faults") };
    let lines: Vec<String> =
        faults.listed.iter().map(|fault| format!("[{}] {}", fault.code.as_str(), fault.say())).collect();
    insta::assert_snapshot!(lines.join("\n"));
    assert_eq!(faults.total, faults.listed.len());
}

#[test]
fn names_are_any_text_that_keeps_to_one_line() {
    // One character of every general category of Unicode 16 that a text in Rust can hold (Cs, the surrogates, it cannot).
    let fit = [
        ("Lu", 'Å'),
        ("Ll", 'ß'),
        ("Lt", 'ǅ'),
        ("Lm", 'ʰ'),
        ("Lo", '水'),
        ("Mn", '\u{301}'),
        ("Mc", '\u{903}'),
        ("Me", '\u{20dd}'),
        ("Nd", '٣'),
        ("Nl", 'Ⅷ'),
        ("No", '½'),
        ("Pc", '‿'),
        ("Pd", '—'),
        ("Ps", '⟨'),
        ("Pe", '⟩'),
        ("Pi", '«'),
        ("Pf", '»'),
        ("Po", '¶'),
        ("Sm", '∑'),
        ("Sc", '€'),
        ("Sk", '¨'),
        ("So", '🜄'),
        ("Zs", '\u{2003}'),
        ("Cf", '\u{200d}'),
        ("Co", '\u{e000}'),
        ("Cn", '\u{378}'),
    ];
    for (category, c) in fit {
        let name = format!("a{c}b");
        let text = serde_json::json!({ "units": { &name: { "takes": { &name: 1 } } } }).to_string();
        let plan = read(&text).unwrap_or_else(|fault| panic!("{category}: {fault}"));
        assert_eq!((plan.units[0].name.as_str(), plan.headers[0].name.as_str()), (name.as_str(), name.as_str()));
    }
    for (category, c) in
        [("Cc", '\u{1b}'), ("Cc", '\n'), ("Cc", '\u{85}'), ("Cc", '\0'), ("Zl", '\u{2028}'), ("Zp", '\u{2029}')]
    {
        let text = serde_json::json!({ "units": { format!("a{c}b"): {} }, "title": c.to_string() }).to_string();
        let Err(ReadError::Faults(faults)) = read(&text) else { panic!("{category} is no part of a name") };
        assert_eq!(faults.total, 2, "{category}");
        assert!(faults.listed.iter().all(|fault| !fault.found.contains(c)), "{category} is not passed on");
    }
    for blank in ["", "  ", "\u{2003}"] {
        let text = serde_json::json!({ "units": { blank: {} } }).to_string();
        assert_eq!(faults(&text), [format!("out-of-range {}", pointer(&["units", blank]))]);
    }
    let long = |length: usize| format!("{{\"title\":\"{}\"}}", "x".repeat(length));
    assert!(read(&long(200)).is_ok());
    assert_eq!(faults(&long(201)), ["out-of-range /title"]);
}

#[test]
fn the_list_of_faults_is_capped_and_the_count_goes_on() {
    let units: Vec<String> =
        (0..10_000).map(|index| format!("\"stage {index}\":{{\"draw\":\"{index} qW\"}}")).collect();
    let run: Vec<String> = (0..5_000).map(|index| format!("\"stagge {index}\":1")).collect();
    // The aim stands last: its faults are found last and are not among the first.
    let last = format!("{{\"units\":{{{}}},\"aim\":{{\"run\":{{{}}}}}}}", units.join(","), run.join(","));
    let Err(ReadError::Faults(faults)) = read(&last) else { panic!("15,000 faults") };
    assert_eq!((faults.total, faults.listed.len()), (15_000, 100));
    assert_eq!(faults.listed[99].at, At::Pointer("/units/stage 99/draw".to_owned()));
    assert_eq!(faults.listed[99].near.as_deref(), Some("draws"));
    assert!(faults.to_string().ends_with("; and 14900 more"));
    // The aim stands first: its faults are found last and are the first all the same.
    let first = format!("{{\"aim\":{{\"run\":{{{}}}}},\"units\":{{{}}}}}", run.join(","), units.join(","));
    let Err(ReadError::Faults(faults)) = read(&first) else { panic!("15,000 faults") };
    assert_eq!((faults.total, faults.listed.len()), (15_000, 100));
    assert_eq!(faults.listed[99].at, At::Pointer("/aim/run/stagge 99".to_owned()));
    assert_eq!(faults.listed[0].near.as_deref(), Some("stage 0"));
}

#[test]
fn a_section_past_its_limit_is_one_fault() {
    let limits = Limits { things: 3, flows: 2, ..Limits::DEFAULT };
    let text = r#"{"units":{"a":{},"b":{},"c":{"takes":{"x":1,"y":1,"z":1}}},"outlets":{"a":{},"b":{},"c":{},"d":{}}}"#;
    let Err(ReadError::Faults(faults)) = Plan::from_json(text.as_bytes(), &limits) else { panic!("past two limits") };
    let codes: Vec<_> = faults.listed.iter().map(|fault| (fault.code, fault.at.clone())).collect();
    let at = |pointer: &str| (FaultCode::TooMany, At::Pointer(pointer.to_owned()));
    assert_eq!(codes, [at("/units/c/takes"), at("/outlets")]);
}

#[test]
fn the_day_counts_wherever_it_stands() {
    let plan = read(r#"{"supplies":{"s":{"header":"x","rate":"7.2 t/day"}},"day":"2 h"}"#).unwrap();
    assert_eq!((plan.supplies[0].rate, plan.day.si()), (Some(1.0), 7200.0));
    // In its own length a day can only be the standard one.
    assert_eq!(read(r#"{"day":"0.5 day"}"#).unwrap().day.si(), 43_200.0);
    assert_eq!(faults(r#"{"day":0}"#), ["out-of-range /day"]);
}

#[test]
fn whatever_makes_or_draws_power_makes_its_header() {
    for field in ["generates", "draws", "idle_draw"] {
        let plan = read(&format!("{{\"units\":{{\"a\":{{\"{field}\":5}}}}}}")).unwrap();
        assert_eq!(plan.power(), Some(HeaderId(0)), "{field}");
        assert_eq!(plan.headers[0].carries, Carried::Power);
        assert!(read(&format!("{{\"units\":{{\"a\":{{\"{field}\":0}}}}}}")).unwrap().power().is_none());
    }
    assert_eq!(Carried::Power.print(2500.0), "2.5 kW");
    assert_eq!(Carried::Matter.print(0.3), "300 g/s");
}
