//! Parts of a network that cannot take anything from each other.
//!
//! Two rows touch where a column stands in both, but not every row hands a shortage on:
//!
//! - A row is *drained* where surplus may leave it without limit.
//! - It is *plentiful* where a column without a limit gives to it, takes from plentiful rows only, and gives elsewhere only
//!   to drained rows: whatever is asked of it can be had.
//!
//! A row that is both asks nothing of anybody: whatever the other columns do, it can be closed without them noticing. The same
//! goes for a drained row from which nothing is taken. Without these rows the network falls into islands, and
//! what one of them reaches has no bearing on another. Exactly so: no tolerance and no solution comes into it.

use super::model::Model;

/// Rows and columns that touch, each in ascending order, with the items among the columns.
#[derive(Clone, Debug, Default)]
pub struct Island {
    /// Rows of the programme.
    pub rows: Vec<usize>,
    /// Columns of the programme.
    pub columns: Vec<usize>,
    /// Items of the model: first rank first.
    pub items: Vec<usize>,
}

/// The islands with anything wanted on them, in the order of their first rows.
#[must_use]
pub fn islands(model: &Model) -> Vec<Island> {
    let program = &model.program;
    let asks = asking_rows(model);
    let mut parent: Vec<usize> = (0..program.rows()).collect();
    for column in 0..program.columns() {
        let mut rows = program.column(column).map(|(row, _)| row).filter(|&row| asks[row]);
        if let Some(first) = rows.next() {
            for row in rows {
                let (one, other) = (root(&mut parent, first), root(&mut parent, row));
                parent[one.max(other)] = one.min(other);
            }
        }
    }
    let mut place = vec![usize::MAX; program.rows()];
    let mut islands: Vec<Island> = Vec::new();
    for row in (0..program.rows()).filter(|&row| asks[row]) {
        let first = root(&mut parent, row);
        if place[first] == usize::MAX {
            place[first] = islands.len();
            islands.push(Island::default());
        }
        place[row] = place[first];
        islands[place[row]].rows.push(row);
    }
    let island_of = |column: usize| program.column(column).find(|&(row, _)| asks[row]).map(|(row, _)| place[row]);
    for column in 0..program.columns() {
        if let Some(at) = island_of(column) {
            islands[at].columns.push(column);
        }
    }
    for (at, item) in model.items.iter().enumerate() {
        if let Some(island) = island_of(item.column) {
            islands[island].items.push(at);
        }
    }
    islands.retain(|island| !island.items.is_empty());
    islands
}

/// The rows on which one column may be in another's way.
fn asking_rows(model: &Model) -> Vec<bool> {
    let program = &model.program;
    let drained: Vec<bool> = program.sinks.iter().map(|&sink| program.upper[sink as usize].is_infinite()).collect();
    let mut taken = vec![false; program.rows()];
    let mut is_item = vec![false; program.columns()];
    for item in &model.items {
        is_item[item.column] = true;
    }
    // Of a column without a limit: how many rows it takes from that are not known to be plentiful.
    let mut lacks = vec![usize::MAX; program.columns()];
    let mut ready = Vec::new();
    for column in 0..program.columns() {
        let alone = program.column(column).nth(1).is_none();
        let mut taking = 0;
        let mut gives_freely = true;
        for (row, value) in program.column(column) {
            if value < 0.0 {
                taking += 1;
                taken[row] |= !alone || is_item[column] || program.lower[column] > 0.0;
            } else {
                gives_freely &= drained[row];
            }
        }
        if program.upper[column].is_infinite() && gives_freely {
            lacks[column] = taking;
            if taking == 0 {
                ready.push(column);
            }
        }
    }
    let rows = program.by_rows();
    let mut plentiful = vec![false; program.rows()];
    while let Some(column) = ready.pop() {
        for (row, value) in program.column(column) {
            if value > 0.0 && !plentiful[row] {
                plentiful[row] = true;
                for (taker, entry) in rows.row(row) {
                    if entry < 0.0 && lacks[taker] != usize::MAX {
                        lacks[taker] -= 1;
                        if lacks[taker] == 0 {
                            ready.push(taker);
                        }
                    }
                }
            }
        }
    }
    (0..program.rows()).map(|row| !(drained[row] && (plentiful[row] || !taken[row]))).collect()
}

/// The root of `at` in a forest of parents, halving the path on the way.
pub fn root(parent: &mut [usize], mut at: usize) -> usize {
    while parent[at] != at {
        parent[at] = parent[parent[at]];
        at = parent[at];
    }
    at
}
