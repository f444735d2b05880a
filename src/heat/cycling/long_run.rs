//! What one part of a network does: it goes on from what the plan begins with until it rests, or until its switches act as they did
//! before; from there Newton's method finds the cycle.

use nalgebra::{DMatrix, DVector};

use crate::budget::{Budget, Halt};
use crate::heat::accounts::Accounts;
use crate::heat::block::{Attention, HeatBlock, HeatEvent, Mode, Phase};
use crate::heat::network::Network;
use crate::heat::periodic::{FOUND_K, MOVED_K};
use crate::heat::steady::LONG_S;

/// Acts of switches before a cycle is looked for, by when what a plan begins with has mostly died away.
const FIRST_ACTS: u64 = 8;
/// Events after which a part counts as settling in no cycle.
const MOST_EVENTS: u64 = 2_000;
/// Tries of Newton's method, and rounds of each.
const TRIES: u32 = 6;
const ROUNDS: u32 = 12;
/// The most acts of switches in one cycle.
const MOST_ACTS: u64 = 64;
/// So many events at one moment are chatter.
const MOST_AT_ONCE: u32 = 100;

/// What one part does.
pub(super) enum LongRun {
    /// It comes to rest.
    Rests { at_c: Vec<f64>, running: Vec<f64>, on: Vec<bool> },
    /// It is in a cycle.
    Cycles(Box<Round>),
    /// Neither within reach.
    Unsettled,
}

/// What flows in one cycle.
pub(super) struct Round {
    pub accounts: Accounts,
    pub period_s: f64,
}

/// The state of a part at an act of a switch.
#[derive(Clone)]
struct Act {
    at_c: DVector<f64>,
    on: Vec<bool>,
    mode: Mode,
    phases: Vec<Phase>,
}

/// Finds out.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub(super) fn long_run(network: &Network, budget: &Budget<'_>) -> Result<LongRun, Halt> {
    let mut block = HeatBlock::new(network).attending(Attention::End);
    let mut way = Way { block: &mut block, acts: 0, events: 0, at_once: 0, budget };
    let (mut seen, mut tries): (Option<(u64, Act)>, u32) = (None, 0);
    let mut renew_at = FIRST_ACTS;
    while way.events < MOST_EVENTS {
        match way.until_next_act()? {
            Went::Acted => {}
            Went::Rested => {
                way.block.advance(LONG_S);
                let (at_c, on) = (way.block.temperatures().to_vec(), way.block.switches().to_vec());
                return Ok(LongRun::Rests { at_c, running: way.block.rates(), on });
            }
            Went::Lost => return Ok(LongRun::Unsettled),
        }
        let same = seen.as_ref().is_some_and(|(_, then)| is_same_mode(then, way.block));
        if let Some((then, _)) = seen.as_ref().filter(|_| same && tries < TRIES) {
            let (acts, now) = (way.acts - then, state(way.block));
            seen = None;
            tries += 1;
            if acts <= MOST_ACTS
                && let Some(round) = newton(network, &now, acts, budget)?
            {
                return Ok(LongRun::Cycles(Box::new(round)));
            }
        }
        // What is compared with is renewed at doubling distances, which finds a cycle of any length.
        if way.acts >= renew_at {
            seen = Some((way.acts, state(way.block)));
            renew_at = 2 * way.acts;
        }
    }
    Ok(LongRun::Unsettled)
}

fn state(block: &HeatBlock<'_>) -> Act {
    Act {
        at_c: DVector::from_column_slice(block.temperatures()),
        on: block.switches().to_vec(),
        mode: block.mode(),
        phases: block.phases().to_vec(),
    }
}

/// Whether all stands as it stood but temperatures. Amid a change of phase nothing does.
fn is_same_mode(then: &Act, block: &HeatBlock<'_>) -> bool {
    let settled = |phases: &[Phase]| phases.iter().all(|phase| matches!(phase, Phase::Settled(_)));
    then.mode == block.mode() && settled(&then.phases) && settled(block.phases())
}

