//! The sections about heat, from what was read to the model. Names that resolve to nothing were faults, so nothing is dropped.

use std::collections::HashMap;

use crate::plan::document::{
    AMBIENT, CoolerDoc, HotSourceDoc, SubstanceDoc, ThermostatDoc, TurbineDoc, WallDoc, ZoneDoc,
};
use crate::plan::map::Section;
use crate::plan::model::{
    Brings, Cooler, Gated, HotSource, Moving, Substance, SubstanceId, Thermostat, Turbine, Wall, Zone, ZoneId,
};
use crate::quantity::{Power, Share};

fn things<T>(section: Option<Section<T>>) -> Vec<(String, T)> {
    section.map_or_else(Vec::new, |section| section.0)
}

pub(super) fn substances(section: Option<Section<SubstanceDoc>>) -> Vec<Substance> {
    let of = |(name, doc): (String, SubstanceDoc)| {
        let brought = doc.brought().unwrap_or_default();
        Substance {
            name,
            specific_heat: doc.specific_heat.map(|heat| heat.0.si()).or(brought.specific_heat),
            solid_heat: doc.solid_specific_heat.map(|heat| heat.0.si()).or(brought.solid_heat),
            gas_heat: doc.gas_specific_heat.map(|heat| heat.0.si()).or(brought.gas_heat),
            freezes_at_c: doc.freezes_at.map(|at| at.0).or(brought.freezes_at_c),
            boils_at_c: doc.boils_at.map(|at| at.0).or(brought.boils_at_c),
            fusion_j_kg: doc.fusion_heat.map(|heat| heat.0.si()).or(brought.fusion_j_kg).unwrap_or(0.0),
            vaporisation_j_kg: doc
                .vaporisation_heat
                .map(|heat| heat.0.si())
                .or(brought.vaporisation_j_kg)
                .unwrap_or(0.0),
        }
    };
    things(section).into_iter().map(of).collect()
}

/// Zones and substances by name.
pub(super) struct Names {
    zones: HashMap<String, ZoneId>,
    substances: HashMap<String, (SubstanceId, Option<f64>)>,
}

impl Names {
    pub fn new(zones: Option<&Section<ZoneDoc>>, substances: &[Substance]) -> Self {
        let zones = zones.iter().flat_map(|section| &section.0).enumerate();
        let substances = substances.iter().enumerate();
        Self {
            zones: zones.map(|(at, (name, _))| (name.clone(), ZoneId(at))).collect(),
            substances: substances
                .map(|(at, substance)| (substance.name.clone(), (SubstanceId(at), substance.specific_heat)))
                .collect(),
        }
    }

    pub fn zone(&self, name: &str) -> Option<ZoneId> {
        self.zones.get(name).copied()
    }

    fn substance(&self, name: &str) -> Option<SubstanceId> {
        self.substances.get(name).map(|(id, _)| *id)
    }

    /// The substance with its specific heat, by which heat flows are reckoned whatever its phase.
    fn warm(&self, name: &str) -> Option<(SubstanceId, f64)> {
        let (id, heat) = self.substances.get(name).copied()?;
        Some((id, heat?))
    }
}

fn wall(doc: WallDoc, names: &Names) -> Wall {
    let resistance = doc.surfaces.map_or(0.0, |surfaces| surfaces.0.si());
    let layers = doc.layers.map_or_else(Vec::new, |layers| layers.0);
    let resistance =
        layers.iter().fold(resistance, |sum, layer| sum + layer.thickness.0.si() / layer.conductivity.0.si());
    let conductance = match (doc.conductance, doc.area) {
        (Some(conductance), _) => conductance.0.si(),
        (None, Some(area)) => area.0.si() / resistance,
        (None, None) => 0.0,
    };
    Wall { to: if doc.to.0 == AMBIENT { None } else { names.zone(&doc.to.0) }, conductance }
}

