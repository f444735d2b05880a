//! Switches and stages.

use super::*;

#[test]
fn a_pump_starts_as_often_as_its_sump_fills() {
    let document = sump();
    let answer = both_sides(
        FindingCode::SwitchChatters,
        &document,
        // Ten times the rates are a tenth of the time; a tenth of them is ten times.
        &changed(
            &document,
            json!({ "units": { "pump": { "takes": { "drain": 0.3 }, "gives": { "sea": 0.3 } } },
                                    "supplies": { "seep": { "rate": 0.1 } } }),
        ),
    );
    let float = answer.figures.switches.get("float").unwrap();
    close(float.starts_per_h, 30.0);
    close(float.least_cycle_s.unwrap(), 120.0);
    assert_eq!(float.first_start_s, Moment(Some(80.0)));
    close(float.duty_share, 1.0 / 3.0);
    assert_eq!(float.starts, 30);
    let sump = answer.figures.stores.get("sump").unwrap();
    close(sump.starts_per_h.unwrap(), 30.0);
    let settles = sump.settles.clone().unwrap();
    close(settles.period_s, 120.0);
    assert_eq!((settles.least_kg, settles.greatest_kg), (Some(20.0), Some(100.0)));
    let pump = answer.figures.units.get("pump").unwrap();
    close(pump.running_s, 1200.0);
    close(pump.takes_kg.iter().next().unwrap().1, 3600.0);
    let mended = mended(&document, &answer, FindingCode::SwitchChatters);
    assert!(found(&mended, FindingCode::SwitchChatters).is_none(), "{:?}", mended.findings);
}

#[test]
fn a_deadband_is_narrow_for_the_worst_that_may_flow() {
    // Now it fills in 8 min and drains in 32 s; at half the pump's rate it would fill and drain in 53 s each: 107 s.
    let document = changed(
        &sump(),
        json!({ "supplies": {
        "seep": { "rate": 0.1 },
        "flood": { "header": "drain", "rate": 2, "when": "always", "pattern": { "on": 1, "every": "3 h", "offset": "2 h" } }
    } }),
    );
    let wide = changed(&document, json!({ "supplies": { "flood": null } }));
    let answer = both_sides(FindingCode::DeadbandNarrow, &document, &wide);
    // V = T·Q/4.
    close(found(&answer, FindingCode::DeadbandNarrow).unwrap().value.unwrap(), 4.0 * 80.0 / 3.0);
}

#[test]
fn a_switch_that_never_acts_is_noted() {
    let document = sump();
    let full = changed(&document, json!({ "horizon": 79 }));
    let answer = both_sides(FindingCode::SwitchNeverActs, &full, &document);
    assert_eq!(answer.verdict, Verdict::Holds);
    assert_eq!(answer.figures.switches.get("float").unwrap().first_start_s, Moment(None));
}

#[test]
fn a_switch_may_watch_what_nothing_fills() {
    let document = changed(&sump(), json!({ "supplies": null, "stores": { "sump": { "level": 110 } } }));
    both_sides(FindingCode::SwitchStoreNothingFills, &document, &sump());
}

#[test]
fn two_switches_may_fight() {
    // One fills from 30 to 90 kg, the other drains from 80 to 20 kg.
    let fight = changed(
        &sump(),
        json!({
            "supplies": { "melt": { "header": "drain", "rate": 2 } },
            "switches": { "filler": { "watch": "sump", "start_at": 30, "stop_at": 90, "runs": "melt" }, "float": { "start_at": 80 } }
        }),
    );
    let peace = changed(&fight, json!({ "switches": { "filler": { "start_at": 10, "stop_at": 15 } } }));
    let answer = both_sides(FindingCode::SwitchesFight, &fight, &peace);
    let remedy = found(&answer, FindingCode::SwitchesFight).unwrap().remedy.clone().unwrap();
    assert_eq!(remedy.say, "stop \"filler\" at 80 kg");

    // One target, and never both of them on.
    let both = changed(
        &sump(),
        json!({ "switches": { "other": { "watch": "sump", "start_at": 5, "stop_at": 15, "runs": "pump" } } }),
    );
    let overlap = changed(&both, json!({ "switches": { "other": { "stop_at": 110 } } }));
    both_sides(FindingCode::SwitchesFight, &both, &overlap);
}

#[test]
fn stages_come_in_order_and_apart() {
    // Common practice, no source: 95/75 % and 65/45 % run the first stage alone until it cannot hold.
    let good = bank();
    let answer = self::answer(&good);
    for code in [FindingCode::StageOrder, FindingCode::StagesOverlap, FindingCode::StageCannotHold] {
        assert!(found(&answer, code).is_none(), "{:?}", answer.findings);
    }
    assert_eq!(answer.figures.units.get("second").unwrap().starts, 0);
    let overlap = changed(&good, json!({ "switches": { "stage two": { "stop_at": "80 %" } } }));
    both_sides(FindingCode::StagesOverlap, &overlap, &good);
    let turned = changed(
        &good,
        json!({ "switches": {
        "stage one": { "start_at": "45 %", "stop_at": "65 %" }, "stage two": { "start_at": "75 %", "stop_at": "95 %" }
    } }),
    );
    let answer = both_sides(FindingCode::StageOrder, &turned, &good);
    assert!(found(&mended(&turned, &answer, FindingCode::StageOrder), FindingCode::StageOrder).is_none());
}

#[test]
fn stages_that_cannot_hold_are_told() {
    let good = bank();
    let more = changed(&good, json!({ "demands": { "load": { "rate": "3 kW" } } }));
    let note = found(&both_sides(FindingCode::StageCannotHold, &more, &good), FindingCode::StageCannotHold).cloned();
    assert_eq!(note.unwrap().weight, Weight::Note);
    let most = self::answer(&changed(&good, json!({ "demands": { "load": { "rate": "5 kW" } } })));
    let caution = found(&most, FindingCode::StageCannotHold).unwrap();
    assert_eq!(caution.weight, Weight::Caution);
    close(caution.value.unwrap(), 4000.0);
    close(caution.limit.unwrap(), 5000.0);
    assert_eq!(most.verdict, Verdict::Fails, "it browns out: {:?}", most.findings);
}
