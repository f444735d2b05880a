//! The section about the floor: rows of machines.

use std::collections::HashSet;

use super::PlanDocument;
use super::across::{Written, section, unknown};
use crate::plan::FaultCode;
use crate::plan::field::{Cells, FreeCells, MachineCount, Name, Whole};
use crate::plan::map::{AtLeastOne, List, Parts};
use crate::plan::node::{Node, Value, quoted};
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::{Check, Wire, document};

document! {
    /// Where machines stand.
    FloorDoc = "Floor" {
        /// The rows, filled in this order: what does not fit into one goes on to the next that places it.
        must rows: List<RowDoc>,
    }

    /// A row of machines: wall, machines with gaps between them, access, wall. Lengths are in floor cells.
    RowDoc = "FloorRow" {
        /// Its name, which no other row has.
        must name: Name,
        /// How wide it is, walls included.
        must width: Whole<Cells>,
        /// How thick each of its two end walls is; 0 unless said.
        may walls: Whole<FreeCells>,
        /// What is kept free in all for doors and ladders; 0 unless said. In a symmetric row it lies in the middle.
        may access: Whole<FreeCells>,
        /// What is kept free between two machines; 0 unless said.
        may gap: Whole<FreeCells>,
        /// How high it is; without it nothing is too tall.
        may height: Whole<Cells>,
        /// What stands in it, by unit: so many, or `all` that there are and that no row before was asked to place. The widest
        /// are placed first, and of one width by name.
        must place: AtLeastOne<Parts<PlaceDoc>>,
        /// Whether it has two equal halves, each the mirror of the other; false unless said.
        may symmetric: bool,
    }
}

/// The word for as many as there are.
pub(in crate::plan) const ALL: &str = "all";

/// How many are to be placed: a whole number, or `all`.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) enum PlaceDoc {
    /// So many.
    Count(Whole<MachineCount>),
    /// As many as there are.
    All,
}

impl Wire for PlaceDoc {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        match &node.value {
            Value::Text(text) if text == ALL => Some(Self::All),
            Value::Number(_) => Whole::read(node, place, reader).map(Self::Count),
            other => {
                let code =
                    if matches!(other, Value::Text(_)) { FaultCode::UnknownChoice } else { FaultCode::WrongType };
                reader.fault_here(node, place, code, || format!("a whole number, or {ALL:?}"));
                None
            }
        }
    }
}

impl Check for FloorDoc {}
impl Check for RowDoc {}

impl PlanDocument {
    /// Notes rows of one name, units that nobody has, and units that are placed and have no width.
    pub(super) fn check_floor<'n>(&self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let Some(floor) = &self.floor else { return };
        let document = reader.document;
        let units = Written::of(document, node, "units", "unit");
        let read: HashSet<&str> = self
            .units
            .iter()
            .flat_map(|section| &section.0)
            .filter(|(_, unit)| unit.width.is_none())
            .map(|(name, _)| name.as_str())
            .collect();
        let rows = section(document, node, &["floor"]).iter().find(|(name, _)| name == "rows");
        let Some(items) = rows.and_then(|(_, rows)| document.items(rows)) else { return };
        let (at, mut names, mut narrow) = (place.below("floor"), HashSet::new(), HashSet::new());
        let at = at.below("rows");
        for (index, (row, child)) in floor.rows.0.iter().zip(items).enumerate() {
            let index = index.to_string();
            let at = at.below(&index);
            if !names.insert(row.name.0.as_str()) {
                let child = document.field(child, "name").unwrap_or(child);
                reader.fault(child, &at.below("name"), FaultCode::DuplicateField, |_| Detail {
                    found: format!("the row {} a second time", quoted(&row.name.0)),
                    expected: "each name once".to_owned(),
                    near: None,
                });
            }
            let at = at.below("place");
            for (name, child) in section(document, child, &["place"]) {
                if !units.has(name) {
                    unknown(name, &[&units], child, &at.below(name), reader);
                } else if read.contains(name.as_ref()) && narrow.insert(name.as_ref()) {
                    let list = section(document, node, &["units"]);
                    let unit = list.iter().find(|(known, _)| known == name).map_or(child, |(_, unit)| unit);
                    // One whose width is at fault is not told a second time.
                    if document.field(unit, "width").is_none() {
                        let units = place.below("units");
                        reader.missing(unit, &units.below(name), "width");
                    }
                }
            }
        }
    }
}
