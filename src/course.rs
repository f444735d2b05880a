//! When a supply or a demand comes and goes: a pattern as a list of edges, each reckoned from its number and not from the edge
//! before, so that the millionth is as exact as the first.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of cycles that go into a horizon: whole, from nothing up, and far below 2⁵³"
)]

use smallvec::SmallVec;

use crate::plan::{Course as Shape, Pattern, Start};

/// Shares nearer than this are the same step.
const SAME: f64 = 1e-15;

/// A pattern that repeats, and where in it the clock stands.
#[derive(Clone, Debug)]
pub struct Course {
    /// Shares of the rate, step by step. Neighbours differ, the last and the first too, unless there is only one.
    steps: SmallVec<[f64; 2]>,
    /// Ends of the steps from the start of a cycle; the last is the length of the cycle.
    ends: SmallVec<[f64; 2]>,
    /// When cycle 0 begins; before, the share is nothing, unless `underway`.
    start_s: f64,
    underway: bool,
    seasons: Option<Seasons>,
    /// The cycle and the step that the clock is in; `None` before the start.
    place: Option<(u64, usize)>,
    season: Season,
}

/// The long cycle, counted from its start, in s.
#[derive(Clone, Copy, Debug)]
struct Seasons {
    active: f64,
    length: f64,
    start: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Season {
    number: u64,
    dormant: bool,
}

impl Course {
    /// A pattern with the clock at zero.
    #[must_use]
    pub fn new(pattern: &Pattern) -> Self {
        let mut steps: SmallVec<[f64; 2]> = SmallVec::new();
        let mut ends: SmallVec<[f64; 2]> = SmallVec::new();
        let mut end = 0.0;
        let mut add = |length: f64, share: f64| {
            if length <= 0.0 {
                return;
            }
            end += length;
            match (steps.last(), ends.last_mut()) {
                (Some(&last), Some(close)) if same(last, share) => *close = end,
                _ => {
                    steps.push(share);
                    ends.push(end);
                }
            }
        };
        match &pattern.course {
            Shape::Pulse { on, every } => {
                add(on.si(), 1.0);
                // From the sum, so that the cycle is as long as it says and not as its parts add up to.
                add(every.si() - on.si(), 0.0);
                if let Some(last) = ends.last_mut() {
                    *last = every.si();
                }
            }
            Shape::Steps(list) => list.iter().for_each(|step| add(step.length.si(), step.share)),
        }
        let (start_s, underway) = match pattern.start {
            Start::At(start) => (start.si(), false),
            Start::Underway(elapsed) => (-elapsed.si(), true),
        };
        let seasons = pattern.seasons.map(|seasons| Seasons {
            active: seasons.active.si(),
            length: seasons.active.si() + seasons.dormant.si(),
            start: -seasons.elapsed.si(),
        });
        let mut course = Self {
            steps,
            ends,
            start_s,
            underway,
            seasons: seasons.filter(|seasons| seasons.length > seasons.active),
            place: None,
            season: Season { number: 0, dormant: false },
        };
        course.set(0.0);
        course
    }

    /// The share of the rate now.
    #[must_use]
    pub fn share(&self) -> f64 {
        match self.place {
            Some((_, step)) if !self.season.dormant => self.steps[step],
            _ => 0.0,
        }
    }

    /// All shares it can have, each once, the nothing before its start and of its dormant times too.
    #[must_use]
    pub fn shares(&self) -> Vec<f64> {
        let mut shares = vec![0.0];
        for &share in &self.steps {
            if !shares.contains(&share) {
                shares.push(share);
            }
        }
        shares
    }

    /// The lengths of its cycles: of the steps where there are several, and of the seasons.
    pub fn periods(&self) -> impl Iterator<Item = f64> {
        let steps = (self.steps.len() > 1).then(|| self.cycle());
        steps.into_iter().chain(self.seasons.map(|seasons| seasons.length))
    }

    /// From when on it repeats.
    #[must_use]
    pub fn repeats_from(&self) -> f64 {
        if self.underway { 0.0 } else { self.start_s.max(0.0) }
    }

    fn cycle(&self) -> f64 {
        self.ends.last().copied().unwrap_or(f64::INFINITY)
    }

    /// The time of the next edge, infinite where there is none. Edges that change nothing are among them.
    #[must_use]
    pub fn next(&self) -> f64 {
        let season = self.season_edge();
        if self.season.dormant { season } else { season.min(self.step_edge()) }
    }

    fn step_edge(&self) -> f64 {
        match self.place {
            None => self.start_s,
            Some(_) if self.steps.len() < 2 => f64::INFINITY,
            Some((cycle, step)) => self.start_s + (cycle as f64 * self.cycle() + self.ends[step]),
        }
    }

    fn season_edge(&self) -> f64 {
        self.seasons.map_or(f64::INFINITY, |seasons| {
            let within = if self.season.dormant { seasons.length } else { seasons.active };
            seasons.start + (self.season.number as f64 * seasons.length + within)
        })
    }

