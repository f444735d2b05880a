//! Bases whose order is known, their rows and columns mixed, and factors that give back what they were made of.

use super::order::triangular_order;
use super::{Factor, NONE, Sparse};
use crate::balance::simplex::program::Program;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// How many columns come first, how many stand in the middle and how many come last; a place for each entry; and the order in which rows
/// and columns are mixed.
type Shape = ((usize, usize, usize), Vec<u8>, Vec<u16>, Vec<u16>);

fn shape() -> impl Strategy<Value = Shape> {
    let parts = (0_usize..6, prop_oneof![Just(0_usize), 2_usize..4], 0_usize..6);
    (
        parts,
        prop::collection::vec(0_u8..10, 256),
        prop::collection::vec(any::<u16>(), 16),
        prop::collection::vec(any::<u16>(), 16),
    )
}

fn sparse_of(values: &[f64]) -> Sparse {
    let mut sparse = Sparse::zeros(values.len());
    values.iter().enumerate().filter(|(_, value)| **value != 0.0).for_each(|(at, &value)| sparse.set(at, value));
    sparse
}

/// The places 0 to `size` mixed: those with the least key first.
fn mixed(size: usize, keys: &[u16]) -> Vec<usize> {
    let mut places: Vec<usize> = (0..size).collect();
    places.sort_by_key(|&at| (keys[at], at));
    places
}

/// The entries (row, column) of such a basis, not mixed yet: columns that have but one row left once those before them are done; a middle
/// in which every column has every row; and columns with a row that stands in none of those before them.
fn entries(&((first, middle, _), ref some, ..): &Shape, size: usize) -> Vec<(usize, usize, f64)> {
    let mut entries = Vec::new();
    for column in 0..size {
        for row in 0..size {
            let is_middle = |at: usize| (first..first + middle).contains(&at);
            let chosen = some[row * 16 + column];
            let stands = if row == column || (is_middle(row) && is_middle(column)) {
                true
            } else {
                // Of those that come last each leans on the middle, so that none of them has but one row.
                row < column && (chosen < 3 || (middle > 0 && row == first && column >= first + middle))
            };
            if stands {
                // The middle is regular: its diagonal outweighs the rest.
                let value = if row == column { 4.0 } else { f64::from(chosen % 3) - 0.5 };
                entries.push((row, column, if chosen % 2 == 0 { value } else { -value }));
            }
        }
    }
    entries
}

fn basis(shape: &Shape) -> (Program, Vec<u32>, usize) {
    let (first, middle, last) = shape.0;
    let size = first + middle + last;
    let (rows, columns) = (mixed(size, &shape.2), mixed(size, &shape.3));
    let entries = entries(shape, size);
    let mut program = Program::new(size);
    for &column in &columns {
        let mut own: Vec<(u32, f64)> =
            entries.iter().filter(|at| at.1 == column).map(|&(row, _, value)| (rows[row] as u32, value)).collect();
        own.sort_by_key(|&(row, _)| row);
        program.add(&own, 0.0, 1.0);
    }
    (0..size).for_each(|row| _ = program.add_sink(row as u32, 1.0));
    (program, (0..size as u32).collect(), size)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: RngSeed::Fixed(7), failure_persistence: None, ..ProptestConfig::default() })]

    /// Nothing is to be eliminated but in the middle: each column before it has but one row that is not done, each after it a row in which
    /// no other column that is not done stands.
    #[test]
    fn only_the_middle_is_eliminated(shape in shape()) {
        let (program, basis, size) = basis(&shape);
        let (order, fixed) = triangular_order(&program, &basis);
        let mut ordered = order.clone();
        ordered.sort_unstable();
        prop_assert_eq!(&ordered, &basis);
        let (mut row_done, mut column_done) = (vec![false; size], vec![false; size]);
        let mut middle = Vec::new();
        for &position in &order {
            let position = position as usize;
            if fixed[position] == NONE {
                middle.push(position);
                continue;
            }
            prop_assert!(middle.is_empty(), "{position} comes after the middle");
            let row = fixed[position] as usize;
            prop_assert!(!row_done[row]);
            let alone_in_column =
                program.column(position).all(|(other, _)| other == row || row_done[other]);
            let alone_in_row = (0..size)
                .all(|other| other == position || column_done[other] || program.column(other).all(|at| at.0 != row));
            prop_assert!(alone_in_column || alone_in_row, "{position} is neither");
            (row_done[row], column_done[position]) = (true, true);
        }
        prop_assert_eq!(middle.len(), shape.0.1);
        prop_assert!(middle.windows(2).all(|pair| pair[0] < pair[1]), "{middle:?} are all of one length");
    }

    /// B·x = a and yᵀ·B = cᵀ, with the factors of B.
    #[test]
    fn factors_solve_both_ways(shape in shape(), sides in prop::collection::vec(-3_i8..4, 16)) {
        let (program, basis, size) = basis(&shape);
        let mut factor = Factor::default();
        prop_assert!(factor.factorise(&program, &basis).is_empty());
        let side: Vec<f64> = sides[..size].iter().map(|&side| f64::from(side)).collect();
        let (mut x, mut y) = (sparse_of(&side), sparse_of(&side));
        factor.forward(&mut x);
        factor.backward(&mut y);
        let mut net = side.clone();
        for (position, &side) in side.iter().enumerate() {
            program.column(position).for_each(|(row, value)| net[row] -= value * x.get(position));
            let price: f64 = program.column(position).map(|(row, value)| value * y.get(row)).sum();
            prop_assert!((price - side).abs() < 1e-9, "{position}: {price}");
        }
        prop_assert!(net.iter().all(|net| net.abs() < 1e-9), "{net:?}");
    }
}

/// Two rows and two columns of which none stands alone, but for a row of its own whose entry is so small beside the rest of its column.
fn leaning(entry: f64) -> (Vec<u32>, Vec<u32>) {
    let mut program = Program::new(3);
    program.add(&[(0, 1.0), (1, 1.0)], 0.0, 1.0);
    program.add(&[(0, 1.0), (1, -1.0)], 0.0, 1.0);
    program.add(&[(0, 1.0), (1, 1.0), (2, entry)], 0.0, 1.0);
    triangular_order(&program, &[0, 1, 2])
}

#[test]
fn a_row_that_is_alone_is_not_taken_for_a_pivot_that_is_small_beside_its_column() {
    assert_eq!(leaning(1e-2), (vec![2, 0, 1], vec![NONE, NONE, 2]));
    assert_eq!(leaning(1e-4), (vec![0, 1, 2], vec![NONE; 3]));
}

#[test]
fn the_rest_goes_by_length() {
    let mut program = Program::new(3);
    program.add(&[(0, 1.0), (1, 1.0), (2, 1.0)], 0.0, 1.0);
    program.add(&[(0, 1.0), (2, -1.0)], 0.0, 1.0);
    program.add(&[(1, 1.0), (2, -1.0)], 0.0, 1.0);
    assert_eq!(triangular_order(&program, &[0, 1, 2]), (vec![1, 2, 0], vec![NONE; 3]));
}
