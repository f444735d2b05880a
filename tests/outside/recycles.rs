//! Recycle and purge balances: A01, A02, A03, A06.

use crate::rows::row;
use crate::support::solve;
use serde_json::json;

/// Rates of the answer carry the last digits of their decimal conversions, so they are compared as they are: moles and
/// kilograms an hour are written as if they were kg/s.
#[test]
fn a01_dehumidifier_with_recycle() {
    let row = row("A01");
    let (fresh, blend, dry) =
        (row.given("x_fresh_mol_per_mol"), row.given("x_blend_mol_per_mol"), row.given("x_dry_mol_per_mol"));
    // The cooler dries its feed to the dry composition: all the air passes, with just the water that composition holds.
    let dried = (1.0 - blend) / (1.0 - dry);
    let solved = solve(&json!({
        "units": {
            "intake": { "takes": { "fresh": 1 }, "gives": { "air": 1.0 - fresh, "water": fresh } },
            "recycle": { "takes": { "dried": 1 }, "gives": { "air": 1.0 - dry, "water": dry } },
            "cooler": { "takes": { "air": 1.0 - blend, "water": blend },
                        "gives": { "dried": dried, "condensed": 1.0 - dried } }
        },
        "supplies": { "outside": { "header": "fresh" } },
        "outlets": { "condensed": {} },
        "demands": { "rooms": { "header": "dried", "rate": row.given("delivered_mol") } }
    }));
    row.holds(&[
        ("fresh_mol", solved.drawn("outside")),
        ("condensed_mol", solved.header("condensed").let_out),
        ("blend_mol", solved.run("cooler")),
        ("recycle_mol", solved.run("recycle")),
    ]);
}

#[test]
fn a02_crystalliser_with_recycle() {
    let row = row("A02");
    let (feed, evaporated, filtrate) =
        (row.given("x_feed_kg_per_kg"), row.given("x_evap_kg_per_kg"), row.given("x_filtrate_kg_per_kg"));
    let crystals = (evaporated - filtrate) / (1.0 - filtrate);
    let cake = row.given("crystal_fraction_cake_kg_per_kg");
    let rate = row.given("feed_kg_h");
    let solved = solve(&json!({
        "units": {
            "intake": { "takes": { "feed": 1 }, "gives": { "salt": feed, "water": 1.0 - feed } },
            "evaporator": { "takes": { "water": 1 }, "gives": { "vapour": 1 } },
            "concentrate": { "takes": { "salt": evaporated, "water": 1.0 - evaporated }, "gives": { "magma": 1 } },
            "crystalliser": { "takes": { "magma": 1 }, "gives": { "crystals": crystals, "filtrate": 1.0 - crystals } },
            "filter": { "takes": { "crystals": cake, "filtrate": 1.0 - cake }, "gives": { "cake": 1 } },
            "recycle": { "takes": { "filtrate": 1 }, "gives": { "salt": filtrate, "water": 1.0 - filtrate } }
        },
        "supplies": { "tank": { "header": "feed" } },
        "outlets": { "vapour": {}, "cake": {} },
        "aim": { "run": { "intake": rate } }
    }));
    row.holds(&[
        ("crystals_kg_h", cake * solved.run("filter")),
        ("entrained_kg_h", (1.0 - cake) * solved.run("filter")),
        ("evaporated_kg_h", solved.header("vapour").let_out),
        ("to_crystalliser_kg_h", solved.header("magma").taken),
        ("recycle_kg_h", solved.run("recycle")),
        ("recycle_ratio", solved.run("recycle") / solved.drawn("tank")),
    ]);
}

