//! What one more of what binds is worth, by hand.

use super::{near, solved};
use crate::balance::{Balance, Limit, Outcome};

fn worths(balance: &Balance) -> Vec<Option<f64>> {
    balance.binding.iter().map(|binding| binding.worth).collect()
}

#[test]
fn it_is_told_where_it_is_wanted_alone() {
    let text = |wanted: &str, turndown: &str| {
        format!(
            r#"{{"units": {{"press": {{"count": 4{turndown}, "takes": {{"a": 1}}, "gives": {{"b": 1}}}}}},
                "supplies": {{"a": {{"header": "a", "rate": 2}}}}, "demands": {{"b": {{"header": "b", "rate": 5}}}}{wanted}}}"#
        )
    };
    let (_, balance) = solved(&text(r#", "worth": true"#, ""));
    assert_eq!(balance.outcome, Outcome::Short);
    let [Some(worth)] = worths(&balance)[..] else { panic!("{:?}", balance.binding) };
    near(worth, 1.0);
    assert_eq!(worths(&solved(&text("", "")).1), [None]);
    // Of machines that cannot be turned down a little more of anything may be worth nothing, or a whole machine.
    assert_eq!(worths(&solved(&text(r#", "worth": true"#, r#", "turndown": 0.5"#)).1), [None]);
}

#[test]
fn one_more_of_what_is_not_alone_in_binding_is_worth_nothing() {
    // Two machines and feed for two: neither one more machine nor more feed makes more.
    let (_, balance) = solved(
        r#"{"units": {"press": {"count": 2, "takes": {"a": 1}, "gives": {"b": 1}}}, "supplies": {"a": {"header": "a", "rate": 2}},
            "demands": {"b": {"header": "b", "rate": 5}}, "worth": true}"#,
    );
    assert!(!balance.binding.is_empty());
    assert!(
        worths(&balance).iter().all(|worth| worth.is_some_and(|worth| worth.abs() < 1e-9)),
        "{:?}",
        balance.binding
    );
}

#[test]
fn it_keeps_its_digits_whatever_the_size_of_the_limit() {
    for rate in [1e-3, 1.0, 1e6] {
        let (_, balance) = solved(&format!(
            r#"{{"supplies": {{"a": {{"header": "a", "rate": {rate}}}}}, "demands": {{"b": {{"header": "a", "rate": {}}}}},
                "worth": true}}"#,
            rate * 3.0
        ));
        let [Some(worth)] = worths(&balance)[..] else { panic!("{:?}", balance.binding) };
        assert!((worth - 1.0).abs() < 1e-8, "{rate}: {worth}");
    }
}

#[test]
fn the_step_goes_by_what_all_lines_carry() {
    // Forty lines of 1 g/s, and 40.002 g/s asked for: a step as for a single kg/s would already be past that.
    let (plan, balance) = solved(
        r#"{"headers": {"water": {"line": "1 g/s", "lines": 40}}, "supplies": {"well": {"header": "water"}},
            "demands": {"user": {"header": "water", "rate": "40.002 g/s"}}, "worth": true}"#,
    );
    assert_eq!(balance.binding[0].limit, Limit::Lines(plan.header_named("water").expect("it is there")));
    assert!((balance.binding[0].worth.expect("it is wanted") - 1.0).abs() < 1e-8, "{:?}", balance.binding);
}

#[test]
fn one_more_of_an_outlet_lets_so_much_more_be_made() {
    // Of what is not to be trapped half as much as is sold leaves: 2 kg/s of it, for 4 kg/s at 3 each.
    let (plan, balance) = solved(
        r#"{"units": {"press": {"takes": {"a": 1.5}, "gives": {"oil": 1, "slops": 0.5}}}, "supplies": {"a": {"header": "a"}},
            "outlets": {"slops": {"limit": 2}}, "aim": {"most": {"oil": 3}}, "worth": true}"#,
    );
    near(balance.value.expect("it is valued"), 12.0);
    let outlet = balance.binding.iter().find(|binding| matches!(binding.limit, Limit::Outlet(_))).expect("it binds");
    assert!((outlet.worth.expect("it is wanted") - 6.0).abs() < 1e-8, "{:?} {:?}", balance.binding, plan.outlets);
}
