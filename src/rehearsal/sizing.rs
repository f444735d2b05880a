//! How big a store must be, and how much must be in it to begin with, so that nothing is ever short.
//!
//! The least capacity is that of the sequent peak (H. A. Thomas and R. P. Burden, *Operations Research in Water Quality
//! Management*, 1963; from memory): beginning full, the deepest the level ever falls. The pattern is gone through until its
//! state repeats, so a shortage that begins in one period and ends in the next is found. It is read off one rehearsal with a
//! store that is as good as endless. Where a switch watches the store, its levels are shares of the capacity and move with
//! it, and what a store loses a share of moves with it too: an endless one says nothing about such a store. There the capacity is
//! searched for by doubling and halving, and one lasts for good whose state comes again. The least level at time zero is read off rehearsals of a store without
//! a bottom. Whatever is found is then rehearsed as it is and just under it: the one must leave nothing short, the other must
//! not.

use super::Fleet;
use super::cycle::common_period;
use super::island::Island;
use super::part::{Part, split};
use super::rates::Memory;
use super::system::{Source, System};
use crate::budget::{Budget, Halt};
use crate::course::Course;
use crate::plan::{Plan, StoreId};
use std::cell::{Cell, RefCell};

/// Halvings of a range before the value stands.
const MOST_HALVINGS: usize = 60;
/// How near the two ends of a halved range must be, as a share.
const NEAR_ENOUGH: f64 = 1e-9;
/// Events that one trial may take: a store so small that it takes more is no store.
const MOST_TRIAL_EVENTS: u64 = 100_000;
/// Events that all trials of one search may take.
const MOST_EVENTS: u64 = 300_000;
/// Raises of a level at time zero.
const MOST_RAISES: usize = 64;
/// The part of its capacity below which a watched store is not searched.
const LEAST_PART: f64 = 1e-3;
/// How far under the answer it must fail.
const JUST_UNDER: f64 = 1e-6;
/// A search for a pattern's sake may look so many times further than the plan's horizon.
const MOST_HORIZONS: f64 = 1e3;
/// Doublings of a capacity that lasts until the horizon, in search of one that lasts for good.
const MOST_DOUBLINGS: usize = 20;
/// Trials that such a search takes, about: where one takes more than its part of the events, it is not begun.
const TRIALS: u64 = 40;

/// What a search for a size found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sizing {
    /// The least that leaves nothing short, kg or J, however often the patterns repeat. Just under it, something is.
    Least(f64),
    /// The same as far as the horizon, but not for good: what comes is less than what goes, or patterns never repeat together.
    UntilHorizon(f64),
    /// No size is enough.
    NoneIsEnough,
    /// The search was given up: the events allowed were spent, or more is not always better.
    NotFound,
}

/// Searches for sizes of the stores of one plant.
pub struct Sizer {
    horizon_s: f64,
    /// The parts of the plant, each with what is remembered of its flows from one trial to the next: they are the same in all.
    parts: Vec<(Part, RefCell<Memory>)>,
}

impl Sizer {
    /// The plant of a plan with these machines.
    #[must_use]
    pub fn new(plan: &Plan, fleet: Fleet<'_>) -> Self {
        let parts = split(&System::new(plan, fleet)).into_iter();
        Self { horizon_s: plan.horizon.si(), parts: parts.map(|part| (part, RefCell::default())).collect() }
    }

    /// The least capacity of a store that leaves no demand short, if it begins full, over the horizon and over twice the common
    /// period of the patterns. `None` where no demand hangs on the store.
    ///
    /// # Errors
    /// [`Halt`] as for [`super::rehearse`].
    pub fn least_capacity(&self, store: StoreId, budget: &Budget<'_>) -> Result<Option<Sizing>, Halt> {
        self.bench(store, budget).map(|bench| bench.least_capacity()).transpose()
    }

    /// The least level at time zero that leaves no demand short over the horizon, with the capacity as it is. `None` where no
    /// demand hangs on the store.
    ///
    /// # Errors
    /// [`Halt`] as for [`super::rehearse`].
    pub fn least_level(&self, store: StoreId, budget: &Budget<'_>) -> Result<Option<Sizing>, Halt> {
        self.bench(store, budget).map(|bench| bench.least_level()).transpose()
    }