#[test]
fn a03_dehydrogenation_with_recycle() {
    let row = row("A03");
    let (slip, ratio) = (row.given("propane_slip_share"), row.given("propene_recycle_ratio"));
    let feed = row.given("feed_mol");
    let reacted = feed * row.given("overall_conversion_share");
    let solved = solve(&json!({
        "units": {
            "reaction": { "takes": { "propane": 1 }, "gives": { "propene": 1, "hydrogen": 1 } },
            "unreacted": { "takes": { "propane": 1 }, "gives": { "propane out": 1 } },
            "propane split": { "takes": { "propane out": 1 }, "gives": { "product propane": slip, "propane": 1.0 - slip } },
            "propene split": { "takes": { "propene": 1.0 + ratio }, "gives": { "product propene": 1, "propene": ratio } }
        },
        "supplies": { "feed": { "header": "propane", "rate": feed, "when": "always" } },
        "outlets": { "product propane": {}, "product propene": {}, "hydrogen": {} },
        "aim": { "run": { "reaction": reacted } }
    }));
    let product = |name: &str| solved.header(name).let_out;
    let (unreacted, propene, hydrogen) = (product("product propane"), product("product propene"), product("hydrogen"));
    let into = solved.header("propane");
    row.holds(&[
        ("recycle_ratio_mol_per_mol", (into.made + ratio * propene) / feed),
        ("single_pass_conversion_share", reacted / into.taken),
        ("reactor_feed_propane_mol", into.taken),
        ("y_product_propane_mol_per_mol", unreacted / (unreacted + propene + hydrogen)),
        ("y_product_propene_mol_per_mol", propene / (unreacted + propene + hydrogen)),
    ]);
}

#[test]
fn a06_purge_sized_by_an_inert() {
    let row = row("A06");
    let (h2, co, ch4) = (row.given("y_H2_share"), row.given("y_CO_share"), row.given("y_CH4_share"));
    let (limit, converted, feed) = (row.given("CH4_limit_share"), row.given("X_CO_share"), row.given("feed_mol"));
    // The purge leaves with just the allowed share of the inert; what else it holds is what the reaction leaves over.
    let supplies = json!({ "feed": { "header": "feed", "rate": feed, "when": "always" } });
    let intake = json!({ "takes": { "feed": 1 }, "gives": { "hydrogen": h2, "carbon monoxide": co, "methane": ch4 } });
    let reaction = json!({ "takes": { "carbon monoxide": 1, "hydrogen": 2 }, "gives": { "methanol": 1 } });
    let purge = solve(&json!({
        "units": {
            "intake": intake,
            "reaction": reaction,
            "purge of hydrogen": { "takes": { "hydrogen": 1 }, "gives": { "active": 1 } },
            "purge of carbon monoxide": { "takes": { "carbon monoxide": 1 }, "gives": { "active": 1 } },
            "purge": { "takes": { "methane": limit, "active": 1.0 - limit }, "gives": { "purged": 1 } }
        },
        "supplies": supplies,
        "outlets": { "methanol": {}, "purged": {} },
        "aim": { "run": { "intake": feed } }
    }));
    let purged = purge.run("purge");
    let y_h2 = purge.run("purge of hydrogen") / purged;
    let y_co = purge.run("purge of carbon monoxide") / purged;
    // The loop has the composition of its purge.
    let mixed = json!({ "hydrogen": y_h2, "carbon monoxide": y_co, "methane": limit });
    let looped = solve(&json!({
        "units": {
            "intake": intake,
            "recycle": { "takes": { "loop": 1 }, "gives": mixed },
            "reactor": { "takes": { "carbon monoxide": 1 },
                         "gives": { "carbon monoxide to react": converted, "carbon monoxide out": 1.0 - converted } },
            "reaction": { "takes": { "carbon monoxide to react": 1, "hydrogen": 2 }, "gives": { "methanol": 1 } },
            "separator": { "takes": { "hydrogen": y_h2, "carbon monoxide out": y_co, "methane": limit }, "gives": { "loop": 1 } },
            "purge": { "takes": { "loop": 1 }, "gives": { "purged": 1 } }
        },
        "supplies": supplies,
        "outlets": { "methanol": {}, "purged": {} },
        "aim": { "run": { "intake": feed } }
    }));
    row.holds(&[
        ("purge_mol", purged),
        ("methanol_mol", purge.header("methanol").let_out),
        ("recycle_mol", looped.run("recycle")),
        ("purge_CO_mol_per_mol", y_co),
        ("purge_H2_mol_per_mol", y_h2),
    ]);
    // The loop agrees with the purge it was built on.
    approx::assert_relative_eq!(looped.run("purge"), purged, max_relative = 1e-9);
}
