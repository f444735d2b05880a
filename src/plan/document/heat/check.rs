//! What does not hold within one thing about heat.

use super::{CoolerDoc, HotSourceDoc, LayerDoc, SubstanceDoc, ThermostatDoc, TurbineDoc, WallDoc, ZoneDoc};
use crate::plan::node::{Node, quoted};
use crate::plan::presets::{Figures, Properties};
use crate::plan::reader::{POWER, Place, Reader};
use crate::plan::wire::Check;

impl Check for LayerDoc {}

impl SubstanceDoc {
    /// What published properties bring.
    pub fn brought(&self) -> Option<Figures> {
        self.properties.map(|properties| properties.0.figures(self.pressure.map(|pressure| pressure.0.si())))
    }

    pub fn freezing_c(&self) -> Option<f64> {
        self.freezes_at.map(|at| at.0).or_else(|| self.brought()?.freezes_at_c)
    }

    pub fn boiling_c(&self) -> Option<f64> {
        self.boils_at.map(|at| at.0).or_else(|| self.brought()?.boils_at_c)
    }

    pub fn heat(&self) -> Option<f64> {
        self.specific_heat.map(|heat| heat.0.si()).or_else(|| self.brought()?.specific_heat)
    }
}

impl Check for SubstanceDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let is_steam = self.properties.is_some_and(|properties| properties.0 == Properties::Steam97);
        if let Some(pressure) = reader.document.field(node, "pressure")
            && !is_steam
        {
            reader.contradiction(
                pressure,
                &place.below("pressure"),
                || "a pressure of what is not `iapws-if97`".to_owned(),
                || "a pressure beside `\"properties\": \"iapws-if97\"`: nothing else depends on it".to_owned(),
            );
        }
        if let (Some(freezes), Some(boils)) = (self.freezing_c(), self.boiling_c())
            && boils <= freezes
        {
            reader.contradiction(
                node,
                &place.below("boils_at"),
                || format!("freezing at {freezes} °C and boiling at {boils} °C"),
                || "boiling above freezing: the phases in order".to_owned(),
            );
        }
    }
}

impl Check for WallDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        reader.together(node, place, ["area", "layers"]);
        let has = |name| reader.document.field(node, name).is_some();
        if !has("conductance") && !has("area") && !has("layers") {
            reader.missing(node, place, "conductance");
        }
        reader.one_of(node, place, &["conductance", "layers"]);
    }
}

impl Check for ZoneDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        for (at, wall) in self.walls.iter().flat_map(|walls| walls.0.iter().enumerate()) {
            if wall.to.0 == place.key() {
                let (walls, index) = (place.below("walls"), at.to_string());
                let child = reader.document.field(node, "walls").unwrap_or(node);
                reader.contradiction(
                    child,
                    &walls.below(&index).below("to"),
                    || format!("a wall from {} to itself", quoted(place.key())),
                    || "another zone, or ambient".to_owned(),
                );
            }
        }
        if let (Some(least), Some(limit)) = (self.least, self.limit)
            && least.0 >= limit.0
        {
            reader.contradiction(
                node,
                &place.below("least"),
                || format!("least {} °C and limit {} °C", least.0, limit.0),
                || "least below limit".to_owned(),
            );
        }
    }
}

impl Check for CoolerDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        // What makes or draws power needs the header, whether or not anything names it.
        if self.cop.is_some() || self.draws.is_some_and(|draws| draws.0.si() > 0.0) {
            reader.header(POWER);
        }
        let has = |name| reader.document.field(node, name).is_some();
        if !has("duty") {
            for name in ["flow", "drop", "coolant"] {
                if !has(name) {
                    reader.missing(node, place, name);
                }
            }
        }
        reader.one_of(node, place, &["duty", "drop"]);
        reader.one_of(node, place, &["cop", "draws"]);
        if self.cop.is_some() && reader.document.field(node, "duty").is_none() {
            reader.missing(node, place, "duty");
        }
        if let Some(to) = &self.rejects_to
            && to.0 == self.cools.0
        {
            reader.contradiction(
                node,
                &place.below("rejects_to"),
                || format!("{} both cooled and heated", quoted(&to.0)),
                || "another zone to reject the heat to".to_owned(),
            );
        }
    }
}

impl Check for TurbineDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        if self.generates.0.si() > 0.0 {
            reader.header(POWER);
        }
        let (outlet, least, rated) = (self.outlet.0, self.inlet_min.0, self.inlet_rated.0);
        if outlet >= least {
            reader.contradiction(
                node,
                &place.below("outlet"),
                || format!("an outlet of {outlet} °C and an inlet from {least} °C on"),
                || "an outlet colder than the inlet".to_owned(),
            );
        }
        if least > rated {
            reader.contradiction(
                node,
                &place.below("inlet_rated"),
                || format!("inlet_min {least} °C and inlet_rated {rated} °C"),
                || "inlet_rated no lower than inlet_min".to_owned(),
            );
        }
        if self.casing_share.is_some_and(|share| share.0.si() > 0.0)
            && reader.document.field(node, "casing_zone").is_none()
        {
            reader.missing(node, place, "casing_zone");
        }
    }
}

impl Check for HotSourceDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let has = |name| reader.document.field(node, name).is_some();
        if has("heat") {
            reader.one_of(node, place, &["heat", "flow"]);
            return;
        }
        if !has("flow") && !has("substance") && !has("at") {
            reader.missing(node, place, "heat");
            return;
        }
        for name in ["flow", "substance", "at"] {
            if reader.document.field(node, name).is_none() {
                reader.missing(node, place, name);
            }
        }
    }
}

#[allow(clippy::float_cmp, reason = "a deadband of just nothing is what is looked for")]
impl Check for ThermostatDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        if self.start_at.0 == self.stop_at.0 {
            reader.contradiction(
                node,
                &place.below("stop_at"),
                || format!("start_at and stop_at both {} °C", self.start_at.0),
                || "two temperatures: with no deadband it would start and stop without end".to_owned(),
            );
        }
    }
}
