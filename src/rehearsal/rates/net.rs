//! What flows into stores: summed from the balances in force on their header.

use super::spread::spread;
use super::{BALANCED, CANCELLED, NONE, Rates};

impl Rates<'_> {
    /// The net of a header's stores, from all that is in force on it.
    pub(super) fn sum(&mut self, header: usize, now_s: f64) {
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
}
