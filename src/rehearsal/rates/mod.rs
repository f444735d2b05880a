//! What flows now. Rates change only where the state does: a switch, a pattern, a store at a bound. The blocks there, joined
//! where stores at a bound join them, are balanced ([`super::cell`]); each such balance is remembered by the bits of the state
//! it depends on, so it is asked once and not at every event.

mod balance;
mod memory;
mod net;
mod spread;

use super::blocks::Blocks;
use super::cell::Storage;
use super::state::{Stand, State};
use super::system::System;
use crate::budget::{Budget, Halt};
pub use memory::Memory;
use spread::full_loss;

/// What rounding leaves of a cancellation, as a share of its terms.
const CANCELLED: f64 = 8.0 * f64::EPSILON;
/// How near a balance comes to closing, as a share of its terms.
const BALANCED: f64 = 1e-12;
/// Shares of what was asked for nearer to one than this are not short.
const SERVED: f64 = 1e-9;

/// What overflows on a header whose stores are full.
#[derive(Clone, Copy, Debug, Default)]
pub struct Overflow {
    rate: f64,
    since_s: f64,
    /// How much so far.
    pub total: f64,
}

/// What flows, and what has.
pub struct Rates<'s> {
    system: &'s System,
    blocks: Blocks,
    /// The state.
    pub state: State,
    /// All balances met.
    pub memory: Memory,
    /// By block, the bits that its flows depend on, those of stores apart.
    depends: Vec<Box<[u64]>>,
    /// By block, the balance in force.
    active: Vec<u32>,
    /// By header that cuts, whether its stores make up any difference.
    free: Vec<bool>,
    /// By header that cuts, what overflows.
    pub overflow: Vec<Overflow>,
    /// By flow, whether it is cut and whether it runs.
    marks: Vec<(bool, bool)>,
    /// By flow, how often it began to be cut.
    pub cuts: Vec<u64>,
    /// By flow, how often it began to run.
    pub starts: Vec<u64>,
    /// Into each store, less what is taken out; standing loss apart.
    pub net: Vec<f64>,
    /// Blocks to be balanced anew, and those listed.
    dirty: Vec<u32>,
    listed: Vec<bool>,
    /// Headers whose net is to be summed anew, and those listed.
    unsummed: Vec<u32>,
    unsummed_listed: Vec<bool>,
    /// Scratch: the blocks of a cell, and which are in one already.
    cell: Vec<u32>,
    placed: Vec<u64>,
    round: u64,
    name: Vec<u64>,
    upper: Vec<f64>,
    whole: Vec<f64>,
    asks: Vec<f64>,
    storage: Vec<Storage>,
    /// Whether a demand was cut for longer than a moment.
    pub short: bool,
    /// Balances solved.
    pub solved: u64,
    steps: u64,
}

/// No balance in force.
const NONE: u32 = u32::MAX;

