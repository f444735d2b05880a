//! Random programmes against another solver, and what a least point must show of itself.

use super::{Ended, Program, Simplex};
use crate::balance::solve::{Relation, Search, Whole};
use crate::budget::Budget;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// Bounds of a column: the lower one, and how much room there is above it.
type Bounds = (i8, Option<u8>);
/// A column: its entries by row, its bounds, and whether it is guessed to stand at its upper bound.
type Column = (Vec<i8>, Bounds, bool);

fn bounds() -> impl Strategy<Value = Bounds> {
    let room = prop_oneof![2 => Just(None), 1 => Just(Some(0)), 4 => (1_u8..4).prop_map(Some)];
    (prop_oneof![3 => Just(0), 1 => -2_i8..3], room)
}

fn column(rows: usize) -> impl Strategy<Value = Column> {
    let entry = prop_oneof![2 => Just(0_i8), 3 => -3_i8..4];
    (prop::collection::vec(entry, rows), bounds(), any::<bool>())
}

/// So many rows, the columns, and how much each row can leave over.
fn columns() -> impl Strategy<Value = (Vec<Column>, Vec<Option<u8>>)> {
    let left = prop_oneof![1 => Just(None), 1 => (0_u8..3).prop_map(Some)];
    (2_usize..7).prop_flat_map(move |rows| {
        (prop::collection::vec(column(rows), 2..12), prop::collection::vec(left.clone(), rows))
    })
}

fn costs(objectives: usize) -> impl Strategy<Value = Vec<Vec<i8>>> {
    prop::collection::vec(prop::collection::vec(prop_oneof![1 => Just(0_i8), 2 => -2_i8..3], 20), objectives)
}

fn range((lower, room): Bounds) -> (f64, f64) {
    (f64::from(lower), room.map_or(f64::INFINITY, |room| f64::from(lower) + f64::from(room)))
}

/// The programme, and the columns guessed to be at their upper bounds.
fn programme(columns: &[Column], left: &[Option<u8>]) -> (Program, Vec<usize>) {
    let mut program = Program::new(left.len());
    let mut at_upper = Vec::new();
    for (entries, bounds, guess) in columns {
        let entries: Vec<(u32, f64)> =
            (0..).zip(entries).filter(|&(_, &entry)| entry != 0).map(|(row, &entry)| (row, f64::from(entry))).collect();
        let (lower, upper) = range(*bounds);
        let column = program.add(&entries, lower, upper);
        at_upper.extend(guess.then_some(column));
    }
    for (row, left) in (0..).zip(left) {
        program.add_sink(row, left.map_or(f64::INFINITY, f64::from));
    }
    (program, at_upper)
}

fn cost_of(program: &Program, costs: &[i8]) -> Vec<f64> {
    (0..program.columns()).map(|column| costs.get(column).map_or(0.0, |&cost| f64::from(cost))).collect()
}

fn worth(cost: &[f64], simplex: &Simplex<'_>) -> f64 {
    cost.iter().enumerate().map(|(column, cost)| cost * simplex.value(column)).sum()
}

/// What the other solver says is the least, with what was found before held; `None` where nothing is allowed, or it falls
/// without end.
fn least(program: &Program, bounds: &[(f64, f64)], cost: &[f64], held: &[(Vec<f64>, f64)]) -> Option<f64> {
    let mut whole = Whole::new();
    let mut rows = vec![Vec::new(); program.rows()];
    for (column, &(lower, upper)) in bounds.iter().enumerate() {
        let variable = whole.real(cost[column], lower, upper);
        for (row, entry) in program.column(column) {
            rows[row].push((variable, entry));
        }
    }
    for row in rows {
        whole.row(&row, Relation::Equal, 0.0);
    }
    for (cost, value) in held {
        let terms: Vec<(usize, f64)> = cost.iter().copied().enumerate().filter(|&(_, cost)| cost != 0.0).collect();
        whole.row(&terms, Relation::AtMost, value + 1e-8);
    }
    match whole.minimise(&mut 0, &Budget::unhurried()) {
        Ok(Search::Best(values)) => Some(values.iter().zip(cost).map(|(value, cost)| value * cost).sum()),
        _ => None,
    }
}

