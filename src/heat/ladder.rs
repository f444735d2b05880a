//! Propagation where heat flows are not symmetric (streams between zones, casings): the matrix exponential by a ladder.
//!
//! For a step h with ‖A‖·h ≤ 1 the series of e^Ah converges at once; doubling gives it for 2h, 4h, … A time is put together
//! from rungs, largest first, and a rest below h by the series.

use nalgebra::DMatrix;
use smallvec::smallvec;

use super::curve::Look;
use super::row::{Row, Table};

/// A dense square matrix, row by row.
#[derive(Clone, Debug)]
pub(super) struct Square {
    pub size: usize,
    pub entries: Table,
}

impl Square {
    pub fn zero(size: usize) -> Self {
        Self { size, entries: smallvec![0.0; size * size] }
    }

    pub fn times(&self, vector: &[f64]) -> Row {
        self.entries.chunks_exact(self.size.max(1)).map(|row| dot(row, vector)).collect()
    }

    fn product(&self, other: &Self) -> Self {
        let mut out = Self::zero(self.size);
        for (row, into) in self.entries.chunks_exact(self.size).zip(out.entries.chunks_exact_mut(self.size)) {
            for (&factor, line) in row.iter().zip(other.entries.chunks_exact(self.size)) {
                if factor != 0.0 {
                    into.iter_mut().zip(line).for_each(|(sum, entry)| *sum += factor * entry);
                }
            }
        }
        out
    }

    fn plus(mut self, other: &Self, factor: f64) -> Self {
        self.entries.iter_mut().zip(&other.entries).for_each(|(sum, entry)| *sum += factor * entry);
        self
    }

    fn scaled(mut self, factor: f64) -> Self {
        self.entries.iter_mut().for_each(|entry| *entry *= factor);
        self
    }

    fn one(size: usize) -> Self {
        let mut out = Self::zero(size);
        for at in 0..size {
            out.entries[at * size + at] = 1.0;
        }
        out
    }
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// e^Ah, its integral S over 0..h, and the integral R of S.
#[derive(Clone, Debug)]
struct Rung {
    step: f64,
    exponential: Square,
    once: Square,
    twice: Square,
}

/// How the size of e^At is bounded. Heat into a zone never falls as another warms, so e^At has no negative entry, and what holds of
/// e^At·|v| holds of |e^At·v|.
#[derive(Clone, Debug)]
#[allow(clippy::large_enum_variant, reason = "there is one a ladder, which is many times as large")]
enum Growth {
    /// It dies away: all that is ever to come of v is no more than (−A)⁻¹·|v|, and with w = (−A)⁻¹·1 the greatest |v|/w does not
    /// grow, since A·w is negative.
    Fades {
        /// (−A)⁻¹, s; no entry negative.
        ahead: Square,
        /// w, s.
        weights: Row,
    },
    /// Rows of A sum to no more than nothing: the greatest entry of a vector does not grow.
    Greatest,
    /// Heat is not made: the sum of capacity times |entry| does not grow.
    Sum,
    /// Grows by no more than a factor e within this time.
    Within(f64),
}

/// A with what it takes to step along it.
#[derive(Clone, Debug)]
pub(super) struct Ladder {
    /// A, 1/s.
    matrix: Square,
    capacity: Vec<f64>,
    rungs: Vec<Rung>,
    growth: Growth,
}

/// Terms of the series: 1/21! is below rounding.
const TERMS: u32 = 20;
/// Rungs: the longest time is 2⁵⁹ times the shortest step.
const RUNGS: usize = 60;
/// Where a rung and all above it have stopped changing to within rounding, none is needed.
const STILL: f64 = 1e-300;

impl Ladder {
    /// Of A = conductance/capacity (row i: heat into i per kelvin of each).
    pub fn new(capacity: &[f64], conductance: &Square) -> Self {
        let size = capacity.len();
        let mut matrix = conductance.clone();
        for (row, capacity) in matrix.entries.chunks_exact_mut(size.max(1)).zip(capacity) {
            row.iter_mut().for_each(|entry| *entry /= capacity);
        }
        let norm = matrix.entries.chunks_exact(size.max(1)).map(|row| row.iter().map(|a| a.abs()).sum::<f64>());
        let norm = norm.fold(0.0, f64::max);
        let growth = growth(capacity, conductance, &matrix);
        let mut rungs = Vec::new();
        if norm > 0.0 {
            rungs.push(series(&matrix, 1.0 / norm));
            while rungs.len() < RUNGS {
                let Some(last) = rungs.last() else { break };
                let next = doubled(last);
                let fades = next.exponential.entries.iter().all(|entry| entry.abs() < STILL);
                if next.twice.entries.iter().any(|entry| !entry.is_finite() || entry.abs() > 1e290) {
                    break;
                }
                rungs.push(next);
                if fades {
                    break;
                }
            }
        }
        Self { matrix, capacity: capacity.to_vec(), rungs, growth }
    }

