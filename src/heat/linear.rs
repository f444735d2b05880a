//! Temperatures of zones between two events: dT/dt = A·T + b with A = C⁻¹·K, C the capacities (J/K) and K the conductances
//! (W/K; row i is the heat into zone i per kelvin of each zone).
//!
//! Where K is symmetric (walls, turbines, streams from outside) C^½ makes A symmetric, and its eigenvectors give
//! `T_i(t) = T_i(0) + Σ_j s_ij·φ(λ_j, t)`, with s = dT/dt at the beginning split by eigenvector. So they do where K becomes
//! symmetric when its rows are weighted, which leaves A as it is: heat that goes one way besides a wall, without a circle, such as
//! a casing that warms the next zone. Otherwise [`Ladder`].

use std::cell::OnceCell;
use std::rc::Rc;

use nalgebra::{DMatrix, SymmetricEigen};
use smallvec::{SmallVec, smallvec};

use super::curve::{Curve, phi, psi};
use super::ladder::{Ladder, Run, Square};
use super::row::{Row, Table, Terms};

/// A mode: what decides how temperatures move, without the heat that comes in.
#[derive(Clone, Debug)]
pub(super) struct Linear {
    capacity: Row,
    conductance: Square,
    /// Found when time passes, which on the way to a state of rest it does not.
    split: OnceCell<Split>,
    /// Found on the way to rest.
    inverse: OnceCell<Option<Square>>,
}

#[derive(Clone, Debug)]
#[allow(
    clippy::large_enum_variant,
    reason = "there is one a law, behind one pointer; what is usual stays in one piece"
)]
enum Split {
    /// λ ≤ 0; `into` takes dT/dt to eigenvectors, `out_of` takes them back.
    Symmetric {
        decays: Row,
        into: Square,
        out_of: Square,
    },
    General(Box<Ladder>),
}

impl Linear {
    pub fn new(capacity: &[f64], conductance: &Square) -> Self {
        Self {
            capacity: Row::from_slice(capacity),
            conductance: conductance.clone(),
            split: OnceCell::new(),
            inverse: OnceCell::new(),
        }
    }

    /// W/K.
    pub fn conductance(&self) -> &Square {
        &self.conductance
    }

    fn split(&self) -> &Split {
        self.split.get_or_init(|| {
            let Self { capacity, conductance, .. } = self;
            let weights = evening_weights(conductance);
            let split = weights.and_then(|weights| symmetric_split(capacity, conductance, &weights));
            split.unwrap_or_else(|| Split::General(Box::new(Ladder::new(capacity, conductance))))
        })
    }

    /// How far it is to the temperatures that stand still, from `start` with heat `heat` (W) into each zone besides: (−K)⁻¹ times
    /// the heat into each. `None` where zones do not go there straight: one has no way out or heats itself, or some warm while
    /// others cool.
    pub fn way_to_rest(&self, start: &[f64], heat: &[f64]) -> Option<Row> {
        let size = start.len();
        if size == 0 {
            return Some(Row::new());
        }
        let (mut warms, mut cools) = (false, false);
        let rows = self.conductance.entries.chunks_exact(size).zip(heat);
        let into = rows.map(|(row, &heat)| {
            let parts = row.iter().zip(start).map(|(entry, t)| entry * t);
            let (sum, size) = parts.fold((heat, heat.abs()), |(sum, size), part| (sum + part, size + part.abs()));
            warms |= sum > ROUNDING * size;
            cools |= sum < -ROUNDING * size;
            sum
        });
        let into: Row = into.collect();
        if warms && cools {
            return None;
        }
        let inverse = self.inverse()?;
        Some(inverse.times(&into))
    }

    /// The temperatures x that stand still with heat `heat` (W) into each zone besides, and w = (−K)⁻¹·1: at x + t·w just t W leave
    /// each zone. `None` where zones do not go there.
    pub fn rest(&self, heat: &[f64]) -> Option<(Row, Row)> {
        let inverse = self.inverse()?;
        let ones: Row = smallvec![1.0; heat.len()];
        Some((inverse.times(heat), inverse.times(&ones)))
    }

