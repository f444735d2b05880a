//! Rows of machines.

use super::UnitId;

/// A row of machines: wall, machines with gaps between them, access, wall. Lengths are in floor cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FloorRow {
    /// Its name.
    pub name: String,
    /// How wide it is, walls included.
    pub width: u32,
    /// How thick each of its two end walls is.
    pub walls: u32,
    /// What is kept free in all; in a symmetric row it lies in the middle.
    pub access: u32,
    /// What is kept free between two machines.
    pub gap: u32,
    /// How high it is; without it nothing is too tall.
    pub height: Option<u32>,
    /// What stands in it; every unit has a width, and is there once.
    pub place: Vec<Placing>,
    /// Whether each half is the mirror of the other.
    pub symmetric: bool,
}

/// Machines of one type that are to stand in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placing {
    /// The unit.
    pub unit: UnitId,
    /// How many.
    pub placed: Placed,
}

/// How many machines are to be placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Placed {
    /// So many.
    Count(u32),
    /// All that there are and that no row before was asked to place.
    All,
}
