//! Random cells against what the objectives say, word by word: no scaling, no shares as columns, no quick ways. Shares of equals are found
//! by what max-min fair means, halving the common share and trying who could get more; the rest by one objective after the other.

use super::super::{Cell, Storage, Tap};
use super::always;
use crate::balance::simplex::{Ended, Program, Simplex};
use crate::budget::Budget;
use crate::plan::{DemandId, HeaderId, OutletId, SupplyId, UnitId};
use crate::rehearsal::system::{Drive, Flow, Source};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// A trial of who could get more gives them this much more.
const MORE: f64 = 1e-6;
/// What is held may give way by so much, for rounding.
const HAIR: f64 = 1e-9;
/// Shares and objectives nearer than this are the same.
const ALIKE: f64 = 1e-5;

/// What flows: kind, rank, rate, most, on which headers, and the share it asks for.
type Part = (u8, u32, f64, f64, (usize, usize), f64);

fn part(headers: usize) -> impl Strategy<Value = Part> {
    let asks = prop_oneof![2 => Just(1.0), 1 => 0.05_f64..1.0];
    let (rate, most) = (prop_oneof![0.5_f64..2.0, 20.0_f64..60.0], prop_oneof![6 => 0.1_f64..3.0, 1 => Just(0.0)]);
    (0_u8..12, 1_u32..4, rate, most, (0..headers, 0..headers), asks)
}

fn flow(&(kind, rank, rate, most, (from, to), _): &Part) -> Flow {
    let (what, drive) = match kind {
        0 => (Source::Serve(DemandId(0)), Drive::Asked),
        1..=4 => (Source::Run(UnitId(0)), Drive::Asked),
        5 => (Source::Run(UnitId(0)), Drive::Tapped),
        6 => (Source::Draw(SupplyId(0)), Drive::Pushed),
        7..=9 => (Source::Draw(SupplyId(0)), Drive::Tapped),
        10 => (Source::LetOut(OutletId(0)), Drive::Surplus),
        _ => (Source::Spill(HeaderId(0)), Drive::Surplus),
    };
    let on = match kind {
        0 | 10 | 11 => vec![(from, -1.0)],
        2 => vec![(from, rate)],
        3..=5 if from != to => vec![(from, -rate), (to, 1.0)],
        1 | 3 | 4 => vec![(from, -rate)],
        _ => vec![(from, 1.0)],
    };
    // The last tap and the last way out have no limit.
    let most = if kind >= 9 && kind != 10 { f64::INFINITY } else { most };
    always(what, rank, drive, on, most)
}

fn storage() -> impl Strategy<Value = Storage> {
    let stores = prop_oneof![
        4 => Just((None, false, 0.0)),
        1 => Just((Some(1), true, 0.0)),
        1 => Just((Some(2), true, 0.5)),
        1 => Just((Some(1), false, f64::INFINITY)),
        1 => Just((Some(2), false, f64::INFINITY)),
        1 => Just((Some(2), true, f64::INFINITY)),
    ];
    let lines = prop_oneof![4 => Just(None), 1 => (0.2_f64..3.0).prop_map(Some)];
    (stores, lines).prop_map(|((rank, gives, takes), lines)| Storage { rank, gives, takes, lines, endless: false })
}

/// A cell as it is told: a row for each header, one for each that has lines.
struct Plain<'c> {
    cell: &'c Cell<'c>,
    headers: Vec<usize>,
    program: Program,
    /// By header of `headers`, what comes out of its stores.
    out: Vec<Option<usize>>,
    /// By header of `headers`, the greatest flow on it.
    greatest: Vec<f64>,
}

impl<'c> Plain<'c> {
    fn new(cell: &'c Cell<'c>) -> Self {
        let headers = cell.bound_headers();
        let lined: Vec<usize> =
            headers.iter().copied().filter(|&header| cell.storage[header].lines.is_some()).collect();
        let row_of = |list: &[usize], header: usize| list.iter().position(|&at| at == header);
        let mut program = Program::new(headers.len() + lined.len());
        let mut greatest = vec![0.0_f64; headers.len()];
        for &at in cell.members {
            let mut entries: Vec<(u32, f64)> = Vec::new();
            for &(header, rate) in &cell.flows[at].on {
                if let Some(row) = row_of(&headers, header) {
                    entries.push((row as u32, rate));
                    if cell.upper[at].is_finite() {
                        greatest[row] = greatest[row].max((rate * cell.upper[at]).abs());
                    }
                }
                if let Some(line) = row_of(&lined, header).filter(|_| rate > 0.0) {
                    entries.push(((headers.len() + line) as u32, rate));
                }
            }
            entries.sort_by_key(|&(row, _)| row);
            program.add(&entries, 0.0, cell.upper[at] * if cell.upper[at].is_finite() { cell.asks[at] } else { 1.0 });
        }
        greatest.iter_mut().filter(|most| **most == 0.0).for_each(|most| *most = 1.0);
        let mut out = Vec::new();
        for (row, &header) in headers.iter().enumerate() {
            program.add_sink(row as u32, cell.storage[header].takes);
            out.push(cell.storage[header].gives.then(|| program.add(&[(row as u32, 1.0)], 0.0, f64::INFINITY)));
        }
        for (line, &header) in lined.iter().enumerate() {
            let carries = cell.storage[header].lines.unwrap_or_default();
            program.add_sink((headers.len() + line) as u32, carries);
        }
        Self { cell, headers, program, out, greatest }
    }

