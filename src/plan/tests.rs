//! What the reader makes of documents, good and bad.

use super::*;

fn read(text: &str) -> Result<Plan, ReadError> {
    Plan::from_json(text.as_bytes(), &Limits::default())
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
    assert_eq!(plan.substances[0].specific_heat.unwrap().si(), 4180.0);
    let names: Vec<&str> = plan.headers.iter().map(|header| header.name.as_str()).collect();
    assert_eq!(names, ["methanol", "oxygen", "carbon dioxide", "condensate", "power", "spare", "heat"]);
    assert_eq!(plan.power(), Some(header("power")));
    assert_eq!(plan.header(header("power")).carries, Carried::Power);

    let burner = &plan.units[0];
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
    assert_eq!(plan.units[1].count, Count::Sized { at_least: 1, at_most: Some(7) });
    let plain = &plan.units[2];
    assert_eq!((plain.count, plain.rank), (Count::Sized { at_least: 0, at_most: None }, 1));
    assert_eq!((plain.when, plain.turndown.si(), plain.width), (Runs::Fed, 0.0, None));

    let methanol = plan.header(header("methanol"));
    assert_eq!((methanol.line, methanol.lines, methanol.declared), (Some(0.05), Some(2), true));
    assert!(plan.header(header("spare")).declared && !plan.header(header("oxygen")).declared);

    let seep = &plan.supplies[0];
    assert_eq!((seep.header, seep.rate, seep.rank, seep.when), (header("methanol"), Some(0.06), 1, When::Always));
    let pattern = seep.pattern.unwrap();
    assert_eq!((pattern.on.si(), pattern.every.si(), pattern.offset.si()), (420.0, 1080.0, 0.0));
    let (active, dormant) = pattern.seasons.unwrap();
    assert_eq!((active.si(), dormant.si()), (144e3, 90e3));
    assert_eq!((plan.supplies[1].rate, plan.supplies[1].when), (None, When::Wanted));
    let demand = &plan.demands[0];
    assert_eq!((demand.header, demand.rate, demand.rank), (header("condensate"), 0.04, 3));
    assert_eq!((plan.outlets[0].header, plan.outlets[0].limit), (header("carbon dioxide"), Some(0.005)));
    assert_eq!((plan.outlets[1].header, plan.outlets[1].limit), (header("heat"), None));
    assert_eq!(plan.aim, Aim::Run(vec![(UnitId(0), 5.0)]));
    assert!(plan.wants_worth);
}

#[test]
fn the_other_aims_are_read() {
    let make = read(r#"{"aim":{"make":{"power":"300 kW","water":"2 kg/s"}}}"#).unwrap();
    assert_eq!(
        make.aim,
        Aim::Make(vec![Target { header: HeaderId(0), rate: 3e5 }, Target { header: HeaderId(1), rate: 2.0 }])
    );
    let most = read(r#"{"aim":{"most":{"water":3,"power":0.001}}}"#).unwrap();
    assert_eq!(
        most.aim,
        Aim::Most(vec![Value { header: HeaderId(0), each: 3.0 }, Value { header: HeaderId(1), each: 0.001 }])
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
