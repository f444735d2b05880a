//! Sums of stores, pumps and batteries: by hand, by common practice, and against each other.

use hotwell::plan::FaultCode;
use hotwell::questions::answer::Verdict;
use proptest::prelude::*;

use super::{BY_HAND, COMMON, Row, faults, holds, named, says, told};

const LOOP: &str = "holds=420 kg&keep_free=20 kg&flow=5 kg/s&round_trip=60 s";
/// Stages at 95/75 % and 65/45 %.
const STAGES: &str =
    "first_start=75 %&first_stop=95 %&second_start=45 %&second_stop=65 %&first=12 kW&second=9 kW&capacity=40 MJ";

const ROWS: &[Row] = &[
    ("time-to-full-or-empty", "level=120 kg&outflow=600 g/s", "time_to_empty_s", 200.0, 1e-12, BY_HAND),
    (
        "time-to-full-or-empty",
        "level=25 %&capacity=800 kg&inflow=1&outflow=700 g/s",
        "time_to_full_s",
        2000.0,
        1e-9,
        BY_HAND,
    ),
    ("time-to-full-or-empty", "level=0.5 m3&capacity=2 m3&inflow=3 L/s", "time_to_full_s", 500.0, 1e-9, BY_HAND),
    ("storage-for-outage", "draw=40 g/s&outage=25 day&day=1 h", "needed_kg", 3600.0, 1e-12, BY_HAND),
    (
        "storage-for-outage",
        "draw=40 g/s&outage=25 day&day=1 h&keep=10 %&yield=80 %",
        "capacity_kg",
        5000.0,
        1e-12,
        BY_HAND,
    ),
    (
        "storage-for-outage",
        "draw=40 g/s&outage=25 day&day=1 h&every=65 day",
        "least_refill_kg_s",
        0.025,
        1e-12,
        BY_HAND,
    ),
    ("supply-lasts", "stock=12 t&draw=60 kg/day&made=15 kg/day&keep=10 %", "lasts_days", 240.0, 1e-12, BY_HAND),
    ("supply-lasts", "stock=12 t&draw=60 kg/day&wanted=300 day", "missing_kg", 6000.0, 1e-9, BY_HAND),
    // In at Q, out at 2Q: on for V/Q, off for V/Q.
    ("pump-starts", "flow=15 L/s&pump=30 L/s&volume=4500 L", "cycle_s", 600.0, 1e-12, BY_HAND),
    ("pump-starts", "flow=15 L/s&pump=30 L/s&volume=4500 L", "worst_starts_per_h", 6.0, 1e-12, BY_HAND),
    ("pump-starts", "flow=12 L/s&pump=30 L/s&volume=4500 L", "duty_share", 0.4, 1e-12, BY_HAND),
    ("pump-starts", "flow=1&pump=2&start_at=80 %&stop_at=20 %&capacity=100 kg", "cycle_s", 120.0, 1e-9, BY_HAND),
    ("pump-volume", "pump=2 kg/s&starts=12", "volume_kg", 150.0, 1e-12, BY_HAND),
    ("battery-run-time", "capacity=40 MJ&level=60 %&keep=20 %&draw=7 kW&charge=2 kW", "run_s", 3200.0, 1e-12, BY_HAND),
    ("stage-bands", STAGES_AT_15, "first_duty_share", 1.0, 0.0, COMMON),
    ("stage-bands", STAGES_AT_15, "second_duty_share", 1.0 / 3.0, 1e-12, BY_HAND),
    // 8 MJ fall at 3 kW and rise at 6 kW.
    ("stage-bands", STAGES_AT_15, "cycle_s", 4000.0, 1e-9, BY_HAND),
    ("stage-bands", STAGES_AT_15, "gap_share", 0.1, 1e-9, BY_HAND),
    (
        "loop-charge",
        "holds=420 kg&keep_free=12 kg&expands=2 %&flow=5 kg/s&round_trip=60 s",
        "most_kg",
        400.0,
        1e-12,
        BY_HAND,
    ),
    (
        "loop-charge",
        "holds=420 kg&keep_free=20 kg&flow=5 kg/s&round_trip=60 s&charge=415 kg",
        "over_full_kg",
        15.0,
        1e-12,
        BY_HAND,
    ),
    // Two dips that run into each other across the end of the list: 2 + 3, which one pass does not see.
    ("sequent-peak", "inflows=7, 15, 10, 8&draft=10&step=1", "store_kg", 5.0, 1e-12, BY_HAND),
    ("sequent-peak", "inflows=7, 15, 10, 8&draft=10&step=1&once=yes", "store_kg", 3.0, 1e-12, BY_HAND),
    ("load-levelling", "loads=0, 0, 12, 12 kW&step=1 h", "plant_w", 6e3, 1e-12, BY_HAND),
    ("load-levelling", "loads=0, 0, 12, 12 kW&step=1 h", "store_j", 6e3 * 7200.0, 1e-12, BY_HAND),
    // Twice the level takes √2 of the time: 4 m to 1 m takes as long as 1 m to 0.
    ("gravity-drain", "tank=1 m&hole=10 mm&from=1 m&gravity=2 m/s2", "time_s", 1e4, 1e-9, BY_HAND),
    ("gravity-drain", "tank=1 m&hole=10 mm&from=4 m&to=1 m&gravity=2 m/s2", "time_s", 1e4, 1e-9, BY_HAND),
    (
        "expansion-vessel",
        "content=100 L&expands=2 %&fill=1 bar&most=3 bar&ambient=1 bar",
        "vessel_m3",
        0.004,
        1e-9,
        BY_HAND,
    ),
];

