//! The figures of rows. Lengths are in floor cells.

use serde::Serialize;

use crate::questions::answer::{Name, Named};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// How a row turns out.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct RowFigures {
    /// How wide it would have to be for all that it is to take: 2 · walls + access + widths + (machines − 1) · gap.
    pub needed_cells: u64,
    /// How wide it is.
    pub width_cells: u64,
    /// How wide it has to be for what stands in it.
    pub used_cells: u64,
    /// How much wider it must be for machines that stand nowhere and were last to stand here; 0 where none are left over.
    pub missing_cells: u64,
    /// How many are to stand in it, by unit: those that rows before had no room for among them.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, u64>))]
    pub wanted: Named<u64>,
    /// How many stand in it, by unit.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, u64>))]
    pub placed: Named<u64>,
    /// The most that fit, by unit, with the others as they stand.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, u64>))]
    pub fits: Named<u64>,
    /// How much wider it must be for one more (in a symmetric row: for one more in each half), by unit; 0 where it fits as it is.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, u64>))]
    pub wider_for_more_cells: Named<u64>,
    /// Whether each half is the mirror of the other; absent where that is not asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mirrors: Option<bool>,
    /// Where machines stand, from the left.
    pub stands: Vec<StandFigures>,
    /// Where what is kept free begins.
    pub access_at_cell: u64,
    /// How much is kept free.
    pub access_cells: u64,
    /// How thick each end wall is.
    pub wall_cells: u64,
    /// How high it is; absent where it has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_cells: Option<u64>,
}

/// Machines of one unit side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct StandFigures {
    /// The unit.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub unit: Name,
    /// How many.
    pub count: u64,
    /// The cell on which the first begins; the row begins on 0.
    pub at_cell: u64,
    /// How wide one is.
    pub each_cells: u64,
    /// From the beginning of one to that of the next.
    pub pitch_cells: u64,
    /// How high one is.
    pub height_cells: u64,
}
