//! The law of a mode, and all those of a network that are known.

use std::rc::Rc;

use rustc_hash::{FxBuildHasher, FxHashMap};
use smallvec::SmallVec;

use crate::heat::affine::{Affine, Held};
use crate::heat::ladder::Square;
use crate::heat::linear::Linear;
use crate::heat::row::Row;

/// Modes remembered; past them, all are forgotten and found anew.
pub(super) const MOST_KNOWN: usize = 4_096;

/// What tells one state from another, bit by bit.
pub type Mode = SmallVec<[u64; 16]>;

/// The law of a mode, whatever the temperatures.
#[derive(Clone)]
pub(super) struct Law {
    pub free: SmallVec<[usize; 4]>,
    /// Of each free zone as the network says, J/K.
    pub capacity: Row,
    pub linear: Rc<Linear>,
    /// W into each free zone, apart from what its law says.
    pub heat: Row,
    /// Held zones and the share of the upper side of each, over all zones.
    pub held: SmallVec<[Held; 2]>,
    pub shares: SmallVec<[Affine; 2]>,
    /// Heat into zones that change phase, over all zones.
    pub changing: SmallVec<[(usize, Affine); 1]>,
    /// Temperature of each zone as an index into `free`.
    pub place: SmallVec<[Option<usize>; 4]>,
}

/// The laws of the modes that a network has been in: they hold for whatever temperatures it begins at.
pub(super) struct Laws {
    pub by_mode: FxHashMap<Mode, Rc<Law>>,
    /// Modes may share it: by capacities and conductances.
    pub linear: FxHashMap<Mode, Rc<Linear>>,
}

impl Default for Laws {
    fn default() -> Self {
        // Most blocks come to know a few, and growing to them takes as long as finding one.
        const ROOM: usize = 7;
        Self {
            by_mode: FxHashMap::with_capacity_and_hasher(ROOM, FxBuildHasher),
            linear: FxHashMap::with_capacity_and_hasher(ROOM, FxBuildHasher),
        }
    }
}

impl Laws {
    /// The linear law of so much that holds heat, J/K, and of these conductances.
    pub fn linear(&mut self, capacity: &[f64], conductance: &Square) -> Rc<Linear> {
        let key: Mode = capacity.iter().chain(&conductance.entries).map(|number| number.to_bits()).collect();
        if self.linear.len() >= MOST_KNOWN {
            self.linear.clear();
        }
        Rc::clone(self.linear.entry(key).or_insert_with(|| Rc::new(Linear::new(capacity, conductance))))
    }

    /// All of them for zones that hold so many times as much: how fast they warm is all that changes.
    pub fn weigh(&mut self, times: &[f64]) {
        self.linear.clear();
        for mut law in std::mem::take(&mut self.by_mode) {
            let capacity = weighed(&law.1.capacity, &law.1.free, times);
            let linear = self.linear(&capacity, law.1.linear.conductance());
            Rc::make_mut(&mut law.1).linear = linear;
            self.by_mode.insert(law.0, law.1);
        }
    }
}

/// What zones hold, J/K, that hold so many times as much as these say.
pub(super) fn weighed(capacity: &[f64], zones: &[usize], times: &[f64]) -> Row {
    capacity.iter().zip(zones).map(|(capacity, zone)| capacity * times[*zone]).collect()
}
