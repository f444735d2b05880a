//! Combustion by stoichiometry: A08, A09.

use crate::rows::row;
use crate::support::solve;
use serde_json::json;

#[test]
fn a08_ethane_with_excess_air() {
    let row = row("A08");
    let (oxygen, excess) = (row.given("O2_in_air_share"), row.given("excess_air_share"));
    let (burnt, to_co) = (row.given("conversion_share"), row.given("to_CO_share"));
    let solved = solve(&json!({
        "units": {
            "blower": { "takes": { "air": 1 }, "gives": { "oxygen": oxygen, "nitrogen": 1.0 - oxygen } },
            // C2H6 + 7/2 O2 → 2 CO2 + 3 H2O, and half as much oxygen again.
            "burner": { "takes": { "ethane": 1, "oxygen": 3.5 * (1.0 + excess) },
                        "gives": { "stack oxygen": 3.5 * (1.0 + excess), "to burn": burnt * (1.0 - to_co),
                                   "to burn badly": burnt * to_co, "unburnt": 1.0 - burnt } },
            "burning": { "takes": { "to burn": 1, "stack oxygen": 3.5 }, "gives": { "carbon dioxide": 2, "water": 3 } },
            "bad burning": { "takes": { "to burn badly": 1, "stack oxygen": 2.5 },
                             "gives": { "carbon monoxide": 2, "water": 3 } }
        },
        "supplies": { "main": { "header": "ethane" }, "inlet": { "header": "air" } },
        "outlets": { "stack oxygen": {}, "nitrogen": {}, "unburnt": {}, "carbon dioxide": {}, "carbon monoxide": {}, "water": {} },
        "aim": { "run": { "burner": row.given("ethane_mol") } }
    }));
    let out = |name: &str| solved.header(name).let_out;
    let dry: f64 = ["stack oxygen", "nitrogen", "unburnt", "carbon dioxide", "carbon monoxide"].map(out).iter().sum();
    row.holds(&[
        ("air_mol", solved.drawn("inlet")),
        ("y_C2H6_share", out("unburnt") / dry),
        ("y_O2_share", out("stack oxygen") / dry),
        ("y_N2_share", out("nitrogen") / dry),
        ("y_CO_share", out("carbon monoxide") / dry),
        ("y_CO2_share", out("carbon dioxide") / dry),
        ("water_per_dry_share", out("water") / dry),
    ]);
}

#[test]
fn a09_mass_ratios() {
    let row = row("A09");
    let (c, h, o) = (row.given("A_C_g_mol"), row.given("A_H_g_mol"), row.given("A_O_g_mol"));
    let (o2, co2, h2o) = (2.0 * o, c + 2.0 * o, 2.0 * h + o);
    let burn = |fuel: f64, oxygen: f64, dioxide: f64, water: f64| {
        let solved = solve(&json!({
            // One machine burns one mole a second.
            "units": { "burner": { "takes": { "fuel": fuel, "oxygen": oxygen * o2 },
                                   "gives": { "carbon dioxide": dioxide * co2, "water": water * h2o } } },
            "supplies": { "tank": { "header": "fuel" }, "gardens": { "header": "oxygen" } },
            "outlets": { "carbon dioxide": {}, "water": {} },
            "aim": { "run": { "burner": 1.0 / fuel } }
        }));
        let out = |name: &str| solved.header(name).let_out;
        let closure = solved.drawn("tank") + solved.drawn("gardens") - out("carbon dioxide") - out("water");
        [solved.drawn("gardens") / solved.drawn("tank"), out("carbon dioxide"), out("water"), closure]
    };
    let ethanol = burn(2.0 * c + 6.0 * h + o, 3.0, 2.0, 3.0);
    let methane = burn(c + 4.0 * h, 2.0, 1.0, 2.0);
    row.holds(&[
        ("ethanol_O2_kg_per_kg", ethanol[0]),
        ("ethanol_CO2_kg_per_kg", ethanol[1]),
        ("ethanol_H2O_kg_per_kg", ethanol[2]),
        ("methane_O2_kg_per_kg", methane[0]),
        ("methane_CO2_kg_per_kg", methane[1]),
        ("methane_H2O_kg_per_kg", methane[2]),
        ("mass_closure_kg", ethanol[3].abs().max(methane[3].abs())),
    ]);
}
