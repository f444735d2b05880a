//! The whole station of Kestrel Deep: it holds over its fifty days, and its headline figures by hand, step by step.
//!
//! The second implementation is this arithmetic: it knows none of the engine's parts, only what the plan says.

use approx::assert_relative_eq;
use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::answer::{Verdict, Weight};
use hotwell::questions::whole_plan::WholePlan;
use hotwell::questions::{Detail, Document, Json};
use serde_json::{Value, json};

const TEXT: &str = include_str!("../examples/plans/kestrel-deep.json");

fn ask(document: &Value) -> WholePlan {
    let (text, limits) = (document.to_string(), Limits::default());
    let plan = Plan::from_json(text.as_bytes(), &limits).unwrap_or_else(|fault| panic!("{fault}"));
    let document =
        Document { plan: &plan, json: Json::Bytes(text.as_bytes()), limits: &limits, detail: Detail::Figures };
    WholePlan::ask_of(&document, &Budget::unhurried()).expect("an answer")
}

fn station() -> Value {
    serde_json::from_str(TEXT).expect("JSON")
}

#[test]
fn it_holds_for_fifty_days_with_nothing_to_watch() {
    let answer = ask(&station());
    assert_eq!(answer.verdict, Verdict::Holds, "{}", answer.say);
    assert!(answer.findings.iter().all(|finding| finding.told.weight == Weight::Note), "{:#?}", answer.findings);
    let table = &answer.figures.key_figures;
    assert_eq!((table.failures_count, table.cautions_count), (0, 0));
    assert_relative_eq!(table.horizon_s.expect("a horizon"), 50.0 * 3600.0);
    assert_relative_eq!(answer.figures.fill.expect("a rehearsal").reached_s, 50.0 * 3600.0);
}

#[test]
fn it_is_as_large_as_it_says() {
    let document = station();
    let count = |section: &str| document[section].as_object().map_or(0, serde_json::Map::len);
    assert_eq!(count("units"), 12);
    assert_eq!((count("zones"), count("stores"), count("coolers"), count("turbines")), (3, 3, 2, 1));
    let patterned =
        document["supplies"].as_object().expect("supplies").values().filter(|one| one["pattern"].is_object());
    assert_eq!(patterned.count(), 2);
    assert!(document["hot_sources"]["vent"]["pattern"].is_object());
    // Two stages on one bank.
    let stages = document["switches"].as_object().expect("switches").values().filter(|one| one["watch"] == "bank");
    assert_eq!(stages.count(), 2);
}

/// The steady state by hand, in kW, g/s and °C. Power and heat hang on each other: burners shed heat, the heat that coolers move
/// drives the expanders, and what these give the burners need not. All of it is linear in how many burners run.
struct Steady {
    /// Burners at full duty.
    burners: f64,
    /// Kilns at full duty.
    kilns: f64,
    /// Heat that the coolers of the burner hall move.
    hall_heat: f64,
    /// Heat that the coolers of the kiln hall move.
    kiln_heat: f64,
    /// How hot the vapour hall gets.
    vapour: f64,
    /// Expanders, and what they generate.
    expanders: f64,
    generated: f64,
    /// What coolers draw.
    cooling: f64,
}

/// Expanders of the station, of which 3.86 would hold the vapour hall at the rated 165 °C.
const EXPANDERS: f64 = 4.0;

