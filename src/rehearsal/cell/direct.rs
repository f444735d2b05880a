//! The balance of a cell in closed form, where no more than one of its headers really binds.
//!
//! With N the net of what is settled on a header, P the most that what is still open can give and S the most that it can take, what
//! is asked for is possible on it where −P ≤ N ≤ S. First each flow that is alone in asking something of a header is capped by
//! what that header can give or take at all. If all caps are possible together, that is the answer. If they are not on just one
//! header, the flows that press on it are cut to one share, group by group: no other share could be greater for the least of
//! them. That is the best with this header alone; where the others allow it, it is the best with all of them. What is left (pushing
//! supplies, taps, stores, ways out) is on one header each. Anything else goes to the programme.

use super::{Cell, Tap};
use crate::rehearsal::system::{Drive, Source};

/// What rounding leaves of a difference, as a share of its terms.
const CANCELLED: f64 = 8.0 * f64::EPSILON;

/// A header of the cell.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    header: usize,
    /// What has been settled leaves on it, and the size of its terms.
    net: f64,
    size: f64,
    /// The most that pushing supplies, taps and stores can give; the most that stores and ways out can take.
    gives: f64,
    takes: f64,
}

/// Headers on which shares are not possible.
enum Binding {
    None,
    On(usize),
    OnSeveral,
}

struct Direct<'c, 's> {
    cell: &'c Cell<'s>,
    rows: Vec<Row>,
    /// Members that ask, by rank.
    groups: Vec<Vec<usize>>,
    /// By member, the greatest share that its headers allow it alone.
    cap: Vec<f64>,
    amount: Vec<f64>,
}

/// How much of each member there is, where it can be said so.
pub fn solve(cell: &Cell<'_>, headers: &[usize]) -> Option<Vec<f64>> {
    let lines = headers.iter().any(|&header| cell.storage[header].lines.is_some());
    let wanted = cell.members.iter().any(|&at| {
        let flow = &cell.flows[at];
        flow.drive == Drive::Tapped && !matches!(flow.what, Source::Draw(_))
    });
    if lines || wanted {
        return None;
    }
    let mut direct = Direct::new(cell, headers);
    direct.cap_alone();
    direct.ask()?;
    direct.push_in();
    (0..headers.len()).for_each(|row| direct.rest(row));
    Some(direct.amount)
}

/// How much of each member there is, where all of them stand on one header alone and none asks: they close what is left on it.
/// `None` where they cannot.
pub fn close(cell: &Cell<'_>, header: usize, net: f64, size: f64) -> Option<Vec<f64>> {
    let mut direct = Direct::new(cell, &[header]);
    let row = &mut direct.rows[0];
    (row.net, row.size) = (net, size);
    let slack = CANCELLED * size;
    if net > row.takes + slack || -net > row.gives + slack {
        return None;
    }
    direct.push_in();
    direct.rest(0);
    Some(direct.amount)
}

impl<'c, 's> Direct<'c, 's> {
    fn new(cell: &'c Cell<'s>, headers: &[usize]) -> Self {
        let rows = headers.iter().map(|&header| {
            let storage = &cell.storage[header];
            let gives = if storage.gives { f64::INFINITY } else { 0.0 };
            Row { header, gives, takes: storage.takes, ..Row::default() }
        });
        let groups = cell.groups().into_iter();
        let asks = |group: &Vec<usize>| cell.flows[cell.members[group[0]]].drive == Drive::Asked;
        let mut direct = Self {
            cell,
            rows: rows.collect(),
            groups: groups.filter(asks).collect(),
            cap: cell.members.iter().map(|&at| cell.asks[at]).collect(),
            amount: vec![0.0; cell.members.len()],
        };
        for member in 0..cell.members.len() {
            if direct.drive(member) != Drive::Asked {
                for row in 0..direct.rows.len() {
                    let most = direct.rate(member, row) * direct.upper_if_any(member, row);
                    direct.rows[row].gives += most.max(0.0);
                    direct.rows[row].takes -= most.min(0.0);
                }
            }
        }
        direct
    }

    fn drive(&self, member: usize) -> Drive {
        self.cell.flows[self.cell.members[member]].drive
    }

    fn rank(&self, member: usize) -> u32 {
        self.cell.flows[self.cell.members[member]].rank
    }

    fn upper(&self, member: usize) -> f64 {
        self.cell.upper[self.cell.members[member]]
    }

    /// What one of a member gives to the header of a row; negative, takes.
    fn rate(&self, member: usize, row: usize) -> f64 {
        let header = self.rows[row].header;
        let on = &self.cell.flows[self.cell.members[member]].on;
        on.iter().find(|on| on.0 == header).map_or(0.0, |on| on.1)
    }

