//! The balance of a cell whose flows meet on one header: the same strict order, without a programme.
//!
//! With N the net of what is settled, P the most that what is still open can give and S the most that it can take, a group
//! that gives G and takes T in full is possible where −P ≤ N + G − T ≤ S. Otherwise its takers, or its givers, are cut to
//! the share that just is, equals in proportion: no other share could be greater for the least of them.

use super::{Cell, Tap};
use crate::rehearsal::system::{Drive, Source};

/// What rounding leaves of a difference, as a share of its terms.
const CANCELLED: f64 = 8.0 * f64::EPSILON;

/// The header, and what one of each member is on it.
struct Single<'c, 's> {
    cell: &'c Cell<'s>,
    rate: Vec<f64>,
    amount: Vec<f64>,
    /// What all that has been settled leaves on the header, and the size of its terms.
    net: f64,
    size: f64,
}

/// How much of each member there is, where all of them meet on that one header and none can be wanted for its products.
pub fn solve(cell: &Cell<'_>, header: usize) -> Option<Vec<f64>> {
    if cell.storage[header].lines.is_some() {
        return None;
    }
    let mut rate = Vec::with_capacity(cell.members.len());
    for &at in cell.members {
        let flow = &cell.flows[at];
        if flow.drive == Drive::Tapped && !matches!(flow.what, Source::Draw(_)) {
            return None;
        }
        rate.push(flow.on.iter().find(|on| on.0 == header).map_or(0.0, |on| on.1));
    }
    let amount = vec![0.0; rate.len()];
    let mut single = Single { cell, rate, amount, net: 0.0, size: 0.0 };
    single.settle_groups(header);
    single.rest(header);
    Some(single.amount)
}

impl Single<'_, '_> {
    /// What a member can be at most, on the header.
    fn most(&self, member: usize) -> f64 {
        let upper = self.cell.upper[self.cell.members[member]];
        if upper == 0.0 { 0.0 } else { self.rate[member] * upper }
    }

    fn drive(&self, member: usize) -> Drive {
        self.cell.flows[self.cell.members[member]].drive
    }

    fn set(&mut self, member: usize, share: f64) {
        let upper = self.cell.upper[self.cell.members[member]];
        self.amount[member] = if share >= 1.0 { upper } else { upper * share };
        let on_header = self.rate[member] * self.amount[member];
        self.net += on_header;
        self.size += on_header.abs();
    }

    /// What is asked for, then what is pushed in, rank by rank.
    fn settle_groups(&mut self, header: usize) {
        let storage = &self.cell.storage[header];
        let groups = self.cell.groups();
        let (mut gives, mut takes) = (if storage.gives { f64::INFINITY } else { 0.0 }, storage.takes);
        for member in
            (0..self.rate.len()).filter(|&member| matches!(self.drive(member), Drive::Tapped | Drive::Surplus))
        {
            let most = self.most(member);
            if most > 0.0 {
                gives += most;
            } else {
                takes -= most;
            }
        }
        // What later groups can do stands open for the earlier ones. Summed from behind, so that nothing is subtracted.
        let mut open = vec![(gives, takes)];
        for group in groups.iter().rev() {
            let (mut gives, mut takes) = open.last().copied().unwrap_or_default();
            for &member in group {
                let most = self.most(member);
                gives += most.max(0.0);
                takes -= most.min(0.0);
            }
            open.push((gives, takes));
        }
        open.pop();
        for group in &groups {
            let (can_give, can_take) = open.pop().unwrap_or_default();
            let sum = |sign: f64| group.iter().map(|&member| (sign * self.most(member)).max(0.0)).sum::<f64>();
            let (gives, takes) = (sum(1.0), sum(-1.0));
            let net = self.net + gives - takes;
            let slack = CANCELLED * (self.size + gives + takes);
            let (mut share_given, mut share_taken) = (1.0, 1.0);
            if net > can_take + slack {
                share_given = ((can_take - self.net + takes) / gives).clamp(0.0, 1.0);
            } else if -net > can_give + slack {
                share_taken = ((can_give + self.net + gives) / takes).clamp(0.0, 1.0);
            }
            for &member in group {
                let share = if self.rate[member] > 0.0 { share_given } else { share_taken };
                self.set(member, share);
            }
        }
    }

    /// Taps, stores and ways out, for what is left.
    fn rest(&mut self, header: usize) {
        let storage = self.cell.storage[header];
        let taps = |kind: &dyn Fn(Tap) -> bool| {
            let mut chosen: Vec<usize> = (0..self.rate.len())
                .filter(|&member| self.drive(member) == Drive::Tapped)
                .filter(|&member| kind(self.cell.tap(self.cell.members[member])))
                .collect();
            chosen.sort_by_key(|&member| self.cell.flows[self.cell.members[member]].rank);
            chosen
        };
        let before = taps(&|tap| tap != Tap::Reserve);
        let refills = taps(&|tap| tap == Tap::Refills);
        let reserves = taps(&|tap| tap == Tap::Reserve);
        self.draw(&before, 0.0);
        if storage.gives {
            // The store covers what the taps before it cannot; reserves are not asked.
            if self.net < -CANCELLED * self.size {
                return;
            }
        } else {
            self.draw(&reserves, 0.0);
        }
        if storage.takes > 0.0 && !storage.endless {
            self.draw(&refills, storage.takes);
        }
        let mut over = self.net - storage.takes;
        if over <= CANCELLED * self.size {
            return;
        }
        let ways_out: Vec<usize> = (0..self.rate.len()).filter(|&at| self.drive(at) == Drive::Surplus).collect();
        for spills in [true, false] {
            for &member in &ways_out {
                let at = self.cell.members[member];
                if matches!(self.cell.flows[at].what, Source::Spill(_)) == spills && over > 0.0 {
                    let out = (over / -self.rate[member]).min(self.cell.upper[at]);
                    self.amount[member] = out;
                    over += out * self.rate[member];
                }
            }
        }
    }

    /// Draws from taps in order, equal ranks in proportion, until `above` is left over on the header.
    fn draw(&mut self, taps: &[usize], above: f64) {
        let rank = |member: usize| self.cell.flows[self.cell.members[member]].rank;
        let ranks: Vec<Vec<usize>> =
            taps.chunk_by(|&one, &next| rank(one) == rank(next)).map(<[usize]>::to_vec).collect();
        for group in ranks {
            let need = above - self.net;
            if need <= CANCELLED * self.size {
                return;
            }
            // One without a rate serves alone.
            if let Some(&member) = group.iter().find(|&&member| self.most(member).is_infinite()) {
                self.amount[member] += need / self.rate[member];
                self.net += need;
                self.size += need;
                return;
            }
            let left = |single: &Self, member: usize| {
                (single.most(member) - single.amount[member] * single.rate[member]).max(0.0)
            };
            let room: f64 = group.iter().map(|&member| left(self, member)).sum();
            if room <= 0.0 {
                continue;
            }
            let share = (need / room).min(1.0);
            for &member in &group {
                let more = left(self, member) * share;
                let upper = self.cell.upper[self.cell.members[member]];
                self.amount[member] = if share >= 1.0 { upper } else { self.amount[member] + more / self.rate[member] };
                self.net += more;
                self.size += more;
            }
        }
    }
}
