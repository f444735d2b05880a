//! What is just enough is enough: sums of tenths that are equal but for rounding, on every scale. Nobody is cut by a hair, and nothing that
//! comes later is asked for one.

use super::super::{Cell, Storage, direct};
use super::flow;
use crate::rehearsal::system::Flow;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// Two lists of whole numbers with one sum.
fn alike() -> impl Strategy<Value = (Vec<u32>, Vec<u32>)> {
    (prop::collection::vec(1_u32..100, 1..6), prop::collection::vec(1_u32..100, 1..6)).prop_map(
        |(mut one, mut other)| {
            let (first, second): (u32, u32) = (one.iter().sum(), other.iter().sum());
            let (short, by) = if first < second { (&mut one, second - first) } else { (&mut other, first - second) };
            short.push(by);
            one.retain(|&part| part > 0);
            other.retain(|&part| part > 0);
            (one, other)
        },
    )
}

fn scale() -> impl Strategy<Value = f64> {
    prop_oneof![Just(1e-8), Just(1e-3), Just(0.1), Just(0.7), Just(1e3 / 7.0), Just(1e7 / 3.0)]
}

const DEMAND: u8 = 0;
const MAKER: u8 = 2;
const SPRING: u8 = 4;
const TAP: u8 = 5;
const OUTLET: u8 = 6;

/// Flows of a kind and rank on one header, so much each.
fn of(kind: u8, rank: u32, parts: &[u32], scale: f64) -> Vec<Flow> {
    parts.iter().map(|&part| flow(kind, rank, 1.0, f64::from(part) * scale, 0, 0)).collect()
}

/// How much of each flow there is, list by list, and the most there could be.
fn solved(lists: &[Vec<Flow>], storage: Storage) -> Vec<Vec<(f64, f64)>> {
    let flows = lists.concat();
    let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
    let (asks, members): (Vec<f64>, Vec<usize>) = (vec![1.0; flows.len()], (0..flows.len()).collect());
    let cell = Cell { flows: &flows, members: &members, upper: &upper, asks: &asks, storage: &[storage] };
    let mut amounts = direct::solve(&cell, &[0]).expect("one header has a closed form").into_iter().zip(upper);
    lists.iter().map(|list| amounts.by_ref().take(list.len()).collect()).collect()
}

fn all(list: &[(f64, f64)]) -> bool {
    list.iter().all(|(amount, most)| amount == most)
}

fn none(list: &[(f64, f64)], total: f64) -> bool {
    list.iter().all(|&(amount, _)| (0.0..=1e-14 * total).contains(&amount))
}

const CLOSED: Storage = Storage { rank: None, gives: false, takes: 0.0, lines: None, endless: false };
const FULL: Storage = Storage { rank: Some(2), gives: true, takes: 0.0, lines: None, endless: false };

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: RngSeed::Fixed(12), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn of_what_is_asked((gives, takes) in alike(), more in 1_u32..100, scale in scale()) {
        let total = f64::from(gives.iter().sum::<u32>()) * scale;
        // Whoever comes first has all, and who comes after has none of it.
        let (taps, first) = (of(TAP, 1, &gives, scale), of(DEMAND, 1, &takes, scale));
        let found = solved(&[taps.clone(), first.clone(), of(DEMAND, 2, &[more, 1], scale)], CLOSED);
        prop_assert!(all(&found[1]) && none(&found[2], total), "{found:?}");
        // Nothing is wanted of a reserve.
        let found = solved(&[taps.clone(), first.clone(), of(TAP, 2, &[more], scale)], CLOSED);
        prop_assert!(all(&found[1]) && found[2][0].0 == 0.0, "{found:?}");
        let found = solved(&[taps, first, of(TAP, 3, &[more], scale)], FULL);
        prop_assert!(all(&found[1]) && found[2][0].0 == 0.0, "{found:?}");
    }

    #[test]
    fn of_what_is_made((gives, takes) in alike(), more in 1_u32..100, scale in scale()) {
        let total = f64::from(gives.iter().sum::<u32>()) * scale;
        let (outlets, first) = (of(OUTLET, 1, &takes, scale), of(MAKER, 1, &gives, scale));
        let found = solved(&[outlets.clone(), first.clone(), of(MAKER, 2, &[more, 1], scale)], CLOSED);
        prop_assert!(all(&found[1]) && none(&found[2], total), "{found:?}");
        // Ways out share what there is as they stand.
        let out: f64 = solved(&[outlets, first], CLOSED)[0].iter().map(|(amount, _)| amount).sum();
        prop_assert!((out - total).abs() <= 1e-14 * total);
    }

    #[test]
    fn of_what_is_pushed((gives, takes) in alike(), more in 1_u32..100, scale in scale()) {
        let total = f64::from(gives.iter().sum::<u32>()) * scale;
        let springs = of(SPRING, 1, &gives, scale);
        // Into demands, with nothing left for a tap or for a way out.
        let first = of(DEMAND, 1, &takes, scale);
        let found = solved(&[springs.clone(), first.clone(), of(TAP, 1, &[more], scale)], CLOSED);
        prop_assert!(all(&found[0]) && all(&found[1]) && none(&found[2], total), "{found:?}");
        let found = solved(&[springs.clone(), first.clone(), of(OUTLET, 1, &[more], scale)], CLOSED);
        prop_assert!(all(&found[0]) && all(&found[1]) && none(&found[2], total), "{found:?}");
        let found = solved(&[springs.clone(), first, of(SPRING, 2, &[more], scale)], CLOSED);
        prop_assert!(all(&found[0]) && all(&found[1]) && none(&found[2], total), "{found:?}");
        // Into ways out; what pushes after them finds no place.
        let found = solved(&[springs, of(OUTLET, 1, &takes, scale), of(SPRING, 2, &[more], scale)], CLOSED);
        prop_assert!(all(&found[0]) && none(&found[2], total), "{found:?}");
    }
}
