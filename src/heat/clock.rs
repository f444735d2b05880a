//! A pattern as a clock: which share it lets through, and when that changes next. Edges are reckoned from the number of
//! cycles, never summed up, so that they stay exact.

use crate::plan::{Course, Pattern, Start};

/// Where a pattern stands.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    /// End of each step within a cycle, s, and its share.
    steps: Vec<(f64, f64)>,
    cycle_s: f64,
    /// Beginning of cycle 0.
    origin_s: f64,
    /// Cycles begun and the step in it; `None` before the first.
    at: Option<(f64, usize)>,
    /// Length active, length of both, beginning of season 0.
    seasons: Option<(f64, f64, f64)>,
    /// Longer cycles begun, and whether active.
    season: (f64, bool),
}

impl Clock {
    pub fn new(pattern: &Pattern) -> Self {
        let steps: Vec<(f64, f64)> = match &pattern.course {
            Course::Pulse { on, every } => vec![(on.si(), 1.0), (every.si(), 0.0)],
            Course::Steps(steps) => {
                let mut end = 0.0;
                let ends = steps.iter().map(|step| {
                    end += step.length.si();
                    (end, step.share)
                });
                ends.collect()
            }
        };
        let origin_s = match pattern.start {
            Start::At(time) => time.si(),
            Start::Underway(elapsed) => -elapsed.si(),
        };
        let seasons = pattern
            .seasons
            .map(|seasons| (seasons.active.si(), seasons.active.si() + seasons.dormant.si(), -seasons.elapsed.si()));
        let cycle_s = pattern.cycle().si();
        let mut clock = Self { steps, cycle_s, origin_s, at: None, seasons, season: (0.0, true) };
        if origin_s <= 0.0 {
            clock.at = Some((0.0, 0));
        }
        clock.pass(0.0);
        clock
    }

    fn course_edge(&self) -> f64 {
        match self.at {
            None => self.origin_s,
            Some((cycle, step)) => self.origin_s + cycle * self.cycle_s + self.steps[step].0,
        }
    }

    fn season_edge(&self) -> f64 {
        self.seasons.map_or(f64::INFINITY, |(active, both, origin)| {
            let (cycle, is_active) = self.season;
            origin + cycle * both + if is_active { active } else { both }
        })
    }

    /// When it changes next.
    pub fn next(&self) -> f64 {
        self.course_edge().min(self.season_edge())
    }

    /// Goes past every edge up to `now`, inclusive.
    pub fn pass(&mut self, now: f64) {
        // Far into its cycles it need not walk there.
        if let Some((cycle, _)) = self.at {
            let whole = ((now - self.origin_s) / self.cycle_s).floor() - 1.0;
            if whole > cycle {
                self.at = Some((whole, 0));
            }
        }
        while self.course_edge() <= now {
            self.at = Some(match self.at {
                None => (0.0, 0),
                Some((cycle, step)) if step + 1 < self.steps.len() => (cycle, step + 1),
                Some((cycle, _)) => (cycle + 1.0, 0),
            });
        }
        if let Some((_, both, origin)) = self.seasons {
            let whole = ((now - origin) / both).floor() - 1.0;
            if whole > self.season.0 {
                self.season = (whole, true);
            }
        }
        while self.season_edge() <= now {
            self.season = if self.season.1 { (self.season.0, false) } else { (self.season.0 + 1.0, true) };
        }
    }

    /// The share from now on.
    pub fn share(&self) -> f64 {
        if !self.season.1 {
            return 0.0;
        }
        self.at.map_or(0.0, |(_, step)| self.steps[step].1)
    }

    /// Lengths of its cycles, and from when on they repeat.
    pub fn cycles(&self) -> (Vec<f64>, f64) {
        let mut cycles = vec![self.cycle_s];
        cycles.extend(self.seasons.map(|(_, both, _)| both));
        (cycles, self.origin_s.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Seasons;
    use crate::quantity::Time;

    fn time(s: f64) -> Time {
        Time::from_si(s).expect("finite")
    }

    #[test]
    fn a_pulse_with_seasons_is_on_when_both_are() {
        let pattern = Pattern {
            course: Course::Pulse { on: time(3.0), every: time(10.0) },
            start: Start::At(time(2.0)),
            seasons: Some(Seasons { active: time(25.0), dormant: time(20.0), elapsed: time(0.0) }),
        };
        let mut clock = Clock::new(&pattern);
        let mut edges = vec![(0.0, clock.share())];
        while clock.next() < 60.0 {
            let at = clock.next();
            clock.pass(at);
            edges.push((at, clock.share()));
        }
        let on = |t: f64| edges.iter().rev().find(|(at, _)| *at <= t).map(|(_, share)| *share);
        for k in 0..600 {
            let t = f64::from(k) / 10.0 + 0.05;
            let pulse = t >= 2.0 && (t - 2.0) % 10.0 < 3.0;
            let expected = f64::from(u8::from(pulse && t % 45.0 < 25.0));
            assert_eq!(on(t), Some(expected), "at {t}");
        }
        let mut far = Clock::new(&pattern);
        far.pass(45e6 + 3.0);
        assert_eq!((far.share(), far.next()), (1.0, 45e6 + 5.0));
    }
}