/// The heat of so many burners.
fn heat_of(burners: f64) -> Steady {
    // One burner's exhaust, 16.482 g/s, takes absorbers of 11 g/s, each giving 25.014 g/s of spent lime for kilns of 45.48 g/s.
    let kilns = burners * 16.482 / 11.0 * 25.014 / 45.48;
    let furnaces = 12.0 / 14.5;
    // The halls are held at their set points of 24 °C and 38 °C; outside it is −4 °C. In from machines, out through walls.
    let kiln_heat = kilns * 11.0 + furnaces * 7.0 - 0.090 * (38.0 + 4.0) - 0.040 * (38.0 - 24.0);
    let burner_hall = burners * 21.0 + 0.040 * (38.0 - 24.0) - 0.120 * (24.0 + 4.0);
    // The vapour hall at T, with all expanders running: coolers reject what they move; the vent brings 0.9 kg/s of steam of
    // 320 °C for 2 of 15 min, which leaves at T; an expander takes 130 g/s · 2.02 kJ/(kg·K) · (T − 70), of which 8 % warm the
    // burner hall, and so come back; what the wall to the burner hall lets through comes back by the cooler likewise.
    //   kiln_heat + burner_hall + wall + casing + vent·(320 − T) = wall + expanders·(T − 70)
    let vent = 0.9 * 2.02 * 2.0 / 15.0;
    let takes = EXPANDERS * 0.130 * 2.02;
    let vapour = (kiln_heat + burner_hall + vent * 320.0 + 0.92 * takes * 70.0) / (vent + 0.92 * takes);
    let hall_heat = burner_hall + 0.015 * (vapour - 24.0) + 0.08 * takes * (vapour - 70.0);
    // How many would hold it at 165 °C: 3.86, so 4.
    let expanders = (kiln_heat + burner_hall + vent * (320.0 - 165.0)) / (0.92 * 0.130 * 2.02 * (165.0 - 70.0));
    // 15 kW at 165 °C, in proportion from 70 °C on.
    let generated = EXPANDERS * 15.0 * (vapour - 70.0) / (165.0 - 70.0);
    // A hall cooler moves 1.1 kg/s · 3.5 kJ/(kg·K) · 10 K for 9 kW, a kiln cooler 0.6 · 3.5 · 12 for 6 kW.
    let cooling = hall_heat / 38.5 * 9.0 + kiln_heat / 25.2 * 6.0;
    Steady { burners, kilns, hall_heat, kiln_heat, vapour, expanders, generated, cooling }
}

fn by_hand() -> Steady {
    // What is asked of power: life support, and the drills for 25 of every 80 min.
    let asked = 100.0 + 60.0 * 25.0 / 80.0;
    // 52 g/s of clean water are 52 ÷ 21.5 filters, each taking 22 g/s of melt, of which a melter gives 35 g/s.
    let filters = 52.0 / 21.5;
    let melters = filters * 22.0 / 35.0;
    // 12 g/s of glass are 12 ÷ 14.5 furnaces, each taking 16 g/s of grit, of which a crusher gives 60 g/s.
    let furnaces = 12.0 / 14.5;
    let crushers = furnaces * 16.0 / 60.0;
    let works = filters * 0.4 + melters * 6.5 + furnaces * 12.0 + crushers * 3.1;
    // All four beds run, to spare stored oxygen; their gas comes through compressors.
    let gardens = 4.0 * 5.5 + 4.0 * 2.2 / 14.0 * 1.7;
    // The beds and the drip lines take condensate that the drain pump need not lift.
    let spared = (4.0 * 0.9006 + 6.0) / 90.0 * 0.7;
    // What is left over with so many burners.
    let left = |burners: f64| {
        let heat = heat_of(burners);
        // Each takes its share of the fuel pump, absorbers, kilns, and of the drain pump for its condensate; of three burners,
        // those that stand draw 0.6 kW.
        let cleaning = burners * 16.482 / 11.0 * 2.6 + heat.kilns * 9.4;
        let pumps = burners * (12.0 / 40.0 * 1.2 + 13.494 / 90.0 * 0.7) - spared;
        let drawn = works + gardens + cleaning + pumps + (3.0 - burners) * 0.6 + heat.cooling;
        burners * 81.0 + heat.generated - drawn - asked
    };
    // The root of a straight line.
    heat_of(left(0.0) / (left(0.0) - left(1.0)))
}