const STAGES_AT_15: &str = "first_start=75 %&first_stop=95 %&second_start=45 %&second_stop=65 %&first=12 kW&second=9 kW\
                            &capacity=40 MJ&load=15 kW";

#[test]
fn rows_come_out() {
    holds(ROWS);
}

#[test]
fn the_line_says_how_it_came_about() {
    says(&[
        (
            "time-to-full-or-empty",
            "level=120 kg&capacity=800 kg&inflow=300 g/s&outflow=900 g/s",
            "Empty in 3 min 20 s: 120 kg ÷ 600 g/s more out than in.",
        ),
        (
            "pump-volume",
            "pump=30 L/s&cycle=10 min",
            "4.5 m³ between start and stop: 10 min × 30 L/s ÷ 4; 2.25 m³ with two pumps that take turns.",
        ),
        (
            "loop-charge",
            "holds=420 kg&keep_free=20 kg&flow=5 kg/s&round_trip=60 s&charge=415 kg",
            "Over-full by 15 kg: 415 kg in it, 400 kg at most.",
        ),
        (
            "stage-bands",
            STAGES_AT_15,
            "In order; the first alone cannot hold 15 kW, both can. The second starts every 1 h 7 min.",
        ),
        (
            "battery-for-outage",
            "draw=1 kWh/day&outage=2.5 day&depth=50 %&temperature_factor=1.3&each=2.4 kWh",
            "23.4 MJ of battery: 9 MJ ÷ 50 % depth × 1.3 for the cold. 3 batteries of 8.64 MJ.",
        ),
        (
            "sequent-peak",
            "inflows=12, 8, 6, 15, 10 t/day&draft=12 t/day&step=1 day",
            "No store keeps up 138.9 g/s: 118.1 g/s flows in on average.",
        ),
    ]);
}

/// Common practice, no source: stages at 95/75 % and 65/45 % run the first stage alone until it cannot hold.
#[test]
fn the_first_stage_runs_alone_until_it_cannot_hold() {
    for (load, alone) in [("3 kW", true), ("12 kW", true), ("12.1 kW", false), ("20 kW", false)] {
        let answer = told("stage-bands", &format!("{STAGES}&load={load}"));
        assert_eq!(answer.verdict, Verdict::Holds, "{load}");
        assert_eq!(answer.figures.get("second_duty_share") == Some(0.0), alone, "{load}");
    }
    assert_eq!(told("stage-bands", &format!("{STAGES}&load=22 kW")).verdict, Verdict::Fails);
}

#[test]
fn bands_out_of_order_are_found() {
    let found = |levels: &str| -> Vec<&'static str> {
        let query = format!("{levels}&load=3&first=4&second=5&capacity=1000 kg&least_cycle=1 h");
        told("stage-bands", &query).findings.iter().map(|finding| finding.code).collect()
    };
    let levels = |a, b, c, d| format!("first_start={a} %&first_stop={b} %&second_start={c} %&second_stop={d} %");
    assert_eq!(found(&levels(45, 65, 75, 95)), ["stages-out-of-order", "stage-chatters"]);
    assert_eq!(found(&levels(45, 65, 45, 95)), ["stages-out-of-order", "stage-chatters"]);
    assert_eq!(found(&levels(45, 65, 30, 50)), ["bands-overlap", "stage-chatters"]);
    // Stages that empty a sump: the same bands from the top.
    assert_eq!(found(&levels(25, 5, 55, 35)), ["stage-chatters"]);
    assert_eq!(found(&levels(55, 35, 25, 5)), ["stages-out-of-order", "stage-chatters"]);
    // 600 kg at 3 kg/s down and 1 kg/s up take 800 s; a band of 0.05 % a second is a wide one.
    let calm = told(
        "stage-bands",
        &format!("{}&load=3&first=4&second=5&capacity=1 t&least_cycle=800 s", levels(10, 70, 2, 8)),
    );
    assert_eq!(calm.verdict, Verdict::Holds);
}

