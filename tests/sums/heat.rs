//! Sums of heat: by hand, by common practice, and against each other.

use hotwell::plan::FaultCode;
use hotwell::questions::answer::Verdict;
use proptest::prelude::*;

use super::{BY_HAND, COMMON, Row, faults, holds, named, says, told};

const WATER: &str = "freezes=0 °C&drop=14 K&boils=100 °C";
/// A chamber of 36 cells under pulses that put 105 MJ into it.
const CHAMBER: &str = "power=500 kW&on=5 min&removed=150 kW&specific_heat=2 kJ/(kg·K)&start=140 °C&limit=175 °C&cells=36&cell_limit=120 kg";
const TURBINE: &str = "heat=600 kW&flow=500 g/s&specific_heat=2 kJ/(kg·K)&outlet=80 °C&efficiency=15 %&rating=18 kW";
const LOOP: &str = "flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)";

const ROWS: &[Row] = &[
    ("stream-heat", "flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&difference=11 K", "heat_w", 39_600.0, 1e-12, BY_HAND),
    ("stream-heat", "flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&from=15 °C&to=4 °C", "heat_w", 39_600.0, 1e-12, BY_HAND),
    ("stream-heat", "flow=2 kg/s&specific_heat=4 kJ/(kg·K)&heat=40 kW&from=59 °F", "to_c", 20.0, 1e-12, BY_HAND),
    (
        "heat-store",
        "heat=418 MJ&specific_heat=4.18 kJ/(kg·K)&difference=10 K&density=1000 kg/m³",
        "volume_m3",
        10.0,
        1e-12,
        BY_HAND,
    ),
    (
        "warm-up-time",
        "power=20 kW&from=20 °C&to=70 °C&masses=100 kg&specific_heats=4 kJ/(kg·K)",
        "time_s",
        1000.0,
        1e-12,
        BY_HAND,
    ),
    // Halfway to where it settles takes τ·ln 2.
    (
        "warm-up-time",
        "power=10 kW&from=20 °C&to=70 °C&heat_capacity=1 MJ/K&conductance=100 W/K",
        "time_s",
        1e4 * std::f64::consts::LN_2,
        1e-12,
        BY_HAND,
    ),
    (
        "warm-up-time",
        "power=10 kW&from=20 °C&to=70 °C&heat_capacity=1 MJ/K&conductance=100 W/K",
        "settles_at_c",
        120.0,
        1e-12,
        BY_HAND,
    ),
    (
        "cool-down",
        "from=100 °C&ambient=20 °C&to=40 °C&heat_capacity=1 MJ/K&area=5 m²&coefficient=20 W/(m²·K)",
        "time_s",
        2e4 * std::f64::consts::LN_2,
        1e-12,
        BY_HAND,
    ),
    (
        "cool-down",
        "from=100 °C&ambient=20 °C&after=1 h&time_constant=1 h",
        "after_c",
        20.0 + 80.0 / std::f64::consts::E,
        1e-12,
        BY_HAND,
    ),
    (
        "mixing-temperature",
        "flows=1, 3 kg/s&specific_heats=4 kJ/(kg·K)&temperatures=80, 20 °C",
        "settles_at_c",
        35.0,
        1e-12,
        BY_HAND,
    ),
    // 1 kg at 20 °C gives 80 kJ down to 0 °C, which melts 0.25 of the 0.5 kg.
    (
        "mixing-temperature",
        "masses=1 kg&specific_heats=4 kJ/(kg·K)&temperatures=20 °C&solid=0.5 kg&latent=320 kJ/kg",
        "melted_kg",
        0.25,
        1e-12,
        BY_HAND,
    ),
    (
        "mixing-temperature",
        "masses=1 kg&specific_heats=4 kJ/(kg·K)&temperatures=20 °C&solid=0.5 kg&latent=320 kJ/kg",
        "settles_at_c",
        0.0,
        1e-12,
        BY_HAND,
    ),
    ("set-point-window", WATER, "set_point_least_c", 14.0, 0.0, COMMON),
    ("set-point-window", WATER, "set_point_advised_c", 17.0, 1e-12, BY_HAND),
    ("set-point-window", "freezes=-20 °C&drop=14 K", "set_point_least_c", -6.0, 0.0, COMMON),
    ("coolers-needed", "heat=125 kW&flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&drop=11 K", "count", 4.0, 0.0, BY_HAND),
    ("coolers-needed", "heat=125 kW&moves=50 kW&draws=12 kW", "rejects_w", 155e3, 1e-12, BY_HAND),
    (
        "turbines-needed",
        "heat=600 kW&flow=500 g/s&specific_heat=2 kJ/(kg·K)&inlet=180 °C&outlet=80 °C",
        "count",
        6.0,
        0.0,
        BY_HAND,
    ),
    ("ballast-window", CHAMBER, "least_kg", 1500.0, 1e-12, BY_HAND),
    ("ballast-window", CHAMBER, "most_kg", 4320.0, 1e-12, BY_HAND),
    ("pulsed-heat", "power=2 kW&on=10&every=20&heat_capacity=1 kJ/K", "swing_constant_k", 10.0, 1e-12, BY_HAND),
    ("wall-loss", "area=2 m²&resistances=0.83 m²·K/W&difference=10 K", "coefficient_w_m2_k", 1.0, 1e-12, BY_HAND),
    (
        "latent-duty",
        "latent=334 kJ/kg&mass=2 kg&changes_at=0 °C&from=-10 °C&before=2 kJ/(kg·K)&to=5 °C&after=4 kJ/(kg·K)",
        "heat_j",
        748e3,
        1e-12,
        BY_HAND,
    ),
    ("latent-duty", "latent=2.2 MJ/kg&power=1.1 MW", "flow_kg_s", 0.5, 1e-12, BY_HAND),
    ("chiller", "moves=40 kW&cop=3.2", "draws_w", 12_500.0, 1e-12, BY_HAND),
    ("chiller", "cop=3&draws=12 kW", "rejects_w", 48e3, 1e-12, BY_HAND),
    ("freeze-check", "freezes=0 °C&feed=-6 °C", "product_c", -6.0, 1e-12, BY_HAND),
    (
        "log-mean-difference",
        "heat=50 kW&hot_in=90 °C&hot_out=60 °C&cold_in=20 °C&cold_out=50 °C",
        "conductance_w_k",
        1250.0,
        1e-9,
        BY_HAND,
    ),
];

