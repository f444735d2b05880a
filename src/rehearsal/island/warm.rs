//! Temperatures of an island, on the island's clock: what zones do of themselves, what runs in them, and the power that
//! follows from how warm they are.

use super::{Island, ONE_MOMENT, SEARCH};
use crate::budget::{Budget, Halt};
use crate::heat::{HeatBlock, HeatEvent, Leaves};
use crate::plan::ThermostatId;
use crate::rehearsal::result::What;
use crate::rehearsal::warm::{LEAVES, STEPS, Warm};

/// Rounds in which what flows and what temperatures ask for come to agree at one moment; two are enough where nothing is short.
const MOST_ROUNDS: usize = 16;
/// So many looks at one moment are hunting: where power is short, a cooler that comes to its set point can give others their
/// power back, which warms its zone again, without end. Zones and dials are then left alone for a while.
const MOST_AT_ONCE: u32 = 50;
/// The same once they have been seen to hunt.
const FEW_AT_ONCE: u32 = 4;
/// That while, as a part of the horizon: what a zone drifts off its set point meanwhile is what any real switch would let it.
const RESTS: f64 = 2e-4;

/// Zones on the island's clock.
pub struct Heat<'s> {
    warm: &'s Warm,
    /// Their temperatures.
    pub block: HeatBlock<'s>,
    /// What they will meet next.
    event: Option<HeatEvent>,
    /// By dial, the way it will leave its mark.
    ways: Vec<Option<Leaves>>,
    /// When it was last looked at, and how often at that moment.
    last_s: f64,
    at_once: u32,
    /// Until when it is left alone.
    rests_until_s: f64,
    /// How often it was left alone.
    pub hunts: u64,
    horizon_s: f64,
}

impl<'s> Heat<'s> {
    /// Zones at time zero.
    #[must_use]
    pub fn new(warm: &'s Warm, horizon_s: f64) -> Self {
        let block = HeatBlock::new(&warm.network);
        Self {
            warm,
            block: if warm.curves { block } else { block.untraced() },
            event: None,
            ways: vec![None; warm.dials.len()],
            last_s: 0.0,
            at_once: 0,
            rests_until_s: 0.0,
            hunts: 0,
            horizon_s,
        }
    }

    /// Goes on to a moment that is no later than the next event, or later by no more than rounding.
    pub fn go_to(&mut self, now: f64) {
        let span = now - self.block.now();
        if span > 0.0 {
            self.block.advance(span);
            self.block.set_now(now);
        }
    }
}

