//! What is decided after those who ask and those who push: reserves, filling, draw, machines, what is let out.

use super::pose::Posed;
use super::{Cell, Tap};
use crate::rehearsal::system::{Drive, Source};
use std::collections::BTreeMap;

impl Cell<'_> {
    /// Objectives 3 to 6, as costs of columns in shares.
    pub(super) fn later_stages(&self, posed: &Posed) -> Vec<Vec<(usize, f64)>> {
        let mut stages = Vec::new();
        let taps: Vec<(usize, Tap)> = (0..self.members.len())
            .filter(|&member| self.flows[self.members[member]].drive == Drive::Tapped)
            .map(|member| (member, self.tap(self.members[member])))
            .collect();
        let cost = |member: usize| (member, posed.measure[member]);
        let rank = |member: usize| self.flows[self.members[member]].rank;
        let ranks = |chosen: &dyn Fn(usize, Tap) -> bool| {
            let mut ranks: Vec<u32> =
                taps.iter().filter(|&&(member, tap)| chosen(member, tap)).map(|&(member, _)| rank(member)).collect();
            ranks.sort_unstable_by(|one, other| other.cmp(one));
            ranks.dedup();
            ranks
        };
        let mut least = |chosen: &dyn Fn(usize, Tap) -> bool| {
            for of_rank in ranks(chosen) {
                let these = taps.iter().filter(|&&(member, tap)| rank(member) == of_rank && chosen(member, tap));
                stages.push(these.map(|&(member, _)| cost(member)).collect::<Vec<_>>());
            }
        };
        least(&|_, tap| tap == Tap::Reserve);
        let mut fill: Vec<(usize, f64)> = Vec::new();
        let filled_here = |header: usize| !self.storage[header].is_free();
        for &(member, tap) in &taps {
            let gives = self.flows[self.members[member]].on.iter().filter(|&&(_, rate)| rate > 0.0);
            let to_free = gives.clone().any(|&(header, _)| !filled_here(header));
            if tap == Tap::Refills && to_free {
                fill.push((member, -1.0));
            }
        }
        for &(header, _, into, out) in &posed.stored {
            if self.storage[header].rank.is_some() {
                if !self.storage[header].endless {
                    fill.push((into, -1.0));
                }
                fill.extend(out.map(|out| (out, 1.0)));
            }
        }
        let is_draw = |member: usize| matches!(self.flows[self.members[member]].what, Source::Draw(_));
        if !fill.is_empty() {
            stages.push(fill);
        }
        stages.extend(self.least_draw(posed, &taps));
        let mut least = |chosen: &dyn Fn(usize, Tap) -> bool| {
            for of_rank in ranks(chosen) {
                let these = taps.iter().filter(|&&(member, tap)| rank(member) == of_rank && chosen(member, tap));
                stages.push(these.map(|&(member, _)| cost(member)).collect::<Vec<_>>());
            }
        };
        least(&|member, _| !is_draw(member));
        for spills in [false, true] {
            let surplus: Vec<(usize, f64)> = (0..self.members.len())
                .filter(|&member| {
                    let flow = &self.flows[self.members[member]];
                    flow.drive == Drive::Surplus && matches!(flow.what, Source::Spill(_)) == spills
                })
                .map(|member| (member, 1.0))
                .collect();
            if !surplus.is_empty() {
                stages.push(surplus);
            }
        }
        stages
    }

    /// The draw on supplies, last rank first; on those that give whatever is asked of them too.
    fn least_draw(&self, posed: &Posed, taps: &[(usize, Tap)]) -> Vec<Vec<(usize, f64)>> {
        let mut by_rank: BTreeMap<u32, Vec<(usize, f64)>> = BTreeMap::new();
        for &(member, _) in taps {
            let flow = &self.flows[self.members[member]];
            if matches!(flow.what, Source::Draw(_)) {
                by_rank.entry(flow.rank).or_default().push((member, posed.measure[member]));
            }
            for taken in &flow.endless {
                by_rank.entry(taken.rank).or_default().push((member, taken.takes * posed.measure[member]));
            }
        }
        by_rank.into_values().rev().collect()
    }
}
