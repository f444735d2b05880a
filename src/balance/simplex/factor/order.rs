//! The order in which a basis is factorised.

use super::packed::Packed;
use super::{LEAST_PIVOT, NONE};
use crate::balance::simplex::program::Program;

/// Orders the basis so that the triangular part needs no elimination: columns with one open row first, then rows with one
/// open column, then the rest by length. For the first two kinds the pivot row is fixed.
pub fn triangular_order(program: &Program, basis: &[u32]) -> (Vec<u32>, Vec<u32>) {
    let size = basis.len();
    let mut row_columns = Packed::default();
    let mut by_column = Packed::default();
    by_column.clear_for(size, 3 * size);
    for &column in basis {
        for (row, value) in program.column(column as usize) {
            by_column.push(u32::try_from(row).unwrap_or(NONE), value);
        }
        by_column.close();
    }
    by_column.transpose_into(size, &mut row_columns);
    let length = |packed: &Packed, at: usize| packed.starts[at + 1] - packed.starts[at];
    let mut column_open: Vec<usize> = (0..size).map(|position| length(&by_column, position)).collect();
    let mut row_open: Vec<usize> = (0..size).map(|row| length(&row_columns, row)).collect();
    let mut row_done = vec![false; size];
    let mut column_done = vec![false; size];
    let mut fixed = vec![NONE; size];
    let mut order = Vec::with_capacity(size);

    let mut queue: Vec<usize> = (0..size).rev().filter(|&position| column_open[position] == 1).collect();
    while let Some(position) = queue.pop() {
        if column_done[position] || column_open[position] != 1 {
            continue;
        }
        let open = by_column.get(position).find(|&(row, _)| !row_done[row]);
        let Some((row, value)) = open else { continue };
        if value.abs() < LEAST_PIVOT {
            continue;
        }
        column_done[position] = true;
        row_done[row] = true;
        fixed[position] = u32::try_from(row).unwrap_or(NONE);
        order.push(u32::try_from(position).unwrap_or(NONE));
        for (other, _) in row_columns.get(row) {
            row_open[row] -= 1;
            column_open[other] -= 1;
            if !column_done[other] && column_open[other] == 1 {
                queue.push(other);
            }
        }
    }
    // Columns already ordered no longer count for the open rows.
    for (row, open) in row_open.iter_mut().enumerate() {
        *open = row_columns.get(row).filter(|&(position, _)| !column_done[position]).count();
    }
    let mut queue: Vec<usize> = (0..size).rev().filter(|&row| !row_done[row] && row_open[row] == 1).collect();
    while let Some(row) = queue.pop() {
        if row_done[row] || row_open[row] != 1 {
            continue;
        }
        let open = row_columns.get(row).find(|&(position, _)| !column_done[position]);
        let Some((position, value)) = open else { continue };
        let largest = by_column
            .get(position)
            .filter(|&(other, _)| !row_done[other])
            .fold(0.0_f64, |most, (_, entry)| most.max(entry.abs()));
        if value.abs() < LEAST_PIVOT.max(1e-3 * largest) {
            continue;
        }
        row_done[row] = true;
        column_done[position] = true;
        fixed[position] = u32::try_from(row).unwrap_or(NONE);
        order.push(u32::try_from(position).unwrap_or(NONE));
        for (other, _) in by_column.get(position) {
            if !row_done[other] {
                row_open[other] -= 1;
                if row_open[other] == 1 {
                    queue.push(other);
                }
            }
        }
    }
    let mut rest: Vec<usize> = (0..size).filter(|&position| !column_done[position]).collect();
    rest.sort_by_key(|&position| (column_open[position], position));
    order.extend(rest.into_iter().map(|position| u32::try_from(position).unwrap_or(NONE)));
    (order, fixed)
}
