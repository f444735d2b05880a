//! What flows while nothing switches: a mode is which stores are empty or full, which switches are on and which step each
//! pattern is in. Rates depend on nothing else, so each mode is balanced once and remembered, and so is each of its cells.

use rustc_hash::FxHashMap;

use super::cell::{Cell, Storage};
use super::part::Sets;
use super::system::{Drive, Source, System};
use crate::budget::{Budget, Halt};

/// Numbers that the remembered modes may hold before they are forgotten.
const MOST_REMEMBERED: usize = 4_000_000;
/// What rounding leaves of a cancellation, as a share of its terms.
const CANCELLED: f64 = 8.0 * f64::EPSILON;
/// Shares of what was asked for nearer to one than this are not short.
const SERVED: f64 = 1e-9;

/// Where a store stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stand {
    /// Between.
    Between = 0,
    /// Nothing in it.
    Empty = 1,
    /// Nothing more goes in.
    Full = 2,
}

/// Some bits of a key.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    word: usize,
    shift: u32,
    mask: u64,
}

/// The state that rates depend on, as bits.
#[derive(Clone, Debug)]
pub struct Keys {
    words: usize,
    /// By store, two bits.
    pub tanks: Vec<Field>,
    /// By switch, one bit.
    pub contacts: Vec<Field>,
    /// By pattern, as many as its shares need.
    pub courses: Vec<Field>,
}

impl Keys {
    fn new(system: &System, shares: &[Vec<f64>]) -> Self {
        let (mut word, mut used) = (0, 0);
        let mut field = |bits: u32| {
            if used + bits > 64 {
                word += 1;
                used = 0;
            }
            let field = Field { word, shift: used, mask: ((1_u64 << bits) - 1) << used };
            used += bits;
            field
        };
        let tanks = system.tanks.iter().map(|_| field(2)).collect();
        let contacts = system.contacts.iter().map(|_| field(1)).collect();
        let courses = shares.iter().map(|shares| field(usize::BITS - shares.len().leading_zeros())).collect();
        Self { words: word + 1, tanks, contacts, courses }
    }

    /// Writes a field.
    pub fn set(key: &mut [u64], field: Field, value: usize) {
        let word = &mut key[field.word];
        *word = (*word & !field.mask) | ((value as u64) << field.shift);
    }

    /// Where a store stands.
    #[must_use]
    pub fn stand(&self, key: &[u64], tank: usize) -> Stand {
        match Self::get(key, self.tanks[tank]) {
            1 => Stand::Empty,
            2 => Stand::Full,
            _ => Stand::Between,
        }
    }

    /// Reads a field.
    #[must_use]
    pub fn get(key: &[u64], field: Field) -> usize {
        ((key[field.word] & field.mask) >> field.shift) as usize
    }
}

/// What flows in a mode, and for how long it has been in force.
#[derive(Clone, Debug)]
pub struct Mode {
    /// Where each store stands and what switches and patterns do.
    pub key: Box<[u64]>,
    /// How much of each flow.
    pub amount: Box<[f64]>,
    /// The most of each flow.
    pub upper: Box<[f64]>,
    /// Into each store, less what is taken out of it; standing loss apart.
    pub net: Box<[f64]>,
    /// Flows that get less than they ask for.
    pub cut: Box<[u64]>,
    /// Flows that there are any of.
    pub alive: Box<[u64]>,
    /// How long it was in force.
    pub lasted_s: f64,
    /// When it first was.
    pub first_s: Option<f64>,
}

/// All modes met so far.
pub struct Modes<'s> {
    system: &'s System,
    /// What each pattern's shares are, by the number that stands for them in a key.
    pub shares: Vec<Vec<f64>>,
    /// Where what stands in a key.
    pub keys: Keys,
    index: FxHashMap<Box<[u64]>, usize>,
    /// The modes.
    pub list: Vec<Mode>,
    cells: FxHashMap<Box<[u64]>, Box<[f64]>>,
    held: usize,
    /// Bits of a key that a flow depends on: its own gates and pattern, and the stores of its headers.
    depends: Vec<Box<[u64]>>,
    sets: Sets,
    /// Balances solved.
    pub solved: u64,
    /// Their steps.
    pub steps: u64,
}

