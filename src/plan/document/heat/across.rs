//! What does not hold between things about heat: names that nothing has, substances whose heat nobody knows, drops too large.

use super::{AMBIENT, CoolerDoc, PlanDocument, SubstanceDoc};
use crate::plan::FaultCode;
use crate::plan::document::across::{Known, Written, only_one, section, unknown};
use crate::plan::node::{Node, quoted};
use crate::plan::reader::{Detail, Place, Reader};

impl PlanDocument {
    /// Notes names that heat refers to and nothing has, and what does not hold between the sections.
    pub(in crate::plan::document) fn check_heat<'n>(
        &self,
        node: &'n Node<'n>,
        place: &Place<'_>,
        known: &Known<'n>,
        reader: &mut Reader<'n>,
    ) {
        let document = reader.document;
        let one = |name: &str, of: &Written<'n>, part: &[&str], reader: &mut Reader<'n>| {
            if !of.has(name) {
                let child = part.iter().try_fold(node, |node, name| document.field(node, name)).unwrap_or(node);
                below(place, part, |place| unknown(name, &[of], child, place, reader));
            }
        };
        for (name, zone) in self.zones.iter().flat_map(|section| &section.0) {
            for (substance, _) in &zone.contents.0.0 {
                self.needs_heat(substance, &["zones", name, "contents", substance], node, place, known, reader);
            }
            for (at, wall) in zone.walls.iter().flat_map(|walls| walls.0.iter().enumerate()) {
                let index = at.to_string();
                if wall.to.0 != AMBIENT {
                    one(&wall.to.0, &known.zones, &["zones", name, "walls", &index, "to"], reader);
                } else if document.field(node, "ambient").is_none() {
                    reader.missing(node, place, "ambient");
                }
            }
        }
        for (name, unit) in self.units.iter().flat_map(|section| &section.0) {
            if let Some(zone) = &unit.zone {
                one(&zone.0, &known.zones, &["units", name, "zone"], reader);
            }
        }
        for (name, cooler) in self.coolers.iter().flat_map(|section| &section.0) {
            one(&cooler.cools.0, &known.zones, &["coolers", name, "cools"], reader);
            if let Some(to) = &cooler.rejects_to {
                one(&to.0, &known.zones, &["coolers", name, "rejects_to"], reader);
            }
            if let Some(coolant) = &cooler.coolant {
                let at = ["coolers", name.as_str(), "coolant"];
                if cooler.drop.is_some() {
                    self.needs_heat(&coolant.0, &at, node, place, known, reader);
                } else {
                    one(&coolant.0, &known.substances, &at, reader);
                }
                self.drop_fits(name, cooler, node, place, reader);
            }
        }
        for (name, turbine) in self.turbines.iter().flat_map(|section| &section.0) {
            one(&turbine.zone.0, &known.zones, &["turbines", name, "zone"], reader);
            self.needs_heat(&turbine.fluid.0, &["turbines", name, "fluid"], node, place, known, reader);
            if let Some(zone) = &turbine.casing_zone {
                one(&zone.0, &known.zones, &["turbines", name, "casing_zone"], reader);
            }
        }
        for (name, source) in self.hot_sources.iter().flat_map(|section| &section.0) {
            one(&source.zone.0, &known.zones, &["hot_sources", name, "zone"], reader);
            if let Some(substance) = &source.substance {
                self.needs_heat(&substance.0, &["hot_sources", name, "substance"], node, place, known, reader);
            }
        }
        for (name, thermostat) in self.thermostats.iter().flat_map(|section| &section.0) {
            one(&thermostat.watch.0, &known.zones, &["thermostats", name, "watch"], reader);
            let of =
                [&known.units, &known.supplies, &known.demands, &known.coolers, &known.turbines, &known.hot_sources];
            let mut met: Vec<&str> = Vec::new();
            for run in &thermostat.runs.0 {
                let part = ["thermostats", name.as_str(), "runs"];
                let child = part.iter().try_fold(node, |node, name| document.field(node, name)).unwrap_or(node);
                below(place, &part, |place| {
                    if met.contains(&run.0.as_str()) {
                        reader.fault(child, place, FaultCode::DuplicateField, |_| Detail {
                            found: format!("{} a second time", quoted(&run.0)),
                            expected: "each name once".to_owned(),
                            near: None,
                        });
                    } else {
                        only_one(&run.0, &of, child, place, reader);
                    }
                });
                met.push(&run.0);
            }
        }
    }

    fn substance(&self, name: &str) -> Option<&SubstanceDoc> {
        let substances = self.substances.as_ref()?;
        substances.0.iter().find(|(known, _)| known == name).map(|(_, substance)| substance)
    }

    /// Notes a substance that nobody knows, or whose specific heat nobody does.
    fn needs_heat<'n>(
        &self,
        name: &str,
        part: &[&str],
        node: &'n Node<'n>,
        place: &Place<'_>,
        known: &Known<'n>,
        reader: &mut Reader<'n>,
    ) {
        let document = reader.document;
        if !known.substances.has(name) {
            let child = part.iter().try_fold(node, |node, name| document.field(node, name)).unwrap_or(node);
            below(place, part, |place| unknown(name, &[&known.substances], child, place, reader));
        } else if self.substance(name).is_some_and(|substance| substance.heat().is_none()) {
            let entries = section(document, node, &["substances"]);
            let child = entries.iter().find(|(known, _)| known == name).map_or(node, |(_, child)| child);
            if document.field(child, "specific_heat").is_none() {
                below(place, &["substances", name], |place| reader.missing(child, place, "specific_heat"));
            }
        }
    }

    fn drop_fits<'n>(
        &self,
        name: &str,
        cooler: &CoolerDoc,
        node: &'n Node<'n>,
        place: &Place<'_>,
        reader: &mut Reader<'n>,
    ) {
        let Some(substance) = cooler.coolant.as_ref().and_then(|coolant| self.substance(&coolant.0)) else { return };
        if let (Some(drop), Some(freezes), Some(boils)) = (cooler.drop, substance.freezing_c(), substance.boiling_c())
            && drop.0 >= boils - freezes
        {
            let child = section(reader.document, node, &["coolers"]);
            let child = child.iter().find(|(known, _)| known == name).map_or(node, |(_, child)| child);
            below(place, &["coolers", name, "drop"], |place| {
                reader.contradiction(
                    child,
                    place,
                    || format!("a drop of {} K in a liquid range of {} K", drop.0, boils - freezes),
                    || "a drop smaller than the liquid range of the coolant".to_owned(),
                );
            });
        }
    }
}

/// The place that these names lead to.
fn below<R>(place: &Place<'_>, part: &[&str], with: impl FnOnce(&Place<'_>) -> R) -> R {
    match part {
        [] => with(place),
        [first, rest @ ..] => below(&place.below(first), rest, with),
    }
}
