//! Levels of an island: when each store is due, and what it is once it is there.

use super::Island;
use crate::plan::StoreId;
use crate::rehearsal::MOST_POINTS;
use crate::rehearsal::level::Level;
use crate::rehearsal::result::What;
use crate::rehearsal::state::Stand;
use crate::rehearsal::system::Tank;

impl Island<'_> {
    /// A store is at the level it was due at.
    pub(super) fn arrive(&mut self, tank: usize, now: f64) {
        let target = self.target(tank).map_or_else(|| self.levels[tank].when(&self.system.tanks[tank], now), |at| at.0);
        self.book(tank, now);
        self.pass_limits(tank, target);
        self.levels[tank] = Level { since_s: now, at: target, net: self.levels[tank].net, way: self.levels[tank].way };
        self.extremes(tank, now);
        let store = StoreId(self.part.tanks[tank]);
        if target <= 0.0 {
            self.tracks[tank].first_empty_s.get_or_insert(now);
            self.log(now, What::Empty(store));
        } else if target >= self.system.tanks[tank].capacity {
            self.tracks[tank].first_full_s.get_or_insert(now);
            self.log(now, What::Full(store));
        }
        self.stand(tank, target);
    }

    /// Stores that stood at a bound and have left it are between.
    pub(super) fn leave(&mut self, now: f64) {
        for tank in std::mem::take(&mut self.leaving) {
            if self.levels[tank].since_s >= now && self.levels[tank].way != 0 {
                self.leaving.push(tank);
                continue;
            }
            if self.rates.state.stand(tank) != Stand::Between {
                self.advance(tank, now);
                self.stand(tank, self.levels[tank].at);
            }
        }
    }

    pub(super) fn stand(&mut self, tank: usize, level: f64) {
        let stand = match level {
            level if level <= 0.0 => Stand::Empty,
            level if level >= self.system.tanks[tank].capacity => Stand::Full,
            _ => Stand::Between,
        };
        self.rates.set_stand(tank, stand);
    }

    /// The next level that matters to a store on its way, and when it is there.
    pub(super) fn target(&self, tank: usize) -> Option<(f64, f64)> {
        let (entry, level) = (&self.system.tanks[tank], &self.levels[tank]);
        if level.way == 0 {
            return None;
        }
        let upward = level.way > 0;
        let mut bound = if upward { entry.capacity } else { 0.0 };
        for &at in &self.watchers[tank] {
            let (next, rising) = self.system.contacts[at].bound(self.rates.state.is_on(at));
            let ahead = if upward { next > level.at && next < bound } else { next < level.at && next > bound };
            if rising == upward && ahead {
                bound = next;
            }
        }
        Some((bound, level.reaches(entry, bound)))
    }

    pub(super) fn advance(&mut self, tank: usize, now: f64) {
        let level = self.levels[tank].when(&self.system.tanks[tank], now);
        self.book(tank, now);
        self.pass_limits(tank, level);
        self.levels[tank].at = level;
        self.levels[tank].since_s = now;
        self.extremes(tank, now);
    }

    /// Adds what flowed since the level was last looked at.
    fn book(&mut self, tank: usize, now: f64) {
        let (level, sums) = (&self.levels[tank], &mut self.tracks[tank].sums);
        let lasted = now - level.since_s;
        sums.filled += level.net.max(0.0) * lasted;
        sums.drained += (-level.net).max(0.0) * lasted;
        if level.way == 0 {
            if level.at <= 0.0 {
                sums.empty_s += lasted;
            } else if level.at >= self.system.tanks[tank].capacity {
                sums.full_s += lasted;
            }
        }
    }

    /// Notes limits that lie between a level and what it has become.
    pub(super) fn pass_limits(&mut self, tank: usize, level: f64) {
        let entry = &self.system.tanks[tank];
        for (at, first) in self.tracks[tank].first_past_s.iter_mut().enumerate() {
            if first.is_none() && is_past(entry, at, level) {
                *first = entry.limits[at].map(|limit| self.levels[tank].reaches(entry, limit));
            }
        }
    }

    pub(super) fn extremes(&mut self, tank: usize, now: f64) {
        let (level, track) = (self.levels[tank].at, &mut self.tracks[tank]);
        if level < track.least.0 {
            track.least = (level, now);
        }
        if level > track.greatest.0 {
            track.greatest = (level, now);
        }
        track.span = (track.span.0.min(level), track.span.1.max(level));
    }

    pub(super) fn point(&mut self, tank: usize) {
        let (level, course) = (&self.levels[tank], &mut self.tracks[tank].course);
        if course.len() < MOST_POINTS && course.last().is_none_or(|last| last.0 < level.since_s) {
            course.push((level.since_s, level.at));
        }
    }
}

/// Whether a level is past a limit: below the first two, above the others.
pub(super) fn is_past(tank: &Tank, at: usize, level: f64) -> bool {
    tank.limits[at].is_some_and(|limit| if at < 2 { level < limit } else { level > limit })
}
