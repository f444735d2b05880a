//! The floor: which machines fit into which row. Pure arithmetic of whole cells.
//!
//! Rows are filled in the plan's order. In each the widest machines come first, and of one width by name, so that the order
//! of names in the document decides nothing. What does not fit, or is too tall, goes on to the next row that places its unit.
//! A symmetric row takes machines by pairs, one in each half; where one is over, its mirror place stays empty, unless the row
//! has no access and the middle is free for it.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cells and machines are whole, never negative, and below 2^53 by the limits of a plan"
)]

mod frame;
#[cfg(test)]
mod tests;

pub use frame::{Frame, Standing};

use crate::plan::{FloorRow, Placed, Plan, UnitId};

/// How one row turns out. Lengths are in cells.
#[derive(Clone, Debug, PartialEq)]
pub struct RowFit {
    /// By placing, as in the plan.
    pub kinds: Vec<KindFit>,
    /// How wide the row would have to be for all that it was to take, what rows before passed on to it among them.
    pub needed: u64,
    /// How wide it has to be for what stands in it.
    pub used: u64,
    /// How much wider it would have to be for what stands nowhere and was last to stand here.
    pub missing: u64,
    /// Where machines stand, from the left; each run of one unit.
    pub runs: Vec<Run>,
    /// Where the access begins.
    pub access_at: u64,
    /// Whether the halves mirror each other; `None` where that is not asked.
    pub mirrors: Option<bool>,
}

/// How one type of machine fits into a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KindFit {
    /// The unit.
    pub unit: UnitId,
    /// How many were to stand here, those that rows before passed on among them.
    pub wanted: u64,
    /// How many stand here.
    pub placed: u64,
    /// The most that could, with the others as they stand.
    pub fits: u64,
    /// How many stand nowhere: no later row takes them.
    pub homeless: u64,
    /// How much wider the row must be for one more, in a symmetric row for one more on each side.
    pub wider: u64,
    /// Whether it is taller than the row.
    pub too_tall: bool,
    /// Whether one is over that has no mirror.
    pub odd: bool,
}

/// Machines of one unit side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// The unit.
    pub unit: UnitId,
    /// Where the first begins.
    pub at: u64,
    /// How many.
    pub count: u64,
    /// How wide one is.
    pub each: u64,
    /// From the beginning of one to that of the next.
    pub pitch: u64,
}

/// How many of each unit the rows were asked to place, and how many there are.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// By row.
    pub rows: Vec<RowFit>,
    /// By unit: machines that no row was asked to place, of units that some row places.
    pub unasked: Vec<u64>,
}

/// Fits the machines of a plan into its rows. `counts` is by unit: how many there are.
#[must_use]
pub fn fit(plan: &Plan, counts: &[u32]) -> Fit {
    let mut carried = vec![0_u64; plan.units.len()];
    let mut asked = vec![0_u64; plan.units.len()];
    // The row that is the last to place a unit.
    let mut last = vec![None; plan.units.len()];
    for (at, row) in plan.rows.iter().enumerate() {
        row.place.iter().for_each(|placing| last[placing.unit.0] = Some(at));
    }
    let mut rows = Vec::with_capacity(plan.rows.len());
    for (at, row) in plan.rows.iter().enumerate() {
        let wanted = row.place.iter().map(|placing| {
            let unit = placing.unit.0;
            let here = match placing.placed {
                Placed::Count(count) => u64::from(count),
                Placed::All => u64::from(counts[unit]).saturating_sub(asked[unit]),
            };
            asked[unit] += here;
            std::mem::take(&mut carried[unit]) + here
        });
        let wanted: Vec<u64> = wanted.collect();
        let mut filled = fill(plan, row, &wanted);
        for kind in &mut filled.kinds {
            let left = kind.wanted - kind.placed;
            if last[kind.unit.0] == Some(at) {
                kind.homeless = left;
            } else {
                carried[kind.unit.0] = left;
            }
        }
        filled.missing = missing(plan, row, &filled);
        rows.push(filled);
    }
    let unasked = (0..plan.units.len()).map(|at| match last[at] {
        Some(_) => u64::from(counts[at]).saturating_sub(asked[at]),
        None => 0,
    });
    Fit { rows, unasked: unasked.collect() }
}

fn frame(row: &FloorRow) -> Frame {
    Frame { walls: f64::from(row.walls), access: f64::from(row.access), gap: f64::from(row.gap) }
}

/// The width of a machine; whatever is placed has one.
fn width(plan: &Plan, unit: UnitId) -> f64 {
    plan.units[unit.0].width.map_or(0.0, f64::from)
}

/// Machines of one kind as they stand in a row that is being filled.
#[derive(Clone, Copy)]
struct Stand {
    kind: usize,
    /// Pairs, or in a row without halves machines.
    by: u64,
    over: Over,
}

/// One machine that is over when the others stand in pairs.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Over {
    None,
    /// It stands in the middle.
    Middle,
    /// Its mirror place is left empty.
    Single,
}

