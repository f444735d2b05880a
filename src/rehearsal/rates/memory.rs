//! Balances of a moment that have been met, by the state they depend on.

use rustc_hash::FxHashMap;

/// Numbers that the remembered balances may hold before they are forgotten.
const MOST_REMEMBERED: usize = 4_000_000;

/// What flows in some blocks while their part of the state stands.
#[derive(Clone, Debug)]
pub struct Balanced {
    /// The blocks.
    pub blocks: Box<[u32]>,
    /// The flows.
    pub flows: Box<[u32]>,
    /// How much of each.
    pub amount: Box<[f64]>,
    /// The most of each.
    pub upper: Box<[f64]>,
    /// Whether each gets less than it asks for, and whether each runs.
    pub marks: Box<[(bool, bool)]>,
    /// By header that cuts: its net, and the size of its terms.
    pub net: Box<[(u32, f64, f64)]>,
    /// Whether a demand is cut.
    pub is_short: bool,
    /// How long it was in force in all.
    pub lasted_s: f64,
    /// When it first was.
    pub first_s: Option<f64>,
    /// Since when it is.
    pub since_s: Option<f64>,
}

/// All balances met, each found by the bits of the state it depends on and the blocks it is of.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// In the order in which they were met.
    pub met: Vec<Balanced>,
    index: FxHashMap<Box<[u64]>, u32>,
    held: usize,
}

impl Memory {
    /// The balance of this name.
    #[must_use]
    pub fn find(&self, name: &[u64]) -> Option<u32> {
        self.index.get(name).copied()
    }

    /// Keeps a balance and says where.
    pub fn keep(&mut self, name: &[u64], balanced: Balanced) -> u32 {
        self.held += 5 * balanced.flows.len() + name.len() + 3 * balanced.net.len() + 24;
        self.met.push(balanced);
        let at = (self.met.len() - 1) as u32;
        self.index.insert(name.into(), at);
        at
    }

    /// Whether so much is remembered that it is time to add it up and forget it.
    #[must_use]
    pub fn is_crowded(&self) -> bool {
        self.held > MOST_REMEMBERED
    }

    /// The same balances, none of them in force yet: for another rehearsal of the same flows.
    #[must_use]
    pub fn renewed(mut self) -> Self {
        for balanced in &mut self.met {
            (balanced.lasted_s, balanced.first_s, balanced.since_s) = (0.0, None, None);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One that holds `numbers` with a name of ten.
    fn balanced(numbers: usize) -> Balanced {
        let nets = 7;
        let flows = (numbers - 10 - 3 * nets - 24) / 5;
        Balanced {
            blocks: Box::default(),
            flows: vec![0; flows].into(),
            amount: Box::default(),
            upper: Box::default(),
            marks: Box::default(),
            net: vec![(0, 0.0, 0.0); nets].into(),
            is_short: false,
            lasted_s: 3.0,
            first_s: Some(1.0),
            since_s: Some(2.0),
        }
    }

    #[test]
    fn it_is_crowded_past_four_million_numbers() {
        let mut memory = Memory::default();
        for at in 0..1000 {
            assert_eq!(memory.keep(&[at, 1, 2, 3, 4, 5, 6, 7, 8, 9], balanced(4000)), at as u32);
            assert!(!memory.is_crowded(), "at {at}");
        }
        memory.keep(&[1000, 1, 2, 3, 4, 5, 6, 7, 8, 9], balanced(60));
        assert!(memory.is_crowded());
    }

    #[test]
    fn what_is_renewed_is_remembered_and_not_in_force() {
        let mut memory = Memory::default();
        memory.keep(&[7], balanced(100));
        let renewed = memory.renewed();
        assert_eq!((renewed.find(&[7]), renewed.find(&[8])), (Some(0), None));
        let Balanced { lasted_s, first_s, since_s, .. } = renewed.met[0];
        assert_eq!((lasted_s, first_s, since_s), (0.0, None, None));
    }
}
