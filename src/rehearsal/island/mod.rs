//! One part of the plant from event to event.
//!
//! Between events every rate is constant, so nothing is stepped: each store says when it reaches the next level that
//! matters to it, each pattern when it turns, and the clock jumps to the first of them. A store is only looked at when it
//! reaches such a level or when its own rate changes.
//!
//! Events nearer than [`ONE_MOMENT`] of the clock are one moment, in this order: pattern edges, stores that ran dry or
//! filled up, switches in the plan's order. Touching a level is enough.

mod accounts;
mod acts;
mod levels;
mod repeat;
mod warm;

use super::cycle::{Cycle, Watch};
use super::level::Level;
use super::part::Part;
use super::queue::Queue;
use super::rates::{Memory, Rates};
use super::result::Event;
use super::state::Stand;
use super::system::{System, Tank};
use crate::budget::{Budget, Halt};
use crate::course::Course;
pub use accounts::{FlowSum, Sums, Tally, Track};
use levels::is_past;
pub use warm::Heat;

/// Events nearer than this share of the clock are one moment.
pub const ONE_MOMENT: f64 = 1e-9;

/// Moments between two looks at the budget's hook, and as how many of them finding what zones meet next counts.
const BETWEEN_LOOKS: u64 = 256;
const SEARCH: u64 = 16;

/// A part being rehearsed.
pub struct Island<'s> {
    /// The part.
    pub part: &'s Part,
    system: &'s System,
    /// What flows, and what has.
    pub rates: Rates<'s>,
    courses: Vec<Course>,
    /// Temperatures, where the part has zones.
    pub heat: Option<Heat<'s>>,
    /// Levels in motion.
    pub levels: Vec<Level>,
    /// Stores that stand at a bound and are about to leave it.
    leaving: Vec<usize>,
    now_s: f64,
    queue: Queue,
    /// Switches by the store they watch.
    watchers: Vec<Vec<usize>>,
    /// By store.
    pub tracks: Vec<Track>,
    /// By switch.
    pub tallies: Vec<Tally>,
    /// By flow, what has been added up.
    pub sums: Vec<FlowSum>,
    /// The first events.
    pub events: Vec<Event>,
    /// Events, those of counted cycles too.
    pub event_count: u64,
    watch: Watch,
    /// The settled cycle.
    pub settled: Option<Cycle>,
    /// Whether its patterns repeat together.
    pub commensurate: bool,
    /// Events simulated.
    pub simulated: u64,
    /// Moments since the last look at the budget's hook.
    effort: u64,
    /// How far it got.
    pub reached_s: f64,
    /// Whether to end where a demand has been cut for longer than a moment.
    pub ends_when_short: bool,
    /// Stores that are due.
    due: Vec<usize>,
    /// Scratch: patterns that turn, switches that are asked, dials that are due, headers whose net is new.
    edges: Vec<(f64, usize)>,
    asked: Vec<usize>,
    dials: Vec<usize>,
    summed: Vec<usize>,
}