#[test]
fn rows_come_out() {
    holds(ROWS);
}

#[test]
fn the_line_says_how_it_came_about() {
    says(&[
        (
            "stream-heat",
            "flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&from=15 °C&to=4 °C",
            "39.6 kW given off: 1 kg/s × 3.6 kJ/(kg·K) × (15 − 4) K.",
        ),
        ("set-point-window", WATER, "From 14 °C to 100 °C, best 17 °C: 0 °C + 14 K drop at least."),
        ("ballast-window", CHAMBER, "From 1.5 t to 4.32 t: 105 MJ in a pulse, 35 K to warm up by."),
        (
            "coolers-needed",
            "heat=125 kW&moves=50 kW&draws=12 kW",
            "3 coolers: 125 kW ÷ 50 kW = 2.5, running 83 %. They draw 30 kW and reject 155 kW.",
        ),
        ("latent-duty", "latent=334 kJ/kg&mass=18 g", "6.01 kJ: 18 g × 334 kJ/kg."),
        (
            "freeze-check",
            "freezes=0 °C&feed=-6 °C",
            "The product leaves at -6 °C and freezes at 0 °C. Warm the feed by 6 K.",
        ),
    ]);
}

/// Common practice, no source: with plain water and a drop of 14 K the lowest safe set point is 14 °C; a coolant that freezes
/// lower allows a lower one.
#[test]
fn water_must_not_freeze_behind_its_cooler() {
    let at = |set: f64| told("set-point-window", &format!("{WATER}&set_point={set}"));
    assert_eq!(at(14.0).verdict, Verdict::Holds);
    assert_eq!((at(13.9).verdict, at(13.9).findings[0].code), (Verdict::Fails, "coolant-freezes"));
    assert_eq!((at(101.0).verdict, at(101.0).findings[0].code), (Verdict::Fails, "set-point-too-high"));
    assert_eq!(told("set-point-window", "freezes=-20 °C&drop=14 K&set_point=0 °C").verdict, Verdict::Holds);
    let near = told("set-point-window", &format!("{WATER}&margin=2 K&set_point=15 °C"));
    assert_eq!((near.verdict, near.findings[0].code), (Verdict::HoldsWithCautions, "coolant-freezes"));
}

