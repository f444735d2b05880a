//! The way to a state of rest, without time.
//!
//! In one mode heat into zones is affine, and on the straight line from where they stand to where they would stand still it dwindles
//! in proportion: where all warm or all cool they go on doing so. So zones begun colder than any state of rest rise on such lines to
//! the coldest, as they do through time, and those begun hotter fall to the hottest; only what turns on and off on the way has to
//! be met.

use super::{HeatBlock, HeatEvent, Place, SLACK};
use crate::heat::row::Row;

/// How far it went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::heat) enum Went {
    /// To where zones stand still.
    AllTheWay,
    /// To what happened there.
    PartOfIt,
}

impl HeatBlock<'_> {
    /// Sets zones that are past all steps, above or below, to where all lose heat or all gain it, still past them. No state of rest is
    /// further out: there it would be one of this mode, which has one only, or, being past it in some zones, would have those gain
    /// what they lose. Where zones go on for ever they stay as they are.
    pub(in crate::heat) fn begin_beyond(&mut self, above: bool) {
        let law = self.known_law();
        if law.free.len() < self.temperatures.len() {
            return;
        }
        let Some((rest, lean)) = law.linear.rest(&law.heat) else { return };
        let past = |zone: usize| if above { self.steps[zone].last() } else { self.steps[zone].first() };
        let watts = law.free.iter().zip(rest.iter().zip(&lean)).filter_map(|(&zone, (rest, lean))| {
            let way = past(zone)? - rest;
            Some(if above { way } else { -way } / lean)
        });
        let watts = watts.fold(0.0, f64::max) * (1.0 + 1e-9);
        if !watts.is_finite() {
            return;
        }
        for (&zone, (rest, lean)) in law.free.iter().zip(rest.iter().zip(&lean)) {
            self.temperatures[zone] = rest + if above { watts * lean } else { -watts * lean };
        }
        self.course = None;
    }

    /// Goes towards rest until something happens, and lets it happen. `None` where this cannot be said without time: zones that go
    /// on for ever, some that warm while others cool, changes of phase, and switches with a deadband.
    pub(in crate::heat) fn toward_rest(&mut self) -> Option<Went> {
        let law = self.known_law();
        let network = self.network;
        if !network.thermostats.is_empty() || network.zones.iter().any(|zone| !zone.changes.is_empty()) {
            return None;
        }
        let start: Row = law.free.iter().map(|zone| self.temperatures[*zone]).collect();
        let way = law.linear.way_to_rest(&start, &law.heat)?;
        // As a part of the way.
        let mut first: Option<(f64, HeatEvent)> = None;
        let mut see = |part: f64, event: HeatEvent| {
            if part < first.map_or(1.0, |(before, _)| before) {
                first = Some((part.max(0.0), event));
            }
        };
        for (&zone, &way) in law.free.iter().zip(&way) {
            let Place::Between(below) = self.places[zone] else { continue };
            let upward = way > 0.0;
            let step = if upward { Some(below) } else { below.checked_sub(1).filter(|_| way < 0.0) };
            if let Some((step, level)) = step.and_then(|step| Some((step, self.steps[zone].get(step)?))) {
                see((level - self.temperatures[zone]) / way, HeatEvent::Step { zone, step, upward });
            }
        }
        for (held, share) in law.held.iter().zip(&law.shares) {
            let moves = share.weights.iter().filter_map(|(zone, weight)| Some(weight * way[law.place[*zone]?]));
            let (now, change) = (share.at(&self.temperatures), moves.sum::<f64>());
            // What others have begun or ended just now may have sent it out already.
            for (room, change, upward) in [(1.0 + SLACK - now, change, true), (now + SLACK, -change, false)] {
                if room < 0.0 || change > 0.0 {
                    let part = if room < 0.0 { 0.0 } else { room / change };
                    see(part, HeatEvent::Leave { zone: held.zone, upward });
                }
            }
        }
        let part = first.map_or(1.0, |(part, _)| part);
        for (&zone, way) in law.free.iter().zip(way) {
            self.temperatures[zone] += part * way;
        }
        self.course = None;
        Some(match first {
            None => Went::AllTheWay,
            Some((_, event)) => {
                self.happen(event);
                Went::PartOfIt
            }
        })
    }
}