    /// A run from a rate of change v: (T(t) − T(0), its integral, v(t)).
    fn walk(&self, rate: &[f64], t: f64) -> (Row, Row, Row) {
        let mut risen: Row = smallvec![0.0; rate.len()];
        let mut gathered = risen.clone();
        let mut rate = Row::from_slice(rate);
        let mut left = t;
        for rung in self.rungs.iter().rev() {
            // A rung may be needed more than once only at the top.
            while left >= rung.step {
                let (more, twice) = (rung.once.times(&rate), rung.twice.times(&rate));
                for at in 0..rate.len() {
                    gathered[at] += rung.step * risen[at] + twice[at];
                    risen[at] += more[at];
                }
                rate = rung.exponential.times(&rate);
                left -= rung.step;
                if rate.iter().all(|rate| *rate == 0.0) {
                    for at in 0..rate.len() {
                        gathered[at] += left * risen[at];
                    }
                    return (risen, gathered, rate);
                }
            }
        }
        if left > 0.0 {
            // Σ (A·t)ᵏ/(k + 1)!·v·t and Σ (A·t)ᵏ/(k + 2)!·v·t².
            let mut term = rate.clone();
            let mut more: Row = smallvec![0.0; rate.len()];
            let mut twice = more.clone();
            let mut after = rate.clone();
            for k in 0..TERMS {
                let (first, second) = (left / f64::from(k + 1), left * left / f64::from((k + 1) * (k + 2)));
                for at in 0..rate.len() {
                    more[at] += term[at] * first;
                    twice[at] += term[at] * second;
                }
                term = self.matrix.times(&term);
                for at in 0..rate.len() {
                    term[at] *= left / f64::from(k + 1);
                    after[at] += term[at];
                }
            }
            for at in 0..rate.len() {
                gathered[at] += left * risen[at] + twice[at];
                risen[at] += more[at];
            }
            rate = after;
        }
        (risen, gathered, rate)
    }
}

fn growth(capacity: &[f64], conductance: &Square, matrix: &Square) -> Growth {
    let size = capacity.len();
    let is_own = |at: usize| at / size == at % size;
    // Should a zone's heat ever fall as another warms, the bounds that rest on its not doing so are left.
    let rises = matrix.entries.iter().enumerate().all(|(at, entry)| is_own(at) || *entry >= 0.0);
    if let Some(fades) = fades(matrix).filter(|_| rises) {
        return fades;
    }
    let size_of = |at: usize, entry: f64| if is_own(at) { entry } else { entry.abs() };
    let row = |row: usize| (row * size..(row + 1) * size).map(|at| size_of(at, matrix.entries[at])).sum::<f64>();
    let rows: Vec<f64> = (0..size).map(row).collect();
    let room = |row: usize| 1e-14 * matrix.entries[row * size + row].abs();
    if rows.iter().enumerate().all(|(row, sum)| *sum <= room(row)) {
        return Growth::Greatest;
    }
    let heats = (0..size).all(|column| {
        let sum: f64 = (0..size).map(|row| row * size + column).map(|at| size_of(at, conductance.entries[at])).sum();
        sum <= 1e-14 * conductance.entries[column * size + column].abs()
    });
    if heats {
        return Growth::Sum;
    }
    let most = rows.iter().copied().fold(0.0, f64::max);
    Growth::Within(1.0 / most)
}

/// (−A)⁻¹ where it has no negative entry and every zone has a way out.
fn fades(matrix: &Square) -> Option<Growth> {
    let size = matrix.size;
    let inverse = DMatrix::from_row_slice(size, size, &matrix.entries).map(|entry| -entry).try_inverse()?;
    let mut ahead = Square::zero(size);
    for row in 0..size {
        for column in 0..size {
            ahead.entries[row * size + column] = inverse[(row, column)];
        }
    }
    let weights = ahead.times(&vec![1.0; size]);
    // Of a matrix that is singular but for rounding the inverse says nothing.
    let least = weights.iter().fold(f64::INFINITY, |least: f64, weight| least.min(*weight));
    let falls = matrix.times(&weights).iter().all(|slope| *slope < -0.5);
    let whole = ahead.entries.iter().all(|entry| entry.is_finite() && *entry >= -1e-12 * least);
    (least > 0.0 && falls && whole).then_some(Growth::Fades { ahead, weights })
}

/// The first rung, by the series.
fn series(matrix: &Square, step: f64) -> Rung {
    let identity = Square::one(matrix.size);
    let mut term = identity.clone();
    let mut exponential = identity.clone();
    let mut once = identity.clone().scaled(step);
    let mut twice = identity.scaled(step * step / 2.0);
    for k in 1..=TERMS {
        term = term.product(matrix).scaled(step / f64::from(k));
        exponential = exponential.plus(&term, 1.0);
        once = once.plus(&term, step / f64::from(k + 1));
        twice = twice.plus(&term, step * step / f64::from((k + 1) * (k + 2)));
    }
    Rung { step, exponential, once, twice }
}

fn doubled(rung: &Rung) -> Rung {
    let Rung { step, exponential, once, twice } = rung;
    Rung {
        step: 2.0 * step,
        exponential: exponential.product(exponential),
        once: exponential.product(once).plus(once, 1.0),
        twice: exponential.product(twice).plus(twice, 1.0).plus(once, *step),
    }
}

/// A ladder with the rate of change at the beginning of a segment.
#[derive(Clone, Debug)]
pub(super) struct Run<'l> {
    pub ladder: &'l Ladder,
    /// dT/dt at the beginning, K/s.
    pub rate: Row,
}