    fn bench<'b>(&'b self, store: StoreId, budget: &'b Budget<'b>) -> Option<Bench<'b>> {
        let (part, memory) = self.parts.iter().find(|(part, _)| part.tanks.contains(&store.0))?;
        let tank = part.tanks.iter().position(|&at| at == store.0)?;
        let serves = part.system.flows.iter().any(|flow| matches!(flow.what, Source::Serve(_)));
        serves.then_some(Bench { part, memory, tank, horizon_s: self.horizon_s, budget, spent: Cell::new(0) })
    }
}

/// The part of a plant around one store.
struct Bench<'b> {
    part: &'b Part,
    memory: &'b RefCell<Memory>,
    tank: usize,
    horizon_s: f64,
    budget: &'b Budget<'b>,
    /// Events of all trials so far.
    spent: Cell<u64>,
}

/// How a trial went.
struct Trial {
    short: bool,
    least: f64,
    whole: bool,
    /// Whether its state came again, or came to rest.
    settled: bool,
}

impl Bench<'_> {
    fn trial(&self, change: impl FnOnce(&mut Part), horizon_s: f64, ends_when_short: bool) -> Result<Trial, Halt> {
        let left = MOST_EVENTS.min(self.budget.steps).saturating_sub(self.spent.get());
        let mut part = self.part.clone();
        change(&mut part);
        // What a full store loses a share of changes with its size, and what flows changes with it.
        let remembers = part.system.tanks[self.tank].decays == 0.0;
        let memory = if remembers { self.memory.take() } else { Memory::default() };
        let mut island = Island::new(&part, horizon_s, memory);
        island.ends_when_short = ends_when_short;
        island.run(horizon_s, left.min(MOST_TRIAL_EVENTS), self.budget)?;
        if remembers {
            self.memory.replace(std::mem::take(&mut island.rates.memory).renewed());
        }
        self.spent.set(self.spent.get() + island.simulated);
        let whole = island.reached_s >= horizon_s || (island.rates.short && ends_when_short);
        let settled = island.settled.is_some();
        Ok(Trial { short: island.rates.short, least: island.tracks[self.tank].least.0, whole, settled })
    }

    /// The most that can leave the store until the horizon.
    fn endless(&self, horizon_s: f64) -> f64 {
        let header = self.part.system.tanks[self.tank].header;
        let on = self.part.system.flows.iter().flat_map(|flow| {
            let share =
                flow.course.map_or(1.0, |at| self.part.system.courses[at].1.shares().into_iter().fold(0.0, f64::max));
            flow.on.iter().filter(move |at| at.0 == header).map(move |&(_, rate)| (rate.abs() * flow.most, share))
        });
        let most: f64 = on.map(|(rate, share)| rate * share).filter(|rate| rate.is_finite()).sum();
        let tank = &self.part.system.tanks[self.tank];
        (most + tank.loses) * horizon_s + tank.capacity
    }

    /// The common period of the patterns, and from when on they repeat; `None` where there is none within reason.
    fn period(&self) -> Option<(f64, f64)> {
        let courses = || self.part.system.courses.iter().map(|(_, course)| course);
        let periods: Vec<f64> = courses().flat_map(Course::periods).collect();
        let from = courses().map(Course::repeats_from).fold(0.0, f64::max);
        let period = common_period(&periods)?;
        let period = if period > 0.0 { period } else { self.horizon_s };
        (from + 3.0 * period <= MOST_HORIZONS * self.horizon_s).then_some((from, period))
    }

    fn least_capacity(&self) -> Result<Sizing, Halt> {
        let period = self.period();
        if let Some((from, period)) = period.filter(|_| !self.acts_by_size()) {
            // Beginning full, the deepest fall is within two periods, unless it goes on deeper for ever.
            let far = self.horizon_s.max(from + 2.0 * period);
            let endless = self.endless(far + period);
            let (once, again) = (self.drawdown(endless, far)?, self.drawdown(endless, far + period)?);
            match (once, again) {
                (Ok(once), Ok(again)) if again <= once + NEAR_ENOUGH * endless.min(once) => {
                    return self.capacity_of(once, endless, far);
                }
                (Err(Sizing::NotFound), _) | (_, Err(Sizing::NotFound)) => return Ok(Sizing::NotFound),
                _ => {}
            }
        }
        let endless = self.endless(self.horizon_s);
        let until = match self.drawdown(endless, self.horizon_s)? {
            Err(why) => why,
            Ok(drawdown) => self.capacity_of(drawdown, endless, self.horizon_s)?,
        };
        let Sizing::Least(least) = until else { return Ok(until) };
        let lasting = match period {
            Some((from, period)) if self.acts_by_size() => self.lasting(least, from, period)?,
            _ => None,
        };
        Ok(lasting.unwrap_or(Sizing::UntilHorizon(least)))
    }

    /// Whether what flows depends on how big the store is, and not only on what is in it.
    fn acts_by_size(&self) -> bool {
        let system = &self.part.system;
        system.tanks[self.tank].decays > 0.0 || system.contacts.iter().any(|contact| contact.store == self.tank)
    }

    /// The least capacity that lasts for good, where `least` lasts until the horizon and nothing less does. `None` where none is
    /// found.
    fn lasting(&self, least: f64, from: f64, period: f64) -> Result<Option<Sizing>, Halt> {
        let far = from + MOST_HORIZONS * self.horizon_s.max(period);
        let lasts = |capacity: f64| -> Result<Option<bool>, Halt> {
            let trial = self.full(capacity, far)?;
            Ok((trial.short || trial.settled).then_some(!trial.short))
        };
        let before = self.spent.get();
        let mut low = if least > 0.0 { least } else { self.part.system.tanks[self.tank].capacity * LEAST_PART };
        match lasts(low)? {
            None => return Ok(None),
            Some(true) if least == 0.0 => {
                // None is enough until the horizon; for good, hardly any is, or something between.
                let hardly_any = low * LEAST_PART;
                let found = match lasts(hardly_any)? {
                    Some(true) => Sizing::Least(0.0),
                    _ => halve(hardly_any, low, lasts)?,
                };
                return Ok((found != Sizing::NotFound).then_some(found));
            }
            Some(true) => return Ok(Some(Sizing::Least(least))),
            Some(false) => {}
        }
        for _ in 0..MOST_DOUBLINGS {
            if (self.spent.get() - before) * TRIALS > MOST_EVENTS {
                return Ok(None);
            }
            match lasts(2.0 * low)? {
                None => return Ok(None),
                Some(true) => {
                    let found = halve(low, 2.0 * low, lasts)?;
                    return Ok((found != Sizing::NotFound).then_some(found));
                }
                Some(false) => low *= 2.0,
            }
        }
        Ok(None)
    }

    /// The trial of a capacity, beginning full.
    fn full(&self, capacity: f64, horizon_s: f64) -> Result<Trial, Halt> {
        self.trial(|part| refill(part, self.tank, capacity), horizon_s, true)
    }

    /// The deepest fall of a store that is as good as endless.
    fn drawdown(&self, endless: f64, horizon_s: f64) -> Result<Result<f64, Sizing>, Halt> {
        let trial = self.full(endless, horizon_s)?;
        Ok(match trial {
            Trial { whole: false, .. } => Err(Sizing::NotFound),
            Trial { short: true, .. } => Err(Sizing::NoneIsEnough),
            Trial { least, .. } => Ok(endless - least),
        })
    }

    /// The least capacity, which should be `drawdown`; searched for where switches make it otherwise.
    fn capacity_of(&self, drawdown: f64, endless: f64, horizon_s: f64) -> Result<Sizing, Halt> {
        let holds = |capacity: f64| -> Result<Option<bool>, Halt> {
            let trial = self.full(capacity, horizon_s)?;
            Ok(trial.whole.then_some(!trial.short))
        };
        match verified(drawdown, endless, holds)? {
            Some(found) => Ok(found),
            // A store that may be this small is not what holds the plant back.
            None => halve(self.part.system.tanks[self.tank].capacity * LEAST_PART, endless, holds),
        }
    }

    fn least_level(&self) -> Result<Sizing, Halt> {
        let capacity = self.part.system.tanks[self.tank].capacity;
        let with = |level: f64| move |part: &mut Part| part.system.tanks[self.tank].level = level;
        let holds = |level: f64| -> Result<Option<bool>, Halt> {
            let trial = self.trial(with(level), self.horizon_s, true)?;
            Ok(trial.whole.then_some(!trial.short))
        };
        match holds(capacity)? {
            None => return Ok(Sizing::NotFound),
            Some(false) => return Ok(Sizing::NoneIsEnough),
            Some(true) => {}
        }
        if self.part.system.tanks[self.tank].decays > 0.0 {
            return halve(0.0, capacity, holds);
        }
        let bottom = self.endless(self.horizon_s);
        let mut level = 0.0;
        for _ in 0..MOST_RAISES {
            let trial = self.trial(|part| sink(part, self.tank, bottom, level), self.horizon_s, false)?;
            if !trial.whole {
                return Ok(Sizing::NotFound);
            }
            let missing = bottom - trial.least;
            if missing <= 1e-12 * bottom {
                break;
            }
            level = (level + missing).min(capacity);
        }
        match verified(level, capacity, holds)? {
            Some(found) => Ok(found),
            None => halve(0.0, capacity, holds),
        }
    }
}