impl<'s> Rates<'s> {
    /// Nothing flows yet: everything waits to be balanced. What is remembered must be of a system whose flows are the same and
    /// whose stores lose the same when they are full.
    #[must_use]
    pub fn new(system: &'s System, memory: Memory) -> Self {
        let state = State::new(system);
        let blocks = Blocks::new(system);
        let depends = blocks.members.iter().map(|members| {
            let mut mask = vec![0; state.bits.len()];
            for &at in members {
                let flow = &system.flows[at];
                flow.gates.iter().for_each(|&gate| state.contacts[gate].cover(&mut mask));
                flow.course.iter().for_each(|&course| state.courses[course].cover(&mut mask));
                flow.thermostats.iter().for_each(|&gate| state.thermostats[gate].cover(&mut mask));
                flow.dial.iter().for_each(|&dial| state.dials[dial].cover(&mut mask));
                for &(header, _) in flow.on.iter().filter(|on| !blocks.is_cut[on.0]) {
                    system.mains[header].stores.iter().for_each(|&tank| state.tanks[tank].cover(&mut mask));
                }
            }
            mask.into_boxed_slice()
        });
        let (count, flows, headers) = (blocks.members.len(), system.flows.len(), system.mains.len());
        let closed = Storage { rank: None, gives: false, takes: 0.0, lines: None, endless: false };
        let mut rates = Self {
            system,
            depends: depends.collect(),
            memory,
            active: vec![NONE; count],
            free: vec![false; headers],
            overflow: vec![Overflow::default(); headers],
            marks: vec![(false, false); flows],
            cuts: vec![0; flows],
            starts: vec![0; flows],
            net: vec![0.0; system.tanks.len()],
            dirty: Vec::new(),
            listed: vec![false; count],
            unsummed: Vec::new(),
            unsummed_listed: vec![false; headers],
            cell: Vec::new(),
            placed: vec![0; count],
            round: 0,
            name: Vec::new(),
            upper: vec![0.0; flows],
            whole: vec![0.0; flows],
            asks: vec![1.0; flows],
            storage: vec![closed; headers],
            short: false,
            solved: 0,
            steps: 0,
            state,
            blocks,
        };
        rates.all_dirty();
        for header in (0..headers).filter(|&header| rates.blocks.is_cut[header]).collect::<Vec<_>>() {
            rates.loosen(header);
        }
        rates
    }

    fn all_dirty(&mut self) {
        (0..self.active.len()).for_each(|block| self.touch(block));
        (0..self.system.mains.len()).for_each(|header| self.sum_anew(header));
    }

    fn touch(&mut self, block: usize) {
        if !self.listed[block] {
            self.listed[block] = true;
            self.dirty.push(block as u32);
        }
    }

    fn sum_anew(&mut self, header: usize) {
        if !self.unsummed_listed[header] {
            self.unsummed_listed[header] = true;
            self.unsummed.push(header as u32);
        }
    }

    /// A store stands elsewhere.
    pub fn set_stand(&mut self, tank: usize, stand: Stand) {
        if self.state.stand(tank) == stand {
            return;
        }
        self.state.set_stand(tank, stand);
        let header = self.system.tanks[tank].header;
        self.sum_anew(header);
        if self.blocks.is_cut[header] {
            self.loosen(header);
            if !self.free[header] {
                (0..self.blocks.on[header].len()).for_each(|at| self.touch(self.blocks.on[header][at]));
            }
        } else if let Some(block) = self.blocks.of_header[header] {
            self.touch(block);
        }
    }

    /// A switch is turned.
    pub fn set_on(&mut self, contact: usize, on: bool) {
        self.state.set_on(contact, on);
        (0..self.blocks.of_contact[contact].len()).for_each(|at| self.stir(self.blocks.of_contact[contact][at]));
    }

    /// A thermostat is turned.
    pub fn set_thermostat(&mut self, thermostat: usize, on: bool) {
        self.state.set_thermostat(thermostat, on);
        (0..self.blocks.of_thermostat[thermostat].len())
            .for_each(|at| self.stir(self.blocks.of_thermostat[thermostat][at]));
    }

    /// A dial goes to another mark.
    pub fn set_mark(&mut self, dial: usize, mark: usize) {
        self.state.set_mark(dial, mark);
        self.stir(self.blocks.of_dial[dial]);
    }

    /// How much there is of a flow, and the most there could be.
    #[must_use]
    pub fn amount(&self, flow: usize) -> (f64, f64) {
        let active = self.active[self.blocks.of_flow[flow]];
        let Some(balanced) = self.memory.met.get(active as usize) else { return (0.0, 0.0) };
        balanced.flows.binary_search(&(flow as u32)).map_or((0.0, 0.0), |at| (balanced.amount[at], balanced.upper[at]))
    }

    /// A pattern lets another share through.
    pub fn set_share(&mut self, course: usize, share: f64) {
        self.state.set_share(course, share);
        let block = self.blocks.of_course[course];
        if block != usize::MAX {
            self.stir(block);
        }
    }

