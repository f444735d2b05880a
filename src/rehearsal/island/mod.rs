//! One part of the plant from event to event.
//!
//! Between events every rate is constant, so nothing is stepped: each store says when it reaches the next level that
//! matters to it, each pattern when it turns, and the clock jumps to the first of them. A store is only looked at when it
//! reaches such a level or when its own rate changes.
//!
//! Events nearer than [`ONE_MOMENT`] of the clock are one moment, in this order: pattern edges, stores that ran dry or
//! filled up, switches in the plan's order. Touching a level is enough.

mod accounts;
mod levels;
mod repeat;

use super::course::Course;
use super::cycle::{Cycle, Watch};
use super::level::Level;
use super::mode::{Keys, Modes, Stand};
use super::part::Part;
use super::queue::Queue;
use super::result::{Event, Turn, What};
use super::system::{Source, System, Timed};
use crate::budget::{Budget, Halt};
use crate::plan::SwitchId;
pub use accounts::{Counts, FlowSum, Sums, Tally, Track};
use levels::is_past;

/// Events nearer than this share of the clock are one moment.
pub const ONE_MOMENT: f64 = 1e-9;

/// A part being rehearsed.
pub struct Island<'s> {
    /// The part.
    pub part: &'s Part,
    system: &'s System,
    /// Modes met, with how long each lasted.
    pub modes: Modes<'s>,
    courses: Vec<Course>,
    /// Levels in motion.
    pub levels: Vec<Level>,
    stands: Vec<Stand>,
    on: Vec<bool>,
    key: Vec<u64>,
    mode: usize,
    /// From when the present mode is in force.
    since_s: f64,
    now_s: f64,
    queue: Queue,
    /// Switches by the store they watch.
    watchers: Vec<Vec<usize>>,
    /// By store.
    pub tracks: Vec<Track>,
    /// By switch.
    pub tallies: Vec<Tally>,
    /// Counts.
    pub counts: Counts,
    /// The first events.
    pub events: Vec<Event>,
    /// Sums of forgotten modes.
    pub sums: Sums,
    watch: Watch,
    /// The settled cycle.
    pub settled: Option<Cycle>,
    /// Whether its patterns repeat together.
    pub commensurate: bool,
    /// Events simulated.
    pub simulated: u64,
    /// How far it got.
    pub reached_s: f64,
    /// Whether to end where a demand has been cut for longer than a moment.
    pub ends_when_short: bool,
    /// Whether one has.
    pub short: bool,
    /// Flows that are demands.
    demands: Box<[u64]>,
    due: Vec<usize>,
}

impl<'s> Island<'s> {
    /// The part at time zero, its switches not asked yet.
    #[must_use]
    pub fn new(part: &'s Part, horizon_s: f64) -> Self {
        let system = &part.system;
        let modes = Modes::new(system);
        let key = modes.blank();
        let mut watchers = vec![Vec::new(); system.tanks.len()];
        for (at, contact) in system.contacts.iter().enumerate() {
            watchers[contact.store].push(at);
        }
        let courses: Vec<Course> = system.courses.iter().map(|(_, course)| course.clone()).collect();
        let (watch, commensurate) = Watch::new(&courses, horizon_s);
        let flows = system.flows.len();
        let mut island = Self {
            part,
            system,
            courses,
            levels: system.tanks.iter().map(|tank| Level { since_s: 0.0, at: tank.level, net: 0.0, way: 0 }).collect(),
            stands: vec![Stand::Between; system.tanks.len()],
            on: system.contacts.iter().map(|contact| contact.on).collect(),
            key,
            mode: 0,
            since_s: 0.0,
            now_s: 0.0,
            queue: Queue::new(system.tanks.len() + system.courses.len() + 1),
            watchers,
            tracks: system
                .tanks
                .iter()
                .map(|tank| Track {
                    least: (tank.level, 0.0),
                    greatest: (tank.level, 0.0),
                    span: (tank.level, tank.level),
                    course: vec![(0.0, tank.level)],
                    first_empty_s: None,
                    first_full_s: None,
                    first_past_s: std::array::from_fn(|at| is_past(tank, at, tank.level).then_some(0.0)),
                })
                .collect(),
            tallies: vec![Tally::default(); system.contacts.len()],
            counts: Counts { events: 0, cuts: vec![0; flows], starts: vec![0; flows] },
            events: Vec::new(),
            sums: Sums {
                flows: vec![FlowSum::default(); flows],
                tanks: vec![[0.0; 4]; system.tanks.len()],
                contacts: vec![0.0; system.contacts.len()],
            },
            watch,
            settled: None,
            commensurate,
            simulated: 0,
            reached_s: 0.0,
            ends_when_short: false,
            short: false,
            demands: demands(system),
            due: Vec::new(),
            modes,
        };
        for at in 0..island.system.tanks.len() {
            island.stand(at, island.levels[at].at);
        }
        for at in 0..island.courses.len() {
            island.set_course(at);
        }
        for (at, &field) in island.modes.keys.contacts.iter().enumerate() {
            Keys::set(&mut island.key, field, usize::from(island.on[at]));
        }
        island.queue.set(island.checkpoint_slot(), island.watch.next_s());
        island
    }