fn of_programme(program: &Program) -> Vec<(f64, f64)> {
    program.lower.iter().copied().zip(program.upper.iter().copied()).collect()
}

/// Every row closes and every column is within its bounds.
fn is_allowed(program: &Program, simplex: &Simplex<'_>) -> Result<(), TestCaseError> {
    let mut net = vec![0.0; program.rows()];
    for column in 0..program.columns() {
        let x = simplex.value(column);
        let (lower, upper) = (simplex.lower(column), simplex.upper(column));
        prop_assert!(x >= lower - 1e-9 && x <= upper + 1e-9, "column {column}: {x} of {lower} to {upper}");
        for (row, entry) in program.column(column) {
            net[row] += entry * x;
        }
    }
    prop_assert!(net.iter().all(|net| net.abs() < 1e-9), "{net:?}");
    Ok(())
}

/// When a column that is not basic moves, the basic ones answer so that every row stays closed, and the objective changes by
/// the reduced cost of the column.
fn answers(program: &Program, simplex: &mut Simplex<'_>, cost: &[f64]) -> Result<(), TestCaseError> {
    let (basis, _) = simplex.vertex();
    for column in 0..program.columns() {
        if basis.contains(&(column as u32)) {
            continue;
        }
        let (mut net, mut slope) = (vec![0.0; program.rows()], 0.0);
        for (column, change) in simplex.response(column).into_iter().chain([(column, 1.0)]) {
            program.column(column).for_each(|(row, entry)| net[row] += entry * change);
            slope += cost[column] * change;
        }
        prop_assert!(net.iter().all(|net| net.abs() < 1e-9), "{column}: {net:?}");
        prop_assert!((simplex.reduced_cost(column) - slope).abs() < 1e-8, "{column}: {slope}");
        // What would cost something is held from now on; what would cost nothing is free, where it has room.
        let has_room = simplex.upper(column) > simplex.lower(column);
        prop_assert_eq!(simplex.free_columns().any(|free| free == column), has_room && !simplex.is_frozen(column));
        prop_assert!(simplex.is_frozen(column) || slope.abs() < 1e-8, "{column} may move and costs {slope}");
    }
    Ok(())
}