    /// (−K)⁻¹, where zones go to where they stand still: as heat into a zone never falls as another warms, just where it has no
    /// negative entry.
    fn inverse(&self) -> Option<&Square> {
        let inverse = self.inverse.get_or_init(|| {
            let size = self.conductance.size;
            let matrix = DMatrix::from_row_slice(size, size, &self.conductance.entries).map(|entry| -entry);
            // Column by column, as the library has it: of the transpose, row by row.
            let entries = Table::from_slice(matrix.transpose().try_inverse()?.as_slice());
            let greatest = entries.iter().fold(0.0, |most: f64, entry| most.max(entry.abs()));
            let stands = entries.iter().all(|entry| entry.is_finite() && *entry >= -ROUNDING * greatest);
            stands.then_some(Square { size, entries })
        });
        inverse.as_ref()
    }

    /// What follows from temperatures `start` (K or °C) with heat `heat` (W) into each zone besides.
    pub fn segment(self: &Rc<Self>, start: &[f64], heat: &[f64]) -> Segment {
        let mut rate = self.conductance.times(start);
        for ((rate, heat), capacity) in rate.iter_mut().zip(heat).zip(&self.capacity) {
            *rate = (*rate + heat) / capacity;
        }
        let parts = match self.split() {
            Split::Symmetric { into, out_of, .. } => {
                let amounts = into.times(&rate);
                let mut parts = out_of.entries.clone();
                for row in parts.chunks_exact_mut(out_of.size.max(1)) {
                    row.iter_mut().zip(&amounts).for_each(|(part, amount)| *part *= amount);
                }
                parts
            }
            Split::General(_) => Table::new(),
        };
        Segment { linear: Rc::clone(self), start: Row::from_slice(start), rate, parts }
    }
}

/// A part of a number that rounding may make or take.
const ROUNDING: f64 = 1e-12;
/// Weights of rows further apart than this cost digits.
const WEIGHTS_APART: f64 = 1e4;

/// Positive weights w of rows that make w·K symmetric: wᵢ·Kᵢⱼ = wⱼ·Kⱼᵢ. They go from zone to zone along what joins them; around a
/// circle they must come back to themselves.
fn evening_weights(conductance: &Square) -> Option<Row> {
    let size = conductance.size;
    let at = |row: usize, column: usize| conductance.entries[row * size + column];
    let mut weights: Row = smallvec![0.0_f64; size];
    let mut reached: SmallVec<[usize; 8]> = SmallVec::new();
    for first in 0..size {
        if weights[first] == 0.0 {
            weights[first] = 1.0;
            reached.push(first);
        }
        while let Some(zone) = reached.pop() {
            for other in (0..size).filter(|other| *other != zone) {
                let (there, back) = (at(zone, other), at(other, zone));
                if there == 0.0 && back == 0.0 {
                    continue;
                }
                if there * back <= 0.0 {
                    return None;
                }
                let weight = weights[zone] * (there / back);
                if weights[other] == 0.0 {
                    weights[other] = weight;
                    reached.push(other);
                } else if (weight - weights[other]).abs() > 4.0 * f64::EPSILON * weight {
                    return None;
                }
            }
        }
    }
    let apart = |(least, greatest): (f64, f64), weight: &f64| (least.min(*weight), greatest.max(*weight));
    let (least, greatest) = weights.iter().fold((f64::INFINITY, 0.0), apart);
    (size == 0 || greatest <= WEIGHTS_APART * least).then_some(weights)
}

fn symmetric_split(capacity: &[f64], conductance: &Square, weights: &[f64]) -> Option<Split> {
    let size = capacity.len();
    if size == 0 {
        // All zones are held.
        return Some(Split::Symmetric { decays: Row::new(), into: Square::zero(0), out_of: Square::zero(0) });
    }
    if let ([capacity], [conductance]) = (capacity, &conductance.entries[..]) {
        // One zone by itself goes its own way: its only eigenvector is 1.
        let one = Square { size, entries: smallvec![1.0] };
        let decays = smallvec![conductance / capacity];
        return (*conductance <= 0.0).then(|| Split::Symmetric { decays, into: one.clone(), out_of: one });
    }
    let root: Row = capacity.iter().zip(weights).map(|(capacity, weight)| (capacity * weight).sqrt()).collect();
    let matrix = DMatrix::from_fn(size, size, |row, column| {
        // Of the two that are the same but for rounding, one.
        let (row, column) = (row.max(column), row.min(column));
        weights[row] * conductance.entries[row * size + column] / (root[row] * root[column])
    });
    let eigen = SymmetricEigen::try_new(matrix, f64::EPSILON, 10_000)?;
    let steepest = eigen.eigenvalues.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
    // Zones without a way out have an eigenvalue of nothing, which rounding must not make anything.
    let decays: Row = eigen
        .eigenvalues
        .iter()
        .map(|value| if *value > -1e-15 * steepest * size as f64 { 0.0 } else { *value })
        .collect();
    if eigen.eigenvalues.iter().any(|value| *value > 1e-12 * steepest) {
        return None;
    }
    let mut into = Square::zero(size);
    let mut out_of = Square::zero(size);
    for zone in 0..size {
        for part in 0..size {
            let entry = eigen.eigenvectors[(zone, part)];
            into.entries[part * size + zone] = entry * root[zone];
            out_of.entries[zone * size + part] = entry / root[zone];
        }
    }
    Some(Split::Symmetric { decays, into, out_of })
}