#[test]
fn its_flows_are_those_of_a_hand() {
    let answer = ask(&station());
    let steady = by_hand();
    let needed = |name: &str| answer.figures.flow.units.get(name).expect("a unit").needed;
    // Flow and heat are solved in turn until they agree to a share of 1e-10.
    assert_relative_eq!(needed("burner") + needed("spare burner"), steady.burners, max_relative = 1e-8);
    assert_relative_eq!(needed("kiln"), steady.kilns, max_relative = 1e-8);
    assert_relative_eq!(needed("garden bed"), 4.0, max_relative = 1e-9);
    let drawn =
        |name: &str| answer.figures.flow.supplies.get(name).expect("a supply").drawn_kg_s.expect("matter") * 1e3;
    // 12 g/s of methanol for each burner, from both seeps together.
    assert_relative_eq!(drawn("near seep") + drawn("far seep"), 12.0 * steady.burners, max_relative = 1e-8);
    // The gardens give back 1.5996 g/s a bed; the store gives the rest.
    assert_relative_eq!(drawn("oxygen store"), 17.976 * steady.burners - 4.0 * 1.5996, max_relative = 1e-8);
    // Dust is all the lime that is lost.
    assert_relative_eq!(drawn("lime store"), 0.51 * steady.kilns, max_relative = 1e-8);
    assert_relative_eq!(drawn("ice face"), 52.0 / 21.5 * 22.0, max_relative = 1e-9);
    // Made less drawn, coolers and expanders among it, is what the demands take: 100 kW, and 60 kW for 25 of 80 min.
    let power = answer.figures.flow.power.as_ref().expect("power");
    assert_relative_eq!(power.net_w, 100e3 + 18.75e3, max_relative = 1e-9);
    // 2 burners, 1 spare, 1 fuel pump, 5 absorbers, 3 kilns, 2 compressors, 4 beds, 1 drain pump; 2 melters, 3 filters,
    // 1 crusher, 1 furnace.
    assert_eq!(answer.figures.key_figures.units_count, 2 + 1 + 1 + 5 + 3 + 2 + 4 + 1 + 2 + 3 + 1 + 1);
    assert_eq!(answer.figures.key_figures.unit_types_count, 12);
    // One line each of fuel feed (24 g/s), exhaust (35 g/s) and condensate (75 g/s).
    assert_eq!(answer.figures.key_figures.lines_count, Some(3));
    // kg of steel, copper and firebrick, machine by machine.
    let steel =
        3.0 * 1300.0 + 90.0 + 5.0 * 420.0 + 3.0 * 800.0 + 2.0 * 150.0 + 60.0 + 2.0 * 260.0 + 3.0 * 70.0 + 900.0 + 500.0;
    let (copper, brick) = (3.0 * 85.0, 3.0 * 2100.0 + 1400.0);
    assert_relative_eq!(
        answer.figures.key_figures.build_kg.expect("it is built"),
        steel + copper + brick,
        max_relative = 1e-12
    );
}

#[test]
fn its_temperatures_are_those_of_a_hand() {
    let answer = ask(&station());
    let heat = answer.figures.heat.as_ref().expect("zones");
    let steady = by_hand();
    let settles = |name: &str| heat.zones.get(name).and_then(|zone| zone.settles_at_c).expect("it rests");
    assert_relative_eq!(settles("burner hall"), 24.0, max_relative = 1e-9);
    assert_relative_eq!(settles("kiln hall"), 38.0, max_relative = 1e-9);
    assert_relative_eq!(settles("vapour hall"), steady.vapour, max_relative = 1e-9);
    let share = |name: &str| heat.coolers.get(name).and_then(|cooler| cooler.running_share).expect("it runs");
    assert_relative_eq!(share("hall cooler"), steady.hall_heat / 38.5 / 2.0, max_relative = 1e-8);
    assert_relative_eq!(share("kiln cooler"), steady.kiln_heat / 25.2 / 2.0, max_relative = 1e-8);
    let expander = heat.turbines.get("expander").expect("a turbine");
    assert_relative_eq!(expander.needed.expect("needed"), steady.expanders, max_relative = 1e-8);
    assert_relative_eq!(f64::from(expander.count), EXPANDERS);
    let power = heat.power.expect("coolers and turbines");
    assert_relative_eq!(power.generated_w, steady.generated * 1e3, max_relative = 1e-8);
    assert_relative_eq!(power.drawn_w, steady.cooling * 1e3, max_relative = 1e-8);
}

