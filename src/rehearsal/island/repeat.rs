//! Cycles of an island that are counted and not simulated.

use super::Island;
use crate::rehearsal::cycle::{Cycle, Memory};
use crate::rehearsal::level::Level;
use crate::rehearsal::result::Event;
use crate::rehearsal::{MOST_EVENTS, MOST_POINTS};

/// Cycles beyond this are more than a count holds to the last one.
const MOST_CYCLES: f64 = 1e15;

impl Island<'_> {
    /// Whether the state has been here before; if so, the whole cycles that are still to come are counted.
    pub(super) fn compare(&mut self, now: f64, horizon_s: f64) {
        if self.watch.is_over() {
            return;
        }
        let level = |at: usize| self.levels[at].when(&self.system.tanks[at], now);
        let met = self.watch.meets(&self.key, &self.system.tanks, level);
        if let Some(memory) = met {
            self.close(now);
            self.repeat(&memory, now, horizon_s);
            self.watch.end();
            self.queue.set(self.checkpoint_slot(), f64::INFINITY);
        } else if self.watch.is_due() {
            let levels: Vec<f64> = (0..self.levels.len()).map(level).collect();
            self.close(now);
            for (track, &level) in self.tracks.iter_mut().zip(&levels) {
                track.span = (level, level);
            }
            self.remember(levels, now);
        }
    }

    pub(super) fn remember(&mut self, levels: Vec<f64>, now: f64) {
        self.watch.remember(Memory {
            at_s: now,
            number: self.watch.passed(),
            key: self.key.clone(),
            levels,
            lasted_s: self.modes.list.iter().map(|mode| mode.lasted_s).collect(),
            counts: self.counts.clone(),
            tallies: self.tallies.clone(),
        });
    }

    /// Lets as many whole cycles go by as there is time for.
    pub(super) fn repeat(&mut self, memory: &Memory, now: f64, horizon_s: f64) {
        let period = now - memory.at_s;
        for tank in 0..self.levels.len() {
            self.advance(tank, now);
        }
        let starts = self.tallies.iter().zip(&memory.tallies).map(|(tally, before)| tally.starts - before.starts);
        let mut cycle = Cycle {
            from_s: memory.at_s,
            period_s: period,
            counted: 0,
            starts: starts.collect(),
            span: self.tracks.iter().map(|track| track.span).collect(),
        };
        let cycles = ((horizon_s - now) / period).floor();
        if period > 0.0 && (1.0..MOST_CYCLES).contains(&cycles) {
            let times = cycles as u64;
            let checkpoints = (self.watch.passed() - memory.number) * times;
            let later = self.watch.time_of(self.watch.passed() + checkpoints, now + cycles * period);
            let by = later - now;
            for (at, mode) in self.modes.list.iter_mut().enumerate() {
                mode.lasted_s += cycles * (mode.lasted_s - memory.lasted(at));
            }
            let go_on = |count: &mut u64, before: u64| *count += (*count - before) * times;
            go_on(&mut self.counts.events, memory.counts.events);
            self.counts.cuts.iter_mut().zip(&memory.counts.cuts).for_each(|(count, &before)| go_on(count, before));
            self.counts.starts.iter_mut().zip(&memory.counts.starts).for_each(|(count, &before)| go_on(count, before));
            for (tally, before) in self.tallies.iter_mut().zip(&memory.tallies) {
                go_on(&mut tally.starts, before.starts);
                go_on(&mut tally.stops, before.stops);
                if tally.starts > before.starts {
                    tally.last_s = tally.last_s.map(|last| last + by);
                }
            }
            for (at, course) in self.courses.iter_mut().enumerate() {
                course.skip(by);
                self.queue.set(self.system.tanks.len() + at, course.next());
            }
            for tank in 0..self.levels.len() {
                let entry = &self.system.tanks[tank];
                self.levels[tank] = Level::new(entry, later, self.levels[tank].at, self.levels[tank].net);
                let due_s = self.target(tank).map_or(f64::INFINITY, |target| target.1);
                self.queue.set(tank, due_s);
            }
            self.list_again(memory.at_s, now, period, times);
            self.now_s = later;
            self.since_s = later;
            cycle.counted = times;
        }
        self.settled = Some(cycle);
    }

    /// Lists what happened after `from_s` until `to_s` so many times more, as far as the lists go.
    pub(super) fn list_again(&mut self, from_s: f64, to_s: f64, period: f64, times: u64) {
        if self.events.len() < MOST_EVENTS {
            let first = self.events.partition_point(|event| event.at_s <= from_s);
            let cycle = self.events[first..].to_vec();
            let again = (1..=times).flat_map(|time| {
                let by = period * time as f64;
                cycle.iter().map(move |event| Event { at_s: event.at_s + by, ..*event })
            });
            let room = MOST_EVENTS - self.events.len();
            self.events.extend(again.take(if cycle.is_empty() { 0 } else { room }));
        }
        for track in self.tracks.iter_mut().filter(|track| track.course.len() < MOST_POINTS) {
            let first = track.course.partition_point(|point| point.0 <= from_s);
            let end = track.course.partition_point(|point| point.0 <= to_s);
            let cycle = track.course[first..end].to_vec();
            let again =
                (1..=times).flat_map(|time| cycle.iter().map(move |&(at, level)| (at + period * time as f64, level)));
            let room = MOST_POINTS - track.course.len();
            track.course.extend(again.take(if cycle.is_empty() { 0 } else { room }));
        }
    }
}
