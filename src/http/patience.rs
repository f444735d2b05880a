//! How long a calculation may wait for its turn.
//!
//! While no more work comes than can be done, a burst may wait: it will be worked off. When more comes than can be done, a long queue
//! helps nobody, since all in it wait its whole length; then a calculation may wait about as long as it takes itself, and what
//! would have to wait longer is refused at once.

use std::time::{Duration, Instant};

/// The span over which the work that comes is held against what can be done, in seconds.
const SPAN: f64 = 0.5;

/// What an operator may set of it.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// The longest wait while no more comes than can be done.
    pub burst: Duration,
    /// The longest wait when more comes, in multiples of what the calculation takes itself …
    pub slowdown: f64,
    /// … and what it may wait in any case.
    pub least: Duration,
}

impl Patience {
    /// The longest wait of a calculation of `cost` seconds, in seconds, while `load` of what can be done is asked for.
    #[must_use]
    pub fn longest(&self, load: f64, cost: f64) -> f64 {
        let strict = (self.slowdown * cost).max(self.least.as_secs_f64());
        if load > 1.0 { strict } else { strict.max(self.burst.as_secs_f64()) }
    }
}

/// How much work was asked for of late, done or refused, against what so many threads can do.
#[derive(Debug)]
pub struct Load {
    threads: f64,
    asked: f64,
    at: Instant,
}

impl Load {
    /// Nothing yet.
    #[must_use]
    pub fn new(threads: usize) -> Self {
        Self { threads: threads.max(1) as f64, asked: 0.0, at: Instant::now() }
    }

    /// Counts a calculation of `cost` seconds that is asked for `now`; the share of what can be done that is asked for.
    pub fn add(&mut self, now: Instant, cost: f64) -> f64 {
        let passed = now.saturating_duration_since(self.at).as_secs_f64();
        self.asked = self.asked * (-passed / SPAN).exp() + cost;
        self.at = now;
        self.asked / (self.threads * SPAN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn patience() -> Patience {
        Patience { burst: Duration::from_millis(250), slowdown: 1.0, least: Duration::from_millis(5) }
    }

    #[test]
    fn a_burst_may_wait_and_a_flood_may_not() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
        near(patience().longest(0.5, 0.01), 0.25);
        near(patience().longest(0.5, 2.0), 2.0);
        near(patience().longest(1.5, 0.01), 0.01);
        near(patience().longest(1.5, 0.0001), 0.005);
    }

    #[test]
    fn the_load_is_what_is_asked_for_against_what_can_be_done() {
        let begin = Instant::now();
        let mut load = Load::new(2);
        // Ten milliseconds of work every ten milliseconds: one of two threads.
        let steady = (0..400).map(|turn| load.add(begin + Duration::from_millis(10 * turn), 0.01)).last();
        assert!(steady.is_some_and(|load| (load - 0.5).abs() < 0.02), "{steady:?}");
        // Ten times what two threads can do is noticed within a twelfth of a second.
        let flood = (0..80).map(|turn| load.add(begin + Duration::from_millis(4000 + turn), 0.02)).last();
        assert!(flood.is_some_and(|load| load > 1.0), "{flood:?}");
        // And it is forgotten within a second and a half.
        assert!(load.add(begin + Duration::from_millis(5500), 0.0) < 0.3);
    }
}
