//! A state that comes again: from then on all repeats, so the rest is counted and not simulated.
//!
//! States are compared where all patterns stand as they stood before: every whole common period of them, or at any moment
//! where there is no pattern. The state that is compared with is renewed at doubling distances (R. P. Brent, *An improved
//! Monte Carlo factorization algorithm*, BIT 20, 1980; from memory), so one remembered state finds a cycle of any length.

use super::island::{Island, Sums, Tally};
use super::system::Tank;
use crate::course::Course;
use crate::heat::{HeatMark, has_settled};

/// Levels nearer than this share of the capacity are the same.
const SAME_LEVEL: f64 = 1e-11;
/// Temperatures further apart than this are no drift, K.
const MOST_DRIFT_K: f64 = 1e-2;
/// The greatest denominator by which one period may be a fraction of another.
const MOST_PARTS: f64 = 1e6;
/// How near a ratio of periods must come to a fraction.
const SAME_RATIO: f64 = 1e-13;

/// A settled cycle.
#[derive(Clone, Debug)]
pub struct Cycle {
    /// When the state was first seen that comes again.
    pub from_s: f64,
    /// How long until it comes again; 0 where nothing changes any more.
    pub period_s: f64,
    /// Whole cycles that were counted.
    pub counted: u64,
    /// Starts of each switch in one cycle.
    pub starts: Vec<u64>,
    /// Least and greatest level of each store in one cycle.
    pub span: Vec<(f64, f64)>,
    /// Least and greatest temperature of each zone in one cycle, °C.
    pub span_c: Vec<(f64, f64)>,
}

impl Cycle {
    /// Nothing will change any more.
    #[must_use]
    pub fn at_rest(island: &Island<'_>) -> Self {
        Self {
            from_s: island.now_s(),
            period_s: 0.0,
            counted: 0,
            starts: vec![0; island.tallies.len()],
            span: island.levels.iter().map(|level| (level.at, level.at)).collect(),
            span_c: Vec::new(),
        }
    }
}

/// A state to compare with, and what had been counted by then.
#[derive(Clone, Debug)]
pub struct Memory {
    /// When.
    pub at_s: f64,
    /// Which checkpoint.
    pub number: u64,
    /// Where stores, switches and patterns stood.
    pub key: Vec<u64>,
    /// The levels.
    pub levels: Vec<f64>,
    /// How long each balance had been in force.
    pub lasted_s: Vec<f64>,
    /// What had overflowed on each header.
    pub overflowed: Vec<f64>,
    /// How often each flow had begun to be cut, and to run.
    pub begun: (Vec<u64>, Vec<u64>),
    /// Events.
    pub events: u64,
    /// Of the stores.
    pub tracks: Vec<Sums>,
    /// Of the switches.
    pub tallies: Vec<Tally>,
    /// Of the zones.
    pub heat: Option<HeatMark>,
}

/// Looks for a state that comes again.
#[derive(Clone, Debug)]
pub struct Watch {
    /// The first checkpoint and the distance between them; `None` where any moment is one.
    grid: Option<(f64, f64)>,
    /// From when on the patterns repeat.
    from_s: f64,
    /// The number of the next checkpoint.
    number: u64,
    memory: Option<Memory>,
    /// Comparisons with the present memory, and when to renew it.
    compared: u64,
    renew_at: u64,
    /// The last state that was the same but for temperatures that still drift: after how many comparisons, and by how much, K.
    drifting: Option<(u64, f64)>,
    over: bool,
}

impl Watch {
    /// For these patterns; and whether they repeat together within the horizon.
    #[must_use]
    pub fn new(courses: &[Course], horizon_s: f64) -> (Self, bool) {
        let periods: Vec<f64> = courses.iter().flat_map(Course::periods).collect();
        let from = courses.iter().map(Course::repeats_from).fold(0.0, f64::max);
        let grid = (!periods.is_empty()).then(|| (from, common_period(&periods).unwrap_or(f64::INFINITY)));
        let together = grid.is_none_or(|(from, period)| from + period <= horizon_s);
        (
            Self {
                grid,
                from_s: from,
                number: 0,
                memory: None,
                compared: 0,
                renew_at: 1,
                drifting: None,
                over: !together,
            },
            together,
        )
    }

    /// Whether a moment may be compared that is no checkpoint.
    #[must_use]
    pub fn is_free(&self, now_s: f64) -> bool {
        self.grid.is_none() && !self.over && now_s >= self.from_s
    }

    /// Whether there is nothing left to look for.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// When the next checkpoint is.
    #[must_use]
    pub fn next_s(&self) -> f64 {
        match self.grid {
            Some((from, period)) if !self.over => from + self.number as f64 * period,
            _ => f64::INFINITY,
        }
    }

    /// A checkpoint is passed.
    pub fn pass(&mut self) {
        self.number += 1;
    }