impl<'s> Modes<'s> {
    /// None met yet.
    #[must_use]
    pub fn new(system: &'s System) -> Self {
        let shares: Vec<Vec<f64>> = system.courses.iter().map(|(_, course)| course.shares()).collect();
        let keys = Keys::new(system, &shares);
        let depends = system.flows.iter().map(|flow| {
            let mut mask = vec![0; keys.words];
            let mut add = |field: Field| mask[field.word] |= field.mask;
            flow.gates.iter().for_each(|&gate| add(keys.contacts[gate]));
            flow.course.iter().for_each(|&course| add(keys.courses[course]));
            for &(header, _) in &flow.on {
                system.mains[header].stores.iter().for_each(|&tank| add(keys.tanks[tank]));
            }
            mask.into_boxed_slice()
        });
        Self {
            system,
            depends: depends.collect(),
            shares,
            index: FxHashMap::default(),
            list: Vec::new(),
            cells: FxHashMap::default(),
            held: 0,
            sets: Sets::new(system.flows.len() + system.mains.len()),
            solved: 0,
            steps: 0,
            keys,
        }
    }

    /// A key of zeros.
    #[must_use]
    pub fn blank(&self) -> Vec<u64> {
        vec![0; self.keys.words]
    }

    /// Whether so many modes are remembered that it is time to add up what they lasted, and [`Self::forget`].
    #[must_use]
    pub fn is_crowded(&self) -> bool {
        self.held > MOST_REMEMBERED
    }

    /// Forgets all modes.
    pub fn forget(&mut self) {
        self.index.clear();
        self.list.clear();
        self.cells.clear();
        self.held = 0;
    }

