//! The closed form, and cells taken apart, against the programme, over random cells.

mod by_definition;
mod rounding;
mod ways;

use super::{Cell, Storage, apart, direct};
use crate::budget::Budget;
use crate::plan::{DemandId, OutletId, SupplyId, UnitId};
use crate::rehearsal::system::{Drive, Flow, Source};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::cell::Cell as Count;

/// A flow on one header or, where it is a unit, between two.
fn flow(kind: u8, rank: u32, rate: f64, most: f64, from: usize, to: usize) -> Flow {
    let (what, drive) = match kind {
        0 => (Source::Serve(DemandId(0)), Drive::Asked),
        1..=3 => (Source::Run(UnitId(0)), Drive::Asked),
        4 => (Source::Draw(SupplyId(0)), Drive::Pushed),
        5 => (Source::Draw(SupplyId(0)), Drive::Tapped),
        _ => (Source::LetOut(OutletId(0)), Drive::Surplus),
    };
    let on = match kind {
        0 | 6 => vec![(from, -1.0)],
        2 => vec![(from, rate)],
        3 if from != to => vec![(from, -rate), (to, 1.0)],
        1 | 3 => vec![(from, -rate)],
        _ => vec![(from, 1.0)],
    };
    always(what, rank, drive, on, most)
}

/// A flow that nothing gates.
fn always(what: Source, rank: u32, drive: Drive, mut on: Vec<(usize, f64)>, most: f64) -> Flow {
    on.sort_by_key(|on| on.0);
    Flow {
        what,
        rank,
        drive,
        on,
        most,
        course: None,
        dial: None,
        gates: Vec::new(),
        thermostats: Vec::new(),
        endless: Vec::new(),
    }
}

fn storage() -> impl Strategy<Value = Storage> {
    let stand = prop_oneof![
        Just((None, false, 0.0)),
        Just((Some(1), true, 0.0)),
        Just((Some(2), true, 0.5)),
        Just((Some(1), false, f64::INFINITY)),
        Just((Some(2), false, f64::INFINITY))
    ];
    stand.prop_map(|(rank, gives, takes)| Storage { rank, gives, takes, lines: None, endless: false })
}

