//! The loop that drives a block of zones by itself: patterns, switches, and what zones do of themselves.

use smallvec::SmallVec;

use super::accounts::Accounts;
use super::block::{Attention, HeatBlock, HeatEvent, Phase};
use super::mark::{HeatMark, has_settled};
use super::network::Network;
use super::trace::Curve;
use crate::budget::{Budget, Halt};
use crate::course::Course;
use crate::plan::Pattern;

/// A flow that comes and goes by a pattern.
#[derive(Clone, Copy, Debug)]
pub struct Pulsed<'p> {
    /// Index of the flow.
    pub flow: usize,
    /// How much of it runs at a share of one.
    pub running: f64,
    /// When.
    pub pattern: &'p Pattern,
}

/// Something that happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happening {
    /// In the zones.
    Heat(HeatEvent),
    /// A pattern took its next step.
    Pattern(usize),
}

/// A cycle that repeats for good.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatCycle {
    /// From when on it was seen to repeat.
    pub from_s: f64,
    /// How long it takes.
    pub period_s: f64,
    /// How many whole cycles were counted instead of gone through.
    pub counted: u64,
    /// Temperatures at its beginning.
    pub begins_c: Vec<f64>,
    /// Least and greatest temperature of each zone in one cycle.
    pub span_c: Vec<(f64, f64)>,
}

/// What happened over the horizon.
#[derive(Clone, Debug)]
pub struct HeatRehearsal {
    /// How long it was reckoned.
    pub horizon_s: f64,
    /// Temperatures at the end.
    pub end_c: Vec<f64>,
    /// Phases at the end.
    pub phases: Vec<Phase>,
    /// What flowed.
    pub accounts: Accounts,
    /// The first happenings in order of time, those of counted cycles too, at most [`MOST_EVENTS`].
    pub events: Vec<(f64, Happening)>,
    /// How many were gone through.
    pub simulated: u64,
    /// The cycle it settles in, if it was seen to.
    pub settled: Option<HeatCycle>,
    /// Temperatures of each zone over time; empty where they were not followed.
    pub curves: Vec<Curve>,
}

/// The most happenings kept.
pub const MOST_EVENTS: usize = 10_000;
/// Nearer than this share of the clock is one moment.
const SAME: f64 = 1e-9;
/// So many events at one moment are chatter that rounding makes; the clock is then moved on by the least that counts.
const MOST_AT_ONCE: u32 = 1_000;

/// Runs the zones over the horizon.
///
/// # Errors
/// [`Halt`] when the budget is spent, the hook says stop, or a temperature leaves the range of numbers.
pub fn rehearse(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    horizon_s: f64,
    budget: &Budget<'_>,
) -> Result<HeatRehearsal, Halt> {
    through(HeatBlock::new(network), pulsed, horizon_s, To::Horizon, budget)
}

/// As [`rehearse`], without temperatures over time.
///
/// # Errors
/// As [`rehearse`].
pub fn rehearse_untraced(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    horizon_s: f64,
    budget: &Budget<'_>,
) -> Result<HeatRehearsal, Halt> {
    through(HeatBlock::new(network).untraced(), pulsed, horizon_s, To::Horizon, budget)
}

/// Runs the zones until something passes a limit above: when is in the accounts, in which nothing else is kept but extremes.
///
/// # Errors
/// As [`rehearse`].
pub fn rehearse_to_limit(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    horizon_s: f64,
    budget: &Budget<'_>,
) -> Result<HeatRehearsal, Halt> {
    through(HeatBlock::new(network).attending(Attention::Extremes), pulsed, horizon_s, To::Limit, budget)
}

/// Goes through one period with a block.
///
/// # Errors
/// As [`rehearse`].
pub(super) fn run_period(
    block: &mut HeatBlock<'_>,
    pulsed: &[Pulsed<'_>],
    period_s: f64,
    budget: &Budget<'_>,
) -> Result<(), Halt> {
    run(block, pulsed, period_s, To::EndOfPeriod, budget).map(drop)
}

/// How far it goes, and what is kept on the way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum To {
    /// Cycles that have settled are counted.
    Horizon,
    /// The same, as far as something passes a limit above.
    Limit,
    /// Nothing settles, and what happens is not kept.
    EndOfPeriod,
}