pub(super) fn zones(section: Option<Section<ZoneDoc>>, names: &Names) -> Vec<Zone> {
    let of = |(name, doc): (String, ZoneDoc)| Zone {
        name,
        contents: doc
            .contents
            .0
            .0
            .into_iter()
            .filter_map(|(what, mass)| Some((names.substance(&what)?, mass.0)))
            .collect(),
        at_c: doc.at.0,
        walls: doc.walls.map_or_else(Vec::new, |walls| walls.0).into_iter().map(|doc| wall(doc, names)).collect(),
        cells: doc.cells.map(|cells| cells.0),
        cell_limit: doc.cell_limit.map(|limit| limit.0),
        limit_c: doc.limit.map(|limit| limit.0),
        least_c: doc.least.map(|least| least.0),
    };
    things(section).into_iter().map(of).collect()
}

pub(super) fn coolers(section: Option<Section<CoolerDoc>>, names: &Names) -> Vec<Cooler> {
    let of = |(name, doc): (String, CoolerDoc)| {
        let coolant = doc.coolant.as_ref();
        let moving = match (doc.duty, doc.flow, doc.drop) {
            (Some(duty), _, _) => Moving::Duty { duty: duty.0 },
            (None, Some(flow), Some(drop)) => {
                Moving::Drop { flow: flow.0, drop_k: drop.0, specific_heat: names.warm(&coolant?.0)?.1 }
            }
            _ => return None,
        };
        let by_cop = doc.duty.zip(doc.cop).and_then(|(duty, cop)| Power::from_si(duty.0.si() / cop.0));
        Some(Cooler {
            name,
            cools: names.zone(&doc.cools.0)?,
            rejects_to: doc.rejects_to.and_then(|to| names.zone(&to.0)),
            coolant: coolant.and_then(|coolant| names.substance(&coolant.0)),
            moving,
            set_point_c: doc.set_point.map(|at| at.0),
            draws: doc.draws.map(|draws| draws.0).or(by_cop).unwrap_or(Power::ZERO),
            rejects_draw: doc.rejects_draw.unwrap_or(doc.duty.is_some()),
            margin_k: doc.margin.map_or(0.0, |margin| margin.0),
            count: doc.count.map(|count| count.0),
        })
    };
    things(section).into_iter().filter_map(of).collect()
}

pub(super) fn turbines(section: Option<Section<TurbineDoc>>, names: &Names) -> Vec<Turbine> {
    let of = |(name, doc): (String, TurbineDoc)| {
        let (fluid, specific_heat) = names.warm(&doc.fluid.0)?;
        Some(Turbine {
            name,
            zone: names.zone(&doc.zone.0)?,
            fluid,
            flow: doc.flow.0,
            specific_heat,
            inlet_min_c: doc.inlet_min.0,
            inlet_rated_c: doc.inlet_rated.0,
            outlet_c: doc.outlet.0,
            generates: doc.generates.0,
            casing_share: doc.casing_share.map_or(Share::ZERO, |share| share.0),
            casing_zone: doc.casing_zone.and_then(|zone| names.zone(&zone.0)),
            count: doc.count.map(|count| count.0),
        })
    };
    things(section).into_iter().filter_map(of).collect()
}

pub(super) fn hot_sources(section: Option<Section<HotSourceDoc>>, names: &Names) -> Vec<HotSource> {
    let of = |(name, doc): (String, HotSourceDoc)| {
        let brings = match doc.heat {
            Some(heat) => Brings::Heat(heat.0),
            None => {
                Brings::Matter { flow: doc.flow?.0, specific_heat: names.warm(&doc.substance?.0)?.1, at_c: doc.at?.0 }
            }
        };
        Some(HotSource { name, zone: names.zone(&doc.zone.0)?, brings, pattern: doc.pattern.map(|pattern| pattern.0) })
    };
    things(section).into_iter().filter_map(of).collect()
}

pub(super) fn thermostats(
    section: Option<Section<ThermostatDoc>>,
    names: &Names,
    targets: &HashMap<&str, Gated>,
) -> Vec<Thermostat> {
    let of = |(name, doc): (String, ThermostatDoc)| {
        Some(Thermostat {
            name,
            watch: names.zone(&doc.watch.0)?,
            start_at_c: doc.start_at.0,
            stop_at_c: doc.stop_at.0,
            runs: doc.runs.0.iter().filter_map(|run| targets.get(run.0.as_str()).copied()).collect(),
            on: doc.on.unwrap_or(false),
        })
    };
    things(section).into_iter().filter_map(of).collect()
}