/// Temperatures from one event to the next, as functions of the time since the first.
#[derive(Clone, Debug)]
pub(super) struct Segment {
    linear: Rc<Linear>,
    pub start: Row,
    /// dT/dt at the beginning, K/s.
    pub rate: Row,
    /// `s_ij`, row by row, where there are eigenvectors.
    parts: Table,
}

impl Segment {
    fn run<'s>(&'s self, ladder: &'s Ladder) -> Run<'s> {
        Run { ladder, rate: self.rate.clone() }
    }

    /// Temperatures after `t`.
    pub fn temperatures_after(&self, t: f64) -> Row {
        let Split::Symmetric { decays, .. } = self.linear.split() else { return self.after(t).0 };
        let mut reached = self.start.clone();
        for (part, &decay) in decays.iter().enumerate() {
            let once = phi(decay, t);
            for (zone, reached) in reached.iter_mut().enumerate() {
                *reached += self.parts[zone * decays.len() + part] * once;
            }
        }
        reached
    }

    /// Temperatures after `t`, and their integrals over it (K·s).
    pub fn after(&self, t: f64) -> (Row, Row) {
        let mut reached = self.start.clone();
        let mut gathered: Row = self.start.iter().map(|start| start * t).collect();
        match self.linear.split() {
            Split::Symmetric { decays, .. } => {
                for (part, &decay) in decays.iter().enumerate() {
                    let (once, twice) = (phi(decay, t), psi(decay, t));
                    for zone in 0..reached.len() {
                        let rate = self.parts[zone * decays.len() + part];
                        reached[zone] += rate * once;
                        gathered[zone] += rate * twice;
                    }
                }
            }
            Split::General(ladder) => {
                let (risen, more) = self.run(ladder).at(t);
                reached.iter_mut().zip(risen).for_each(|(sum, risen)| *sum += risen);
                gathered.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
            }
        }
        (reached, gathered)
    }

    /// How far each part goes within `until`, per K/s of it; `None` where there are no parts.
    pub fn reach(&self, until: f64) -> Option<Row> {
        match self.linear.split() {
            Split::Symmetric { decays, .. } => Some(decays.iter().map(|&decay| phi(decay, until)).collect()),
            Split::General(_) => None,
        }
    }

    /// Bounds of constant + Σ weight·T, the lesser first, where parts go so far.
    pub fn bounds(&self, weights: &[(usize, f64)], constant: f64, reach: &[f64]) -> (f64, f64) {
        let parts = reach.len();
        let start = weights.iter().fold(constant, |sum, (zone, weight)| sum + weight * self.start[*zone]);
        reach.iter().enumerate().fold((start, start), |(least, most), (part, reach)| {
            let rate = weights.iter().map(|(zone, weight)| weight * self.parts[zone * parts + part]);
            let gone = rate.sum::<f64>() * reach;
            (least + gone.min(0.0), most + gone.max(0.0))
        })
    }