/// What has happened on the way.
struct Happened {
    events: Vec<(f64, Happening)>,
    simulated: u64,
    settled: Option<HeatCycle>,
}

fn run(
    block: &mut HeatBlock<'_>,
    pulsed: &[Pulsed<'_>],
    horizon_s: f64,
    to: To,
    budget: &Budget<'_>,
) -> Result<Happened, Halt> {
    let courses: Courses = pulsed.iter().map(|pulsed| Course::new(pulsed.pattern)).collect();
    let mut drive = Drive {
        block,
        cycle: if to == To::EndOfPeriod { None } else { Cycle::of(&courses) },
        courses,
        pulsed,
        events: Vec::new(),
        simulated: 0,
        settled: None,
        to,
    };
    drive.set_patterns();
    drive.run(horizon_s, budget)?;
    if drive.block.temperatures().iter().any(|t| !t.is_finite() || t.abs() > 1e15) {
        return Err(Halt::BeyondRange { limit: 1e15 });
    }
    let Drive { events, simulated, settled, .. } = drive;
    Ok(Happened { events, simulated, settled })
}

fn through(
    mut block: HeatBlock<'_>,
    pulsed: &[Pulsed<'_>],
    horizon_s: f64,
    to: To,
    budget: &Budget<'_>,
) -> Result<HeatRehearsal, Halt> {
    let Happened { events, simulated, settled } = run(&mut block, pulsed, horizon_s, to, budget)?;
    Ok(HeatRehearsal {
        horizon_s,
        end_c: block.temperatures().to_vec(),
        phases: block.phases().to_vec(),
        curves: block.take_curves(),
        accounts: block.accounts,
        events,
        simulated,
        settled,
    })
}

/// Events between two looks at the budget's hook: finding what zones meet next may take a fifth of a millisecond.
const BETWEEN_LOOKS: u64 = 4;

/// What all flows that come and go do; most plants have few.
type Courses = SmallVec<[Course; 2]>;

struct Drive<'b, 'n, 'p> {
    block: &'b mut HeatBlock<'n>,
    courses: Courses,
    pulsed: &'p [Pulsed<'p>],
    events: Vec<(f64, Happening)>,
    simulated: u64,
    cycle: Option<Cycle>,
    settled: Option<HeatCycle>,
    to: To,
}

/// The cycle that all patterns share.
struct Cycle {
    period_s: f64,
    next_s: f64,
    last: Option<(f64, HeatMark)>,
    last_drift: Option<f64>,
}

impl Cycle {
    fn of(courses: &[Course]) -> Option<Self> {
        let mut cycles: SmallVec<[f64; 4]> = SmallVec::new();
        let mut from: f64 = 0.0;
        for course in courses {
            cycles.extend(course.periods());
            from = from.max(course.repeats_from());
        }
        let longest = cycles.iter().copied().fold(0.0, f64::max);
        let together = cycles.iter().all(|cycle| {
            let times = longest / cycle;
            (times - times.round()).abs() <= 1e-12 * times
        });
        (longest > 0.0 && together).then_some(Self { period_s: longest, next_s: from, last: None, last_drift: None })
    }
}