#[test]
fn its_fifty_days_are_those_of_a_hand() {
    let answer = ask(&station());
    let fill = answer.figures.fill.as_ref().expect("a rehearsal");
    let demand = |name: &str| fill.demands.get(name).expect("a demand");
    // From minute 10 on, 25 of every 80 min: (3000 − 10) ÷ 80 = 37.4, and 30 of the last 80 min are enough for a pulse.
    assert_relative_eq!(demand("drills").wanted_j.expect("J"), 38.0 * 1500.0 * 60e3, max_relative = 1e-9);
    assert_relative_eq!(demand("life support").served_j.expect("J"), 100e3 * 180e3, max_relative = 1e-9);
    let offered = |name: &str| fill.supplies.get(name).expect("a supply").offered_kg.expect("a rate");
    // 30 h active, 10 h dormant, 10 h active. 1800 min are 112 times 16 min and 8 min of the next 9; the pulses go on unseen, and
    // 2400 min are 150 times 16 min, so that 600 min more are 37 times and again 8 min.
    let pulses = (112.0 * 9.0 + 8.0 + 37.0 * 9.0 + 8.0) * 60.0;
    assert_relative_eq!(offered("near seep"), pulses * 0.044, max_relative = 1e-9);
    // 3000 ÷ 80 = 37.5: 37 pulses of 30 min and one more.
    assert_relative_eq!(offered("far seep"), 38.0 * 1800.0 * 0.026, max_relative = 1e-9);
    // Each burner-second burns 12 g, and what the tank gained came in.
    let duty = |name: &str| fill.units.get(name).expect("a unit").duty_s;
    let burnt = 0.012 * (duty("burner") + duty("spare burner"));
    let tank = fill.stores.get("fuel tank").expect("a store");
    let drawn = |name: &str| fill.supplies.get(name).expect("a supply").drawn_kg.expect("kg");
    let gained = tank.end_kg.expect("kg") - tank.start_kg.expect("kg");
    assert_relative_eq!(drawn("near seep") + drawn("far seep"), burnt + gained, max_relative = 1e-9);
    assert_relative_eq!(tank.start_kg.expect("kg"), 900.0);
    // The second stage begins at half of 160 MJ, and from there on the bank gains.
    let bank = fill.stores.get("bank").expect("a store");
    assert!(bank.least_j.expect("J") >= 0.5 * 160e6 * (1.0 - 1e-9), "{bank:?}");
    assert_relative_eq!(bank.greatest_j.expect("J"), 0.95 * 160e6, max_relative = 1e-9);
    assert!(fill.switches.get("second stage").expect("a switch").starts > 0);
    // (420 − 20) ÷ 1.03 kg at most, and 1.1 kg/s for 4 min at least.
    let closed = fill.loops.get("hall loop").expect("a loop");
    assert_relative_eq!(closed.most_kg, 400.0 / 1.03, max_relative = 1e-12);
    assert_relative_eq!(closed.least_kg, 264.0, max_relative = 1e-12);
}

#[test]
fn its_rows_are_those_of_a_hand() {
    let answer = ask(&station());
    let row = |name: &str| answer.figures.floor.get(name).expect("a row");
    // 2 · 1 wall + 2 access + 3 · 4 burners + 2 pumps.
    assert_eq!((row("burner row").used_cells, row("burner row").width_cells), (18, 20));
    // 2 · 1 + 3 + 5 · 3 absorbers + 3 · 5 kilns.
    assert_eq!(row("lime row").used_cells, 35);
    // 2 · 1 + 2 + 4 · 2 beds + 2 · 2 compressors, each half the mirror of the other.
    assert_eq!((row("garden row").used_cells, row("garden row").mirrors), (16, Some(true)));
    // 2 · 1 + 2 + 2 · 3 melters + 3 · 2 filters + 3 + 4.
    assert_eq!(row("works row").used_cells, 23);
    assert_eq!(answer.figures.key_figures.spare_cells, Some(2 + 1 + 1));
}