/// The cycle of so many acts that is near a state.
fn newton(network: &Network, from: &Act, acts: u64, budget: &Budget<'_>) -> Result<Option<Round>, Halt> {
    let mut network = network.clone();
    network.thermostats.iter_mut().zip(&from.on).for_each(|(thermostat, on)| thermostat.on = *on);
    let found = {
        let mut block = HeatBlock::new(&network).attending(Attention::End);
        fixed_point(&mut block, from, acts, budget)?
    };
    let Some(begin) = found else { return Ok(None) };
    network.zones.iter_mut().zip(begin.iter()).for_each(|(zone, t)| zone.start_c = *t);
    let mut block = HeatBlock::new(&network).untraced();
    let came = round(&mut block, from, acts, budget)?.is_some();
    Ok(came.then(|| Round { period_s: block.now(), accounts: block.accounts }))
}

/// Where a cycle of so many acts begins.
fn fixed_point(
    block: &mut HeatBlock<'_>,
    from: &Act,
    acts: u64,
    budget: &Budget<'_>,
) -> Result<Option<DVector<f64>>, Halt> {
    let mut begin = from.at_c.clone();
    let mut trial = |begin: &DVector<f64>| {
        block.again(begin.as_slice());
        round(block, from, acts, budget)
    };
    for _ in 0..ROUNDS {
        let Some(end) = trial(&begin)? else { return Ok(None) };
        let drift = &end - &begin;
        if drift.amax() <= FOUND_K {
            return Ok(Some(begin));
        }
        let mut response = DMatrix::identity(begin.len(), begin.len());
        for zone in 0..begin.len() {
            let mut moved = begin.clone();
            moved[zone] += MOVED_K;
            let Some(after) = trial(&moved)? else { return Ok(None) };
            response.column_mut(zone).axpy(-1.0 / MOVED_K, &(after - &end), 1.0);
        }
        let Some(step) = response.try_inverse() else { return Ok(None) };
        begin += step * drift;
        if begin.iter().any(|t| !t.is_finite() || t.abs() > 1e6) {
            return Ok(None);
        }
    }
    Ok(None)
}

/// Temperatures after so many acts, where all else stands as it stood then.
fn round(block: &mut HeatBlock<'_>, from: &Act, acts: u64, budget: &Budget<'_>) -> Result<Option<DVector<f64>>, Halt> {
    let mut way = Way { block, acts: 0, events: 0, at_once: 0, budget };
    while way.acts < acts {
        if way.events > MOST_EVENTS || !matches!(way.until_next_act()?, Went::Acted) {
            return Ok(None);
        }
    }
    let end = DVector::from_column_slice(way.block.temperatures());
    Ok(is_same_mode(from, way.block).then_some(end))
}

pub(super) enum Went {
    /// A switch has acted.
    Acted,
    /// Nothing will happen any more.
    Rested,
    /// Temperatures have left the range of numbers, or what happens at one moment has no end.
    Lost,
}

/// The way from one act of a switch to the next.
pub(super) struct Way<'b, 'n, 'h> {
    pub block: &'b mut HeatBlock<'n>,
    pub acts: u64,
    pub events: u64,
    pub at_once: u32,
    pub budget: &'b Budget<'h>,
}

impl Way<'_, '_, '_> {
    /// Goes on until a switch acts.
    pub fn until_next_act(&mut self) -> Result<Went, Halt> {
        loop {
            self.events += 1;
            self.budget.check(self.events)?;
            if let Some(due) = self.block.due() {
                self.at_once += 1;
                if self.at_once > MOST_AT_ONCE {
                    return Ok(Went::Lost);
                }
                self.block.happen(due);
                self.acts += 1;
                return Ok(Went::Acted);
            }
            let Some((after, event)) = self.block.next(LONG_S) else { return Ok(Went::Rested) };
            self.at_once = if after > 0.0 { 0 } else { self.at_once + 1 };
            if self.at_once > MOST_AT_ONCE || self.events > 4 * MOST_EVENTS {
                return Ok(Went::Lost);
            }
            self.block.advance(after);
            if self.block.temperatures().iter().any(|t| !t.is_finite() || t.abs() > 1e15) {
                return Ok(Went::Lost);
            }
            self.block.happen(event);
            if let HeatEvent::Thermostat { .. } = event {
                self.acts += 1;
                return Ok(Went::Acted);
            }
        }
    }
}