    /// constant + Σ weight·T.
    pub fn curve(&self, weights: &[(usize, f64)], constant: f64) -> Curve<'_> {
        let start = weights.iter().fold(constant, |sum, (zone, weight)| sum + weight * self.start[*zone]);
        match self.linear.split() {
            Split::Symmetric { decays, .. } => {
                Curve::Exponentials { start, rates: self.weighed(weights, decays.len()), decays }
            }
            Split::General(ladder) => {
                Curve::Stepped { start, slope: None, weights: Terms::from_slice(weights), run: self.run(ladder) }
            }
        }
    }

    /// start + the integral of (constant + Σ weight·T).
    pub fn gathered(&self, start: f64, weights: &[(usize, f64)], constant: f64) -> Curve<'_> {
        let slope = weights.iter().fold(constant, |sum, (zone, weight)| sum + weight * self.start[*zone]);
        match self.linear.split() {
            Split::Symmetric { decays, .. } => {
                Curve::Gathered { start, slope, rates: self.weighed(weights, decays.len()), decays }
            }
            Split::General(ladder) => {
                Curve::Stepped { start, slope: Some(slope), weights: Terms::from_slice(weights), run: self.run(ladder) }
            }
        }
    }

    fn weighed(&self, weights: &[(usize, f64)], parts: usize) -> Row {
        let mut rates: Row = smallvec![0.0; parts];
        for (zone, weight) in weights {
            let row = &self.parts[zone * parts..(zone + 1) * parts];
            rates.iter_mut().zip(row).for_each(|(rate, part)| *rate += weight * part);
        }
        rates
    }

    /// The least and the greatest temperature of a zone within `until`, each with its moment, the end being `end`.
    pub fn span(&self, zone: usize, until: f64, end: f64) -> [(f64, f64); 2] {
        let start = self.start[zone];
        let mut least = (start, 0.0);
        let mut greatest = least;
        let mut see = |value: f64, t: f64| {
            if value < least.0 {
                least = (value, t);
            }
            if value > greatest.0 {
                greatest = (value, t);
            }
        };
        see(end, until);
        // A slope that moves the temperature by less than rounding in all the time there is.
        let unseen = 1e-14 * (1.0 + start.abs()) / until.max(1e-300);
        match self.linear.split() {
            Split::Symmetric { decays, .. } => {
                let row = &self.parts[zone * decays.len()..(zone + 1) * decays.len()];
                let (mut up, mut down) = (0.0_f64, 0.0_f64);
                for (&rate, &decay) in row.iter().zip(decays) {
                    let risen = rate * phi(decay, until);
                    if risen > 0.0 { up += risen } else { down += risen }
                }
                // Where all parts go one way, or none can pass the ends by more than rounding, the ends are all.
                let grain = 1e-13 * (1.0 + start.abs());
                if start + up <= start.max(end) + grain && start + down >= start.min(end) - grain {
                    return [least, greatest];
                }
                // The slope is Σ rate·e^λt = Σ rate + Σ rate·λ·φ(λ, t).
                let slope = || Curve::Exponentials {
                    start: row.iter().sum(),
                    rates: row.iter().zip(decays).map(|(rate, decay)| rate * decay).collect(),
                    decays,
                };
                let temperature = self.curve(&[(zone, 1.0)], 0.0);
                let grain = (1e-15 * row.iter().fold(0.0, |sum: f64, rate| sum + rate.abs())).max(unseen);
                turns(&slope(), &slope().negated(), until, grain, |t| see(temperature.value(t), t));
            }
            Split::General(ladder) => {
                let run = self.run(ladder);
                let temperature = self.curve(&[(zone, 1.0)], 0.0);
                // The slope obeys the same law as the temperatures, its own rate of change being A·v.
                let bend = {
                    let mut bend = self.linear.conductance.times(&run.rate);
                    bend.iter_mut().zip(&self.linear.capacity).for_each(|(bend, capacity)| *bend /= capacity);
                    bend
                };
                let slope = Curve::Stepped {
                    start: self.rate[zone],
                    slope: None,
                    weights: smallvec![(zone, 1.0)],
                    run: Run { ladder, rate: bend },
                };
                let grain = (1e-15 * self.rate.iter().fold(0.0, |most: f64, rate| most.max(rate.abs()))).max(unseen);
                turns(&slope, &slope.clone().negated(), until, grain, |t| see(temperature.value(t), t));
            }
        }
        [least, greatest]
    }
}

/// Every moment at which a curve changes its sign; a sum of n exponentials has fewer than n.
fn turns(curve: &Curve<'_>, negated: &Curve<'_>, until: f64, grain: f64, mut see: impl FnMut(f64)) {
    let mut down = curve.value(0.0) >= 0.0;
    let mut t = 0.0;
    for _ in 0..64 {
        let Some(next) = (if down { curve } else { negated }).first_down_from(t, until, grain) else { return };
        see(next);
        // What is left is rounding: it turns nothing any more.
        if curve.least(next, until) >= -grain && negated.least(next, until) >= -grain {
            return;
        }
        down = !down;
        if next >= until {
            return;
        }
        t = next;
    }
}