/// Minimises, and holds the outcome against the other solver. Whether there was an end.
fn minimise(
    program: &Program,
    simplex: &mut Simplex<'_>,
    cost: &[f64],
    held: &[(Vec<f64>, f64)],
) -> Result<bool, TestCaseError> {
    let bounds: Vec<(f64, f64)> =
        (0..program.columns()).map(|column| (simplex.lower(column), simplex.upper(column))).collect();
    let other = least(program, &bounds, cost, held);
    let ended = simplex.minimise(cost, &Budget::unhurried()).expect("within the budget");
    if let Ended::Unbounded { column } = ended {
        prop_assert_eq!(other, None);
        prop_assert!(simplex.reduced_cost(column) != 0.0, "{column} leads nowhere");
        return Ok(false);
    }
    is_allowed(program, simplex)?;
    let found = worth(cost, simplex);
    let Some(other) = other else { return Err(TestCaseError::fail(format!("{found}, and the other finds no end"))) };
    prop_assert!((found - other).abs() <= 1e-5 * (1.0 + other.abs()), "{found}, and the other {other}");
    Ok(true)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_500, rng_seed: RngSeed::Fixed(5), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn objectives_in_strict_order_agree((columns, left) in columns(), costs in costs(3)) {
        let (program, at_upper) = programme(&columns, &left);
        let mut simplex = Simplex::new(&program, program.by_rows(), program.sinks.clone(), &at_upper);
        let allowed = simplex.restore(&Budget::unhurried()).expect("within the budget");
        let nothing = vec![0.0; program.columns()];
        prop_assert_eq!(allowed, least(&program, &of_programme(&program), &nothing, &[]).is_some());
        let mut held = Vec::new();
        for costs in costs.iter().filter(|_| allowed) {
            let cost = cost_of(&program, costs);
            if !minimise(&program, &mut simplex, &cost, &held)? {
                break;
            }
            answers(&program, &mut simplex, &cost)?;
            held.push((cost.clone(), worth(&cost, &simplex)));
        }
        for (cost, value) in &held {
            prop_assert!((worth(cost, &simplex) - value).abs() <= 1e-9 * (1.0 + value.abs()), "{value} was given away");
        }
        prop_assert!(simplex.steps <= 8 * (program.rows() + program.columns()) as u64, "{} steps", simplex.steps);
    }

    #[test]
    fn a_vertex_is_mended_after_its_bounds_have_moved(
        (columns, left) in columns(),
        costs in costs(2),
        moved in prop::collection::vec((0_usize..20, bounds()), 1..6),
    ) {
        let (program, at_upper) = programme(&columns, &left);
        let rows = program.by_rows();
        let mut first = Simplex::new(&program, rows.clone(), program.sinks.clone(), &at_upper);
        let allowed = first.restore(&Budget::unhurried()).expect("within the budget");
        if allowed {
            first.minimise(&cost_of(&program, &costs[0]), &Budget::unhurried()).expect("within the budget");
        }
        let (basis, at_upper) = first.vertex();
        let mut simplex = Simplex::new(&program, rows, basis, &at_upper);
        let mut bounds = of_programme(&program);
        for (column, to) in moved {
            let column = column % program.columns();
            bounds[column] = range(to);
            simplex.set_lower(column, bounds[column].0);
            simplex.set_upper(column, bounds[column].1);
        }
        let allowed = simplex.restore(&Budget::unhurried()).expect("within the budget");
        let nothing = vec![0.0; program.columns()];
        prop_assert_eq!(allowed, least(&program, &bounds, &nothing, &[]).is_some());
        if allowed {
            is_allowed(&program, &simplex)?;
            minimise(&program, &mut simplex, &cost_of(&program, &costs[1]), &[])?;
        }
    }

    #[test]
    fn scaling_brings_entries_near_one_and_changes_no_digit(
        (columns, left) in columns(),
        rows in prop::collection::vec(-40_i32..40, 7),
        across in prop::collection::vec(-40_i32..40, 20),
    ) {
        let (plain, _) = programme(&columns, &left);
        let mut program = Program::new(plain.rows());
        let power = |exponent: i32| 2.0_f64.powi(exponent);
        for (column, (entries, bounds, _)) in columns.iter().enumerate() {
            // An entry of one where there would be none: in a programme full of entries nothing is left out of tune.
            let entry = |entry: i8| f64::from(if entry == 0 { 1 } else { entry });
            let by = |row: usize| power(rows[row] + across[column]);
            let entries: Vec<(u32, f64)> =
                (0..).zip(entries.iter().enumerate().map(|(row, &at)| entry(at) * by(row))).collect();
            let (lower, upper) = range(*bounds);
            program.add(&entries, lower, upper);
        }
        for (row, left) in (0..).zip(&left) {
            program.add_sink(row, left.map_or(f64::INFINITY, f64::from));
        }
        let before = program.clone();
        let (row_factor, column_factor) = program.scale();
        for (column, &factor) in column_factor.iter().enumerate() {
            let mut largest = 0.0_f64;
            for ((row, was), (_, is)) in before.column(column).zip(program.column(column)) {
                prop_assert_eq!(is.to_bits(), (was * row_factor[row] * factor).to_bits());
                // Rows and columns out of tune by 2^40 are in tune again to within the entries, which differ threefold.
                prop_assert!(is.abs() > 1.0 / 32.0, "{was} became {is}");
                largest = largest.max(is.abs());
            }
            prop_assert!(largest == 0.0 || (1.0..2.0).contains(&largest), "{largest}");
            prop_assert_eq!(program.lower[column].to_bits(), (before.lower[column] / factor).to_bits());
            prop_assert_eq!(program.upper[column].to_bits(), (before.upper[column] / factor).to_bits());
        }
        for &sink in &program.sinks {
            prop_assert_eq!(program.column(sink as usize).map(|(_, entry)| entry).collect::<Vec<_>>(), [-1.0]);
        }
    }
}