/// The value, where it holds and what is just under it does not.
fn verified(value: f64, most: f64, holds: impl Fn(f64) -> Result<Option<bool>, Halt>) -> Result<Option<Sizing>, Halt> {
    if value <= 1e-13 * most {
        return Ok(Some(Sizing::Least(0.0)));
    }
    // As it is, or with what rounding in the search took from it.
    let is_exact = holds(value)? == Some(true);
    let value = if is_exact { value } else { value * (1.0 + 1e-12) };
    let is_enough = is_exact || holds(value)? == Some(true);
    let is_least = holds(value * (1.0 - JUST_UNDER))? == Some(false);
    Ok((is_enough && is_least).then_some(Sizing::Least(value)))
}

/// Halves the range between `low`, which should not hold, and `high`, which does.
fn halve(mut low: f64, mut high: f64, holds: impl Fn(f64) -> Result<Option<bool>, Halt>) -> Result<Sizing, Halt> {
    if low > 0.0 && holds(low)? != Some(false) {
        return Ok(Sizing::NotFound);
    }
    for _ in 0..MOST_HALVINGS {
        if high - low <= NEAR_ENOUGH * high {
            break;
        }
        let middle = low + (high - low) / 2.0;
        match holds(middle)? {
            None => return Ok(Sizing::NotFound),
            Some(true) => high = middle,
            Some(false) => low = middle,
        }
    }
    // More may not always be better where switches act: only what fails just under it is the least.
    Ok(match holds(high * (1.0 - JUST_UNDER))? {
        Some(false) => Sizing::Least(high),
        _ => Sizing::NotFound,
    })
}

/// Gives a store another capacity, and fills it; the levels at which its switches act stay the same shares of it.
fn refill(part: &mut Part, tank: usize, capacity: f64) {
    let entry = &mut part.system.tanks[tank];
    let factor = capacity / entry.capacity;
    entry.capacity = capacity;
    entry.level = capacity;
    entry.limits = [None; 4];
    for contact in part.system.contacts.iter_mut().filter(|contact| contact.store == tank) {
        contact.start_at *= factor;
        contact.stop_at *= factor;
    }
}

/// Lowers the bottom of a store so far that it cannot run dry, and sets its level as measured from the old bottom.
fn sink(part: &mut Part, tank: usize, by: f64, level: f64) {
    let entry = &mut part.system.tanks[tank];
    entry.capacity += by;
    entry.level = by + level;
    entry.limits = [None; 4];
    for contact in part.system.contacts.iter_mut().filter(|contact| contact.store == tank) {
        contact.start_at += by;
        contact.stop_at += by;
    }
}

#[cfg(test)]
mod tests;