/// One number away from holding, in each way that matters to whom it may.
#[test]
fn its_variants_fail_as_they_should() {
    for (at, value, code) in [
        // Power first: what cleans the exhaust is done without when there is too little.
        ("/supplies/near seep/rate", json!("2 g/s"), "surplus-trapped"),
        ("/supplies/near seep/pattern/dormant", json!("400 day"), "demand-short"),
        ("/supplies/oxygen store/rate", json!("10 g/s"), "demand-short"),
        ("/supplies/oxygen store/rate", json!("11 g/s"), "cooling-short"),
        ("/supplies/lime store/rate", json!("0.3 g/s"), "runs-dry"),
        ("/stores/fuel tank/level", json!("30 kg"), "below-low-limit"),
        ("/units/absorber/count", json!(1), "surplus-trapped"),
        ("/coolers/hall cooler/count", json!(0), "coolers-short"),
        ("/coolers/hall cooler/set_point", json!("-3 °C"), "coolant-freezes"),
        ("/zones/burner hall/limit", json!("20 °C"), "set-point-too-high"),
        ("/zones/vapour hall/limit", json!("150 °C"), "zone-over-limit"),
        ("/zones/vapour hall/cell_limit", json!("50 kg"), "ballast-heavy"),
        ("/loops/hall loop/charge", json!("400 kg"), "loop-over-full"),
        ("/switches/second stage/stop_at", json!("80 %"), "stages-overlap"),
        ("/switches/sump float/stop_at", json!("79.5 %"), "switch-chatters"),
        ("/floor/rows/0/width", json!(17), "row-too-narrow"),
        ("/floor/rows/1/height", json!(1), "row-too-low"),
    ] {
        let mut document = station();
        *document.pointer_mut(at).unwrap_or_else(|| panic!("{at}")) = value;
        let answer = ask(&document);
        let found = answer.findings.iter().find(|finding| {
            finding.told.weight > Weight::Note
                && (finding.told.code == code || finding.also.iter().any(|also| also.code == code))
        });
        assert!(found.is_some(), "{at}: {}", answer.say);
        assert!(answer.verdict > Verdict::Holds, "{at}");
    }
}

/// At 110 kW four expanders leave so much to the burners that their heat calls for a fifth, and five so little that it calls for
/// four: the fifth stays.
#[test]
fn counts_that_call_for_each_other_in_turn_are_no_runaway() {
    let mut document = station();
    document["demands"]["life support"]["rate"] = json!("110 kW");
    let answer = ask(&document);
    assert_eq!(answer.verdict, Verdict::Holds, "{}", answer.say);
    let expander = answer.figures.heat.as_ref().and_then(|heat| heat.turbines.get("expander")).expect("a turbine");
    assert_eq!(expander.count, 5);
    let power = answer.figures.flow.power.as_ref().expect("power");
    assert_relative_eq!(power.net_w, 110e3 + 18.75e3, max_relative = 1e-8);
}

/// A hall that is held at 24 °C and may have 21 °C: its coolers are set lower, and no more of them are wanted.
#[test]
fn a_hall_whose_coolers_are_set_too_high_needs_no_other_cooler() {
    let mut document = station();
    document["zones"]["burner hall"]["limit"] = json!("21 °C");
    let answer = ask(&document);
    let told = &answer.findings[0].told;
    let remedy = told.remedy.as_ref().expect("a remedy");
    assert_eq!((told.code, remedy.trial.verified), ("zone-over-limit", Some(true)));
    let begins = json!({ "burner hall": { "at": 20.0 } });
    let patch = remedy.told.patch.as_ref().expect("a patch");
    assert_eq!(*patch, json!({ "zones": begins, "coolers": { "hall cooler": { "set_point": 20.0 } } }));
}
