//! Going on to a moment, and what happens there.

use super::super::row::{Row, Terms};
use super::super::trace;
use super::{Attention, HeatBlock, HeatEvent, Law, POINTS_A_STRETCH, Phase, Place};

impl HeatBlock<'_> {
    /// Goes on by `span` seconds, within which nothing happens.
    pub fn advance(&mut self, span: f64) {
        self.plan_course();
        let Some(course) = self.course.take() else { return };
        let before = Row::from_slice(&self.temperatures);
        let reached = if self.attention >= Attention::Accounts || !course.law.changing.is_empty() {
            let (reached, gathered) = course.segment.after(span);
            let mut integrals: Row = before.iter().map(|t| t * span).collect();
            for (at, &zone) in course.law.free.iter().enumerate() {
                self.temperatures[zone] = reached[at];
                integrals[zone] = gathered[at];
            }
            self.gather(&course.law, &before, &integrals, span);
            reached
        } else {
            let reached = course.segment.temperatures_after(span);
            for (&zone, t) in course.law.free.iter().zip(&reached) {
                self.temperatures[zone] = *t;
            }
            reached
        };
        for (at, &zone) in course.law.free.iter().enumerate().filter(|_| self.attention >= Attention::Extremes) {
            let limits = &self.network.zones[zone].limits;
            self.accounts.span(zone, limits, &course.segment, at, self.now_s, span, reached[at]);
        }
        if self.attention >= Attention::Curves && span > 0.0 {
            let parts = (POINTS_A_STRETCH * span / (self.now_s + span)).ceil().max(1.0);
            let mut part = 1.0;
            while part < parts {
                let after = span * part / parts;
                let reached = course.segment.temperatures_after(after);
                for (&zone, t) in course.law.free.iter().zip(reached) {
                    trace::push(&mut self.curves[zone], self.now_s + after, t);
                }
                part += 1.0;
            }
            for (curve, &t) in self.curves.iter_mut().zip(&self.temperatures) {
                trace::push(curve, self.now_s + span, t);
            }
        }
        for (at, on) in self.on.iter().enumerate() {
            if *on {
                self.accounts.thermostat_on(at, span);
            }
        }
        self.now_s += span;
    }

    /// What `span` seconds bring, over which temperatures have these integrals: to what changes phase, and to the accounts.
    fn gather(&mut self, law: &Law, before: &[f64], integrals: &[f64], span: f64) {
        let books = self.attention >= Attention::Accounts;
        if books {
            self.book(law, integrals, span);
        }
        let mut warmed: Row =
            (0..before.len()).map(|zone| self.capacity(zone) * (self.temperatures[zone] - before[zone])).collect();
        for (zone, heat) in &law.changing {
            let taken = heat.weights.iter().map(|(other, weight)| weight * integrals[*other]).sum::<f64>();
            let taken = taken + heat.constant * span;
            if let Phase::Changing { taken_j, .. } = &mut self.phases[*zone] {
                *taken_j += taken;
            }
            warmed[*zone] = taken;
        }
        if books {
            self.accounts.close(&warmed);
        }
    }

    /// Books what flows in `span` seconds, over which temperatures have these integrals.
    fn book(&mut self, law: &Law, integrals: &[f64], span: f64) {
        let held: Terms = law
            .held
            .iter()
            .zip(&law.shares)
            .map(|(held, share)| {
                let whole = share.weights.iter().map(|(zone, weight)| weight * integrals[*zone]).sum::<f64>();
                (held.zone, whole + share.constant * span)
            })
            .collect();
        for (index, flow) in self.network.flows.iter().enumerate() {
            let running = self.gated(index);
            if running == 0.0 {
                continue;
            }
            let time = match flow.relay {
                None => span,
                Some(relay) => match self.side(relay.zone, relay.at_c) {
                    Some(above) => span * f64::from(u8::from(above == relay.above)),
                    None => {
                        let upper = held.iter().find(|(zone, _)| *zone == relay.zone).map_or(0.0, |(_, time)| *time);
                        if relay.above { upper } else { span - upper }
                    }
                },
            };
            self.accounts.flow(index, flow, running, time, span, integrals);
            if let Some(rating) = flow.rating {
                let rated = self.side(rating.zone, rating.rated_c) == Some(true);
                self.accounts.generate(index, &rating, running, time, span, integrals[rating.zone], rated);
            }
        }
        self.accounts.walls(self.network, integrals, span);
    }

    /// Lets what was found happen, now.
    pub fn happen(&mut self, event: HeatEvent) {
        self.course = None;
        match event {
            HeatEvent::Step { zone, step, upward } => {
                self.temperatures[zone] = self.steps[zone][step];
                self.meet(zone, step, upward);
            }
            HeatEvent::Leave { zone, upward } => {
                if let Place::At(step) = self.places[zone] {
                    self.places[zone] = Place::Between(if upward { step + 1 } else { step });
                }
            }
            HeatEvent::Change { zone, upward } => {
                if let Phase::Settled(phase) = self.phases[zone] {
                    let change = if upward { phase } else { phase.saturating_sub(1) };
                    let all = self.change_heat(zone, change);
                    self.temperatures[zone] = self.network.zones[zone].changes[change].at_c;
                    self.phases[zone] = if all > 0.0 {
                        Phase::Changing { change, taken_j: if upward { 0.0 } else { all } }
                    } else {
                        Phase::Settled(if upward { change + 1 } else { change })
                    };
                }
            }
            HeatEvent::Changed { zone, upward } => {
                if let Phase::Changing { change, .. } = self.phases[zone] {
                    self.phases[zone] = Phase::Settled(if upward { change + 1 } else { change });
                }
            }
            HeatEvent::Thermostat { index, starts } => {
                let account = &mut self.accounts.thermostats[index];
                *(if starts { &mut account.starts } else { &mut account.stops }) += 1;
                self.on[index] = starts;
                self.changed();
            }
            HeatEvent::Pause => {}
        }
    }
}
