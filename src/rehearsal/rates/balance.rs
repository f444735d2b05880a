//! A cell balanced: which blocks it is made of, whether its state has been met, and what flows in it if not.

use super::memory::Balanced;
use super::{NONE, Rates, SERVED};
use crate::budget::{Budget, Halt};
use crate::rehearsal::cell::Cell;
use crate::rehearsal::system::{Drive, Source};

impl Rates<'_> {
    /// Balances a block with all that stores at a bound join to it.
    pub(super) fn balance(&mut self, block: u32, now_s: f64, budget: &Budget<'_>) -> Result<(), Halt> {
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
}