    /// The checkpoint that was passed last.
    #[must_use]
    pub fn passed(&self) -> u64 {
        self.number.saturating_sub(1)
    }

    /// The time of that checkpoint; of a moment without checkpoints, `otherwise`.
    #[must_use]
    pub fn time_of(&self, number: u64, otherwise: f64) -> f64 {
        self.grid.map_or(otherwise, |(from, period)| from + number as f64 * period)
    }

    /// Stops looking.
    pub fn end(&mut self) {
        self.over = true;
        self.memory = None;
    }

    /// Forgets the state, where what it refers to is gone.
    pub fn forget(&mut self) {
        self.memory = None;
        self.drifting = None;
        self.compared = 0;
    }

    /// The remembered state, if the present one is the same. `drift` says by how much temperatures differ, if by no more.
    pub fn meets(
        &mut self,
        key: &[u64],
        tanks: &[Tank],
        level: impl Fn(usize) -> f64,
        drift: impl FnOnce(&Memory) -> Option<f64>,
    ) -> Option<Memory> {
        let memory = self.memory.as_ref()?;
        self.compared += 1;
        let same = memory.key[..] == *key
            && tanks
                .iter()
                .enumerate()
                .all(|(at, tank)| (memory.levels[at] - level(at)).abs() <= SAME_LEVEL * tank.capacity);
        let drift = if same { drift(memory).filter(|drift| *drift <= MOST_DRIFT_K)? } else { return None };
        let before = self.drifting.filter(|(after, _)| *after == self.compared).map(|(_, drift)| drift);
        if has_settled(before, drift) {
            return self.memory.take();
        }
        // All is as it was but for a drift: it is compared once more after as long, from here.
        self.drifting = Some((self.compared, drift));
        self.memory = None;
        None
    }

    /// Whether the state should be remembered now.
    #[must_use]
    pub fn is_due(&self) -> bool {
        self.memory.is_none() || self.compared >= self.renew_at
    }

    /// Remembers a state.
    pub fn remember(&mut self, memory: Memory) {
        self.renew_at = match (&self.memory, self.drifting) {
            (Some(_), _) => self.renew_at.saturating_mul(2),
            (None, Some((after, _))) => after,
            (None, None) => 1,
        };
        self.compared = 0;
        self.memory = Some(memory);
    }
}

/// The least time that is a whole multiple of each of these, where there is one within reason.
#[must_use]
pub fn common_period(periods: &[f64]) -> Option<f64> {
    let Some(&first) = periods.first() else { return Some(0.0) };
    let (mut numerator, mut denominator) = (1.0_f64, 0.0_f64);
    for &period in periods {
        let (above, below) = fraction(period / first)?;
        numerator = numerator / gcd(numerator, above) * above;
        denominator = gcd(denominator, below);
        if numerator > 1e12 {
            return None;
        }
    }
    Some(first * (numerator / denominator))
}

fn gcd(mut one: f64, mut other: f64) -> f64 {
    while other != 0.0 {
        (one, other) = (other, one % other);
    }
    one
}

/// A ratio as a fraction in lowest terms, by its continued fraction.
fn fraction(ratio: f64) -> Option<(f64, f64)> {
    let (mut above, mut below) = ((1.0, ratio.floor()), (0.0, 1.0));
    let mut rest = ratio - ratio.floor();
    loop {
        if (above.1 / below.1 - ratio).abs() <= SAME_RATIO * ratio {
            return Some((above.1, below.1));
        }
        if rest <= 0.0 {
            return None;
        }
        let next = 1.0 / rest;
        let whole = next.floor();
        rest = next - whole;
        above = (above.1, whole * above.1 + above.0);
        below = (below.1, whole * below.1 + below.0);
        if below.1 > MOST_PARTS || above.1 > 1e12 {
            return None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::common_period;

    #[test]
    fn periods_that_are_fractions_of_each_other_have_a_common_one() {
        assert_eq!(common_period(&[]), Some(0.0));
        assert_eq!(common_period(&[12.0]), Some(12.0));
        assert_eq!(common_period(&[12.0, 18.0]), Some(36.0));
        assert_eq!(common_period(&[18.0, 12.0, 10.0]), Some(180.0));
        assert_eq!(common_period(&[0.5, 0.75]), Some(1.5));
        assert_eq!(common_period(&[1080.0, 24.0 * 3600.0]), Some(86400.0));
        let tenth = common_period(&[0.1, 0.3]).unwrap();
        assert!((tenth - 0.3).abs() < 1e-15);
    }

    #[test]
    fn periods_that_are_not_have_none() {
        assert_eq!(common_period(&[1.0, 2.0_f64.sqrt()]), None);
        assert_eq!(common_period(&[std::f64::consts::PI, 1.0]), None);
    }
}
