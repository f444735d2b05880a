//! Which of two things comes first, by hand: each plan has a choice between just these two.

use super::{header, near, solved, unit};
use crate::balance::{HeatPower, Outcome, balance_with};
use crate::budget::Budget;
use crate::quantity::Power;

fn supplied(text: &str) -> Vec<f64> {
    solved(text).1.drawn
}

#[test]
fn what_springs_lose_counts_as_shares_of_what_they_bring() {
    // The outlet takes 5 of 11. Losing nothing of the small one is a whole share; of the large one it is a tenth.
    let drawn = supplied(
        r#"{"supplies": {"small": {"header": "water", "rate": 1, "when": "always"},
                         "large": {"header": "water", "rate": 10, "when": "always"}},
            "outlets": {"water": {"limit": 5}}}"#,
    );
    // In the order of names.
    near(drawn[0], 4.0);
    near(drawn[1], 1.0);
}

#[test]
fn turbines_lose_as_springs_do() {
    let plan = super::plan(
        r#"{"supplies": {"wind": {"header": "power", "rate": 1.5, "when": "always"}}, "outlets": {"power": {"limit": 1}}}"#,
    );
    let heat = HeatPower { draws: Power::ZERO, generates: Power::from_si(0.5).expect("a number") };
    let balance = balance_with(&plan, heat, &Budget::unhurried()).expect("within the budget");
    near(balance.turbines, 0.5);
    near(balance.drawn[0], 0.5);
}

#[test]
fn trapped_matter_is_worse_than_trapped_power() {
    // What takes the waste makes power for which there is one watt's way out.
    let (plan, balance) = solved(
        r#"{"units": {"maker": {"takes": {"feed": 1}, "gives": {"waste": 1}},
                      "burner": {"takes": {"waste": 1}, "gives": {"ash": 1}, "generates": 10}},
            "supplies": {"feed": {"header": "feed"}}, "outlets": {"ash": {}, "power": {"limit": 1}}, "aim": {"run": {"maker": 1}}}"#,
    );
    near(balance.headers[header(&plan, "waste").0].trapped, 0.0);
    near(balance.headers[header(&plan, "power").0].trapped, 9.0);
}

#[test]
fn matter_let_out_is_worse_than_power_spilled() {
    let (plan, balance) = solved(
        r#"{"units": {"still": {"gives": {"oil": 1, "slops": 1}}, "turbine": {"gives": {"oil": 1}, "generates": 1000}},
            "outlets": {"slops": {}}, "demands": {"oil": {"header": "oil", "rate": 1}}}"#,
    );
    near(balance.units[unit(&plan, "turbine").0].needed, 1.0);
    near(balance.headers[header(&plan, "slops").0].let_out, 0.0);
}

#[test]
fn demands_on_one_header_share_what_is_worth_delivering() {
    let text = |rate: f64| {
        format!(
            r#"{{"units": {{"press": {{"takes": {{"seed": 1}}, "gives": {{"oil": 1}}}}}}, "supplies": {{"field": {{"header": "seed", "rate": {rate}}}}},
                "demands": {{"large": {{"header": "oil", "rate": 4}}, "small": {{"header": "oil", "rate": 2}}}},
                "aim": {{"most": {{"oil": 1}}}}}}"#
        )
    };
    let (_, balance) = solved(&text(3.0));
    near(balance.served[0], 2.0);
    near(balance.served[1], 1.0);
    let (_, balance) = solved(&text(30.0));
    near(balance.served[0], 4.0);
    near(balance.served[1], 2.0);
    assert_eq!(balance.outcome, Outcome::Met);
}
