//! Cycles of an island that are counted and not simulated.

use super::{Island, ONE_MOMENT};
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
        if let Some(heat) = &mut self.heat {
            heat.go_to(now);
        }
        let heat = self.heat.as_ref().map(|heat| &heat.block);
        let drift = |memory: &Memory| match (heat, &memory.heat) {
            (Some(heat), Some(mark)) => heat.drift(mark),
            _ => Some(0.0),
        };
        if let Some(memory) = self.watch.meets(&self.rates.state.bits, &self.system.tanks, level, drift) {
            self.close(now);
            self.repeat(&memory, now, horizon_s);
            self.watch.end();
            self.queue.set(self.checkpoint_slot(), f64::INFINITY);
        } else if self.watch.is_due() {
            self.close(now);
            for (track, level) in self.tracks.iter_mut().zip(&self.levels) {
                track.span = (level.at, level.at);
            }
            self.watch.remember(Memory {
                at_s: now,
                number: self.watch.passed(),
                key: self.rates.state.bits.clone(),
                levels: self.levels.iter().map(|level| level.at).collect(),
                lasted_s: self.rates.memory.met.iter().map(|balanced| balanced.lasted_s).collect(),
                overflowed: self.rates.overflow.iter().map(|overflow| overflow.total).collect(),
                begun: (self.rates.cuts.clone(), self.rates.starts.clone()),
                events: self.event_count,
                tracks: self.tracks.iter().map(|track| track.sums).collect(),
                tallies: self.tallies.clone(),
                heat: self.heat.as_mut().map(|heat| heat.block.mark()),
            });
        }
    }

    /// Lets as many whole cycles go by as there is time for.
    fn repeat(&mut self, memory: &Memory, now: f64, horizon_s: f64) {
        let period = now - memory.at_s;
        let starts = self.tallies.iter().zip(&memory.tallies).map(|(tally, before)| tally.starts - before.starts);
        let mut cycle = Cycle {
            from_s: memory.at_s,
            period_s: period,
            counted: 0,
            starts: starts.collect(),
            span: self.tracks.iter().map(|track| track.span).collect(),
            span_c: self.heat.as_ref().map_or_else(Vec::new, |heat| heat.block.span_c()),
        };
        // What happens in the last moment happens after it: a cycle that ends just there is simulated.
        let cycles = ((horizon_s * (1.0 - ONE_MOMENT) - now) / period).floor();
        if period > 0.0 && (1.0..MOST_CYCLES).contains(&cycles) {
            let times = cycles as u64;
            let checkpoints = (self.watch.passed() - memory.number) * times;
            let later = self.watch.time_of(self.watch.passed() + checkpoints, now + cycles * period);
            self.count_again(memory, cycles, later - now);
            self.list_again(memory.at_s, now, period, times);
            self.go_on(memory.at_s, now, later);
            cycle.counted = times;
        }
        self.settled = Some(cycle);
    }

    /// Adds so many times more what came about since the state that is compared with.
    fn count_again(&mut self, memory: &Memory, cycles: f64, by_s: f64) {
        let times = cycles as u64;
        let count = |count: &mut u64, before: u64| *count += (*count - before) * times;
        let add = |sum: &mut f64, before: f64| *sum += cycles * (*sum - before);
        for (at, balanced) in self.rates.memory.met.iter_mut().enumerate() {
            add(&mut balanced.lasted_s, memory.lasted_s.get(at).copied().unwrap_or(0.0));
        }
        for (overflow, &before) in self.rates.overflow.iter_mut().zip(&memory.overflowed) {
            add(&mut overflow.total, before);
        }
        count(&mut self.event_count, memory.events);
        self.rates.cuts.iter_mut().zip(&memory.begun.0).for_each(|(now, &before)| count(now, before));
        self.rates.starts.iter_mut().zip(&memory.begun.1).for_each(|(now, &before)| count(now, before));
        for (track, before) in self.tracks.iter_mut().zip(&memory.tracks) {
            let sums = &mut track.sums;
            add(&mut sums.filled, before.filled);
            add(&mut sums.drained, before.drained);
            add(&mut sums.empty_s, before.empty_s);
            add(&mut sums.full_s, before.full_s);
        }
        for (tally, before) in self.tallies.iter_mut().zip(&memory.tallies) {
            if tally.starts > before.starts {
                tally.last_s = tally.last_s.map(|last| last + by_s);
            }
            count(&mut tally.starts, before.starts);
            count(&mut tally.stops, before.stops);
            add(&mut tally.on_s, before.on_s);
        }
        if let (Some(heat), Some(mark)) = (&mut self.heat, &memory.heat) {
            heat.block.accounts.repeat(&mark.accounts, cycles);
        }
    }

    /// Sets the clock forward by whole cycles as the one since `from`: everything stands as it stood.
    fn go_on(&mut self, from: f64, now: f64, later: f64) {
        for at in 0..self.courses.len() {
            self.courses[at].skip(later - now);
            self.queue.set(self.course_slot(at), self.courses[at].next());
        }
        for tank in 0..self.levels.len() {
            let entry = &self.system.tanks[tank];
            self.levels[tank] = Level::new(entry, later, self.levels[tank].at, self.levels[tank].net);
            let due_s = self.target(tank).map_or(f64::INFINITY, |target| target.1);
            self.queue.set(tank, due_s);
        }
        self.tallies.iter_mut().for_each(|tally| tally.since_s = later);
        self.rates.go_on(later);
        self.now_s = later;
        if let Some(heat) = &mut self.heat {
            heat.block.skip(from, later);
        }
        self.schedule(later);
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