    /// Passes the edge that [`Self::next`] named, and any other at that moment.
    pub fn pass(&mut self) {
        let now = self.next();
        let step_edge = self.step_edge();
        if self.season_edge() <= now {
            if self.season.dormant {
                self.season = Season { number: self.season.number + 1, dormant: false };
                // The steps went on unseen.
                self.set_step(now);
                return;
            }
            self.season.dormant = true;
        }
        if step_edge <= now {
            self.place = Some(match self.place {
                None => (0, 0),
                Some((cycle, step)) if step + 1 < self.steps.len() => (cycle, step + 1),
                Some((cycle, _)) => (cycle + 1, 0),
            });
        }
    }

    /// Passes every edge up to `now`, that moment too.
    pub fn pass_until(&mut self, now: f64) {
        while self.next() <= now {
            self.pass();
        }
    }

    /// Sets the clock.
    fn set(&mut self, now: f64) {
        if let Some(seasons) = self.seasons {
            let (number, rest) = whole_and_rest(now - seasons.start, seasons.length);
            self.season = Season { number, dormant: rest >= seasons.active };
        }
        self.set_step(now);
    }

    fn set_step(&mut self, now: f64) {
        if now < self.start_s {
            self.place = None;
            return;
        }
        let (cycle, rest) = whole_and_rest(now - self.start_s, self.cycle());
        let step = self.ends.iter().position(|&end| rest < end).unwrap_or(self.ends.len() - 1);
        self.place = Some((cycle, step));
    }

    /// Lets so much time go by in which it repeats itself whole: `by_s` is a multiple of all its [`Self::periods`].
    pub fn skip(&mut self, by_s: f64) {
        let cycles = (by_s / self.cycle()).round() as u64;
        if let Some((cycle, _)) = &mut self.place {
            *cycle += cycles;
        }
        if let Some(seasons) = self.seasons {
            self.season.number += (by_s / seasons.length).round() as u64;
        }
    }
}

/// What a pattern does next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlook {
    /// The share of the rate at time zero.
    pub share: f64,
    /// When that next changes; `None` where it never does.
    pub changes_s: Option<f64>,
    /// When it next comes back from nothing; `None` where it never does.
    pub returns_s: Option<f64>,
}

/// Edges to look through before it is taken that nothing more comes.
const MOST_EDGES: usize = 10_000;

/// What a pattern does next after time zero.
#[must_use]
pub fn outlook(pattern: &Pattern) -> Outlook {
    let mut course = Course::new(pattern);
    let share = course.share();
    let mut outlook = Outlook { share, changes_s: None, returns_s: None };
    let mut before = share;
    for _ in 0..MOST_EDGES {
        let at = course.next();
        if !at.is_finite() || outlook.returns_s.is_some() {
            break;
        }
        course.pass();
        let after = course.share();
        if !same(after, share) {
            outlook.changes_s = outlook.changes_s.or(Some(at));
        }
        if before == 0.0 && after > 0.0 {
            outlook.returns_s = Some(at);
        }
        before = after;
    }
    outlook
}

fn same(one: f64, other: f64) -> bool {
    (one - other).abs() <= SAME * one.abs().max(other.abs())
}

/// How often `length` goes into `time`, and what is left; a rest within rounding of a whole `length` is a whole one.
fn whole_and_rest(time: f64, length: f64) -> (u64, f64) {
    if !length.is_finite() {
        return (0, time);
    }
    let near = (time / length).round();
    let whole =
        if (time - near * length).abs() <= 1e-12 * time.abs().max(length) { near } else { (time / length).floor() };
    (whole as u64, (time - whole * length).max(0.0))
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
            course: Shape::Pulse { on: time(3.0), every: time(10.0) },
            start: Start::At(time(2.0)),
            seasons: Some(Seasons { active: time(25.0), dormant: time(20.0), elapsed: time(0.0) }),
        };
        let mut course = Course::new(&pattern);
        let mut edges = vec![(0.0, course.share())];
        while course.next() < 60.0 {
            let at = course.next();
            course.pass();
            edges.push((at, course.share()));
        }
        let on = |t: f64| edges.iter().rev().find(|(at, _)| *at <= t).map(|(_, share)| *share);
        for k in 0..600 {
            let t = f64::from(k) / 10.0 + 0.05;
            let pulse = t >= 2.0 && (t - 2.0) % 10.0 < 3.0;
            let expected = f64::from(u8::from(pulse && t % 45.0 < 25.0));
            assert_eq!(on(t), Some(expected), "at {t}");
        }
        assert_eq!(course.periods().collect::<Vec<_>>(), [10.0, 45.0]);
        let mut far = Course::new(&pattern);
        far.pass_until(3.0);
        far.skip(45e6);
        assert_eq!((far.share(), far.next()), (1.0, 45e6 + 5.0));
    }
}