impl<'s> Island<'s> {
    /// The part at time zero, its switches not asked yet, with what is remembered of its flows.
    #[must_use]
    pub fn new(part: &'s Part, horizon_s: f64, memory: Memory) -> Self {
        let system = &part.system;
        let mut watchers = vec![Vec::new(); system.tanks.len()];
        for (at, contact) in system.contacts.iter().enumerate() {
            watchers[contact.store].push(at);
        }
        let courses: Vec<Course> = system.courses.iter().map(|(_, course)| course.clone()).collect();
        let (watch, commensurate) = Watch::new(&courses, horizon_s);
        let track = |tank: &Tank| Track {
            least: (tank.level, 0.0),
            greatest: (tank.level, 0.0),
            span: (tank.level, tank.level),
            course: vec![(0.0, tank.level)],
            first_empty_s: None,
            first_full_s: None,
            first_past_s: std::array::from_fn(|at| is_past(tank, at, tank.level).then_some(0.0)),
            sums: Sums::default(),
        };
        let mut island = Self {
            part,
            system,
            rates: Rates::new(system, memory),
            courses,
            levels: system.tanks.iter().map(|tank| Level { since_s: 0.0, at: tank.level, net: 0.0, way: 0 }).collect(),
            leaving: Vec::new(),
            now_s: 0.0,
            heat: system.warm.as_ref().map(|warm| Heat::new(warm, horizon_s)),
            queue: Queue::new(
                system.tanks.len() + system.courses.len() + 2 + system.warm.as_ref().map_or(0, |w| w.dials.len()),
            ),
            watchers,
            tracks: system.tanks.iter().map(track).collect(),
            tallies: vec![Tally::default(); system.contacts.len()],
            sums: vec![FlowSum::default(); system.flows.len()],
            events: Vec::new(),
            event_count: 0,
            watch,
            settled: None,
            commensurate,
            simulated: 0,
            // The first moment looks.
            effort: BETWEEN_LOOKS,
            reached_s: 0.0,
            ends_when_short: false,
            due: Vec::new(),
            edges: Vec::new(),
            asked: Vec::new(),
            dials: Vec::new(),
            summed: Vec::new(),
        };
        for at in 0..island.system.tanks.len() {
            island.stand(at, island.levels[at].at);
        }
        for at in 0..island.courses.len() {
            island.set_course(at);
        }
        for (at, contact) in system.contacts.iter().enumerate() {
            island.rates.set_on(at, contact.on);
        }
        for (at, thermostat) in system.warm.iter().flat_map(|warm| warm.network.thermostats.iter().enumerate()) {
            island.rates.set_thermostat(at, thermostat.on);
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
    /// [`Halt`] when the hook says stop, or when the first balance runs out of its budget.
    pub fn run(&mut self, horizon_s: f64, most_events: u64, budget: &Budget<'_>) -> Result<(), Halt> {
        self.due.extend(0..self.system.tanks.len());
        self.switch(0.0);
        self.set_off(0.0, budget)?;
        self.agree(0.0, true, &[], budget)?;
        for tank in 0..self.levels.len() {
            if self.levels[tank].way == 0 {
                match self.rates.state.stand(tank) {
                    Stand::Empty => self.tracks[tank].first_empty_s = Some(0.0),
                    Stand::Full => self.tracks[tank].first_full_s = Some(0.0),
                    Stand::Between => {}
                }
            }
        }
        loop {
            let (_, next) = self.queue.first();
            if next == f64::INFINITY && self.settled.is_none() && self.heat.is_none() {
                self.settled = Some(Cycle::at_rest(self));
            }
            // What happens in the last moment happens after it.
            if next >= horizon_s * (1.0 - ONE_MOMENT) {
                break;
            }
            if self.ends_when_short && next - self.now_s > next * ONE_MOMENT && self.rates.is_short_now() {
                // Nothing changes before that.
                self.rates.short = true;
            }
            if self.simulated >= most_events || (self.rates.short && self.ends_when_short) {
                self.finish(self.now_s);
                return Ok(());
            }
            self.effort += 1;
            if self.effort >= BETWEEN_LOOKS {
                self.effort = 0;
                if budget.is_stopped() {
                    return Err(Halt::Stopped);
                }
            }
            match self.moment(next, horizon_s, budget) {
                Ok(()) => {}
                // So far it is right, and said to be so far.
                Err(Halt::StepsSpent { .. }) => {
                    self.finish(self.now_s);
                    return Ok(());
                }
                Err(halt) => return Err(halt),
            }
        }
        self.finish(horizon_s);
        Ok(())
    }

    fn finish(&mut self, at_s: f64) {
        if let Some(heat) = &mut self.heat {
            heat.go_to(at_s);
        }
        self.close(at_s);
        (0..self.levels.len()).for_each(|tank| self.point(tank));
        self.reached_s = at_s;
    }

    /// All that is due at about `next`.
    fn moment(&mut self, next: f64, horizon_s: f64, budget: &Budget<'_>) -> Result<(), Halt> {
        let tanks = self.system.tanks.len();
        let last = next + next.abs() * ONE_MOMENT;
        self.due.clear();
        self.edges.clear();
        let (mut checkpoint, mut heat_due, mut looks) = (None, false, false);
        let mut dials = std::mem::take(&mut self.dials);
        dials.clear();
        loop {
            let (slot, time) = self.queue.first();
            if time > last || time == f64::INFINITY {
                break;
            }
            self.queue.set(slot, f64::INFINITY);
            if slot < tanks {
                self.due.push(slot);
            } else if slot == self.checkpoint_slot() {
                checkpoint = Some(time);
            } else if slot == self.heat_slot() {
                heat_due = true;
            } else if slot > self.heat_slot() {
                dials.push(slot - self.heat_slot() - 1);
            } else {
                self.edges.push((time, slot - tanks));
            }
        }
        // The clock of a pattern is exact; that of a store is as good as its rates.
        let exact = self.edges.iter().map(|&(time, _)| time).chain(checkpoint).min_by(f64::total_cmp);
        let now = exact.unwrap_or(next).max(self.now_s);
        self.now_s = now;
        self.due.sort_unstable();
        self.edges.sort_unstable_by_key(|&(_, course)| course);
        for at in 0..self.edges.len() {
            self.turn(self.edges[at].1, now);
        }
        for at in 0..self.due.len() {
            self.arrive(self.due[at], now);
        }
        self.leave(now);
        if heat_due || !dials.is_empty() {
            looks = heat_due || !self.step_dials(&dials);
            if looks {
                self.meet(now, heat_due);
            }
        }
        self.switch(now);
        self.set_off(now, budget)?;
        self.agree(now, looks, &dials, budget)?;
        self.dials = dials;
        if self.rates.memory.is_crowded() {
            self.close(now);
            self.add_up();
            self.rates.forget();
            self.watch.forget();
            self.set_off(now, budget)?;
        }
        if checkpoint.is_some() {
            self.simulated += 1;
            self.watch.pass();
            self.queue.set(self.checkpoint_slot(), self.watch.next_s());
        }
        if checkpoint.is_some() || self.watch.is_free(now) {
            self.compare(now, horizon_s);
        }
        Ok(())
    }

    /// From now on what the state asks for flows.
    fn set_off(&mut self, now: f64, budget: &Budget<'_>) -> Result<(), Halt> {
        let mut summed = std::mem::take(&mut self.summed);
        summed.clear();
        self.rates.update(now, budget, |header| summed.push(header))?;
        let system = self.system;
        let due = std::mem::take(&mut self.due);
        for &tank in &due {
            self.set_off_level(tank, now, true);
        }
        for &tank in summed.iter().flat_map(|&header| &system.mains[header].stores) {
            self.set_off_level(tank, now, false);
        }
        self.due = due;
        self.summed = summed;
        Ok(())
    }

    /// The level of a store goes on with its net as it is now; it is due when it reaches the next level that matters.
    fn set_off_level(&mut self, tank: usize, now: f64, is_due: bool) {
        let net = self.rates.net[tank];
        let turns = net != self.levels[tank].net;
        if !is_due && !turns && self.levels[tank].since_s != now {
            return;
        }
        self.advance(tank, now);
        if turns {
            self.point(tank);
        }
        self.levels[tank] = Level::new(&self.system.tanks[tank], now, self.levels[tank].at, net);
        if self.levels[tank].way != 0 && self.rates.state.stand(tank) != Stand::Between && !self.leaving.contains(&tank)
        {
            self.leaving.push(tank);
        }
        let due_s = self.target(tank).map_or(f64::INFINITY, |target| target.1);
        self.queue.set(tank, due_s.max(now));
    }

    /// The clock.
    #[must_use]
    pub fn now_s(&self) -> f64 {
        self.now_s
    }
}
