//! Heat into zones as it depends on temperatures: rows of W and W/K, with zones that are held at a temperature taken out.

use super::ladder::Square;
use super::row::{Row, Terms};
use smallvec::{SmallVec, smallvec};

/// constant + Σ weight·T over zones.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Affine {
    pub constant: f64,
    pub weights: Terms,
}

impl Affine {
    pub fn at(&self, temperatures: &[f64]) -> f64 {
        self.weights.iter().fold(self.constant, |sum, (zone, weight)| sum + weight * temperatures[*zone])
    }

    /// Rounding of its value.
    pub fn grain(&self, temperatures: &[f64]) -> f64 {
        let size = self
            .weights
            .iter()
            .fold(self.constant.abs(), |sum, (zone, weight)| sum + (weight * temperatures[*zone]).abs());
        4.0 * f64::EPSILON * size
    }
}

/// A flow that keeps a zone where it is by running a share of the time.
#[derive(Clone, Debug)]
pub(super) struct Held {
    pub zone: usize,
    /// W into each zone when it runs all the time less when it does not.
    pub swing: Terms,
}

/// Heat into every zone.
#[derive(Clone, Debug)]
pub(super) struct Heats {
    pub constant: Row,
    pub per_kelvin: Square,
}

impl Heats {
    pub fn none(zones: usize) -> Self {
        Self { constant: smallvec![0.0; zones], per_kelvin: Square::zero(zones) }
    }

    pub fn add(&mut self, into: usize, constant: f64, of: Option<(usize, f64)>) {
        self.constant[into] += constant;
        if let Some((zone, slope)) = of {
            let size = self.per_kelvin.size;
            self.per_kelvin.entries[into * size + zone] += slope;
        }
    }

    pub fn wall(&mut self, one: usize, other: usize, conductance: f64) {
        self.add(one, 0.0, Some((one, -conductance)));
        self.add(one, 0.0, Some((other, conductance)));
        self.add(other, 0.0, Some((other, -conductance)));
        self.add(other, 0.0, Some((one, conductance)));
    }

    pub fn heat_into(&self, zone: usize, temperatures: &[f64]) -> f64 {
        let size = self.per_kelvin.size;
        let row = &self.per_kelvin.entries[zone * size..(zone + 1) * size];
        row.iter().zip(temperatures).fold(self.constant[zone], |sum, (slope, t)| sum + slope * t)
    }

    /// The row of a zone with fixed temperatures put in.
    pub fn row(&self, zone: usize, free: &[bool], temperatures: &[f64]) -> Affine {
        let size = self.per_kelvin.size;
        let mut row = Affine { constant: self.constant[zone], weights: Terms::new() };
        for (other, slope) in self.per_kelvin.entries[zone * size..(zone + 1) * size].iter().enumerate() {
            if *slope == 0.0 {
            } else if free[other] {
                row.weights.push((other, *slope));
            } else {
                row.constant += slope * temperatures[other];
            }
        }
        row
    }

    /// The shares that hold the held zones where they are, as they follow from the free temperatures.
    /// `None` where they hold one another in a circle that no share settles.
    pub fn shares(&self, held: &[Held], free: &[bool], temperatures: &[f64]) -> Option<SmallVec<[Affine; 2]>> {
        // Rows: Σ swing(other → zone)·share(other) = −heat into zone; eliminated with the free temperatures on the right.
        let count = held.len();
        let mut left: Row = smallvec![0.0; count * count];
        let mut right: SmallVec<[Affine; 2]> = SmallVec::with_capacity(count);
        for (row, held_zone) in held.iter().enumerate() {
            for (column, other) in held.iter().enumerate() {
                left[row * count + column] =
                    other.swing.iter().filter(|(zone, _)| *zone == held_zone.zone).map(|(_, watts)| watts).sum();
            }
            let mut heat = self.row(held_zone.zone, free, temperatures);
            heat.constant = -heat.constant;
            heat.weights.iter_mut().for_each(|(_, weight)| *weight = -*weight);
            right.push(heat);
        }
        for column in 0..count {
            let pivot = (column..count)
                .max_by(|a, b| left[a * count + column].abs().total_cmp(&left[b * count + column].abs()))?;
            if left[pivot * count + column] == 0.0 {
                return None;
            }
            right.swap(column, pivot);
            for at in 0..count {
                left.swap(column * count + at, pivot * count + at);
            }
            let scale = left[column * count + column];
            for row in 0..count {
                let factor = left[row * count + column] / scale;
                if row == column || factor == 0.0 {
                    continue;
                }
                for at in column..count {
                    left[row * count + at] -= factor * left[column * count + at];
                }
                let taken = right[column].clone();
                add(&mut right[row], &taken, -factor);
            }
        }
        for (row, share) in right.iter_mut().enumerate() {
            let scale = left[row * count + row];
            share.constant /= scale;
            share.weights.iter_mut().for_each(|(_, weight)| *weight /= scale);
        }
        Some(right)
    }

    /// A row with what the held flows bring besides.
    pub fn full_row(
        &self,
        zone: usize,
        free: &[bool],
        temperatures: &[f64],
        held: &[Held],
        shares: &[Affine],
    ) -> Affine {
        let mut row = self.row(zone, free, temperatures);
        for (held, share) in held.iter().zip(shares) {
            for (into, watts) in &held.swing {
                if *into == zone {
                    add(&mut row, share, *watts);
                }
            }
        }
        row
    }
}

fn add(to: &mut Affine, what: &Affine, factor: f64) {
    to.constant += factor * what.constant;
    for (zone, weight) in &what.weights {
        match to.weights.iter_mut().find(|(known, _)| known == zone) {
            Some((_, sum)) => *sum += factor * weight,
            None => to.weights.push((*zone, factor * weight)),
        }
    }
}