impl Island<'_> {
    /// The slot of the next event of heat; behind it stand those of the dials.
    pub(super) fn heat_slot(&self) -> usize {
        self.checkpoint_slot() + 1
    }

    /// The clock of the zones comes to now, and what was to happen there happens, where it is due.
    pub(super) fn meet(&mut self, now: f64, is_due: bool) {
        let Some(heat) = &mut self.heat else { return };
        heat.go_to(now);
        if is_due && let Some(event) = heat.event.take() {
            self.simulated += 1;
            self.pass(event, now);
        }
    }

    fn pass(&mut self, event: HeatEvent, now: f64) {
        let Some(heat) = &mut self.heat else { return };
        heat.block.happen(event);
        if let HeatEvent::Thermostat { index, starts } = event {
            self.rates.set_thermostat(index, starts);
            let thermostat = ThermostatId(index);
            self.log(now, if starts { What::CutIn(thermostat) } else { What::CutOut(thermostat) });
        }
    }

    /// Lets zones and flows come to agree: machines run as they are fed, thermostats turn what they gate, and dials follow. Where
    /// only dials have `stepped`, and what flows needs nothing else of the zones, they stay as they are.
    pub(super) fn agree(
        &mut self,
        now: f64,
        mut is_due: bool,
        stepped: &[usize],
        budget: &Budget<'_>,
    ) -> Result<(), Halt> {
        for _ in 0..MOST_ROUNDS {
            is_due |= self.drive(now);
            if !is_due {
                for &dial in stepped {
                    self.schedule_dial(dial, now);
                }
                return Ok(());
            }
            let mut turned = false;
            while let Some(event) = self.heat.as_ref().and_then(|heat| heat.block.due()) {
                self.pass(event, now);
                turned = true;
            }
            turned |= self.follow(now);
            if !turned {
                break;
            }
            self.set_off(now, budget)?;
        }
        // Where they do not come to agree, heat still goes by what flows.
        self.drive(now);
        self.schedule(now);
        Ok(())
    }

    /// Sets how much of each flow of heat runs; true where that is something else than before.
    fn drive(&mut self, now: f64) -> bool {
        let Some(heat) = &mut self.heat else { return false };
        let (warm, mut changed) = (heat.warm, false);
        let mut run = |flow: usize, running: f64| {
            if heat.block.running(flow) != running {
                heat.go_to(now);
                heat.block.run(flow, running);
                changed = true;
            }
        };
        for (flow, heats) in &warm.machines {
            let amount = self.rates.amount(*flow).0;
            for &heat in heats {
                run(heat, amount);
            }
        }
        for driven in &warm.driven {
            let mut running = if driven.gates.iter().all(|&gate| self.rates.state.is_on(gate)) {
                driven.count * driven.course.map_or(1.0, |course| self.courses[course].share())
            } else {
                0.0
            };
            if let Some(flow) = driven.powered_by {
                let (amount, asked) = self.rates.amount(flow);
                if amount < asked * (1.0 - ONE_MOMENT) {
                    running = running.min(amount);
                }
            }
            run(driven.heat, running);
        }
        changed
    }

    /// Sets dials to the marks nearest to what they read; true where one moves.
    fn follow(&mut self, now: f64) -> bool {
        let Some(heat) = self.heat.as_mut().filter(|heat| now >= heat.rests_until_s) else { return false };
        let mut moved = false;
        for (at, dial) in heat.warm.dials.iter().enumerate() {
            let driven = &heat.warm.driven[dial.driven];
            let open = driven.gates.iter().all(|&gate| self.rates.state.is_on(gate));
            let reading = heat.block.reading(driven.heat, driven.count, open);
            let read = heat.block.read(&reading) * STEPS as f64;
            let mark = self.rates.state.mark(at);
            // Within its band the mark stays, so that what comes back exactly does so with the same mark.
            if (read - mark as f64).abs() >= LEAVES * (1.0 - 1e-9) {
                self.rates.set_mark(at, read.round() as usize);
                moved = true;
            }
        }
        moved
    }

    /// Finds when zones meet something next, and when a dial leaves its mark.
    pub(super) fn schedule(&mut self, now: f64) {
        let slot = self.heat_slot();
        let Some(heat) = &mut self.heat else { return };
        self.effort += SEARCH;
        let span = heat.horizon_s - now;
        let next = heat.block.next(span);
        heat.event = next.map(|(_, event)| event);
        heat.at_once = if heat.last_s == now { heat.at_once + 1 } else { 0 };
        heat.last_s = now;
        let mut due_s = next.map_or(f64::INFINITY, |(after, _)| now + after);
        if heat.at_once > if heat.hunts == 0 { MOST_AT_ONCE } else { FEW_AT_ONCE } {
            heat.at_once = 0;
            heat.rests_until_s = now + RESTS * heat.horizon_s;
            heat.hunts += 1;
        }
        due_s = due_s.max(heat.rests_until_s);
        self.queue.set(slot, due_s);
        for at in 0..heat.warm.dials.len() {
            self.schedule_dial(at, now);
        }
    }

    /// Finds when a dial leaves its mark, which it does before zones meet anything or not at all.
    fn schedule_dial(&mut self, at: usize, now: f64) {
        let slot = self.heat_slot();
        let until = self.queue.time(slot);
        let Some(heat) = &mut self.heat else { return };
        let driven = &heat.warm.driven[heat.warm.dials[at].driven];
        let open = driven.gates.iter().all(|&gate| self.rates.state.is_on(gate));
        let reading = heat.block.reading(driven.heat, driven.count, open);
        let mark = self.rates.state.mark(at) as f64;
        let band = [(mark - LEAVES) / STEPS as f64, (mark + LEAVES) / STEPS as f64];
        let begun = heat.block.now();
        let left = heat.block.leaves(&reading, band, now - begun, until.min(heat.horizon_s) - begun);
        heat.ways[at] = left.and_then(|(_, way)| way);
        self.queue.set(slot + 1 + at, left.map_or(f64::INFINITY, |(after, _)| (begun + after).max(heat.rests_until_s)));
    }

    /// Takes dials that are due to the next mark. Where nothing hunts that is all there is to it: zones need not be looked at.
    /// False where they do.
    pub(super) fn step_dials(&mut self, due: &[usize]) -> bool {
        let Some(heat) = self.heat.as_ref().filter(|heat| heat.hunts == 0) else { return false };
        for &at in due {
            let mark = self.rates.state.mark(at);
            match heat.ways[at] {
                Some(Leaves::Up) if mark < STEPS => self.rates.set_mark(at, mark + 1),
                Some(Leaves::Down) if mark > 0 => self.rates.set_mark(at, mark - 1),
                _ => {}
            }
        }
        self.simulated += 1;
        true
    }
}
