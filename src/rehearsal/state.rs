//! The state that rates depend on, as bits: where each store stands, which switches are on, which step each pattern is in.

use super::system::System;
use super::warm::STEPS;

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

/// Some bits of a state.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    word: usize,
    shift: u32,
    mask: u64,
}

impl Field {
    /// Sets its bits in a mask.
    pub fn cover(self, mask: &mut [u64]) {
        mask[self.word] |= self.mask;
    }
}

/// The bits, and where what stands in them.
#[derive(Clone, Debug)]
pub struct State {
    /// The bits.
    pub bits: Vec<u64>,
    /// What each pattern's shares are, by the number that stands for them.
    pub shares: Vec<Vec<f64>>,
    /// By store.
    pub tanks: Vec<Field>,
    /// By switch.
    pub contacts: Vec<Field>,
    /// By pattern.
    pub courses: Vec<Field>,
    /// By thermostat.
    pub thermostats: Vec<Field>,
    /// By dial.
    pub dials: Vec<Field>,
}

impl State {
    /// All zeros: stores between, switches off, patterns at nothing.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let shares: Vec<Vec<f64>> = system.courses.iter().map(|(_, course)| course.shares()).collect();
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
        let (relays, marks) = system.warm.as_ref().map_or((0, 0), |w| (w.network.thermostats.len(), w.dials.len()));
        let thermostats = (0..relays).map(|_| field(1)).collect();
        let dials = (0..marks).map(|_| field(usize::BITS - STEPS.leading_zeros())).collect();
        Self { bits: vec![0; word + 1], shares, tanks, contacts, courses, thermostats, dials }
    }

    fn set(&mut self, field: Field, value: usize) {
        let word = &mut self.bits[field.word];
        *word = (*word & !field.mask) | ((value as u64) << field.shift);
    }

    fn get(&self, field: Field) -> usize {
        ((self.bits[field.word] & field.mask) >> field.shift) as usize
    }

    /// Where a store stands.
    #[must_use]
    pub fn stand(&self, tank: usize) -> Stand {
        match self.get(self.tanks[tank]) {
            1 => Stand::Empty,
            2 => Stand::Full,
            _ => Stand::Between,
        }
    }

    /// Puts a store where it stands.
    pub fn set_stand(&mut self, tank: usize, stand: Stand) {
        self.set(self.tanks[tank], stand as usize);
    }

    /// Whether a switch is on.
    #[must_use]
    pub fn is_on(&self, contact: usize) -> bool {
        self.get(self.contacts[contact]) == 1
    }

    /// Turns a switch.
    pub fn set_on(&mut self, contact: usize, on: bool) {
        self.set(self.contacts[contact], usize::from(on));
    }

    /// The share that a pattern lets through.
    #[must_use]
    pub fn share(&self, course: usize) -> f64 {
        self.shares[course][self.get(self.courses[course])]
    }

    /// Sets the share that a pattern lets through: one of its own.
    pub fn set_share(&mut self, course: usize, share: f64) {
        let number = self.shares[course].iter().position(|&known| known == share).unwrap_or(0);
        self.set(self.courses[course], number);
    }

    /// Turns a thermostat.
    pub fn set_thermostat(&mut self, thermostat: usize, on: bool) {
        self.set(self.thermostats[thermostat], usize::from(on));
    }

    /// The mark that a dial stands at.
    #[must_use]
    pub fn mark(&self, dial: usize) -> usize {
        self.get(self.dials[dial])
    }

    /// Sets a dial to a mark, at most [`STEPS`].
    pub fn set_mark(&mut self, dial: usize, mark: usize) {
        self.set(self.dials[dial], mark);
    }

    /// The most of a flow now.
    #[must_use]
    pub fn most(&self, system: &System, flow: usize) -> f64 {
        let read = self.read(system, flow);
        if read == 0.0 { 0.0 } else { self.whole(system, flow) * read }
    }

    /// The share that the dial of a flow reads; one where it has none.
    #[must_use]
    pub fn read(&self, system: &System, flow: usize) -> f64 {
        system.flows[flow].dial.map_or(1.0, |dial| self.mark(dial) as f64 / STEPS as f64)
    }

    /// The most of a flow now, whatever its dial reads.
    #[must_use]
    pub fn whole(&self, system: &System, flow: usize) -> f64 {
        let flow = &system.flows[flow];
        let off = |field: &Field| self.get(*field) == 0;
        if flow.gates.iter().any(|&gate| off(&self.contacts[gate]))
            || flow.thermostats.iter().any(|&gate| off(&self.thermostats[gate]))
        {
            return 0.0;
        }
        let share = flow.course.map_or(1.0, |course| self.share(course));
        if share == 0.0 { 0.0 } else { flow.most * share }
    }
}
