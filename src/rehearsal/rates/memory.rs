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