    /// A block is driven otherwise: it is balanced anew, and taps of it may have opened or closed.
    fn stir(&mut self, block: usize) {
        self.touch(block);
        (0..self.blocks.cuts[block].len()).for_each(|at| self.loosen(self.blocks.cuts[block][at]));
    }

    /// Finds whether a header that cuts is free; where that has changed, its blocks are balanced anew.
    fn loosen(&mut self, header: usize) {
        let storage = self.storage_of(header);
        let overflows = self.blocks.overflows[header]
            && storage.gives
            && self.blocks.taps[header].iter().all(|&tap| self.state.most(self.system, tap) == 0.0);
        let free = storage.is_free() || overflows;
        if free != self.free[header] {
            self.free[header] = free;
            self.sum_anew(header);
            (0..self.blocks.on[header].len()).for_each(|at| self.touch(self.blocks.on[header][at]));
        }
    }

    /// What the stores of a header can do, its taps without a rate apart.
    fn storage_of(&self, header: usize) -> Storage {
        let main = &self.system.mains[header];
        let mut storage = Storage { rank: None, gives: false, takes: 0.0, lines: main.lines, endless: false };
        for &at in &main.stores {
            let tank = &self.system.tanks[at];
            storage.rank = Some(storage.rank.map_or(tank.rank, |rank| rank.min(tank.rank)));
            let stand = self.state.stand(at);
            storage.gives |= stand != Stand::Empty;
            storage.takes += if stand == Stand::Full { full_loss(tank) } else { f64::INFINITY };
        }
        storage
    }

    /// Balances what has changed; afterwards [`Self::net`] holds. Calls `changed` with each header whose net was summed anew.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn update(&mut self, now_s: f64, budget: &Budget<'_>, mut changed: impl FnMut(usize)) -> Result<(), Halt> {
        self.round += 1;
        while let Some(block) = self.dirty.pop() {
            self.listed[block as usize] = false;
            if self.placed[block as usize] != self.round {
                self.balance(block, now_s, budget)?;
            }
        }
        while let Some(header) = self.unsummed.pop() {
            self.unsummed_listed[header as usize] = false;
            self.sum(header as usize, now_s);
            changed(header as usize);
        }
        Ok(())
    }

    /// Books a balance until now.
    fn close(&mut self, at: u32, now_s: f64) {
        let balanced = &mut self.memory.met[at as usize];
        if let Some(since) = balanced.since_s {
            let lasted = now_s - since;
            if lasted > 0.0 {
                balanced.lasted_s += lasted;
                balanced.first_s.get_or_insert(since);
                self.short |= balanced.is_short && lasted > now_s * super::ONE_MOMENT;
            }
            balanced.since_s = Some(now_s);
        }
    }

    /// Whether a demand is cut at the moment.
    #[must_use]
    pub fn is_short_now(&self) -> bool {
        self.active.iter().any(|&active| self.memory.met.get(active as usize).is_some_and(|met| met.is_short))
    }

    /// Books everything in force until now.
    pub fn close_all(&mut self, now_s: f64) {
        for at in 0..self.active.len() {
            if self.active[at] != NONE {
                self.close(self.active[at], now_s);
            }
        }
        for overflow in &mut self.overflow {
            overflow.total += overflow.rate * (now_s - overflow.since_s);
            overflow.since_s = now_s;
        }
    }

    /// Goes on from another time, with all that is in force.
    pub fn go_on(&mut self, now_s: f64) {
        for balanced in self.memory.met.iter_mut().filter(|balanced| balanced.since_s.is_some()) {
            balanced.since_s = Some(now_s);
        }
        self.overflow.iter_mut().for_each(|overflow| overflow.since_s = now_s);
    }

    /// Forgets all balances; everything is to be balanced anew.
    pub fn forget(&mut self) {
        self.memory = Memory::default();
        self.active.iter_mut().for_each(|active| *active = NONE);
        self.all_dirty();
    }
}