    /// The mode of that key.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn find(&mut self, key: &[u64], budget: &Budget<'_>) -> Result<usize, Halt> {
        if let Some(&at) = self.index.get(key) {
            return Ok(at);
        }
        let mode = self.balance(key, budget)?;
        self.held += 3 * self.system.flows.len() + 2 * self.system.tanks.len() + 16;
        self.list.push(mode);
        self.index.insert(key.into(), self.list.len() - 1);
        Ok(self.list.len() - 1)
    }

    fn stand(&self, key: &[u64], tank: usize) -> Stand {
        self.keys.stand(key, tank)
    }

    fn upper(&self, key: &[u64], flow: usize) -> f64 {
        let flow = &self.system.flows[flow];
        if flow.gates.iter().any(|&gate| Keys::get(key, self.keys.contacts[gate]) == 0) {
            return 0.0;
        }
        let share = flow.course.map_or(1.0, |course| self.shares[course][Keys::get(key, self.keys.courses[course])]);
        if share == 0.0 { 0.0 } else { flow.most * share }
    }

    fn storage(&self, key: &[u64], header: usize, upper: &[f64]) -> Storage {
        let main = &self.system.mains[header];
        let mut storage = Storage { rank: None, gives: false, takes: 0.0, lines: main.lines, endless: false };
        for &at in &main.stores {
            let tank = &self.system.tanks[at];
            storage.rank = Some(storage.rank.map_or(tank.rank, |rank| rank.min(tank.rank)));
            let stand = self.stand(key, at);
            storage.gives |= stand != Stand::Empty;
            storage.takes += if stand == Stand::Full { full_loss(tank) } else { f64::INFINITY };
        }
        if main.endless {
            let is_open = |(at, flow): (usize, &super::system::Flow)| {
                flow.drive == Drive::Tapped && upper[at].is_infinite() && flow.on[0].0 == header
            };
            storage.endless = self.system.flows.iter().enumerate().any(is_open);
        }
        storage
    }

    fn balance(&mut self, key: &[u64], budget: &Budget<'_>) -> Result<Mode, Halt> {
        let system = self.system;
        let upper: Vec<f64> = (0..system.flows.len()).map(|flow| self.upper(key, flow)).collect();
        let storage: Vec<Storage> = (0..system.mains.len()).map(|header| self.storage(key, header, &upper)).collect();
        let mut amount = vec![0.0; system.flows.len()];
        for members in self.cells_of(&upper, &storage) {
            let name = self.name_of(key, &members);
            if let Some(known) = self.cells.get(&name) {
                members.iter().zip(known).for_each(|(&at, &value)| amount[at] = value);
                continue;
            }
            let cell = Cell { flows: &system.flows, members: &members, upper: &upper, storage: &storage };
            let solved = cell.solve(&mut self.steps, budget)?;
            self.solved += 1;
            members.iter().zip(&solved).for_each(|(&at, &value)| amount[at] = value);
            self.held += name.len() + solved.len() + 8;
            self.cells.insert(name, solved.into_boxed_slice());
        }
        let net = self.net(key, &amount, &storage);
        let (mut cut, mut alive) = (vec![0; system.flows.len().div_ceil(64)], vec![0; system.flows.len().div_ceil(64)]);
        for (at, flow) in system.flows.iter().enumerate() {
            let bit = 1_u64 << (at % 64);
            if flow.drive == Drive::Asked && amount[at] < upper[at] * (1.0 - SERVED) {
                cut[at / 64] |= bit;
            }
            let least = if flow.most.is_finite() { flow.most * 1e-12 } else { 0.0 };
            if amount[at] > least && matches!(flow.what, Source::Run(_)) {
                alive[at / 64] |= bit;
            }
        }
        Ok(Mode {
            key: key.into(),
            amount: amount.into_boxed_slice(),
            upper: upper.into_boxed_slice(),
            net: net.into_boxed_slice(),
            cut: cut.into_boxed_slice(),
            alive: alive.into_boxed_slice(),
            lasted_s: 0.0,
            first_s: None,
        })
    }

    /// Flows that feel each other: they share a header that is not free. Each set in order, sets by their first.
    fn cells_of(&mut self, upper: &[f64], storage: &[Storage]) -> Vec<Vec<usize>> {
        let flows = self.system.flows.len();
        self.sets.reset();
        for (at, flow) in self.system.flows.iter().enumerate() {
            // What cannot flow binds nothing.
            if upper[at] > 0.0 {
                for &(header, _) in flow.on.iter().filter(|&&(header, _)| !storage[header].is_free()) {
                    self.sets.join(at, flows + header);
                }
            }
        }
        let mut of_root: Vec<usize> = vec![usize::MAX; flows];
        let mut cells: Vec<Vec<usize>> = Vec::new();
        for at in (0..flows).filter(|&at| upper[at] > 0.0) {
            let root = self.sets.find(at);
            if of_root[root] == usize::MAX {
                of_root[root] = cells.len();
                cells.push(Vec::new());
            }
            cells[of_root[root]].push(at);
        }
        cells
    }

    /// A cell's name: who is in it, and the part of the key it depends on.
    fn name_of(&self, key: &[u64], members: &[usize]) -> Box<[u64]> {
        let mut name = vec![0; key.len() + self.system.flows.len().div_ceil(64)];
        let (state, who) = name.split_at_mut(key.len());
        for &at in members {
            who[at / 64] |= 1 << (at % 64);
            for ((word, &mask), &key) in state.iter_mut().zip(&self.depends[at]).zip(key) {
                *word |= key & mask;
            }
        }
        name.into_boxed_slice()
    }

    /// What goes into each store.
    fn net(&self, key: &[u64], amount: &[f64], storage: &[Storage]) -> Vec<f64> {
        let mut net = vec![0.0; self.system.tanks.len()];
        let mut sum = vec![(0.0_f64, 0.0_f64); self.system.mains.len()];
        for (flow, &amount) in self.system.flows.iter().zip(amount) {
            for &(header, rate) in &flow.on {
                sum[header].0 += rate * amount;
                sum[header].1 += (rate * amount).abs();
            }
        }
        for (header, main) in self.system.mains.iter().enumerate() {
            let (mut rest, size) = sum[header];
            if main.stores.is_empty() || rest.abs() <= CANCELLED * size {
                continue;
            }
            // Rows of the programme close within rounding of its rates; what a pinned store cannot do is that rounding.
            if (rest < 0.0 && !storage[header].gives) || (rest > 0.0 && storage[header].takes == 0.0) {
                continue;
            }
            if let [tank] = main.stores[..] {
                net[tank] = rest;
                continue;
            }
            let stands: Vec<Stand> = main.stores.iter().map(|&at| self.stand(key, at)).collect();
            let tanks = || main.stores.iter().copied().zip(&stands);
            let mut spread = |rest: f64, chosen: &dyn Fn(usize, Stand) -> Option<f64>| {
                let weight: f64 = tanks().filter_map(|(at, &stand)| chosen(at, stand)).sum();
                if weight > 0.0 {
                    for (at, &stand) in tanks() {
                        net[at] += chosen(at, stand).map_or(0.0, |share| rest * share / weight);
                    }
                }
            };
            if rest > 0.0 {
                let loss = |at: usize, stand: Stand| (stand == Stand::Full).then(|| full_loss(&self.system.tanks[at]));
                let wanted: f64 = tanks().filter_map(|(at, &stand)| loss(at, stand)).sum();
                spread(rest.min(wanted), &loss);
                rest -= rest.min(wanted);
            }
            if rest != 0.0 {
                let closed = if rest > 0.0 { Stand::Full } else { Stand::Empty };
                let open = tanks().filter(|&(_, &stand)| stand != closed);
                if let Some(rank) = open.map(|(at, _)| self.system.tanks[at].rank).min() {
                    spread(rest, &|at, stand| {
                        let tank = &self.system.tanks[at];
                        (stand != closed && tank.rank == rank).then_some(tank.capacity)
                    });
                }
            }
        }
        net
    }
}

/// What a full store loses standing.
fn full_loss(tank: &super::system::Tank) -> f64 {
    tank.loses + tank.decays * tank.capacity
}