    /// At rest, with these flows held and those at no less than so much.
    fn with(&self, least: &[f64], held: &[Option<f64>]) -> Option<Simplex<'_>> {
        let basis = self.program.sinks.clone();
        let mut simplex = Simplex::new(&self.program, self.program.by_rows(), basis, &[]);
        for (member, held) in held.iter().enumerate() {
            simplex.set_lower(member, held.map_or(least[member], |held| (held - HAIR).max(0.0)));
            simplex.set_upper(member, held.map_or(self.program.upper[member], |held| held + HAIR));
        }
        simplex.restore(&Budget::unhurried()).expect("within the budget").then_some(simplex)
    }

    /// Holds each of a group to the share that max-min fairness gives it.
    fn share(&self, group: &[usize], held: &mut [Option<f64>]) {
        let mut active = group.to_vec();
        while !active.is_empty() {
            let of = |member: usize, share: f64| {
                let at = self.cell.members[member];
                share.min(self.cell.asks[at]) * self.cell.upper[at]
            };
            let possible = |share: f64, more: Option<usize>, held: &[Option<f64>]| {
                let mut least = vec![0.0; held.len()];
                for &member in &active {
                    least[member] = of(member, if more == Some(member) { share + MORE } else { share });
                }
                self.with(&least, held).is_some()
            };
            if possible(1.0, None, held) {
                for &member in &active {
                    held[member] = Some(of(member, 1.0));
                }
                return;
            }
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..48 {
                let middle = f64::midpoint(low, high);
                if possible(middle, None, held) { low = middle } else { high = middle }
            }
            let stuck: Vec<usize> =
                active.iter().copied().filter(|&member| !possible(low, Some(member), held)).collect();
            let has_all = |member: usize| self.cell.asks[self.cell.members[member]] <= low;
            let settled = |member: usize| stuck.is_empty() || stuck.contains(&member) || has_all(member);
            active.iter().filter(|&&at| settled(at)).for_each(|&member| held[member] = Some(of(member, low)));
            active.retain(|&member| held[member].is_none());
        }
    }

    /// What is to be least once those who ask and those who push have theirs: by flow, and by header what comes out of its stores.
    fn objectives(&self) -> Vec<(Vec<f64>, Vec<f64>)> {
        let (cell, none) = (self.cell, vec![0.0; self.headers.len()]);
        let flow = |member: usize| &cell.flows[cell.members[member]];
        let count = cell.members.len();
        let among = |chosen: &dyn Fn(usize) -> bool, cost: &dyn Fn(usize) -> f64| -> Vec<f64> {
            (0..count).map(|member| if chosen(member) { cost(member) } else { 0.0 }).collect()
        };
        let tapped = |member: usize| flow(member).drive == Drive::Tapped;
        let draws = |member: usize| matches!(flow(member).what, Source::Draw(_));
        let tap = |member: usize| cell.tap(cell.members[member]);
        let row = |header: usize| self.headers.binary_search(&header).ok();
        let measure = |member: usize| {
            let most = cell.upper[cell.members[member]];
            if most.is_finite() { most } else { row(flow(member).on[0].0).map_or(1.0, |row| self.greatest[row]) }
        };
        let last_first = |chosen: &dyn Fn(usize) -> bool| -> Vec<(Vec<f64>, Vec<f64>)> {
            let ranks = (1..4).rev();
            ranks
                .map(|rank| {
                    (
                        among(&|member| tapped(member) && chosen(member) && flow(member).rank == rank, &|_| 1.0),
                        none.clone(),
                    )
                })
                .collect()
        };
        let mut all = last_first(&|member| tap(member) == Tap::Reserve);
        // Fill: what goes into the stores, less what comes out of them, in shares of the greatest flow there; and taps before
        // stores that take whatever comes, in shares of what they could give.
        let to_free = |member: usize| flow(member).on.iter().any(|&(header, rate)| rate > 0.0 && row(header).is_none());
        let mut fill = among(&|member| tapped(member) && tap(member) == Tap::Refills && to_free(member), &|member| {
            if measure(member) > 0.0 { -1.0 / measure(member) } else { 0.0 }
        });
        let mut out = none.clone();
        for (row, &header) in
            self.headers.iter().enumerate().filter(|(_, header)| cell.storage[**header].rank.is_some())
        {
            if cell.storage[header].endless {
                out[row] = 1.0 / self.greatest[row];
                continue;
            }
            for (member, cost) in fill.iter_mut().enumerate() {
                let on = flow(member).on.iter().filter(|on| on.0 == header);
                *cost -= on.map(|on| on.1).sum::<f64>() / self.greatest[row];
            }
        }
        all.push((fill, out));
        all.extend(last_first(&draws));
        all.extend(last_first(&|member| !draws(member)));
        for spills in [false, true] {
            let leaves = |member: usize| {
                flow(member).drive == Drive::Surplus && matches!(flow(member).what, Source::Spill(_)) == spills
            };
            let each = |member: usize| if measure(member) > 0.0 { 1.0 / measure(member) } else { 0.0 };
            all.push((among(&leaves, &each), none.clone()));
        }
        all
    }

    /// What is left over on each header.
    fn nets(&self, amounts: &[f64]) -> Vec<f64> {
        let mut nets = vec![0.0; self.headers.len()];
        for (member, &amount) in amounts.iter().enumerate() {
            for (row, entry) in self.program.column(member).filter(|&(row, _)| row < self.headers.len()) {
                nets[row] += entry * amount;
            }
        }
        nets
    }

    fn worth(&self, (of_flows, of_out): &(Vec<f64>, Vec<f64>), amounts: &[f64]) -> f64 {
        let flows: f64 = of_flows.iter().zip(amounts).map(|(cost, amount)| cost * amount).sum();
        let out: f64 = of_out.iter().zip(self.nets(amounts)).map(|(cost, net)| cost * (-net).max(0.0)).sum();
        flows + out
    }
}

