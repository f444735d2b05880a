//! How much of its power a cooler asks for, or a turbine gives, as it follows from temperatures until the next event.

use super::affine::Affine;
use super::block::{HeatBlock, Place};
use super::curve::Crossing;
use super::row::Terms;
use smallvec::smallvec;

/// A share of full power: constant + Σ weight·T.
#[derive(Clone, Debug)]
pub struct Reading(Affine);

impl HeatBlock<'_> {
    /// The share of the full power of `count` machines that a flow follows at this moment and until the next event. `open` says
    /// whether all that gates it from outside lets it run, short power apart.
    pub fn reading(&mut self, flow: usize, count: f64, open: bool) -> Reading {
        let constant = |constant| Reading(Affine { constant, weights: Terms::new() });
        if !open || !self.is_let(flow) {
            return constant(0.0);
        }
        self.plan_course();
        let entry = &self.network().flows[flow];
        let (relay, rating) = (entry.relay, entry.rating);
        let mut share = match relay.map(|relay| (relay, self.side(relay.zone, relay.at_c))) {
            None => Affine { constant: 1.0, weights: Terms::new() },
            Some((relay, Some(above))) => {
                Affine { constant: f64::from(u8::from(above == relay.above)), weights: Terms::new() }
            }
            Some((relay, None)) => {
                // What holds its zone runs a share of the time, of what may run now.
                let mut held = self.held_share(relay.zone);
                if !relay.above {
                    held.constant = 1.0 - held.constant;
                    held.weights.iter_mut().for_each(|(_, weight)| *weight = -*weight);
                }
                let of_count = self.gated(flow) / count;
                held.constant *= of_count;
                held.weights.iter_mut().for_each(|(_, weight)| *weight *= of_count);
                held
            }
        };
        if let Some(rating) = rating
            && self.side(rating.zone, rating.rated_c) == Some(false)
        {
            let span = rating.rated_c - rating.outlet_c;
            if let Place::At(step) = self.place(rating.zone) {
                // Its zone stands still, so what it gives goes by how much of the time it runs.
                let part = ((self.step(rating.zone, step) - rating.outlet_c) / span).max(0.0);
                share.constant *= part;
                share.weights.iter_mut().for_each(|(_, weight)| *weight *= part);
            } else {
                // Not held, so it runs or it does not.
                share.weights = smallvec![(rating.zone, share.constant / span)];
                share.constant *= -rating.outlet_c / span;
            }
        }
        Reading(share)
    }

    /// What it is now.
    #[must_use]
    pub fn read(&self, reading: &Reading) -> f64 {
        reading.0.at(self.temperatures()).clamp(0.0, 1.0)
    }

    /// After how many seconds from now, later than `from` and within `span`, it leaves the band from `low` to `high`, and which way;
    /// `None` where it stays. The search may end early: then there is no way, and until that moment it has not left.
    pub fn leaves(
        &mut self,
        reading: &Reading,
        [low, high]: [f64; 2],
        from: f64,
        span: f64,
    ) -> Option<(f64, Option<Leaves>)> {
        self.plan_course();
        let grain = reading.0.grain(self.temperatures()).max(1e-15);
        let mut found: Option<(f64, Option<Leaves>)> = None;
        for (sign, offset, way) in [(-1.0, high, Leaves::Up), (1.0, -low, Leaves::Down)] {
            let Some(curve) = self.curve_down(&reading.0, sign, offset) else { continue };
            let until = found.map_or(span, |(at, _)| at);
            let (at, way) = match curve.search_on(from, until, grain) {
                Crossing::Never => continue,
                Crossing::At(at) => (at, Some(way)),
                Crossing::NotBefore(at) => (at, None),
            };
            if found.is_none_or(|(first, _)| at < first) {
                found = Some((at, way));
            }
        }
        found
    }
}

/// The way a reading leaves its band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leaves {
    /// Above it.
    Up,
    /// Below it.
    Down,
}
