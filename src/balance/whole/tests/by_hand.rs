//! Halls that a hand can solve.

use super::near;
use crate::balance::{Balance, Outcome, balance};
use crate::budget::Budget;
use crate::plan::{Limits, Plan};

fn solved(text: &str) -> (Plan, Balance) {
    let plan = Plan::from_json(text.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"));
    let balance = balance(&plan, &Budget::unhurried()).expect("within the budget");
    (plan, balance)
}

/// A second press would stand for a tenth of its duty and draw as much as four presses meanwhile: the tenth is had of the kneader, and
/// no machine runs for nothing only so as not to idle.
#[test]
fn a_machine_that_need_not_be_there_does_not_stand_at_the_cost_of_what_is_asked() {
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "5 kW", "idle_draw": "20 kW"},
                      "kneader": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "9 kW"}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "12 kW"}},
            "demands": {"baker": {"header": "cake", "rate": 1.1}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    let run = |name: &str| balance.units[plan.unit_named(name).unwrap().0];
    near(run("press").needed, 1.0);
    near(run("kneader").needed, 0.1);
    assert_eq!((run("press").count, run("kneader").count), (1, 1));
    let power = balance.headers[plan.power().unwrap().0];
    near(power.taken, 5.9e3);
    near(power.unserved, 0.0);
}

/// 16 kW: two presses that make 1.5 would take 15 kW and 3 kW more for the half that stands. Two take all the mains for one, and one takes 10.
#[test]
fn where_power_is_short_fewer_may_do_as_much() {
    let hall = |mains: &str| {
        solved(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "10 kW", "idle_draw": "6 kW"}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power", "rate": "{mains}"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": 1.5}}}}}}"#
        ))
    };
    let (_, balance) = hall("16 kW");
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Short, 1));
    near(balance.served[0], 1.0);
    // With 17 kW: 10 r + 6 (2 − r) = 17 at r = 1.25, which needs the second.
    let (_, balance) = hall("17 kW");
    assert_eq!(balance.units[0].count, 2);
    near(balance.served[0], 1.25);
    let (_, balance) = hall("18 kW");
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Met, 2));
}

/// Of at least two, two stand although 8 kW are not enough for the 10 that they draw; they lack a fifth, and the third, which they
/// could do with, is not there.
#[test]
fn what_must_stand_comes_first_and_may_lack_its_draw() {
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "7 kW", "idle_draw": "5 kW",
                                "count": {"at_least": 2}}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "8 kW"}},
            "demands": {"baker": {"header": "cake", "rate": 3}}}"#,
    );
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Short, 2));
    let power = balance.headers[plan.power().unwrap().0];
    near(power.unserved, 2e3);
    near(balance.served[0], 0.0);
}

/// A press that runs at half its duty at least, or not at all, and idles: with 16 kW two make 1.2 (12 and 3.2 kW); with 14 kW two make no
/// more than one, which takes 10.
#[test]
fn a_unit_may_have_both_a_turndown_and_an_idle_draw() {
    for (mains, count, served) in [("16 kW", 2, 1.2), ("14 kW", 1, 1.0)] {
        let (_, balance) = solved(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "10 kW", "idle_draw": "4 kW",
                                      "turndown": 0.5}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power", "rate": "{mains}"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": 1.2}}}}}}"#
        ));
        assert_eq!(balance.units[0].count, count, "{mains}");
        near(balance.served[0], served);
    }
}

/// The press runs on less and draws more while half of it stands: 4.5 kW for half a job, where the kneader takes 3.25. Of one and a
/// half the press does the whole one and the kneader the half.
#[test]
fn of_two_sorts_those_are_taken_that_draw_least_standing_and_running() {
    for (cake, counts, kilowatts) in [(0.5, (0, 1), 3.25), (1.0, (1, 0), 5.0), (1.5, (1, 1), 8.25), (2.0, (2, 0), 10.0)]
    {
        let (plan, balance) = solved(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "5 kW", "idle_draw": "4 kW"}},
                          "kneader": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "6 kW", "idle_draw": "0.5 kW"}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": {cake}}}}}}}"#
        ));
        let count = |name: &str| balance.units[plan.unit_named(name).unwrap().0].count;
        assert_eq!((balance.outcome, count("press"), count("kneader")), (Outcome::Met, counts.0, counts.1), "{cake}");
        near(balance.headers[plan.power().unwrap().0].taken, 1e3 * kilowatts);
        assert!(balance.proven);
    }
}

/// With power for nothing idling is no matter, and the fewest machines are: one large one, though it idles more than two small ones.
#[test]
fn where_power_is_for_nothing_the_fewest_machines_are_taken() {
    let (plan, balance) = solved(
        r#"{"units": {"large": {"takes": {"a": 2}, "gives": {"cake": 2}, "draws": "5 kW", "idle_draw": "4 kW"},
                      "small": {"takes": {"a": 0.6}, "gives": {"cake": 0.6}, "draws": "1 kW", "idle_draw": "0.5 kW"}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "50 kW", "when": "always"}},
            "demands": {"baker": {"header": "cake", "rate": 1.2}}}"#,
    );
    let count = |name: &str| balance.units[plan.unit_named(name).unwrap().0].count;
    assert_eq!((count("large"), count("small"), balance.proven), (1, 0, true));
}
