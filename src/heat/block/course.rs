//! The way things go until the next event: heat into zones, which of them are held at a step, and the linear law that follows.

use std::rc::Rc;

use smallvec::{SmallVec, smallvec};

use super::law::{Law, MOST_KNOWN, weighed};
use super::{Course, HeatBlock, Phase, Place};
use crate::heat::affine::{Affine, Heats, Held};
use crate::heat::curve::Curve;
use crate::heat::ladder::Square;
use crate::heat::network::Side;
use crate::heat::row::{Row, Terms};

impl HeatBlock<'_> {
    /// Heat of all flows but those held at a step, and those.
    pub(super) fn heats(&self) -> (Heats, SmallVec<[Held; 2]>) {
        let network = self.network;
        let mut heats = Heats::none(network.zones.len());
        for wall in &network.walls {
            match wall.to {
                Side::Zone(other) => heats.wall(wall.zone, other, wall.conductance),
                Side::Fixed(t) => {
                    heats.add(wall.zone, wall.conductance * t, Some((wall.zone, -wall.conductance)));
                }
            }
        }
        let mut held: SmallVec<[Held; 2]> = SmallVec::new();
        for (index, flow) in network.flows.iter().enumerate() {
            let running = self.gated(index);
            if running == 0.0 {
                continue;
            }
            let share = match flow.relay {
                None => Some(1.0),
                Some(relay) => self.side(relay.zone, relay.at_c).map(|above| f64::from(u8::from(above == relay.above))),
            };
            if share == Some(0.0) {
                continue;
            }
            if let Some(share) = share {
                for part in &flow.parts {
                    let of = part.per_kelvin.map(|(zone, slope)| (zone, slope * running * share));
                    heats.add(part.into, part.constant * running * share, of);
                }
            } else if let Some(relay) = flow.relay {
                let at = match held.iter().position(|held| held.zone == relay.zone) {
                    Some(at) => at,
                    None => {
                        held.push(Held { zone: relay.zone, swing: Terms::new() });
                        held.len() - 1
                    }
                };
                for part in &flow.parts {
                    let watts =
                        running * (part.constant + part.per_kelvin.map_or(0.0, |(_, slope)| slope * relay.at_c));
                    // What runs below the step is there without the share and leaves as it grows.
                    let swing = if relay.above {
                        watts
                    } else {
                        heats.add(part.into, watts, None);
                        -watts
                    };
                    held[at].swing.push((part.into, swing));
                }
            }
        }
        (heats, held)
    }

    /// Whether a zone is above a step of it; `None` where it is held there.
    pub(in crate::heat) fn side(&self, zone: usize, at_c: f64) -> Option<bool> {
        let step = self.steps[zone].partition_point(|step| *step < at_c);
        match self.places[zone] {
            Place::Between(below) => Some(below > step),
            Place::At(held) if held == step => None,
            Place::At(held) => Some(held > step),
        }
    }

    /// A zone has come to a step: on, or held there.
    pub(super) fn meet(&mut self, zone: usize, step: usize, upward: bool) {
        self.course = None;
        let at = self.steps[zone][step];
        self.places[zone] = Place::Between(step + 1);
        let above = self.heat_into(zone, at);
        self.places[zone] = Place::Between(step);
        let below = self.heat_into(zone, at);
        self.places[zone] = if below >= 0.0 && above <= 0.0 && (below, above) != (0.0, 0.0) {
            self.temperatures[zone] = at;
            Place::At(step)
        } else if above > 0.0 && (below >= 0.0 || upward) || (above, below) == (0.0, 0.0) && upward {
            Place::Between(step + 1)
        } else {
            Place::Between(step)
        };
    }

    /// Heat into a zone at a temperature of it, shares of other zones that are held counted.
    pub(super) fn heat_into(&self, zone: usize, at: f64) -> f64 {
        if let Some(sum) = self.heat_into_one(zone, at) {
            return sum;
        }
        let mut temperatures = Row::from_slice(&self.temperatures);
        temperatures[zone] = at;
        let (heats, held) = self.heats();
        let mut sum = heats.heat_into(zone, &temperatures);
        let free: SmallVec<[bool; 8]> = smallvec![false; temperatures.len()];
        if let Some(shares) = heats.shares(&held, &free, &temperatures) {
            for (held, share) in held.iter().zip(&shares) {
                let share = share.constant.clamp(0.0, 1.0);
                sum += held.swing.iter().filter(|(into, _)| *into == zone).map(|(_, w)| w * share).sum::<f64>();
            }
        }
        sum
    }

    /// The same where nothing that brings it heat is held: without asking for the others.
    fn heat_into_one(&self, zone: usize, at: f64) -> Option<f64> {
        let temperature = |other: usize| if other == zone { at } else { self.temperatures[other] };
        let mut sum = 0.0;
        for wall in &self.network.walls {
            let other = match wall.to {
                Side::Zone(other) if wall.zone == zone || other == zone => temperature(wall.zone + other - zone),
                Side::Fixed(t) if wall.zone == zone => t,
                _ => continue,
            };
            sum += wall.conductance * (other - at);
        }
        for (index, flow) in self.network.flows.iter().enumerate() {
            let mut parts = flow.parts.iter().filter(|part| part.into == zone).peekable();
            if parts.peek().is_none() {
                continue;
            }
            let running = self.gated(index);
            if running == 0.0 {
                continue;
            }
            if let Some(relay) = flow.relay
                && self.side(relay.zone, relay.at_c)? != relay.above
            {
                continue;
            }
            for part in parts {
                sum += running * (part.constant + part.per_kelvin.map_or(0.0, |(of, slope)| slope * temperature(of)));
            }
        }
        Some(sum)
    }

    pub(super) fn capacity(&self, zone: usize) -> f64 {
        self.own_capacity(zone) * self.times[zone]
    }

    /// As the network says.
    fn own_capacity(&self, zone: usize) -> f64 {
        let (Phase::Settled(at) | Phase::Changing { change: at, .. }) = self.phases[zone];
        self.network.zones[zone].capacities[at]
    }

    /// What a change of phase takes from below to above, J.
    pub(super) fn change_heat(&self, zone: usize, change: usize) -> f64 {
        self.network.zones[zone].changes[change].heat_j * self.times[zone]
    }

    pub(in crate::heat) fn plan_course(&mut self) {
        if self.course.is_some() {
            return;
        }
        let law = self.known_law();
        let start: Row = law.free.iter().map(|zone| self.temperatures[*zone]).collect();
        self.course = Some(Course { segment: law.linear.segment(&start, &law.heat), law });
    }

    /// The law of the present mode, found once.
    pub(super) fn known_law(&mut self) -> Rc<Law> {
        let mut mode = std::mem::take(&mut self.mode);
        self.write_mode(&mut mode);
        let known = self.laws.by_mode.get(&mode).map(Rc::clone);
        let law = known.unwrap_or_else(|| {
            let (law, same_mode) = self.law();
            let law = Rc::new(law);
            if self.laws.by_mode.len() >= MOST_KNOWN {
                self.laws.by_mode.clear();
            }
            if !same_mode {
                self.write_mode(&mut mode);
            }
            self.laws.by_mode.insert(mode.clone(), Rc::clone(&law));
            law
        });
        self.mode = mode;
        law
    }

    /// The law of the present mode: zones that are held or change phase are at a temperature that the mode says, so nothing of it
    /// depends on the others. False where zones held one another in a circle and were let go, which makes it the law of another mode.
    fn law(&mut self) -> (Law, bool) {
        let zones = self.temperatures.len();
        let (mut heats, mut held) = self.heats();
        let is_free = |block: &Self, zone: usize| {
            matches!(block.phases[zone], Phase::Settled(_)) && matches!(block.places[zone], Place::Between(_))
        };
        let mut free: SmallVec<[bool; 8]> = (0..zones).map(|zone| is_free(self, zone)).collect();
        let mut shares = heats.shares(&held, &free, &self.temperatures);
        let same_mode = shares.is_some();
        if !same_mode {
            // Zones that hold one another in a circle: let go of all of them, upward.
            for zone in 0..zones {
                if let Place::At(step) = self.places[zone] {
                    self.places[zone] = Place::Between(step + 1);
                }
            }
            (heats, held) = self.heats();
            free = (0..zones).map(|zone| is_free(self, zone)).collect();
            shares = Some(SmallVec::new());
        }
        let shares = shares.unwrap_or_default();
        let list: SmallVec<[usize; 4]> = (0..zones).filter(|zone| free[*zone]).collect();
        let mut place: SmallVec<[Option<usize>; 4]> = smallvec![None; zones];
        list.iter().enumerate().for_each(|(at, zone)| place[*zone] = Some(at));
        let mut conductance = Square::zero(list.len());
        let mut heat = Row::new();
        let mut capacity = Row::new();
        for (row, &zone) in list.iter().enumerate() {
            let full = heats.full_row(zone, &free, &self.temperatures, &held, &shares);
            heat.push(full.constant);
            capacity.push(self.own_capacity(zone));
            for (other, weight) in full.weights {
                if let Some(column) = place[other] {
                    conductance.entries[row * list.len() + column] += weight;
                }
            }
        }
        let linear = self.laws.linear(&weighed(&capacity, &list, &self.times), &conductance);
        let changing = (0..zones).filter(|zone| matches!(self.phases[*zone], Phase::Changing { .. }));
        let changing =
            changing.map(|zone| (zone, heats.full_row(zone, &free, &self.temperatures, &held, &shares))).collect();
        (Law { free: list, capacity, linear, heat, held, shares, changing, place }, same_mode)
    }

    /// The share of the upper side of a zone that is held at a step.
    pub(in crate::heat) fn held_share(&self, zone: usize) -> Affine {
        let course = self.course.as_ref();
        let held = course.and_then(|course| {
            let mut held = course.law.held.iter().zip(&course.law.shares);
            held.find(|(held, _)| held.zone == zone).map(|(_, share)| share.clone())
        });
        held.unwrap_or_default()
    }

    /// sign·(constant + Σ weight·T) + offset from now on; `None` where it is the same until the next event.
    pub(in crate::heat) fn curve_down(&self, affine: &Affine, sign: f64, offset: f64) -> Option<Curve<'_>> {
        let course = self.course.as_ref()?;
        let (mut constant, mut weights) = (sign * affine.constant + offset, Terms::new());
        for &(zone, weight) in &affine.weights {
            match course.law.place[zone] {
                Some(place) => weights.push((place, sign * weight)),
                None => constant += sign * weight * self.temperatures[zone],
            }
        }
        (!weights.is_empty()).then(|| course.segment.curve(&weights, constant))
    }

    /// Whether all thermostats of a flow are on.
    pub(in crate::heat) fn is_let(&self, flow: usize) -> bool {
        if self.on.is_empty() {
            return true;
        }
        let mut held = self.network.thermostats.iter().zip(&self.on);
        !held.any(|(thermostat, on)| !on && thermostat.runs.contains(&flow))
    }

    /// How much of a flow runs, gates counted.
    pub(in crate::heat) fn gated(&self, flow: usize) -> f64 {
        if self.is_let(flow) { self.running[flow] } else { 0.0 }
    }

    /// What has changed may send zones elsewhere that are held.
    pub(super) fn changed(&mut self) {
        self.course = None;
        for zone in 0..self.places.len() {
            if let Place::At(step) = self.places[zone] {
                self.meet(zone, step, true);
            }
        }
    }
}
