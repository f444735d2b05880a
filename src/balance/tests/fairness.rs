//! Who is cut, by hand.

use super::{near, solved};
use crate::balance::{Limit, Outcome};

/// Two or three presses for as many oils from one field; each oil is wanted at a rank and a rate.
fn served(field: f64, wanted: &[(u32, f64)]) -> Vec<f64> {
    let units: Vec<String> = (0..wanted.len())
        .map(|at| format!(r#""press {at}": {{"takes": {{"seed": 1}}, "gives": {{"oil {at}": 1}}}}"#))
        .collect();
    let demands: Vec<String> = wanted
        .iter()
        .enumerate()
        .map(|(at, (rank, rate))| format!(r#""{at}": {{"header": "oil {at}", "rate": {rate}, "rank": {rank}}}"#))
        .collect();
    let (_, balance) = solved(&format!(
        r#"{{"units": {{{}}}, "supplies": {{"field": {{"header": "seed", "rate": {field}}}}}, "demands": {{{}}}}}"#,
        units.join(", "),
        demands.join(", ")
    ));
    assert_eq!(balance.outcome, Outcome::Short);
    balance.served
}

fn all_near(got: &[f64], want: &[f64]) {
    assert_eq!(got.len(), want.len());
    got.iter().zip(want).for_each(|(&got, &want)| near(got, want));
}

#[test]
fn equals_share_also_where_none_of_them_could_have_all() {
    all_near(&served(10.0, &[(1, 20.0), (1, 30.0)]), &[4.0, 6.0]);
    all_near(&served(9.0, &[(2, 15.0), (2, 15.0), (2, 60.0)]), &[1.5, 1.5, 6.0]);
}

#[test]
fn equals_share_what_earlier_ranks_leave() {
    all_near(&served(10.0, &[(1, 6.0), (2, 20.0), (2, 20.0)]), &[6.0, 2.0, 2.0]);
    // Also where one of an earlier rank is short itself: then nothing is left.
    all_near(&served(5.0, &[(1, 6.0), (2, 20.0), (2, 20.0)]), &[5.0, 0.0, 0.0]);
}

#[test]
fn a_limit_that_is_not_reached_does_not_bind() {
    let (_, balance) = solved(
        r#"{"units": {"press": {"takes": {"seed": 1}, "gives": {"oil": 0.8, "cake": 0.2}}},
            "supplies": {"field": {"header": "seed", "rate": 3}}, "outlets": {"cake": {"limit": 5}}, "aim": {"most": {"oil": 1}}}"#,
    );
    near(balance.let_out[0], 0.6);
    assert!(
        matches!(balance.binding[..], [ref only] if matches!(only.limit, Limit::Supply(_))),
        "{:?}",
        balance.binding
    );
}

/// Five whole machines for 6 of one and 3 of another. Two and three lack the least in sum: two thirds of the one and nothing of the other.
/// Three and two lack a half and a third, and so the most that anyone lacks is least.
#[test]
fn equals_share_where_machines_run_whole_or_not_at_all() {
    for (oil, wax, runs) in [(6, 3, [3.0, 2.0]), (3, 6, [2.0, 3.0])] {
        let (_, balance) = solved(&format!(
            r#"{{"units": {{"a": {{"takes": {{"seed": 1}}, "gives": {{"oil": 1}}, "turndown": 1}},
                          "b": {{"takes": {{"seed": 1}}, "gives": {{"wax": 1}}, "turndown": 1}}}},
                "supplies": {{"field": {{"header": "seed", "rate": 5}}}},
                "demands": {{"lamps": {{"header": "oil", "rate": {oil}}}, "floors": {{"header": "wax", "rate": {wax}}}}}}}"#
        ));
        assert_eq!((balance.outcome, balance.proven), (Outcome::Short, true));
        all_near(&[balance.units[0].needed, balance.units[1].needed], &runs);
    }
}
