//! What an island books: how long each mode lasted, what was counted, and the amounts that follow from it.

use super::{Island, ONE_MOMENT};
use crate::budget::{Budget, Halt};
use crate::rehearsal::MOST_EVENTS;
use crate::rehearsal::mode::{Keys, Stand};
use crate::rehearsal::result::{Event, What};
use crate::rehearsal::system::{Source, System};

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
}

/// What a switch of the part did.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Starts.
    pub starts: u64,
    /// Stops.
    pub stops: u64,
    /// The first start.
    pub first_s: Option<f64>,
    /// The last start.
    pub last_s: Option<f64>,
    /// The shortest time between two.
    pub least_cycle_s: Option<f64>,
}

/// Counts that go on by the same number in every settled cycle.
#[derive(Clone, Debug, Default)]
pub struct Counts {
    /// Events.
    pub events: u64,
    /// By flow, how often it began to get less than it asks for.
    pub cuts: Vec<u64>,
    /// By flow, how often it began to run.
    pub starts: Vec<u64>,
}

/// Amounts of forgotten modes, summed up.
#[derive(Clone, Debug)]
pub struct Sums {
    /// By flow.
    pub flows: Vec<FlowSum>,
    /// By store: in, out, how long empty, how long full.
    pub tanks: Vec<[f64; 4]>,
    /// By switch, how long on.
    pub contacts: Vec<f64>,
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
        self.counts.events += 1;
        self.simulated += 1;
        if self.events.len() < MOST_EVENTS {
            self.events.push(Event { at_s, what });
        }
    }

    /// Books the present mode until now.
    pub(super) fn close(&mut self, now: f64) {
        self.close_as(Some(self.mode), now);
    }

    pub(super) fn close_as(&mut self, mode: Option<usize>, now: f64) {
        if let Some(mode) = mode {
            let lasted = now - self.since_s;
            if lasted > 0.0 {
                let mode = &mut self.modes.list[mode];
                self.short |= lasted > now * ONE_MOMENT
                    && mode.cut.iter().zip(&self.demands).any(|(&cut, &demand)| cut & demand != 0);
                mode.lasted_s += lasted;
                mode.first_s.get_or_insert(self.since_s);
            }
        }
        self.since_s = now;
    }

    pub(super) fn count_changes(&mut self, before: usize) {
        let (before, after) = (&self.modes.list[before], &self.modes.list[self.mode]);
        let rises = |before: &[u64], after: &[u64], counts: &mut [u64]| {
            for (word, (&before, &after)) in before.iter().zip(after).enumerate() {
                let mut risen = after & !before;
                while risen != 0 {
                    counts[64 * word + risen.trailing_zeros() as usize] += 1;
                    risen &= risen - 1;
                }
            }
        };
        rises(&before.cut, &after.cut, &mut self.counts.cuts);
        rises(&before.alive, &after.alive, &mut self.counts.starts);
    }

    pub(super) fn count_beginnings(&mut self) {
        let mode = &self.modes.list[self.mode];
        for flow in 0..self.system.flows.len() {
            let has = |words: &[u64]| u64::from(words[flow / 64] >> (flow % 64) & 1 == 1);
            self.counts.cuts[flow] += has(&mode.cut);
            self.counts.starts[flow] += has(&mode.alive);
        }
    }

    /// Adds up what the modes lasted and forgets them.
    pub(super) fn forget(&mut self, budget: &Budget<'_>) -> Result<(), Halt> {
        self.add_up();
        self.modes.forget();
        self.watch.forget();
        self.mode = self.modes.find(&self.key, budget)?;
        Ok(())
    }

    /// Adds what the modes lasted to the sums.
    pub fn add_up(&mut self) {
        let earliest = |kept: &mut Option<f64>, first: Option<f64>| {
            *kept = match (*kept, first) {
                (Some(one), Some(other)) => Some(one.min(other)),
                (one, other) => one.or(other),
            };
        };
        for mode in self.modes.list.iter_mut().filter(|mode| mode.lasted_s > 0.0) {
            let lasted = mode.lasted_s;
            for (at, sum) in self.sums.flows.iter_mut().enumerate() {
                let (amount, upper) = (mode.amount[at], mode.upper[at]);
                sum.amount += amount * lasted;
                sum.upper += if upper.is_finite() { upper } else { amount } * lasted;
                if upper > 0.0 {
                    sum.open_s += lasted;
                }
                if amount > 0.0 && (mode.alive[at / 64] >> (at % 64) & 1 == 1 || !is_run(self.system, at)) {
                    sum.lasted_s += lasted;
                }
                if mode.cut[at / 64] >> (at % 64) & 1 == 1 {
                    sum.cut_s += lasted;
                    earliest(&mut sum.first_cut_s, mode.first_s);
                }
                if upper.is_finite() && amount < upper * (1.0 - ONE_MOMENT) {
                    earliest(&mut sum.first_less_s, mode.first_s);
                }
            }
            for (at, sum) in self.sums.tanks.iter_mut().enumerate() {
                let net = mode.net[at];
                sum[0] += net.max(0.0) * lasted;
                sum[1] += (-net).max(0.0) * lasted;
                let tank = &self.system.tanks[at];
                match self.modes.keys.stand(&mode.key, at) {
                    Stand::Empty if net <= tank.loses => sum[2] += lasted,
                    Stand::Full if net >= tank.loses + tank.decays * tank.capacity => sum[3] += lasted,
                    _ => {}
                }
            }
            for (at, sum) in self.sums.contacts.iter_mut().enumerate() {
                if Keys::get(&mode.key, self.modes.keys.contacts[at]) == 1 {
                    *sum += lasted;
                }
            }
            mode.lasted_s = 0.0;
        }
    }
}

fn is_run(system: &System, flow: usize) -> bool {
    matches!(system.flows[flow].what, Source::Run(_))
}