impl Run<'_> {
    /// (T(t) − T(0), ∫(T − T(0)))
    pub fn at(&self, t: f64) -> (Row, Row) {
        let (risen, gathered, _) = self.ladder.walk(&self.rate, t);
        (risen, gathered)
    }

    pub fn look(&self, start: f64, slope: Option<f64>, weights: &[(usize, f64)], t: f64, until: f64) -> Look {
        let (risen, gathered, rate) = self.ladder.walk(&self.rate, t);
        let sum = |of: &[f64]| -> f64 { weights.iter().map(|(at, weight)| weight * of[*at]).sum() };
        let spread = |of: &[f64]| -> f64 {
            weights.iter().map(|(at, weight)| weight.abs() * self.greatest_later(of, *at)).sum()
        };
        let holds = match self.ladder.growth {
            Growth::Within(time) => time,
            Growth::Fades { .. } | Growth::Greatest | Growth::Sum => f64::INFINITY,
        };
        let span = until - t;
        if let Some(slope) = slope {
            let value = start + slope * t + sum(&gathered);
            let now = slope + sum(&risen);
            let bend = spread(&rate);
            let least =
                if span > holds { f64::NEG_INFINITY } else { value + (now * span).min(0.0) - 0.5 * bend * span * span };
            return Look { value, slope: now, bend, bend_now: f64::INFINITY, jerk: 0.0, holds, least };
        }
        let value = start + sum(&risen);
        let second = self.ladder.matrix.times(&rate);
        let bend = spread(&second);
        // |f″| of one zone grows by what comes from the others; its own part of A only draws it down.
        let size = rate.len();
        let from_others = |zone: usize| -> f64 {
            let row = &self.ladder.matrix.entries[zone * size..(zone + 1) * size];
            let parts = row.iter().enumerate().map(|(other, entry)| {
                let entry = if other == zone { entry.max(0.0) } else { entry.abs() };
                if entry == 0.0 { 0.0 } else { entry * self.greatest_later(&second, other) }
            });
            parts.sum()
        };
        let bend_now = weights.iter().map(|(zone, weight)| weight.abs() * second[*zone].abs()).sum();
        let jerk = weights.iter().map(|(zone, weight)| weight.abs() * from_others(*zone)).sum();
        let least = if span > holds {
            f64::NEG_INFINITY
        } else {
            value - (spread(&rate) * span).min(self.all_to_come(&rate, weights))
        };
        Look { value, slope: sum(&rate), bend, bend_now, jerk, holds, least }
    }

    /// The most that Σ weight·T can still change by, however long it goes on.
    fn all_to_come(&self, rate: &[f64], weights: &[(usize, f64)]) -> f64 {
        let Growth::Fades { ahead, .. } = &self.ladder.growth else { return f64::INFINITY };
        let size = ahead.size;
        let of = |zone: usize| -> f64 {
            let row = &ahead.entries[zone * size..(zone + 1) * size];
            row.iter().zip(rate).map(|(ahead, rate)| ahead * rate.abs()).sum()
        };
        weights.iter().map(|(zone, weight)| weight.abs() * of(*zone)).sum()
    }

    /// The most that entry `at` of e^As·vector can be, for all later s as far as the growth is bounded.
    fn greatest_later(&self, vector: &[f64], at: usize) -> f64 {
        let greatest = || vector.iter().fold(0.0, |most: f64, entry| most.max(entry.abs()));
        match &self.ladder.growth {
            Growth::Fades { weights, .. } => {
                let sizes = vector.iter().zip(weights).map(|(entry, weight)| entry.abs() / weight);
                weights[at] * sizes.fold(0.0, f64::max)
            }
            Growth::Greatest => greatest(),
            Growth::Sum => {
                let capacity = &self.ladder.capacity;
                let sum: f64 = vector.iter().zip(capacity).map(|(entry, capacity)| entry.abs() * capacity).sum();
                sum / capacity[at]
            }
            Growth::Within(_) => std::f64::consts::E * greatest(),
        }
    }
}
