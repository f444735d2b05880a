//! Who is cut: nobody who falls short could get more without taking it from somebody of an earlier rank, or from somebody
//! of the same rank who is no better off.
//!
//! Which is what max-min fair means, and can be asked of the balance itself without any sharing: whoever must not lose
//! anything asks first for exactly what it has, the one in question asks after them, and nobody else asks at all.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Value, json};

use crate::support::plant::{Shape, plant};
use crate::support::{Solved, solve};

/// Shares nearer than this are alike.
const ALIKE: f64 = 1e-7;

/// Fuel for so much of what the plant would burn: every chain draws power, so all of them are in each other's way.
fn with_little_fuel(document: &Value, share: f64) -> Value {
    let burnt = solve(document).drawn("fuel");
    let mut document = document.clone();
    document["supplies"]["fuel"]["rate"] = json!(burnt * share);
    document
}

/// What the demand at `asked` is served when it comes last, and those who must not lose come before it.
fn served_last(document: &Value, solved: &Solved, asked: usize) -> f64 {
    let share = |at: usize| solved.balance.served[at] / solved.plan.demands[at].rate;
    let rank = solved.plan.demands[asked].rank;
    let mut alone = document.clone();
    let demands = alone["demands"].as_object_mut().expect("demands");
    for (at, demand) in solved.plan.demands.iter().enumerate() {
        let served = solved.balance.served[at];
        let keeps = demand.rank < rank || demand.rank == rank && share(at) <= share(asked) + ALIKE;
        let entry = &mut demands[&demand.name];
        if at == asked {
            entry["rank"] = json!(2);
        } else if keeps && served > 1e-9 * demand.rate {
            entry["rank"] = json!(1);
            entry["rate"] = json!(served);
        } else {
            demands.remove(&demand.name);
        }
    }
    solve(&alone).served(&solved.plan.demands[asked].name)
}

fn hold(document: &Value) {
    let solved = solve(document);
    for (at, demand) in solved.plan.demands.iter().enumerate() {
        let served = solved.balance.served[at];
        if served < demand.rate * (1.0 - 1e-9) {
            let most = served_last(document, &solved, at);
            assert!(most <= served + ALIKE * demand.rate, "{}: {served} served, {most} possible", demand.name);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, rng_seed: RngSeed::Fixed(2), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn chains_that_are_short_of_their_own(seed in any::<u64>(), units in 10_usize..120) {
        hold(&plant(seed, Shape { units, scarce: true }));
    }

    #[test]
    fn chains_that_are_short_together(seed in any::<u64>(), units in 10_usize..80, scarce in any::<bool>(), fuel in 0.1..0.95) {
        hold(&with_little_fuel(&plant(seed, Shape { units, scarce }), fuel));
    }
}
