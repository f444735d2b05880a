//! What zones meet first.

use super::{HeatBlock, HeatEvent, Phase, Place, SLACK};
use crate::heat::affine::Affine;
use crate::heat::curve::{Crossing, Curve};
use crate::heat::row::Terms;

impl HeatBlock<'_> {
    /// What happens first within `span` seconds from now, and after how many.
    pub fn next(&mut self, span: f64) -> Option<(f64, HeatEvent)> {
        self.plan_course();
        let course = self.course.as_ref()?;
        let mut found: Option<(f64, HeatEvent)> = None;
        let mut see = |curve: Curve<'_>, grain: f64, event: HeatEvent| {
            let until = found.map_or(span, |(at, _)| at);
            let (at, event) = match curve.search(until, grain) {
                Crossing::Never => return,
                Crossing::At(at) => (at, event),
                Crossing::NotBefore(at) => (at, HeatEvent::Pause),
            };
            // Of two at the same moment the first seen stays.
            if found.is_none_or(|(first, _)| at < first) {
                found = Some((at, event));
            }
        };
        let reach = course.segment.reach(span);
        // Most levels are out of reach, which is told without a search.
        let toward = |zone: usize, place: usize, level: f64, upward: bool| {
            let sign = if upward { -1.0 } else { 1.0 };
            let grain = 4.0 * f64::EPSILON * (1.0 + level.abs() + self.temperatures[zone].abs());
            let (toward, constant) = ([(place, sign)], -sign * level);
            let room = reach.as_ref().map_or(0.0, |reach| course.segment.bounds(&toward, constant, reach).0);
            (room <= grain).then(|| (course.segment.curve(&toward, constant), grain))
        };
        for (at, thermostat) in self.network.thermostats.iter().enumerate() {
            let Some(place) = course.law.place[thermostat.zone] else { continue };
            let level = if self.on[at] { thermostat.stop_at_c } else { thermostat.start_at_c };
            let upward = (thermostat.start_at_c > thermostat.stop_at_c) != self.on[at];
            let Some((curve, grain)) = toward(thermostat.zone, place, level, upward) else { continue };
            see(curve, grain, HeatEvent::Thermostat { index: at, starts: !self.on[at] });
        }
        for (place, &zone) in course.law.free.iter().enumerate() {
            if let Place::Between(below) = self.places[zone] {
                for (step, upward) in [(Some(below), true), (below.checked_sub(1), false)] {
                    if let Some((step, &level)) = step.and_then(|step| Some((step, self.steps[zone].get(step)?)))
                        && let Some((curve, grain)) = toward(zone, place, level, upward)
                    {
                        see(curve, grain, HeatEvent::Step { zone, step, upward });
                    }
                }
            }
            if let Phase::Settled(phase) = self.phases[zone] {
                let changes = &self.network.zones[zone].changes;
                for (change, upward) in [(Some(phase), true), (phase.checked_sub(1), false)] {
                    if let Some(change) = change.and_then(|change| changes.get(change))
                        && let Some((curve, grain)) = toward(zone, place, change.at_c, upward)
                    {
                        see(curve, grain, HeatEvent::Change { zone, upward });
                    }
                }
            }
        }
        let reduced = |affine: &Affine| -> Terms {
            affine.weights.iter().filter_map(|(zone, weight)| Some((course.law.place[*zone]?, *weight))).collect()
        };
        for (zone, heat) in &course.law.changing {
            if let Phase::Changing { change, taken_j } = self.phases[*zone] {
                let all = self.change_heat(*zone, change);
                let grain = 4.0 * f64::EPSILON * all;
                let curve = course.segment.gathered(taken_j, &reduced(heat), heat.constant);
                see(curve.clone(), grain, HeatEvent::Changed { zone: *zone, upward: false });
                let rest = course.segment.gathered(taken_j - all, &reduced(heat), heat.constant).negated();
                see(rest, grain, HeatEvent::Changed { zone: *zone, upward: true });
            }
        }
        for (held, share) in course.law.held.iter().zip(&course.law.shares) {
            let grain = share.grain(&self.temperatures).max(1e-15);
            let weights = reduced(share);
            if let Some(reach) = &reach {
                let (least, most) = course.segment.bounds(&weights, share.constant, reach);
                if least + SLACK > grain && 1.0 + SLACK - most > grain {
                    continue;
                }
            }
            let curve = course.segment.curve(&weights, share.constant + SLACK);
            see(curve, grain, HeatEvent::Leave { zone: held.zone, upward: false });
            let curve = course.segment.curve(&weights, share.constant - 1.0 - SLACK).negated();
            see(curve, grain, HeatEvent::Leave { zone: held.zone, upward: true });
        }
        found
    }

    /// The first switch, in order, that should be otherwise at these temperatures; touching is enough.
    #[must_use]
    pub fn due(&self) -> Option<HeatEvent> {
        self.network.thermostats.iter().enumerate().find_map(|(index, thermostat)| {
            let t = self.temperatures[thermostat.zone];
            let cools = thermostat.start_at_c > thermostat.stop_at_c;
            let level = if self.on[index] { thermostat.stop_at_c } else { thermostat.start_at_c };
            let due = if cools == self.on[index] { t <= level } else { t >= level };
            due.then_some(HeatEvent::Thermostat { index, starts: !self.on[index] })
        })
    }
}