/// Holds what the cell says against its objectives.
fn agrees(parts: &[Part], storage: &[Storage]) -> Result<(), TestCaseError> {
    let mut storage = storage.to_vec();
    // One outlet and one spill to a header, as in a plan; and what stands on free headers alone is a cell of its own.
    let mut seen = Vec::new();
    let bound = |flow: &Flow| flow.on.iter().any(|on| !storage[on.0].is_free());
    let any_bound = parts.iter().any(|part| bound(&flow(part)));
    let parts: Vec<Part> = parts
        .iter()
        .filter(|part| {
            let way_out = (part.0, part.4.0);
            let again = part.0 >= 10 && seen.contains(&way_out);
            seen.push(way_out);
            !again && bound(&flow(part)) == any_bound
        })
        .copied()
        .collect();
    let flows: Vec<Flow> = parts.iter().map(flow).collect();
    for flow in flows.iter().filter(|flow| flow.drive == Drive::Tapped && flow.most.is_infinite()) {
        storage[flow.on[0].0].endless = true;
    }
    let upper: Vec<f64> = flows.iter().map(|flow| flow.most).collect();
    let asks: Vec<f64> =
        parts.iter().zip(&flows).map(|(part, flow)| if flow.drive == Drive::Asked { part.5 } else { 1.0 }).collect();
    let members: Vec<usize> = (0..flows.len()).collect();
    let cell = Cell { flows: &flows, members: &members, upper: &upper, asks: &asks, storage: &storage };
    let found = cell.solve(&mut 0, &Budget::unhurried()).expect("within the budget");
    let plain = Plain::new(&cell);
    for (row, net) in plain.nets(&found).into_iter().enumerate() {
        let storage = storage[plain.headers[row]];
        prop_assert!(net <= storage.takes + ALIKE && (storage.gives || net >= -ALIKE), "{net} is left over: {found:?}");
    }
    let mut held: Vec<Option<f64>> = vec![None; flows.len()];
    for group in cell.groups() {
        plain.share(&group, &mut held);
        for member in group {
            let (is, should) = (found[member], held[member].unwrap_or_default());
            prop_assert!(
                (is - should).abs() <= ALIKE,
                "{member} has {is} and should have {should}: {found:?} {held:?}"
            );
        }
    }
    let nothing = vec![0.0; flows.len()];
    let Some(mut simplex) = plain.with(&nothing, &held) else {
        return Err(TestCaseError::fail("those who ask cannot have what they have"));
    };
    for objective in plain.objectives() {
        let mut costs = vec![0.0; plain.program.columns()];
        costs[..flows.len()].copy_from_slice(&objective.0);
        for (out, cost) in plain.out.iter().zip(&objective.1) {
            if let Some(out) = *out {
                costs[out] = *cost;
            }
        }
        while let Ended::Unbounded { column } =
            simplex.minimise(&costs, &Budget::unhurried()).expect("within the budget")
        {
            simplex.freeze(column);
        }
        let best: Vec<f64> = (0..flows.len()).map(|member| simplex.value(member)).collect();
        let (is, should) = (plain.worth(&objective, &found), plain.worth(&objective, &best));
        prop_assert!((is - should).abs() <= ALIKE * (1.0 + should.abs()), "{is}, not {should}: {found:?} {best:?}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: RngSeed::Fixed(11), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_header(parts in prop::collection::vec(part(1), 1..7), storage in storage()) {
        agrees(&parts, &[storage])?;
    }

    #[test]
    fn three_headers(parts in prop::collection::vec(part(3), 2..12), storage in prop::collection::vec(storage(), 3)) {
        agrees(&parts, &storage)?;
    }
}
