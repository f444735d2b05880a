//! What an island books: what each store and each switch went through, and the amounts that follow from what was in force.

use super::{Island, ONE_MOMENT};
use crate::rehearsal::MOST_EVENTS;
use crate::rehearsal::result::{Event, What};

/// What a store of the part went through.
#[derive(Clone, Debug)]
pub struct Track {
    /// Least level so far, and when it was first there.
    pub least: (f64, f64),
    /// Greatest.
    pub greatest: (f64, f64),
    /// Least and greatest since the state that is compared with.
    pub span: (f64, f64),
    /// (time, level) at its turns.
    pub course: Vec<(f64, f64)>,
    /// When it first stood empty.
    pub first_empty_s: Option<f64>,
    /// When it first stood full.
    pub first_full_s: Option<f64>,
    /// When it first went below its low-low and low limits, and above its high and high-high ones.
    pub first_past_s: [Option<f64>; 4],
    /// Sums.
    pub sums: Sums,
}

/// What adds up over time for a store.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sums {
    /// What flowed in.
    pub filled: f64,
    /// What flowed out, standing loss apart.
    pub drained: f64,
    /// How long it stood empty.
    pub empty_s: f64,
    /// How long it stood full.
    pub full_s: f64,
}

/// What a switch of the part did.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Starts.
    pub starts: u64,
    /// Stops.
    pub stops: u64,
    /// How long it was on, until `since_s`.
    pub on_s: f64,
    /// From when it is to be booked.
    pub since_s: f64,
    /// The first start.
    pub first_s: Option<f64>,
    /// The last start.
    pub last_s: Option<f64>,
    /// The shortest time between two.
    pub least_cycle_s: Option<f64>,
}

/// What flowed of one flow.
#[derive(Clone, Copy, Debug, Default)]
pub struct FlowSum {
    /// How much.
    pub amount: f64,
    /// The most there could have been.
    pub upper: f64,
    /// How long there was any of it.
    pub lasted_s: f64,
    /// How long it could have been.
    pub open_s: f64,
    /// How long it was cut.
    pub cut_s: f64,
    /// When it was first cut.
    pub first_cut_s: Option<f64>,
    /// When it first was less than it could be.
    pub first_less_s: Option<f64>,
}

impl Island<'_> {
    pub(super) fn log(&mut self, at_s: f64, what: What) {
        self.event_count += 1;
        self.simulated += 1;
        if self.events.len() < MOST_EVENTS {
            self.events.push(Event { at_s, what });
        }
    }

    /// Books everything until now.
    pub(super) fn close(&mut self, now: f64) {
        self.rates.close_all(now);
        for tank in 0..self.levels.len() {
            self.advance(tank, now);
        }
        for (at, tally) in self.tallies.iter_mut().enumerate() {
            if self.rates.state.is_on(at) {
                tally.on_s += now - tally.since_s;
            }
            tally.since_s = now;
        }
    }

    /// Adds what was in force to the sums of its flows.
    pub fn add_up(&mut self) {
        let earliest = |kept: &mut Option<f64>, first: Option<f64>| {
            *kept = match (*kept, first) {
                (Some(one), Some(other)) => Some(one.min(other)),
                (one, other) => one.or(other),
            };
        };
        for balanced in self.rates.memory.met.iter_mut().filter(|balanced| balanced.lasted_s > 0.0) {
            let lasted = std::mem::take(&mut balanced.lasted_s);
            for (at, &flow) in balanced.flows.iter().enumerate() {
                let (amount, upper, (cut, runs)) = (balanced.amount[at], balanced.upper[at], balanced.marks[at]);
                let sum = &mut self.sums[flow as usize];
                sum.amount += amount * lasted;
                sum.upper += if upper.is_finite() { upper } else { amount } * lasted;
                if upper > 0.0 {
                    sum.open_s += lasted;
                }
                if runs {
                    sum.lasted_s += lasted;
                }
                if cut {
                    sum.cut_s += lasted;
                    earliest(&mut sum.first_cut_s, balanced.first_s);
                }
                if upper.is_finite() && amount < upper * (1.0 - ONE_MOMENT) {
                    earliest(&mut sum.first_less_s, balanced.first_s);
                }
            }
        }
    }
}