    fn course_slot(&self, course: usize) -> usize {
        self.system.tanks.len() + course
    }

    fn checkpoint_slot(&self) -> usize {
        self.system.tanks.len() + self.courses.len()
    }

    /// Runs to the horizon, or until so many events are simulated.
    ///
    /// # Errors
    /// [`Halt`] when the hook says stop, or when the balance of a mode runs out of its budget.
    pub fn run(&mut self, horizon_s: f64, most_events: u64, budget: &Budget<'_>) -> Result<(), Halt> {
        self.due.extend(0..self.system.tanks.len());
        self.switch(0.0);
        self.mode = self.modes.find(&self.key, budget)?;
        self.set_off(0.0, None);
        loop {
            let (_, next) = self.queue.first();
            if next == f64::INFINITY && self.settled.is_none() {
                self.settled = Some(Cycle::at_rest(self));
            }
            // What happens in the last moment happens after it.
            if next >= horizon_s * (1.0 - ONE_MOMENT) {
                break;
            }
            if self.simulated >= most_events || (self.short && self.ends_when_short) {
                self.finish(self.now_s.max(self.since_s));
                return Ok(());
            }
            if self.simulated.is_multiple_of(256) && budget.is_stopped() {
                return Err(Halt::Stopped);
            }
            self.moment(next, horizon_s, budget)?;
        }
        self.finish(horizon_s);
        Ok(())
    }

    fn finish(&mut self, at_s: f64) {
        self.close(at_s);
        for tank in 0..self.levels.len() {
            self.advance(tank, at_s);
            self.point(tank);
        }
        self.reached_s = at_s;
    }

    /// All that is due at about `next`.
    fn moment(&mut self, next: f64, horizon_s: f64, budget: &Budget<'_>) -> Result<(), Halt> {
        let tanks = self.system.tanks.len();
        let last = next + next.abs() * ONE_MOMENT;
        self.due.clear();
        let (mut edges, mut checkpoint) = (Vec::new(), false);
        loop {
            let (slot, time) = self.queue.first();
            if time > last {
                break;
            }
            self.queue.set(slot, f64::INFINITY);
            if slot < tanks {
                self.due.push(slot);
            } else if slot == self.checkpoint_slot() {
                checkpoint = true;
                edges.push((time, usize::MAX));
            } else {
                edges.push((time, slot - tanks));
            }
        }
        // The clock of a pattern is exact; that of a store is as good as its rates.
        let now = edges.iter().map(|&(time, _)| time).min_by(f64::total_cmp).unwrap_or(next).max(self.now_s);
        self.now_s = now;
        self.due.sort_unstable();
        edges.sort_unstable_by_key(|&(_, course)| course);
        for &(_, course) in edges.iter().filter(|&&(_, course)| course != usize::MAX) {
            self.turn(course, now);
        }
        for at in 0..self.due.len() {
            self.arrive(self.due[at], now);
        }
        self.leave(now);
        self.switch(now);
        let found = if self.modes.list[self.mode].key[..] == self.key[..] {
            self.mode
        } else {
            self.modes.find(&self.key, budget)?
        };
        let before = std::mem::replace(&mut self.mode, found);
        self.set_off(now, Some(before));
        if self.modes.is_crowded() {
            self.forget(budget)?;
        }
        if checkpoint {
            self.simulated += 1;
            self.watch.pass();
            self.queue.set(self.checkpoint_slot(), self.watch.next_s());
        }
        if checkpoint || self.watch.is_free(now) {
            self.compare(now, horizon_s);
        }
        Ok(())
    }

