//! From the section about the floor to the model.

use std::collections::HashMap;

use crate::plan::document::{FloorDoc, PlaceDoc, RowDoc};
use crate::plan::model::{FloorRow, Placed, Placing, Unit, UnitId};

pub(super) fn rows(floor: Option<FloorDoc>, units: &[Unit]) -> Vec<FloorRow> {
    let Some(floor) = floor else { return Vec::new() };
    let ids: HashMap<&str, UnitId> =
        units.iter().enumerate().map(|(index, unit)| (unit.name.as_str(), UnitId(index))).collect();
    let row = |doc: RowDoc| FloorRow {
        width: doc.width.0,
        walls: doc.walls.map_or(0, |cells| cells.0),
        access: doc.access.map_or(0, |cells| cells.0),
        gap: doc.gap.map_or(0, |cells| cells.0),
        height: doc.height.map(|cells| cells.0),
        // Names that resolve to nothing were faults, so nothing is dropped here.
        place: doc
            .place
            .0
            .0
            .iter()
            .filter_map(|(name, placed)| Some(placing(*ids.get(name.as_str())?, *placed)))
            .collect(),
        symmetric: doc.symmetric.unwrap_or(false),
        name: doc.name.0,
    };
    floor.rows.0.into_iter().map(row).collect()
}

fn placing(unit: UnitId, placed: PlaceDoc) -> Placing {
    let placed = match placed {
        PlaceDoc::Count(count) => Placed::Count(count.0),
        PlaceDoc::All => Placed::All,
    };
    Placing { unit, placed }
}