impl Drive<'_, '_, '_> {
    fn note(&mut self, happening: Happening) {
        if self.events.len() < MOST_EVENTS && self.to != To::EndOfPeriod {
            self.events.push((self.block.now(), happening));
        }
    }

    fn happen(&mut self, event: HeatEvent) {
        self.block.happen(event);
        if event != HeatEvent::Pause {
            self.note(Happening::Heat(event));
        }
    }

    fn is_past_a_limit(&self) -> bool {
        if self.to != To::Limit {
            return false;
        }
        let mut passed = self.block.network().zones.iter().zip(&self.block.accounts.passed);
        passed
            .any(|(zone, passed)| zone.limits.iter().zip(passed).any(|(limit, passed)| limit.above && passed.is_some()))
    }

    fn set_patterns(&mut self) {
        for (pulsed, course) in self.pulsed.iter().zip(&self.courses) {
            self.block.run(pulsed.flow, pulsed.running * course.share());
        }
    }

    fn run(&mut self, horizon: f64, budget: &Budget<'_>) -> Result<(), Halt> {
        let mut at_once = 0;
        loop {
            self.simulated += 1;
            budget.check(self.simulated)?;
            if self.simulated.is_multiple_of(BETWEEN_LOOKS) && budget.is_stopped() {
                return Err(Halt::Stopped);
            }
            if self.is_past_a_limit() {
                return Ok(());
            }
            while let Some(due) = self.block.due() {
                self.happen(due);
            }
            let now = self.block.now();
            let edge = self.courses.iter().map(Course::next).fold(f64::INFINITY, f64::min);
            let mark = self.cycle.as_ref().map_or(f64::INFINITY, |cycle| cycle.next_s);
            let bound = edge.min(mark).min(horizon);
            let (span, slack) = (bound - now, SAME * bound);
            let next = self.block.next(span + slack);
            match next {
                Some((after, event)) if after < span - slack => {
                    at_once = if after > 0.0 { 0 } else { at_once + 1 };
                    if at_once > MOST_AT_ONCE {
                        self.block.advance(slack.min(span));
                        at_once = 0;
                        continue;
                    }
                    self.block.advance(after);
                    self.happen(event);
                }
                next => {
                    self.block.advance(span);
                    self.block.set_now(bound);
                    if bound >= horizon {
                        return Ok(());
                    }
                    if bound >= edge {
                        for at in 0..self.courses.len() {
                            if self.courses[at].next() <= bound {
                                self.courses[at].pass_until(bound);
                                self.note(Happening::Pattern(at));
                            }
                        }
                        self.set_patterns();
                    }
                    // What would have happened at this very moment happens besides: touching is enough.
                    if let Some((_, event @ HeatEvent::Thermostat { .. })) = next {
                        self.happen(event);
                    }
                    if bound >= mark {
                        self.mark(horizon);
                    }
                }
            }
        }
    }

    /// A cycle ends: compares it with the last, and counts the rest where it has settled.
    fn mark(&mut self, horizon: f64) {
        let Some(mut cycle) = self.cycle.take() else { return };
        let now = self.block.now();
        if let Some((from_s, last)) = cycle.last.take()
            && let Some(drift) = self.block.drift(&last)
        {
            if has_settled(cycle.last_drift, drift) {
                let whole = ((horizon - now) / cycle.period_s).floor().max(0.0);
                self.block.accounts.repeat(&last.accounts, whole);
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of cycles")]
                let counted = whole as u64;
                let (begins_c, span_c) = (self.block.temperatures().to_vec(), self.block.span_c());
                self.settled = Some(HeatCycle { from_s, period_s: cycle.period_s, counted, begins_c, span_c });
                let from = self.events.partition_point(|(at, _)| *at < from_s);
                let once: Vec<(f64, Happening)> = self.events[from..].to_vec();
                for k in 1..=counted {
                    if self.events.len() >= MOST_EVENTS || once.is_empty() {
                        break;
                    }
                    let shift = cycle.period_s * k as f64;
                    let room = MOST_EVENTS - self.events.len();
                    self.events.extend(once.iter().take(room).map(|(at, what)| (at + shift, *what)));
                }
                let then = now + whole * cycle.period_s;
                self.block.skip(from_s, then);
                self.courses.iter_mut().for_each(|course| course.skip(then - now));
                self.set_patterns();
                return;
            }
            cycle.last_drift = Some(drift);
        }
        cycle.last = Some((now, self.block.mark()));
        cycle.next_s = now + cycle.period_s;
        self.cycle = Some(cycle);
    }
}