    /// A pattern passes its edge.
    fn turn(&mut self, course: usize, now: f64) {
        let before = self.courses[course].share();
        self.courses[course].pass();
        let share = self.courses[course].share();
        self.set_course(course);
        if share == before {
            self.simulated += 1;
            return;
        }
        let turn = match (before, share) {
            (0.0, _) => Turn::On,
            (_, 0.0) => Turn::Off,
            _ => Turn::Step,
        };
        self.log(
            now,
            match self.system.courses[course].0 {
                Timed::Supply(supply) => What::Supply(supply, turn),
                Timed::Demand(demand) => What::Demand(demand, turn),
            },
        );
    }

    fn set_course(&mut self, course: usize) {
        let share = self.courses[course].share();
        let number = self.modes.shares[course].iter().position(|&known| known == share).unwrap_or(0);
        Keys::set(&mut self.key, self.modes.keys.courses[course], number);
        self.queue.set(self.course_slot(course), self.courses[course].next());
    }

    /// Asks the switches that watch a store that is due.
    fn switch(&mut self, now: f64) {
        let mut asked: Vec<usize> = Vec::new();
        for &tank in &self.due {
            asked.extend(&self.watchers[tank]);
        }
        asked.sort_unstable();
        for at in asked {
            let contact = &self.system.contacts[at];
            if !contact.acts(self.on[at], self.levels[contact.store].at) {
                continue;
            }
            self.on[at] = !self.on[at];
            Keys::set(&mut self.key, self.modes.keys.contacts[at], usize::from(self.on[at]));
            let switch = SwitchId(self.part.contacts[at]);
            let tally = &mut self.tallies[at];
            if self.on[at] {
                tally.starts += 1;
                tally.first_s.get_or_insert(now);
                if let Some(last) = tally.last_s {
                    let cycle = now - last;
                    tally.least_cycle_s = Some(tally.least_cycle_s.map_or(cycle, |least| least.min(cycle)));
                }
                tally.last_s = Some(now);
                self.log(now, What::Start(switch));
            } else {
                tally.stops += 1;
                self.log(now, What::Stop(switch));
            }
        }
    }

    /// From now on the present mode is in force.
    fn set_off(&mut self, now: f64, before: Option<usize>) {
        if before != Some(self.mode) {
            self.close_as(before, now);
            if let Some(before) = before {
                self.count_changes(before);
            } else {
                self.count_beginnings();
            }
        }
        let mut due = std::mem::take(&mut self.due);
        let mut is_due = due.iter().copied().peekable();
        for tank in 0..self.levels.len() {
            let waits = is_due.next_if_eq(&tank).is_some();
            let net = self.modes.list[self.mode].net[tank];
            if waits || net != self.levels[tank].net || self.levels[tank].since_s == now {
                self.advance(tank, now);
                if net != self.levels[tank].net || before.is_none() {
                    self.point(tank);
                }
                self.levels[tank] = Level::new(&self.system.tanks[tank], now, self.levels[tank].at, net);
                if before.is_none() && self.levels[tank].way == 0 {
                    match self.stands[tank] {
                        Stand::Empty => self.tracks[tank].first_empty_s = Some(now),
                        Stand::Full => self.tracks[tank].first_full_s = Some(now),
                        Stand::Between => {}
                    }
                }
                let due_s = self.target(tank).map_or(f64::INFINITY, |target| target.1);
                self.queue.set(tank, due_s.max(now));
            }
        }
        due.clear();
        self.due = due;
    }

    /// The clock.
    #[must_use]
    pub fn now_s(&self) -> f64 {
        self.now_s
    }
}

fn demands(system: &System) -> Box<[u64]> {
    let mut words = vec![0; system.flows.len().div_ceil(64)];
    for (at, _) in system.flows.iter().enumerate().filter(|(_, flow)| matches!(flow.what, Source::Serve(_))) {
        words[at / 64] |= 1 << (at % 64);
    }
    words.into_boxed_slice()
}