/// Common practice, no source: a hot chamber on about 100 kg of fluid per cell rides out pulses that 1.6 kg per cell does not.
#[test]
fn a_heavy_chamber_rides_out_pulses_that_a_light_one_does_not() {
    let heavy = told("ballast-window", &format!("{CHAMBER}&mass={} kg", 36 * 100));
    assert_eq!(heavy.verdict, Verdict::Holds);
    let light = told("ballast-window", &format!("{CHAMBER}&mass={} kg", 36.0 * 1.6));
    assert_eq!((light.verdict, light.findings[0].code), (Verdict::Fails, "ballast-light"));
    assert!(light.figures.get("peak_c").unwrap() > 1000.0);
    let choked = told("ballast-window", &format!("{CHAMBER}&mass={} kg", 36 * 121));
    assert_eq!((choked.verdict, choked.findings[0].code), (Verdict::Fails, "ballast-heavy"));
}

/// Common practice, no source: turbine heat above 200 °C inlet is wasted. This one is rated there: 0.15 × 1 kW/K × 120 K = 18 kW.
#[test]
fn heat_above_the_rating_is_wasted() {
    let at = |inlet: f64| told("turbines-needed", &format!("{TURBINE}&inlet={inlet} °C"));
    assert_eq!(at(200.0).figures.get("inlet_rated_c"), Some(200.0));
    for (inlet, wasted, generated) in
        [(190.0, 0.0, 16.5e3), (200.0, 0.0, 18e3), (210.0, 10e3, 18e3), (320.0, 120e3, 18e3)]
    {
        let answer = at(inlet);
        approx::assert_abs_diff_eq!(answer.figures.get("each_wastes_w").unwrap(), wasted, epsilon = 1e-6);
        approx::assert_relative_eq!(answer.figures.get("each_generates_w").unwrap(), generated, max_relative = 1e-12);
        assert_eq!(answer.verdict == Verdict::Holds, wasted == 0.0, "{inlet}");
    }
}

#[test]
fn what_cannot_be_met_is_an_answer() {
    for (name, query, code, verdict) in [
        (
            "warm-up-time",
            "power=10 kW&from=20 °C&to=130 °C&heat_capacity=1 MJ/K&conductance=100 W/K",
            "never-warm",
            Verdict::Fails,
        ),
        (
            "warm-up-time",
            "power=10 kW&from=20 °C&to=120 °C&heat_capacity=1 MJ/K&conductance=100 W/K",
            "never-warm",
            Verdict::Fails,
        ),
        (
            "cool-down",
            "from=90 °C&ambient=20 °C&to=10 °C&time_constant=1 h",
            "limit-not-reached",
            Verdict::HoldsWithCautions,
        ),
        (
            "mixing-temperature",
            "masses=1 kg&specific_heats=4 kJ/(kg·K)&temperatures=-9 °C&solid=1 kg&latent=3 kJ/kg",
            "solid-left",
            Verdict::HoldsWithCautions,
        ),
        ("set-point-window", "freezes=0 °C&drop=14 K&limit=10 °C", "no-set-point", Verdict::Fails),
        (
            "turbines-needed",
            "heat=6 kW&flow=1&specific_heat=2 kJ/(kg·K)&inlet=90 °C&outlet=80 °C&inlet_min=100 °C",
            "too-cold-to-run",
            Verdict::Fails,
        ),
        (
            "ballast-window",
            "power=5 MW&on=1 h&specific_heat=2 kJ/(kg·K)&start=140 °C&limit=175 °C&cells=36&cell_limit=9 kg",
            "no-ballast",
            Verdict::Fails,
        ),
        (
            "wall-loss",
            "area=1&thicknesses=8 mm&conductivities=0.78&inside_at=20 °C&outside_at=-30 °C",
            "face-freezes",
            Verdict::HoldsWithCautions,
        ),
        ("chiller", "moves=40 kW&cop=9&cold=-5 °C&hot=40 °C", "beyond-carnot", Verdict::Fails),
        ("freeze-check", "freezes=0 °C&boils=100 °C&leaves_at=fixed&fixed=110 °C", "product-boils", Verdict::Fails),
        (
            "freeze-check",
            "freezes=0 °C&leaves_at=zone&zone=1 °C&margin=2 K",
            "product-freezes",
            Verdict::HoldsWithCautions,
        ),
        (
            "lumped-sphere",
            "density=8500&specific_heat=400&coefficient=400&diameter=1 m&conductivity=20",
            "not-one-lump",
            Verdict::HoldsWithCautions,
        ),
    ] {
        let answer = told(name, query);
        assert_eq!((answer.verdict, answer.findings[0].code), (verdict, code), "{name}?{query}");
    }
}

