//! Which way a cell is solved: in closed form where one header binds or none does, taken apart at headers that close themselves, and many
//! equals at one limit all at once.

use super::super::{Cell, Storage, apart, direct};
use super::flow;
use crate::budget::Budget;
use crate::rehearsal::system::{Drive, Flow};

const DEMAND: u8 = 0;
const SPRING: u8 = 4;
const TAP: u8 = 5;
const OUTLET: u8 = 6;

const CLOSED: Storage = Storage { rank: None, gives: false, takes: 0.0, lines: None, endless: false };
/// A store that is full, and one that is empty.
const FULL: Storage = Storage { rank: Some(2), gives: true, takes: 0.0, lines: None, endless: false };
const EMPTY: Storage = Storage { rank: Some(2), gives: false, takes: f64::INFINITY, lines: None, endless: false };

fn at(kind: u8, header: usize, most: f64) -> Flow {
    flow(kind, 1, 1.0, most, header, header)
}

/// A machine that takes or gives so much of several headers.
fn machine(on: &[(usize, f64)]) -> Flow {
    Flow { on: on.to_vec(), ..flow(1, 1, 1.0, 1.0, 0, 0) }
}

fn with<T>(flows: &[Flow], storage: &[Storage], what: impl FnOnce(&Cell<'_>, &[usize]) -> T) -> T {
    let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
    let (asks, members): (Vec<f64>, Vec<usize>) = (vec![1.0; flows.len()], (0..flows.len()).collect());
    let headers: Vec<usize> = (0..storage.len()).collect();
    what(&Cell { flows, members: &members, upper: &upper, asks: &asks, storage }, &headers)
}

fn taken_apart(flows: &[Flow], storage: &[Storage]) -> Option<Vec<f64>> {
    with(flows, storage, |cell, headers| {
        let found = apart::solve(cell, headers, &mut 0, &Budget::unhurried()).expect("within the budget");
        if let Some(found) = &found {
            let whole = cell.solve_programme(headers, &mut 0, &Budget::unhurried()).expect("within the budget");
            let near = found.iter().zip(&whole).all(|(one, other)| (one - other).abs() < 1e-9);
            assert!(near, "{found:?}, and as a whole {whole:?}");
        }
        found
    })
}

#[test]
fn one_header_and_those_that_bind_nobody_take_no_pivot() {
    let steps = |flows: &[Flow], storage: &[Storage]| {
        with(flows, storage, |cell, _| {
            let mut steps = 0;
            cell.solve(&mut steps, &Budget::unhurried()).expect("within the budget");
            steps
        })
    };
    let mill = machine(&[(0, -1.0), (1, 1.0)]);
    assert_eq!(steps(&[at(TAP, 0, 3.0), at(DEMAND, 0, 2.0), at(DEMAND, 0, 2.0)], &[CLOSED]), 0);
    assert_eq!(steps(&[at(TAP, 0, 3.0), mill.clone(), at(OUTLET, 1, 5.0)], &[CLOSED, CLOSED]), 0);
    // Two headers that both cut take the programme.
    let short = [at(TAP, 0, 0.5), mill.clone(), mill, at(DEMAND, 1, 2.0), at(DEMAND, 1, 2.0)];
    assert!(steps(&short, &[CLOSED, CLOSED]) > 0);
}

/// Two machines on a grid that is enough for one; one of them has feed for a fifth of its duty, or room for a fifth of what it makes.
#[test]
fn who_is_held_by_a_header_of_its_own_leaves_the_rest_to_the_others() {
    for (own, closes) in [(-1.0, at(TAP, 1, 0.2)), (2.0, at(OUTLET, 1, 0.4))] {
        let flows = [at(TAP, 0, 1.0), machine(&[(0, -1.0), (1, own)]), machine(&[(0, -1.0)]), closes];
        let found = with(&flows, &[CLOSED, CLOSED], direct::solve);
        let found = found.expect("only the grid binds");
        assert!((found[1] - 0.2).abs() < 1e-12 && (found[2] - 0.8).abs() < 1e-12, "{found:?}");
    }
}

/// Two machines, each with too little feed of its own, on a common header that may be closed or not.
fn pair(common: &[Flow], storage: Storage, on: [f64; 2]) -> Option<Vec<f64>> {
    let mut flows = Vec::new();
    for (header, rate) in [1, 2].into_iter().zip(on) {
        flows.extend([at(TAP, header, 0.25), at(TAP, header, 0.25), machine(&[(0, rate), (header, -1.0)])]);
        flows.push(Flow { rank: 2, ..machine(&[(0, rate), (header, -1.0)]) });
    }
    flows.extend(common.iter().cloned());
    taken_apart(&flows, &[storage, CLOSED, CLOSED])
}

#[test]
fn a_cell_is_taken_apart_at_a_header_that_closes_itself() {
    let takes = [-1.0, -1.0];
    let found = pair(&[at(TAP, 0, 6.0)], CLOSED, takes).expect("its tap closes it");
    assert!((found[2] - 0.5).abs() < 1e-12 && found[3].abs() < 1e-12 && (found[8] - 1.0).abs() < 1e-12, "{found:?}");
    assert!(pair(&[at(TAP, 0, 6.0), at(DEMAND, 0, 1.0)], CLOSED, takes).is_some());
    assert!(pair(&[at(SPRING, 0, 0.5), at(TAP, 0, 6.0), at(OUTLET, 0, 1.0)], CLOSED, takes).is_some());
    // A store does, one that can give or one that can take.
    assert!(pair(&[], FULL, takes).is_some());
    assert!(pair(&[], EMPTY, [1.0, 1.0]).is_some());
    assert!(pair(&[at(OUTLET, 0, 4.0)], CLOSED, [1.0, 1.0]).is_some());
}

#[test]
fn a_cell_is_not_taken_apart_at_a_header_that_does_not() {
    let takes = [-1.0, -1.0];
    // Nothing closes it, though one makes what the other takes.
    assert!(pair(&[], CLOSED, [1.0, -1.0]).is_none());
    // The tap is not enough, or the store only takes.
    assert!(pair(&[at(TAP, 0, 0.7)], CLOSED, takes).is_none());
    assert!(pair(&[], EMPTY, takes).is_none());
    // It has lines.
    assert!(pair(&[at(TAP, 0, 6.0)], Storage { lines: Some(9.0), ..CLOSED }, takes).is_none());
    // What gives to it stands elsewhere too, or is a machine that runs only as it is wanted.
    let tied = Flow { on: vec![(0, 1.0), (1, 1.0)], ..at(SPRING, 0, 0.1) };
    assert!(pair(&[at(TAP, 0, 6.0), tied], CLOSED, takes).is_none());
    let wanted = Flow { drive: Drive::Tapped, ..machine(&[(0, 1.0)]) };
    assert!(pair(&[at(TAP, 0, 6.0), wanted], CLOSED, takes).is_none());
}

/// Sixty machines on one grid: half of them have feed for a quarter of their duty, and the others share what is left.
#[test]
fn equals_at_one_limit_are_settled_together() {
    let mut flows = vec![at(TAP, 0, 30.0 * 0.25 + 30.0 * 0.6)];
    for chain in 0..60 {
        flows.push(at(TAP, chain + 1, if chain % 2 == 0 { 0.25 } else { 2.0 }));
        flows.push(machine(&[(0, -1.0), (chain + 1, -1.0)]));
    }
    let storage = vec![CLOSED; 61];
    let (found, steps) = with(&flows, &storage, |cell, headers| {
        let mut steps = 0;
        (cell.solve_programme(headers, &mut steps, &Budget::unhurried()).expect("within the budget"), steps)
    });
    for chain in 0..60 {
        let share = if chain % 2 == 0 { 0.25 } else { 0.6 };
        assert!((found[2 * chain + 2] - share).abs() < 1e-9, "{chain}: {}", found[2 * chain + 2]);
    }
    assert!(steps <= 215, "{steps}");
}