/// Another way to an answer than the programme, where it has one.
type Way = fn(&Cell<'_>, &[usize]) -> Option<Vec<f64>>;

fn taken_apart(cell: &Cell<'_>, headers: &[usize]) -> Option<Vec<f64>> {
    apart::solve(cell, headers, &mut 0, &Budget::unhurried()).expect("within the budget")
}

/// Holds a way against the programme; whether it had an answer.
fn agrees(way: Way, parts: &[Part], storage: &[Storage], headers: &[usize]) -> Result<bool, TestCaseError> {
    let flows = &flows(parts)[..];
    let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
    let asks: Vec<f64> =
        parts.iter().zip(flows).map(|(part, flow)| if flow.drive == Drive::Asked { part.6 } else { 1.0 }).collect();
    let members: Vec<usize> = (0..flows.len()).collect();
    let cell = Cell { flows, members: &members, upper: &upper, asks: &asks, storage };
    let headers: Vec<usize> = headers.iter().copied().filter(|header| cell.bound_headers().contains(header)).collect();
    let headers = &headers[..];
    let Some(closed) = way(&cell, headers) else { return Ok(false) };
    let programme = cell.solve_programme(headers, &mut 0, &Budget::unhurried()).expect("within the budget");
    let near = |one: f64, other: f64| (one - other).abs() <= 1e-9;
    // What is asked is the same one by one; taps of one rank may share their part otherwise.
    for (at, flow) in flows.iter().enumerate() {
        if matches!(flow.drive, Drive::Asked) {
            prop_assert!(near(closed[at], programme[at]), "{at}: {closed:?} {programme:?}");
        }
    }
    for &header in headers {
        let sum = |amounts: &[f64], drive: Drive, rank: Option<u32>| -> f64 {
            let chosen = flows.iter().zip(amounts).filter(|(flow, _)| {
                flow.drive == drive && rank.is_none_or(|rank| rank == flow.rank) && flow.on[0].0 == header
            });
            chosen.map(|(flow, amount)| flow.on[0].1 * amount).sum()
        };
        for rank in 1..4 {
            for drive in [Drive::Pushed, Drive::Tapped] {
                let (one, other) = (sum(&closed, drive, Some(rank)), sum(&programme, drive, Some(rank)));
                prop_assert!(near(one, other), "{drive:?} {rank}: {closed:?} {programme:?}");
            }
        }
        let (one, other) = (sum(&closed, Drive::Surplus, None), sum(&programme, Drive::Surplus, None));
        prop_assert!(near(one, other), "surplus: {closed:?} {programme:?}");
    }
    Ok(true)
}

type Part = (u8, u32, f64, f64, usize, usize, f64);

fn part(headers: usize) -> impl Strategy<Value = Part> {
    let asks = prop_oneof![Just(1.0), 0.05_f64..1.0];
    (0_u8..7, 1_u32..4, 0.5_f64..2.0, 0.1_f64..3.0, 0..headers, 0..headers, asks)
}

fn flows(parts: &[Part]) -> Vec<Flow> {
    parts.iter().map(|&(kind, rank, rate, most, from, to, _)| flow(kind, rank, rate, most, from, to)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_header_is_always_said_in_closed_form(
        parts in prop::collection::vec(part(1), 1..9),
        storage in storage(),
    ) {
        prop_assert!(agrees(direct::solve, &parts, &[storage], &[0])?);
    }

    #[test]
    fn several_headers_agree_where_no_more_than_one_binds(
        parts in prop::collection::vec(part(3), 1..12),
        storage in prop::collection::vec(storage(), 3),
    ) {
        agrees(direct::solve, &parts, &storage, &[0, 1, 2])?;
    }
}

#[test]
fn cells_taken_apart_agree() {
    let mut runner = TestRunner::new(Config { cases: 4_000, failure_persistence: None, ..Config::default() });
    let (told, all) = (Count::new(0_u32), Count::new(0_u32));
    let plants = (prop::collection::vec(part(4), 1..16), prop::collection::vec(storage(), 4));
    let result = runner.run(&plants, |(parts, storage)| {
        all.set(all.get() + 1);
        told.set(told.get() + u32::from(agrees(taken_apart, &parts, &storage, &[0, 1, 2, 3])?));
        Ok(())
    });
    result.unwrap_or_else(|error| panic!("{error}"));
    assert!(told.get() > all.get() / 4, "{} of {} could be taken apart", told.get(), all.get());
}

/// Machines of many chains on one grid that is short: each gets the common share, or what its own spring lets it have where that is
/// less. Rates are round, so that many are held at one share and vertices are degenerate.
#[test]
fn many_equals_on_one_grid_are_filled_as_by_hand() {
    let closed = Storage { rank: None, gives: false, takes: 0.0, lines: None, endless: false };
    let chain = (prop_oneof![Just(0.25), Just(0.5), Just(2.0), 0.1_f64..1.0], 1_u8..4);
    let plants = (prop::collection::vec(chain, 6..60), prop_oneof![Just(0.3), Just(0.5), 0.1_f64..1.0]);
    let mut runner = TestRunner::new(Config { cases: 400, failure_persistence: None, ..Config::default() });
    let result = runner.run(&plants, |(chains, part)| {
        let most = |&(spring, draw): &(f64, u8)| f64::from(draw) * f64::min(spring, 1.0);
        let grid = part * chains.iter().map(most).sum::<f64>();
        let mut flows = vec![flow(5, 1, 1.0, grid, 0, 0)];
        for (at, &(spring, draw)) in chains.iter().enumerate() {
            flows.push(flow(5, 1, 1.0, spring, at + 1, 0));
            let unit = flow(1, 1, 1.0, 1.0, 0, 0);
            flows.push(Flow { on: vec![(0, -f64::from(draw)), (at + 1, -1.0)], ..unit });
        }
        let (members, headers): (Vec<usize>, Vec<usize>) = ((0..flows.len()).collect(), (0..=chains.len()).collect());
        let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
        let (asks, storage) = (vec![1.0; flows.len()], vec![closed; headers.len()]);
        let cell = Cell { flows: &flows, members: &members, upper: &upper, asks: &asks, storage: &storage };
        let found = cell.solve_programme(&headers, &mut 0, &Budget::unhurried()).expect("within the budget");
        // The share w at which Σ draw·min(spring, w) is what the grid gives, by halving.
        let taken =
            |share: f64| -> f64 { chains.iter().map(|&(spring, draw)| f64::from(draw) * spring.min(share)).sum() };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..100 {
            let middle = f64::midpoint(low, high);
            if taken(middle) > grid { high = middle } else { low = middle }
        }
        for (at, (spring, _)) in chains.iter().enumerate() {
            let share = found[2 * at + 2];
            prop_assert!(
                (share - spring.min(low)).abs() < 1e-9,
                "chain {at}: {share} for {} of {chains:?}",
                spring.min(low)
            );
        }
        Ok(())
    });
    result.unwrap_or_else(|error| panic!("{error}"));
}