#[test]
fn one_fault_each() {
    use FaultCode::{Contradiction, MissingField, OutOfRange, UnknownChoice, WrongDimension};
    for (name, query, at, code) in [
        ("stream-heat", "flow=0&specific_heat=4 kJ/(kg·K)&difference=2", "flow", OutOfRange),
        ("stream-heat", "flow=1&specific_heat=0&difference=2", "specific_heat", OutOfRange),
        ("stream-heat", "flow=1&specific_heat=-4&difference=2", "specific_heat", OutOfRange),
        ("stream-heat", "flow=1&specific_heat=4&from=-274 °C&to=5 °C", "from", OutOfRange),
        ("stream-heat", "flow=1&specific_heat=4&from=4 kg&to=5 °C", "from", WrongDimension),
        ("stream-heat", "flow=1&specific_heat=4&difference=5 kg", "difference", WrongDimension),
        ("stream-heat", "flow=1&specific_heat=4 kJ/kg&difference=5", "specific_heat", WrongDimension),
        ("stream-heat", "flow=1&specific_heat=4&from=5", "to", MissingField),
        ("stream-heat", "flow=1&specific_heat=4", "difference", MissingField),
        ("stream-heat", "flow=1&specific_heat=4&from=5&to=6&difference=1", "difference", Contradiction),
        ("sensible-heat", "masses=1,2,3 kg&specific_heats=1,2&difference=1", "specific_heats", Contradiction),
        ("warm-up-time", "power=1&from=5&to=4&heat_capacity=1", "to", Contradiction),
        ("warm-up-time", "power=1&from=5&to=9", "heat_capacity", MissingField),
        ("cool-down", "from=5&ambient=9", "time_constant", MissingField),
        ("cool-down", "from=5&ambient=9&time_constant=1", "to", MissingField),
        ("cool-down", "from=5&ambient=9&to=7&reading=4&reading_after=3", "reading", Contradiction),
        ("mixing-temperature", "masses=1 kg&flows=1 kg/s&specific_heats=1&temperatures=1", "flows", Contradiction),
        (
            "mixing-temperature",
            "masses=1 kg&specific_heats=1&temperatures=1&solid=1&latent=1&solid_at=3 °C",
            "solid_at",
            Contradiction,
        ),
        ("set-point-window", "freezes=0 °C&drop=1&boils=-3 °C", "boils", Contradiction),
        ("coolers-needed", "heat=1", "flow", MissingField),
        ("turbines-needed", "heat=1&flow=1&specific_heat=1&inlet=80 °C&outlet=90 °C", "outlet", Contradiction),
        ("ballast-window", "power=1&on=1&specific_heat=1&start=9&limit=9", "limit", Contradiction),
        ("pulsed-heat", "power=1&on=2&every=1&heat_capacity=1", "on", Contradiction),
        ("wall-loss", "area=1&difference=1&inside=0&outside=0", "thicknesses", MissingField),
        ("latent-duty", "latent=1", "mass", MissingField),
        ("latent-duty", "latent=1&mass=1&flow=1", "flow", Contradiction),
        ("latent-duty", "latent=1&mass=1&from=-3&before=1&to=-2&after=1&changes_at=0", "to", Contradiction),
        ("freeze-check", "freezes=0&leaves_at=zone", "zone", MissingField),
        ("freeze-check", "freezes=0&leaves_at=door&feed=1", "leaves_at", UnknownChoice),
        ("chiller", "moves=1", "cop", MissingField),
        ("chiller", "moves=1&cop=1&draws=1", "draws", Contradiction),
        ("carnot-limit", "hot=1&cold=1", "hot", Contradiction),
        (
            "heat-exchanger",
            "conductance=4000&hot_capacity=1&cold_capacity=2&hot_in=9&cold_in=3",
            "conductance",
            OutOfRange,
        ),
        ("heat-exchanger", "conductance=4&hot_capacity=1&cold_capacity=2&hot_in=1&cold_in=3", "hot_in", Contradiction),
        ("log-mean-difference", "heat=1&hot_in=90&hot_out=60&cold_in=20&cold_out=95", "hot_out", Contradiction),
        ("steam-state", "pressure=1e5", "temperature", MissingField),
        ("steam-state", "pressure=1e5&temperature=20&quality=1", "quality", Contradiction),
        ("steam-state", "pressure=30 MPa&quality=1", "pressure", OutOfRange),
        ("steam-state", "temperature=380&quality=1", "temperature", OutOfRange),
        ("steam-cycle", "pressure=1e5&condenser=2e5", "condenser", Contradiction),
        ("steam-cycle", "pressure=1e6&temperature=150&condenser=1e4", "temperature", Contradiction),
        ("steam-cycle", "pressure=30 MPa&condenser=10 kPa", "pressure", OutOfRange),
        (
            "steam-cycle",
            "pressure=20 MPa&condenser=19.9 MPa&turbine_efficiency=0.1&pump_efficiency=0.01",
            "condenser",
            Contradiction,
        ),
    ] {
        assert_eq!(faults(name, query), named([(at, code)]), "{name}?{query}");
    }
}