#[test]
fn what_cannot_be_met_is_an_answer() {
    for (name, query, code, verdict) in [
        ("pump-starts", "flow=3&pump=2&volume=1 kg", "pump-too-small", Verdict::Fails),
        ("pump-starts", "flow=1&pump=2&volume=100 kg&least_cycle=10 min", "starts-too-often", Verdict::Fails),
        (
            "pump-starts",
            "flow=0.1&pump=2&volume=100 kg&least_cycle=10 min",
            "starts-too-often",
            Verdict::HoldsWithCautions,
        ),
        ("storage-for-outage", "draw=1&outage=10&every=20&refill=0.9", "refill-too-slow", Verdict::Fails),
        ("supply-lasts", "stock=12 t&draw=60 kg/day&wanted=300 day", "stock-short", Verdict::Fails),
        ("battery-run-time", "capacity=1 MJ&draw=1 kW&wanted=1 h", "battery-short", Verdict::Fails),
        ("battery-run-time", "capacity=1 MJ&draw=1 kW&level=10 %&keep=20 %", "battery-flat", Verdict::Fails),
        ("loop-charge", "holds=420 kg&keep_free=20 kg&flow=8 kg/s&round_trip=60 s", "loop-too-small", Verdict::Fails),
        ("sequent-peak", "inflows=1, 2&draft=2&step=1", "draft-above-average", Verdict::Fails),
        ("stock-cycle", "demand=3&fill=2&setup=1&holding=1", "fill-too-small", Verdict::Fails),
        ("time-to-full-or-empty", "level=0&outflow=1", "store-empty", Verdict::Fails),
    ] {
        let answer = told(name, query);
        assert_eq!((answer.verdict, answer.findings[0].code), (verdict, code), "{name}?{query}");
    }
    let starved = told("loop-charge", &format!("{LOOP}&charge=290 kg"));
    assert_eq!(starved.findings[0].remedy.as_ref().expect("a remedy").say, "Put in 10 kg more.");
    assert_eq!(told("loop-charge", &format!("{LOOP}&charge=300 kg")).verdict, Verdict::Holds);
}

#[test]
fn one_fault_each() {
    use FaultCode::{Contradiction, MissingField, OutOfRange, WrongDimension};
    for (name, query, at, code) in [
        ("time-to-full-or-empty", "level=50 %&outflow=1", "capacity", MissingField),
        ("time-to-full-or-empty", "level=1 kg&inflow=1", "capacity", MissingField),
        ("time-to-full-or-empty", "level=9 kg&capacity=8 kg", "level", Contradiction),
        ("time-to-full-or-empty", "level=1 kg&capacity=8 J", "capacity", WrongDimension),
        ("time-to-full-or-empty", "level=1 kg&outflow=8 W", "outflow", WrongDimension),
        ("storage-for-outage", "draw=1&outage=10&every=10", "every", Contradiction),
        ("pump-starts", "flow=1&pump=2", "volume", MissingField),
        ("pump-starts", "flow=1&pump=2&start_at=3 kg", "stop_at", MissingField),
        ("pump-starts", "flow=1&pump=2&start_at=3 kg&stop_at=3 kg", "stop_at", Contradiction),
        ("pump-starts", "flow=1&pump=2&start_at=3 kg&stop_at=3 kg&volume=1 kg", "volume", Contradiction),
        ("pump-volume", "pump=2", "cycle", MissingField),
        ("pump-volume", "pump=2&cycle=1&starts=1", "starts", Contradiction),
        (
            "stage-bands",
            "first_start=1&first_stop=1&second_start=0&second_stop=0.1&load=1&first=1&second=1",
            "first_stop",
            Contradiction,
        ),
        (
            "stage-bands",
            "first_start=0.5&first_stop=1&second_start=0.2&second_stop=0.1&load=1&first=1&second=1",
            "second_stop",
            Contradiction,
        ),
        ("loop-charge", "holds=1 kg&flow=1", "round_trip", MissingField),
        ("loop-charge", "holds=1 kg&keep_free=2 kg", "keep_free", Contradiction),
        ("sequent-peak", "inflows=1, -2&draft=2&step=1", "inflows", OutOfRange),
        ("sequent-peak", "inflows=1 kg/s, 2 W&draft=2&step=1", "inflows", WrongDimension),
        ("gravity-drain", "tank=1&hole=2&from=1", "hole", Contradiction),
        ("gravity-drain", "tank=2&hole=1&from=1&to=2", "to", Contradiction),
        ("expansion-vessel", "content=1&expands=0.1&fill=2 bar&most=2 bar", "most", Contradiction),
    ] {
        assert_eq!(faults(name, query), named([(at, code)]), "{name}?{query}");
    }
}

