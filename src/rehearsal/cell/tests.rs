//! The closed form for one header against the programme, over random cells.

use super::{Cell, Storage, single};
use crate::budget::Budget;
use crate::plan::{DemandId, OutletId, SupplyId, UnitId};
use crate::rehearsal::system::{Drive, Flow, Source};
use proptest::prelude::*;

fn flow(kind: u8, rank: u32, rate: f64, most: f64) -> Flow {
    let (what, drive, rate) = match kind {
        0 => (Source::Serve(DemandId(0)), Drive::Asked, -1.0),
        1 => (Source::Run(UnitId(0)), Drive::Asked, -rate),
        2 => (Source::Run(UnitId(0)), Drive::Asked, rate),
        3 => (Source::Draw(SupplyId(0)), Drive::Pushed, 1.0),
        4 => (Source::Draw(SupplyId(0)), Drive::Tapped, 1.0),
        _ => (Source::LetOut(OutletId(0)), Drive::Surplus, -1.0),
    };
    Flow { what, rank, drive, on: vec![(0, rate)], most, course: None, gates: Vec::new() }
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

proptest! {
    #[test]
    fn agrees_with_the_programme(
        parts in prop::collection::vec((0_u8..6, 1_u32..4, 0.5_f64..2.0, 0.1_f64..3.0), 1..9),
        storage in storage(),
    ) {
        let flows: Vec<Flow> = parts.iter().map(|&(kind, rank, rate, most)| flow(kind, rank, rate, most)).collect();
        let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
        let members: Vec<usize> = (0..flows.len()).collect();
        let storage = [storage];
        let cell = Cell { flows: &flows, members: &members, upper: &upper, storage: &storage };
        let closed = single::solve(&cell, 0).expect("one header, no lines, no wanted units");
        let programme = cell.solve_programme(&[0], &mut 0, &Budget::unhurried()).expect("within the budget");
        let near = |one: f64, other: f64| (one - other).abs() <= 1e-9;
        // What is asked and pushed is the same one by one; taps of one rank may share their part otherwise.
        for (at, flow) in flows.iter().enumerate() {
            if matches!(flow.drive, Drive::Asked) {
                prop_assert!(near(closed[at], programme[at]), "{at}: {closed:?} {programme:?}");
            }
        }
        let sum = |amounts: &[f64], drive: Drive, rank: Option<u32>| -> f64 {
            flows.iter().zip(amounts).filter(|(flow, _)| flow.drive == drive && rank.is_none_or(|rank| rank == flow.rank))
                .map(|(flow, amount)| flow.on[0].1 * amount).sum()
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
}