/// A temperature is the same on every scale, and a difference has no zero of its own.
#[test]
fn scales_of_temperature_agree() {
    let query = |temperatures: &str| format!("masses=1, 2 kg&specific_heats=4 kJ/(kg·K)&temperatures={temperatures}");
    let celsius = told("mixing-temperature", &query("20, 50 °C")).figures.get("settles_at_c").unwrap();
    for other in ["20, 50", "293.15, 323.15 K", "68, 122 °F", "20 °C, 323.15 K", "20 C, 122F", "20, 50 degC"] {
        let figure = told("mixing-temperature", &query(other)).figures.get("settles_at_c").unwrap();
        approx::assert_abs_diff_eq!(figure, celsius, epsilon = 1e-9);
    }
    for other in ["9", "9 K", "9 °C", "16.2 °F", "9C", "16.2 degF"] {
        let figure = told("stream-heat", &format!("{LOOP}&difference={other}")).figures.get("heat_w").unwrap();
        approx::assert_relative_eq!(figure, 32_400.0, max_relative = 1e-12);
    }
}

proptest! {
    /// What mixes loses no heat, and ends between the coldest and the hottest.
    #[test]
    fn mixing_keeps_the_heat(
        parts in prop::collection::vec((0.01..100.0_f64, 100.0..5000.0_f64, -50.0..300.0_f64), 1..8),
    ) {
        let list = |pick: fn(&(f64, f64, f64)) -> f64| {
            parts.iter().map(|part| pick(part).to_string()).collect::<Vec<_>>().join(",")
        };
        let query = format!(
            "masses={}&specific_heats={}&temperatures={}",
            list(|part| part.0), list(|part| part.1), list(|part| part.2)
        );
        let mixed = told("mixing-temperature", &query).figures.get("settles_at_c").unwrap();
        let (all, moved) = parts.iter().fold((0.0, 0.0), |(all, moved), (mass, heat, at)| {
            (all + mass * heat, moved + mass * heat * (at - mixed))
        });
        prop_assert!(moved.abs() <= 1e-9 * all * 350.0);
        let least = parts.iter().map(|part| part.2).fold(f64::INFINITY, f64::min);
        let greatest = parts.iter().map(|part| part.2).fold(f64::NEG_INFINITY, f64::max);
        prop_assert!(mixed >= least - 1e-9 && mixed <= greatest + 1e-9);
    }

    /// After the time that it takes to a limit, a body is at that limit.
    #[test]
    fn cooling_there_and_reading_agree(from in 30.0..300.0_f64, ambient in -40.0..20.0_f64, share in 0.01..0.99_f64, constant in 1.0..1e5_f64) {
        let to = ambient + (from - ambient) * share;
        let base = format!("from={from}&ambient={ambient}");
        let time = told("cool-down", &format!("{base}&to={to}&time_constant={constant}")).figures.get("time_s").unwrap();
        prop_assume!(time >= 1e-3);
        let then = told("cool-down", &format!("{base}&after={time}&time_constant={constant}")).figures.get("after_c").unwrap();
        prop_assert!((then - to).abs() <= 1e-8, "{then} {to}");
        // And that reading gives the time constant back.
        let read = told("cool-down", &format!("{base}&to={to}&reading={to}&reading_after={time}"));
        prop_assert!((read.figures.get("time_constant_s").unwrap() - constant).abs() <= 1e-6 * constant);
    }

    /// The heat capacity for a wanted swing swings so far.
    #[test]
    fn ballast_swings_as_wanted(power in 1e3..1e6_f64, duty in 0.05..0.95_f64, every in 60.0..1e5_f64, through in 10.0..1e4_f64, part in 0.01..0.9_f64) {
        let on = duty * every;
        let wanted = part * power / through;
        let base = format!("power={power}&on={on}&every={every}&conductance={through}");
        let needed = told("pulsed-heat", &format!("{base}&swing={wanted}")).figures.get("needed_j_k").unwrap();
        prop_assume!(needed > 1e-6);
        let swing = told("pulsed-heat", &format!("{base}&heat_capacity={needed}")).figures.get("swing_k").unwrap();
        prop_assert!((swing - wanted).abs() <= 1e-9 * wanted, "{swing} {wanted}");
    }

    /// An exchanger closes: what one stream loses the other gains; none beats counterflow, and a parallel one is the worst.
    #[test]
    fn exchangers_close(through in 1.0..1e4_f64, hot in 100.0..1e4_f64, cold in 100.0..1e4_f64) {
        let asked = |arrangement: &str| {
            told("heat-exchanger", &format!(
                "conductance={through}&hot_capacity={hot}&cold_capacity={cold}&hot_in=200&cold_in=20&arrangement={arrangement}"
            ))
        };
        let heat = |arrangement: &str| asked(arrangement).figures.get("heat_w").unwrap();
        for arrangement in ["counterflow", "parallel", "cross-flow", "cross-flow-exact"] {
            let answer = asked(arrangement);
            let figure = |name| answer.figures.get(name).unwrap();
            prop_assert!((hot * (200.0 - figure("hot_out_c")) - figure("heat_w")).abs() <= 1e-9 * hot * 200.0);
            prop_assert!((cold * (figure("cold_out_c") - 20.0) - figure("heat_w")).abs() <= 1e-9 * cold * 200.0);
        }
        let (counter, cross, parallel) = (heat("counterflow"), heat("cross-flow-exact"), heat("parallel"));
        prop_assert!(counter >= cross * (1.0 - 1e-9) && cross >= parallel * (1.0 - 1e-9), "{counter} {cross} {parallel}");
        // The log mean difference gives the conductance back.
        let answer = asked("counterflow");
        let (hot_out, cold_out) = (answer.figures.get("hot_out_c").unwrap(), answer.figures.get("cold_out_c").unwrap());
        prop_assume!(hot_out > 20.01 && cold_out < 199.99 && counter > 1.0);
        let back = told("log-mean-difference", &format!("heat={counter}&hot_in=200&hot_out={hot_out}&cold_in=20&cold_out={cold_out}"));
        prop_assert!((back.figures.get("conductance_w_k").unwrap() - through).abs() <= 1e-5 * through);
    }

    /// A steady wall in two halves is the wall.
    #[test]
    fn layers_add_up(thickness in 0.001..1.0_f64, conductivity in 0.01..50.0_f64, area in 0.1..100.0_f64, share in 0.1..0.9_f64) {
        let rest = format!("conductivities={conductivity}&area={area}&difference=30");
        let heat = |layers: &str| told("wall-loss", &format!("thicknesses={layers}&{rest}")).figures.get("heat_w").unwrap();
        let (whole, halves) = (heat(&thickness.to_string()), heat(&format!("{},{}", thickness * share, thickness * (1.0 - share))));
        prop_assert!((whole - halves).abs() <= 1e-9 * whole);
    }
}