/// An item without a unit of measure has that of the next one that has one.
#[test]
fn a_list_says_its_unit_of_measure_once() {
    let rest = "draft=1 kg/s&step=1 s";
    let once = told("sequent-peak", &format!("inflows=500, 700,1800 g/s&{rest}"));
    assert_eq!(once, told("sequent-peak", &format!("inflows=0.5 kg/s, 700 g/s, 1.8&{rest}")));
    assert_eq!(once, told("sequent-peak", &format!("inflows=0.5,0.7,1.8&{rest}")));
}

#[test]
fn a_list_is_not_endless() {
    let list = vec!["1"; 1001].join(",");
    assert_eq!(
        faults("sequent-peak", &format!("inflows={list}&draft=1&step=1")),
        named([("inflows", FaultCode::OutOfRange)])
    );
}

proptest! {
    /// What bridges an outage runs dry when the outage ends.
    #[test]
    fn what_bridges_an_outage_lasts_it(draw in 0.01..100.0_f64, supply in 0.0..0.9_f64, outage in 1.0..1e6_f64) {
        let supply = supply * draw;
        let needed = told("storage-for-outage", &format!("draw={draw}&supply={supply}&outage={outage}"))
            .figures.get("needed_kg").unwrap();
        let lasts = told("time-to-full-or-empty", &format!("level={needed} kg&inflow={supply}&outflow={draw}"))
            .figures.get("time_to_empty_s").unwrap();
        prop_assert!((lasts - outage).abs() <= 1e-9 * outage, "{lasts} {outage}");
        let days = told("supply-lasts", &format!("stock={needed} kg&draw={draw}&made={supply}")).figures.get("lasts_s").unwrap();
        prop_assert!((days - outage).abs() <= 1e-9 * outage);
    }

    /// No flow makes a pump start more often than the volume for it was made for.
    #[test]
    fn no_flow_is_worse_than_half(pump in 0.1..50.0_f64, cycle in 10.0..5000.0_f64, share in 0.001..0.999_f64) {
        let sized = told("pump-volume", &format!("pump={pump}&cycle={cycle}"));
        let volume = sized.figures.get("volume_kg").unwrap();
        let asked = |flow: f64| told("pump-starts", &format!("flow={flow}&pump={pump}&volume={volume} kg&least_cycle={cycle}"));
        let any = asked(pump * share);
        prop_assert!(any.figures.get("cycle_s").unwrap() >= cycle * (1.0 - 1e-9));
        prop_assert_eq!(any.verdict, Verdict::Holds);
        prop_assert!((asked(pump / 2.0).figures.get("cycle_s").unwrap() - cycle).abs() <= 1e-9 * cycle);
    }

    /// The least store keeps up the draft over many passes, and nine tenths of it do not.
    #[test]
    fn the_least_store_is_enough_and_least(
        inflows in prop::collection::vec(0..20_u32, 1..12), spare in 0..4_u32, turn in 0..12_usize,
    ) {
        let mean = f64::from(inflows.iter().sum::<u32>()) / inflows.len() as f64;
        let draft = (mean - f64::from(spare)).max(0.0);
        let list: Vec<String> = inflows.iter().map(ToString::to_string).collect();
        let ask = |list: &[String]| {
            told("sequent-peak", &format!("inflows={}&draft={draft}&step=1", list.join(",")))
        };
        let answer = ask(&list);
        let store = answer.figures.get("store_kg").unwrap();
        let start = answer.figures.get("least_start_kg").unwrap();
        let short = |store: f64, start: f64| {
            let (mut level, mut short) = (start.min(store), 0.0_f64);
            for inflow in inflows.iter().cycle().take(30 * inflows.len()) {
                level += f64::from(*inflow) - draft;
                short += (-level).max(0.0);
                level = level.clamp(0.0, store);
            }
            short
        };
        prop_assert!(short(store, start) <= 1e-9, "{} short", short(store, start));
        prop_assert!(store == 0.0 || short(0.9 * store, store) > 1e-9);
        prop_assert!(start == 0.0 || short(store, 0.9 * start) > 1e-9);
        // Where the list begins does not matter to the store.
        let mut turned = list.clone();
        turned.rotate_left(turn % list.len());
        prop_assert!((ask(&turned).figures.get("store_kg").unwrap() - store).abs() <= 1e-9);
    }

    /// Ten times the flows and amounts take the same time.
    #[test]
    fn scale_leaves_times_alone(level in 1.0..100.0_f64, out in 0.1..10.0_f64, more in 0.1..10.0_f64, power in -5..5_i32) {
        let factor = 2_f64.powi(power);
        let time = |factor: f64| {
            told("pump-starts", &format!("flow={}&pump={}&volume={} kg", out * factor, (out + more) * factor, level * factor))
                .figures.get("cycle_s").unwrap()
        };
        prop_assert!((time(factor) - time(1.0)).abs() <= 1e-12 * time(1.0));
    }
}