fn fill(plan: &Plan, row: &FloorRow, wanted: &[u64]) -> RowFit {
    let (frame, wide) = (frame(row), f64::from(row.width));
    let step = if row.symmetric { 2.0 } else { 1.0 };
    let mut order: Vec<usize> = (0..row.place.len()).collect();
    let name = |at: usize| plan.units[row.place[at].unit.0].name.as_str();
    order.sort_by(|&one, &other| {
        let widths = (width(plan, row.place[one].unit), width(plan, row.place[other].unit));
        widths.1.total_cmp(&widths.0).then_with(|| name(one).cmp(name(other)))
    });
    let (mut standing, mut needed) = (Standing::default(), Standing::default());
    let (mut stands, mut middle) = (Vec::new(), row.access > 0 || !row.symmetric);
    let mut needs_middle = middle;
    let mut kinds: Vec<KindFit> = row
        .place
        .iter()
        .zip(wanted)
        .map(|(placing, &wanted)| KindFit {
            unit: placing.unit,
            wanted,
            placed: 0,
            fits: 0,
            homeless: 0,
            wider: 0,
            too_tall: row.height.is_some_and(|height| plan.units[placing.unit.0].height > height),
            odd: false,
        })
        .collect();
    for &at in &order {
        let kind = &mut kinds[at];
        let each = width(plan, kind.unit);
        if kind.too_tall {
            continue;
        }
        let (places, takes_middle) = places(kind.wanted, step, !needs_middle);
        needs_middle |= takes_middle;
        needed = needed.and(places, each);
        // By the step first; then one that is over.
        let room = frame.more(wide, standing, each, step).max(0.0);
        let by = (kind.wanted as f64 / step).floor().min(room / step);
        standing = standing.and(by * step, each);
        kind.placed = (by * step) as u64;
        let mut over = Over::None;
        if kind.wanted - kind.placed == 1 && row.symmetric {
            if !middle && frame.more(wide, standing, each, 1.0) >= 1.0 {
                (over, middle) = (Over::Middle, true);
                standing = standing.and(1.0, each);
            } else if frame.more(wide, standing, each, 2.0) >= 2.0 {
                over = Over::Single;
                standing = standing.and(2.0, each);
            }
            kind.placed += u64::from(over != Over::None);
        }
        kind.odd = over == Over::Single;
        stands.push(Stand { kind: at, by: by as u64, over });
    }
    let used = frame.width(standing);
    for kind in &mut kinds {
        let each = width(plan, kind.unit);
        if !kind.too_tall {
            kind.fits = kind.placed + u64::from(kind.odd) + frame.more(wide, standing, each, step).max(0.0) as u64;
            kind.wider = (frame.width(standing.and(step, each)) - wide).max(0.0) as u64;
        }
    }
    let (runs, access_at) = if row.symmetric {
        halves(plan, row, &kinds, &stands, used as u64)
    } else {
        let mut at = u64::from(row.walls);
        let runs = stands.iter().filter(|stand| stand.by > 0).map(|stand| {
            let run = run(plan, row, kinds[stand.kind].unit, at, stand.by);
            at += run.pitch * run.count;
            run
        });
        let runs: Vec<Run> = runs.collect();
        (runs, u64::from(row.width).saturating_sub(u64::from(row.walls) + u64::from(row.access)))
    };
    let mirrors = row.symmetric.then(|| kinds.iter().all(|kind| !kind.odd));
    RowFit { kinds, needed: frame.width(needed) as u64, used: used as u64, missing: 0, runs, access_at, mirrors }
}

/// How many places so many machines take, and whether one of them stands in the middle.
fn places(wanted: u64, step: f64, middle_free: bool) -> (f64, bool) {
    let wanted = wanted as f64;
    let places = (wanted / step).ceil() * step;
    if places > wanted && middle_free { (wanted, true) } else { (places, false) }
}

fn run(plan: &Plan, row: &FloorRow, unit: UnitId, at: u64, count: u64) -> Run {
    let each = plan.units[unit.0].width.map_or(0, u64::from);
    Run { unit, at, count, each, pitch: each + u64::from(row.gap) }
}

/// Both halves, from the walls inwards and mirrored; what is in the middle; and where the access begins.
fn halves(plan: &Plan, row: &FloorRow, kinds: &[KindFit], stands: &[Stand], used: u64) -> (Vec<Run>, u64) {
    let wide = u64::from(row.width);
    let (mut left, mut right, mut centre) = (Vec::new(), Vec::new(), Vec::new());
    let mut at = u64::from(row.walls);
    for stand in stands {
        let unit = kinds[stand.kind].unit;
        for (count, both) in [(stand.by, true), (u64::from(stand.over == Over::Single), false)] {
            if count == 0 {
                continue;
            }
            let one = run(plan, row, unit, at, count);
            let long = (count - 1) * one.pitch + one.each;
            if both {
                right.push(Run { at: wide - at - long, ..one });
            }
            left.push(one);
            at += one.pitch * count;
        }
        if stand.over == Over::Middle {
            let each = plan.units[unit.0].width.map_or(0, u64::from);
            centre.push(run(plan, row, unit, (wide - each) / 2, 1));
        }
    }
    let spare = wide.saturating_sub(used);
    let access = u64::from(row.access) + if row.access > 0 { spare % 2 } else { 0 };
    right.reverse();
    left.extend(centre);
    left.extend(right);
    (left, (wide - access.min(wide)) / 2)
}

/// How much wider a row must be for what stands nowhere. What is too tall does not fit however wide it is.
fn missing(plan: &Plan, row: &FloorRow, filled: &RowFit) -> u64 {
    let step = if row.symmetric { 2.0 } else { 1.0 };
    let homeless = || filled.kinds.iter().filter(|kind| kind.homeless > 0 && !kind.too_tall);
    if homeless().next().is_none() {
        return 0;
    }
    let mut middle_free = row.symmetric && row.access == 0;
    let mut standing = Standing::default();
    for kind in filled.kinds.iter().filter(|kind| !kind.too_tall) {
        let (places, takes_middle) = places(kind.placed + kind.homeless, step, middle_free);
        middle_free &= !takes_middle;
        standing = standing.and(places, width(plan, kind.unit));
    }
    (frame(row).width(standing) - f64::from(row.width)).max(0.0) as u64
}
