//! What flows now. Rates change only where the state does: a switch, a pattern, a store at a bound. The blocks there, joined
//! where stores at a bound join them, are balanced ([`super::cell`]); each such balance is remembered by the bits of the state
//! it depends on, so it is asked once and not at every event.

mod memory;
mod spread;

use super::blocks::Blocks;
use super::cell::{Cell, Storage};
use super::state::{Stand, State};
use super::system::{Drive, Source, System};
use crate::budget::{Budget, Halt};
use memory::Balanced;
pub use memory::Memory;
use spread::{full_loss, spread};

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

    /// Balances a block with all that stores at a bound join to it.
    fn balance(&mut self, block: u32, now_s: f64, budget: &Budget<'_>) -> Result<(), Halt> {
        self.cell.clear();
        self.cell.push(block);
        self.placed[block as usize] = self.round;
        let mut at = 0;
        while at < self.cell.len() {
            for &header in &self.blocks.cuts[self.cell[at] as usize] {
                if !self.free[header] {
                    for &other in &self.blocks.on[header] {
                        if self.placed[other] != self.round {
                            self.placed[other] = self.round;
                            self.cell.push(other as u32);
                        }
                    }
                }
            }
            at += 1;
        }
        self.cell.sort_unstable();
        let found = self.find(budget)?;
        if self.cell.iter().all(|&block| self.active[block as usize] == found) {
            return Ok(());
        }
        let first = self.active[self.cell[0] as usize];
        let alike = first != NONE && self.memory.met[first as usize].blocks == self.memory.met[found as usize].blocks;
        if alike {
            // The same cell in another state: only where its net differs is there something to sum.
            for at in 0..self.memory.met[found as usize].net.len() {
                let (header, net, size) = self.memory.met[found as usize].net[at];
                let (_, before, of) = self.memory.met[first as usize].net[at];
                if net != before || size != of {
                    self.sum_anew(header as usize);
                }
            }
        }
        for at in 0..self.cell.len() {
            let block = self.cell[at] as usize;
            let before = std::mem::replace(&mut self.active[block], found);
            if before != NONE && before != found && self.memory.met[before as usize].since_s.is_some() {
                self.close(before, now_s);
                self.memory.met[before as usize].since_s = None;
                for other in 0..self.memory.met[before as usize].blocks.len() {
                    let other = self.memory.met[before as usize].blocks[other] as usize;
                    if self.placed[other] != self.round {
                        self.touch(other);
                    }
                }
            }
            if !alike {
                (0..self.blocks.cuts[block].len()).for_each(|at| self.sum_anew(self.blocks.cuts[block][at]));
                (0..self.blocks.members[block].len()).for_each(|at| self.sum_bound(self.blocks.members[block][at]));
            }
        }
        let balanced = &mut self.memory.met[found as usize];
        balanced.since_s.get_or_insert(now_s);
        for (&flow, &(cut, runs)) in balanced.flows.iter().zip(&balanced.marks) {
            let (was_cut, ran) = std::mem::replace(&mut self.marks[flow as usize], (cut, runs));
            self.cuts[flow as usize] += u64::from(cut && !was_cut);
            self.starts[flow as usize] += u64::from(runs && !ran);
        }
        Ok(())
    }

    /// Stores on headers that do not cut.
    fn sum_bound(&mut self, flow: usize) {
        let system = self.system;
        for &(header, _) in &system.flows[flow].on {
            if !self.blocks.is_cut[header] && !system.mains[header].stores.is_empty() {
                self.sum_anew(header);
            }
        }
    }

    /// The balance of the present cell in the present state.
    fn find(&mut self, budget: &Budget<'_>) -> Result<u32, Halt> {
        self.name.clear();
        self.name.resize(self.state.bits.len(), 0);
        for &block in &self.cell {
            for (word, &mask) in self.name.iter_mut().zip(&self.depends[block as usize]) {
                *word |= mask;
            }
            for &header in self.blocks.cuts[block as usize].iter().filter(|&&header| !self.free[header]) {
                for &tank in &self.system.mains[header].stores {
                    self.state.tanks[tank].cover(&mut self.name);
                }
            }
        }
        for (word, &bits) in self.name.iter_mut().zip(&self.state.bits) {
            *word &= bits;
        }
        // Which headers are free is told by who is in the cell, but for those that overflow.
        self.name.extend(self.cell.iter().map(|&block| u64::from(block)));
        if let Some(found) = self.memory.find(&self.name) {
            return Ok(found);
        }
        let balanced = self.solve(budget)?;
        Ok(self.memory.keep(&self.name, balanced))
    }

    fn solve(&mut self, budget: &Budget<'_>) -> Result<Balanced, Halt> {
        let system = self.system;
        let mut flows: Vec<usize> =
            self.cell.iter().flat_map(|&block| self.blocks.members[block as usize].iter().copied()).collect();
        flows.sort_unstable();
        for &at in &flows {
            self.upper[at] = self.state.most(system, at);
            self.whole[at] = self.upper[at];
            if system.flows[at].drive == Drive::Asked && system.flows[at].dial.is_some() {
                self.whole[at] = self.state.whole(system, at);
                self.asks[at] = self.state.read(system, at);
            }
        }
        for &at in &flows {
            for &(header, _) in &system.flows[at].on {
                self.storage[header] = self.storage_of(header);
                if self.blocks.is_cut[header] && self.free[header] {
                    self.storage[header].takes = f64::INFINITY;
                }
            }
        }
        for &at in flows.iter().filter(|&&at| self.upper[at].is_infinite()) {
            let flow = &system.flows[at];
            if flow.drive == Drive::Tapped {
                self.storage[flow.on[0].0].endless = true;
            }
        }
        let open: Vec<usize> = flows.iter().copied().filter(|&at| self.upper[at] > 0.0).collect();
        let mut amount = vec![0.0; flows.len()];
        if !open.is_empty() {
            let (upper, asks) = (&self.whole[..], &self.asks[..]);
            let cell = Cell { flows: &system.flows, members: &open, upper, asks, storage: &self.storage };
            let solved = cell.solve(&mut self.steps, budget)?;
            self.solved += 1;
            let mut solved = open.iter().zip(solved).peekable();
            for (amount, &at) in amount.iter_mut().zip(&flows) {
                if let Some((_, value)) = solved.next_if(|&(&open, _)| open == at) {
                    *amount = value;
                }
            }
        }
        let mut net: Vec<(u32, f64, f64)> = Vec::new();
        let mut marks = Vec::with_capacity(flows.len());
        let mut is_short = false;
        for (&at, &amount) in flows.iter().zip(&amount) {
            let flow = &system.flows[at];
            let cut = flow.drive == Drive::Asked && amount < self.upper[at] * (1.0 - SERVED);
            let least = if flow.most.is_finite() { flow.most * 1e-12 } else { 0.0 };
            marks.push((cut, amount > least && matches!(flow.what, Source::Run(_))));
            is_short |= cut && matches!(flow.what, Source::Serve(_));
            for &(header, rate) in flow.on.iter().filter(|on| !system.mains[on.0].stores.is_empty()) {
                let term = rate * amount;
                match net.iter_mut().find(|entry| entry.0 as usize == header) {
                    Some(entry) => {
                        entry.1 += term;
                        entry.2 += term.abs();
                    }
                    None => net.push((header as u32, term, term.abs())),
                }
            }
        }
        Ok(Balanced {
            blocks: self.cell.as_slice().into(),
            upper: flows.iter().map(|&at| self.upper[at]).collect(),
            flows: flows.iter().map(|&at| at as u32).collect(),
            amount: amount.into_boxed_slice(),
            marks: marks.into_boxed_slice(),
            net: net.into_boxed_slice(),
            is_short,
            lasted_s: 0.0,
            first_s: None,
            since_s: None,
        })
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

    /// The net of a header's stores, from all that is in force on it.
    fn sum(&mut self, header: usize, now_s: f64) {
        let system = self.system;
        let main = &system.mains[header];
        if main.stores.is_empty() {
            return;
        }
        let (mut rest, mut size) = (0.0, 0.0);
        let on: &[usize] = &self.blocks.on[header];
        let bound = self.blocks.of_header[header];
        for (at, &block) in on.iter().chain(&bound).enumerate() {
            let balanced = self.active[block];
            // A cell with several blocks here is counted once.
            if balanced == NONE || on[..at.min(on.len())].iter().any(|&other| self.active[other] == balanced) {
                continue;
            }
            if let Some(entry) = self.memory.met[balanced as usize].net.iter().find(|entry| entry.0 as usize == header)
            {
                rest += entry.1;
                size += entry.2;
            }
        }
        if rest.abs() <= CANCELLED * size {
            rest = 0.0;
        }
        let storage = self.storage_of(header);
        let mut over = 0.0;
        if self.free[header] {
            over = (rest - storage.takes).max(0.0);
            rest -= over;
        } else {
            // The balance closes within rounding of its rates: what is that near to what stores at a bound can do is it.
            let rounding = BALANCED * size;
            if (rest - storage.takes).abs() <= rounding {
                rest = storage.takes;
            }
            if (rest < 0.0 && !storage.gives) || (rest > 0.0 && storage.takes == 0.0) {
                rest = 0.0;
            }
        }
        let overflow = &mut self.overflow[header];
        if over != overflow.rate {
            overflow.total += overflow.rate * (now_s - overflow.since_s);
            overflow.rate = over;
            overflow.since_s = now_s;
        }
        match main.stores[..] {
            [tank] => self.net[tank] = rest,
            _ => spread(system, &self.state, &main.stores, rest, &mut self.net),
        }
    }

    /// Forgets all balances; everything is to be balanced anew.
    pub fn forget(&mut self) {
        self.memory = Memory::default();
        self.active.iter_mut().for_each(|active| *active = NONE);
        self.all_dirty();
    }
}