    /// Its most, or nothing where it is not on that row: an endless one times no rate would be no number.
    fn upper_if_any(&self, member: usize, row: usize) -> f64 {
        if self.rate(member, row) == 0.0 { 0.0 } else { self.upper(member) }
    }

    /// Who is alone in asking something of a header can have no more than it can give or take.
    fn cap_alone(&mut self) {
        for row in 0..self.rows.len() {
            let mut asking = self.groups.iter().flatten().copied().filter(|&member| self.rate(member, row) != 0.0);
            let (Some(member), None) = (asking.next(), asking.next()) else { continue };
            let most = self.rate(member, row) * self.upper(member);
            let room = if most > 0.0 { self.rows[row].takes } else { self.rows[row].gives };
            let share = room / most.abs();
            if share < 1.0 {
                self.cap[member] = self.cap[member].min(share);
            }
        }
    }

    /// Gives all who ask what they can have.
    fn ask(&mut self) -> Option<()> {
        let shares = match self.binding(&self.cap) {
            Binding::None => self.cap.clone(),
            Binding::On(row) => self.cut(row),
            Binding::OnSeveral => return None,
        };
        if !matches!(self.binding(&shares), Binding::None) {
            return None;
        }
        self.settle(&shares);
        Some(())
    }

    /// Where these shares are not possible.
    fn binding(&self, shares: &[f64]) -> Binding {
        let mut binding = Binding::None;
        for row in 0..self.rows.len() {
            let (mut net, mut size) = (0.0, 0.0);
            for &member in self.groups.iter().flatten() {
                let term = self.rate(member, row) * self.upper(member) * shares[member];
                net += term;
                size += term.abs();
            }
            let slack = CANCELLED * size;
            if net > self.rows[row].takes + slack || -net > self.rows[row].gives + slack {
                if !matches!(binding, Binding::None) {
                    return Binding::OnSeveral;
                }
                binding = Binding::On(row);
            }
        }
        binding
    }

    /// Shares with one row alone binding: rank by rank, those who press on it are cut to the share that just is possible.
    fn cut(&self, row: usize) -> Vec<f64> {
        let mut shares = self.cap.clone();
        let most = |member: usize| self.rate(member, row) * self.upper(member);
        // What later groups can do stands open for the earlier ones. Summed from behind, so that nothing is subtracted.
        let mut open = vec![(self.rows[row].gives, self.rows[row].takes)];
        for group in self.groups.iter().rev() {
            let (mut gives, mut takes) = open.last().copied().unwrap_or_default();
            for &member in group {
                gives += (most(member) * self.cap[member]).max(0.0);
                takes -= (most(member) * self.cap[member]).min(0.0);
            }
            open.push((gives, takes));
        }
        open.pop();
        let mut net = 0.0_f64;
        for group in &self.groups {
            let (gives, takes) = open.pop().unwrap_or_default();
            let sum = |sign: f64| -> f64 {
                group.iter().map(|&member| (sign * most(member) * self.cap[member]).max(0.0)).sum()
            };
            let (brought, wanted) = (sum(1.0), sum(-1.0));
            let slack = CANCELLED * (net.abs() + brought + wanted);
            // What those who press on it may have together.
            let (sign, room) = if net + brought - wanted > takes + slack {
                (1.0, takes - net + wanted)
            } else if wanted - net - brought > gives + slack {
                (-1.0, gives + net + brought)
            } else {
                net += brought - wanted;
                continue;
            };
            let mut pressing: Vec<usize> = group.iter().copied().filter(|&member| sign * most(member) > 0.0).collect();
            // Who is capped below the common share keeps the cap; the rest share what is left.
            pressing.sort_by(|&one, &other| self.cap[one].total_cmp(&self.cap[other]));
            let mut room = room.max(0.0);
            let mut weight: f64 = pressing.iter().map(|&member| sign * most(member)).sum();
            for &member in &pressing {
                let own = sign * most(member);
                let share = (room / weight).min(self.cap[member]);
                shares[member] = share;
                room = (room - share * own).max(0.0);
                weight -= own;
            }
            for &member in group {
                net += most(member) * shares[member];
            }
        }
        shares
    }

    fn settle(&mut self, shares: &[f64]) {
        for at in 0..self.groups.len() {
            for member in self.groups[at].clone() {
                self.set(member, shares[member]);
            }
        }
    }