/// So many jobs for as many hands, each hand for one: every vertex is degenerate, and there are enough exchanges for the basis
/// to be factorised afresh on the way.
#[test]
fn hands_and_jobs() {
    for (size, seed) in [(3_u64, 1_u64), (8, 2), (14, 3), (20, 4)] {
        let count = usize::try_from(size).expect("small");
        let mut program = Program::new(2 * count);
        let mut cost = Vec::new();
        let mut state = seed;
        for hand in 0..count as u32 {
            for job in 0..count as u32 {
                state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                program.add(&[(hand, -1.0), (job + count as u32, 1.0)], 0.0, f64::INFINITY);
                cost.push(((state >> 40) % 9) as f64);
            }
        }
        for row in 0..2 * count as u32 {
            let entry = if (row as usize) < count { 1.0 } else { -1.0 };
            program.add(&[(row, entry)], 1.0, 1.0);
        }
        for row in 0..2 * count as u32 {
            program.add_sink(row, if (row as usize) < count { 1.0 } else { 0.0 });
        }
        cost.resize(program.columns(), 0.0);
        let mut simplex = Simplex::new(&program, program.by_rows(), program.sinks.clone(), &[]);
        assert!(simplex.restore(&Budget::unhurried()).expect("within the budget"), "{size} jobs can be done");
        minimise(&program, &mut simplex, &cost, &[]).unwrap_or_else(|error| panic!("{size}: {error}"));
        answers(&program, &mut simplex, &cost).unwrap_or_else(|error| panic!("{size}: {error}"));
        assert!(simplex.steps <= 6 * size * size, "{size}: {} steps", simplex.steps);
    }
}

/// Programmes of more columns than the others, each minimised, its bounds moved, mended and minimised anew: pivots of both ways.
#[test]
fn pivots_are_few() {
    let mut state = 11_u64;
    let mut next = |below: u64| {
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (state >> 33) % below
    };
    let (mut minimising, mut mending) = (0, 0);
    for _ in 0..60 {
        let rows = 10 + next(20) as u32;
        let mut program = Program::new(rows as usize);
        for _ in 0..2 * rows {
            let mut entries: Vec<(u32, f64)> = Vec::new();
            for row in 0..rows {
                if next(5) == 0 {
                    entries.push((row, (1 + next(40)) as f64 / 10.0 * if next(2) == 0 { 1.0 } else { -1.0 }));
                }
            }
            program.add(&entries, 0.0, (1 + next(9)) as f64);
        }
        (0..rows).for_each(|row| _ = program.add_sink(row, if next(3) == 0 { f64::INFINITY } else { next(4) as f64 }));
        let mut costs = vec![0.0; program.columns()];
        costs[..2 * rows as usize].fill_with(|| next(9) as f64 - 4.0);
        let mut simplex = Simplex::new(&program, program.by_rows(), program.sinks.clone(), &[]);
        simplex.minimise(&costs, &Budget::unhurried()).expect("within the budget");
        minimising += simplex.steps;
        let (basis, at_upper) = simplex.vertex();
        let mut simplex = Simplex::new(&program, program.by_rows(), basis, &at_upper);
        for _ in 0..rows / 3 {
            let column = next(2 * u64::from(rows)) as usize;
            simplex.set_upper(column, simplex.upper(column) * next(9) as f64 / 8.0);
        }
        assert!(simplex.restore(&Budget::unhurried()).expect("within the budget"), "what stands still is allowed");
        mending += simplex.steps;
        is_allowed(&program, &simplex).unwrap_or_else(|error| panic!("{error}"));
    }
    assert!(minimising <= 2_800 && mending <= 370, "{minimising} and {mending} pivots");
}
