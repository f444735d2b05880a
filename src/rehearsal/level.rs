//! How the level of one store moves while its rates stand still.
//!
//! dL/dt = net − loses − decays·L, where `loses` only acts while there is something in it; a level at empty or full that is
//! driven outward is held there.

use super::system::Tank;

/// What rounding leaves of a cancellation, as a share of its terms.
const CANCELLED: f64 = 16.0 * f64::EPSILON;

/// A level in motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// From when.
    pub since_s: f64,
    /// The level then.
    pub at: f64,
    /// Into it less out of it, standing loss apart.
    pub net: f64,
    /// The way it goes: +1, −1, or 0 where it stays.
    pub way: i8,
}

impl Level {
    /// A level from now on.
    #[must_use]
    pub fn new(tank: &Tank, since_s: f64, at: f64, net: f64) -> Self {
        let loss = tank.loses + tank.decays * at;
        // What rounding leaves of a net that makes up for the loss moves nothing.
        let slope = if (net - loss).abs() <= CANCELLED * loss { 0.0 } else { net - loss };
        let held = (at <= 0.0 && slope <= 0.0) || (at >= tank.capacity && slope >= 0.0);
        let way = match slope {
            _ if held => 0,
            slope if slope > 0.0 => 1,
            slope if slope < 0.0 => -1,
            _ => 0,
        };
        Self { since_s, at, net, way }
    }

    /// The level at a time not before `since_s`.
    #[must_use]
    pub fn when(&self, tank: &Tank, time_s: f64) -> f64 {
        if self.way == 0 {
            return self.at;
        }
        let (drift, span) = (self.net - tank.loses, time_s - self.since_s);
        let level = if tank.decays > 0.0 {
            // L0 + (drift/k − L0)·(1 − e^(−k·t)), which keeps its digits for small k·t.
            self.at - (drift / tank.decays - self.at) * (-tank.decays * span).exp_m1()
        } else {
            self.at + drift * span
        };
        level.clamp(0.0, tank.capacity)
    }

    /// When it reaches `bound`, which lies ahead; infinite where it never does.
    #[must_use]
    pub fn reaches(&self, tank: &Tank, bound: f64) -> f64 {
        let ahead = bound - self.at;
        if self.way == 0 || ahead * f64::from(self.way) < 0.0 {
            return f64::INFINITY;
        }
        let drift = self.net - tank.loses;
        let span = if tank.decays > 0.0 {
            let share = ahead / (drift / tank.decays - self.at);
            if share >= 1.0 { f64::INFINITY } else { -(-share).ln_1p() / tank.decays }
        } else {
            ahead / drift
        };
        self.since_s + span.max(0.0)
    }
}