    fn set(&mut self, member: usize, share: f64) {
        let upper = self.upper(member);
        self.amount[member] = if share >= 1.0 { upper } else { upper * share };
        for row in 0..self.rows.len() {
            let term = self.rate(member, row) * self.amount[member];
            self.rows[row].net += term;
            self.rows[row].size += term.abs();
        }
    }

    /// Supplies that push: rank by rank what the header they are on has room for.
    fn push_in(&mut self) {
        for row in 0..self.rows.len() {
            let mut pushing: Vec<usize> = (0..self.amount.len())
                .filter(|&member| self.drive(member) == Drive::Pushed && self.rate(member, row) != 0.0)
                .collect();
            pushing.sort_by_key(|&member| self.rank(member));
            let ranks: Vec<Vec<usize>> =
                pushing.chunk_by(|&one, &next| self.rank(one) == self.rank(next)).map(<[usize]>::to_vec).collect();
            for group in ranks {
                let given: f64 = group.iter().map(|&member| self.rate(member, row) * self.upper(member)).sum();
                let room = self.rows[row].takes - self.rows[row].net;
                let slack = CANCELLED * (self.rows[row].size + given);
                let share = if given > room + slack { (room / given).clamp(0.0, 1.0) } else { 1.0 };
                for member in group {
                    self.set(member, share);
                }
            }
        }
    }

    /// Taps, stores and ways out of a header, for what is left.
    fn rest(&mut self, row: usize) {
        let storage = self.cell.storage[self.rows[row].header];
        let taps = |kind: &dyn Fn(Tap) -> bool| {
            let mut chosen: Vec<usize> = (0..self.amount.len())
                .filter(|&member| self.drive(member) == Drive::Tapped && self.rate(member, row) != 0.0)
                .filter(|&member| kind(self.cell.tap(self.cell.members[member])))
                .collect();
            chosen.sort_by_key(|&member| self.rank(member));
            chosen
        };
        let before = taps(&|tap| tap != Tap::Reserve);
        let refills = taps(&|tap| tap == Tap::Refills);
        let reserves = taps(&|tap| tap == Tap::Reserve);
        self.draw(row, &before, 0.0);
        if storage.gives {
            // The store covers what the taps before it cannot; reserves are not asked.
            if self.rows[row].net < -CANCELLED * self.rows[row].size {
                return;
            }
        } else {
            self.draw(row, &reserves, 0.0);
        }
        if storage.takes > 0.0 && !storage.endless {
            self.draw(row, &refills, storage.takes);
        }
        let mut over = self.rows[row].net - storage.takes;
        if over <= CANCELLED * self.rows[row].size {
            return;
        }
        let ways_out: Vec<usize> = (0..self.amount.len())
            .filter(|&member| self.drive(member) == Drive::Surplus && self.rate(member, row) != 0.0)
            .collect();
        for spills in [true, false] {
            for &member in &ways_out {
                let at = self.cell.members[member];
                if matches!(self.cell.flows[at].what, Source::Spill(_)) == spills && over > 0.0 {
                    let rate = self.rate(member, row);
                    let out = (over / -rate).min(self.cell.upper[at]);
                    self.amount[member] = out;
                    over += out * rate;
                }
            }
        }
    }

    /// Draws from taps in order, equal ranks in proportion, until `above` is left over on the header.
    fn draw(&mut self, row: usize, taps: &[usize], above: f64) {
        let ranks: Vec<Vec<usize>> =
            taps.chunk_by(|&one, &next| self.rank(one) == self.rank(next)).map(<[usize]>::to_vec).collect();
        for group in ranks {
            let need = above - self.rows[row].net;
            if need <= CANCELLED * self.rows[row].size {
                return;
            }
            // One without a rate serves alone.
            if let Some(&member) = group.iter().find(|&&member| self.upper(member).is_infinite()) {
                self.add(member, row, need / self.rate(member, row));
                return;
            }
            let left = |direct: &Self, member: usize| (direct.upper(member) - direct.amount[member]).max(0.0);
            let room: f64 = group.iter().map(|&member| left(self, member) * self.rate(member, row)).sum();
            if room <= 0.0 {
                continue;
            }
            let share = (need / room).min(1.0);
            for &member in &group {
                let more = left(self, member) * share;
                self.add(member, row, more);
                if share >= 1.0 {
                    self.amount[member] = self.upper(member);
                }
            }
        }
    }

    fn add(&mut self, member: usize, row: usize, more: f64) {
        self.amount[member] += more;
        let term = more * self.rate(member, row);
        self.rows[row].net += term;
        self.rows[row].size += term;
    }
}
