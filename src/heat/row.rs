//! Short lists of numbers by zone. Plants have a few zones, and events are many: such lists stay off the heap.

use smallvec::SmallVec;

/// A number for each zone.
pub type Row = SmallVec<[f64; 8]>;
/// A number for each pair of zones, row by row.
pub(super) type Table = SmallVec<[f64; 16]>;
/// Zones with what each is multiplied by.
pub(super) type Terms = SmallVec<[(usize, f64); 4]>;
