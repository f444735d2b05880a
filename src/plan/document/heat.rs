//! The sections about heat: zones and their walls, coolers, turbines, hot sources, thermostats; and substances.

use super::PlanDocument;
use super::across::{Written, section, unknown};
use crate::plan::FaultCode;
use crate::plan::field::{
    Area, Cells, Conductance, Conductivity, ElectricPower, HeatPerMass, Length, MachineCount, Name, Plain, Quantity,
    Ratio, Share, SomeMass, SomeMassFlow, SomePower, SpecificHeat, SurfaceResistance, Whole,
};
use crate::plan::map::{AtLeastOne, List, OneOrMore, Parts};
use crate::plan::model::ProductAt;
use crate::plan::node::{Node, Value, quoted};
use crate::plan::presets::{Preset, Properties};
use crate::plan::reader::{Detail, POWER, Place, Reader};
use crate::plan::temperature::{
    AnyTemperature, BoilingPoint, Difference, FreezingPoint, LeastInlet, LowerLimit, OutletPoint, RatedInlet, SetPoint,
    SomeDifference, StartPoint, StopPoint, Temperature, UpperLimit,
};
use crate::plan::wire::{Check, Wire, choices, document};

use super::time::PatternDoc;

document! {
    /// A substance. What `properties` brings is overruled by what stands beside it.
    SubstanceDoc = "Substance" {
        /// Heat that warms 1 kg of it by 1 K as a liquid, or in the only phase that the plan knows, in J/(kg·K).
        may specific_heat: Quantity<SpecificHeat>,
        /// The same as a solid, in J/(kg·K); as `specific_heat` unless said.
        may solid_specific_heat: Quantity<SpecificHeat>,
        /// The same as a gas, in J/(kg·K); as `specific_heat` unless said.
        may gas_specific_heat: Quantity<SpecificHeat>,
        /// Where it freezes and melts, in °C.
        may freezes_at: Temperature<FreezingPoint>,
        /// Where it boils and condenses, in °C; above `freezes_at`.
        may boils_at: Temperature<BoilingPoint>,
        /// Heat that melts 1 kg of it, in J/kg; nothing unless said.
        may fusion_heat: Quantity<HeatPerMass>,
        /// Heat that boils 1 kg of it, in J/kg; nothing unless said.
        may vaporisation_heat: Quantity<HeatPerMass>,
        /// Published properties to begin from: a real substance by name, or `iapws-if97` for water and steam by the industrial
        /// formulation of 1997 at 1 atm.
        may properties: PropertiesDoc,
    }

    /// A room, vessel or other lump that has one temperature.
    ZoneDoc = "Zone" {
        /// What is in it, by substance, in kg.
        must contents: AtLeastOne<Parts<Quantity<SomeMass>>>,
        /// Its temperature at time zero, in °C.
        must at: Temperature<AnyTemperature>,
        /// Its walls. A wall between two zones stands with one of them.
        may walls: List<WallDoc>,
        /// Floor cells it has.
        may cells: Whole<Cells>,
        /// The most mass in one cell, in kg: above it, what comes in is choked.
        may cell_limit: Quantity<SomeMass>,
        /// The greatest temperature it may have, in °C.
        may limit: Temperature<UpperLimit>,
        /// The least temperature it may have, in °C.
        may least: Temperature<LowerLimit>,
    }

    /// A wall: by its conductance, or by area and layers.
    WallDoc = "Wall" {
        /// The zone on the other side, or `ambient`.
        must to: OtherSide,
        /// Heat flow per kelvin through all of it, in W/K.
        may conductance: Quantity<Conductance>,
        /// Its area, in m²; goes with `layers`.
        may area: Quantity<Area>,
        /// What it is made of, from one side to the other; goes with `area`.
        may layers: List<LayerDoc>,
        /// Thermal resistance of both surfaces together, in m²·K/W; nothing unless said.
        may surfaces: Quantity<SurfaceResistance>,
    }

    /// A layer of a wall.
    LayerDoc = "WallLayer" {
        /// How thick, in m.
        must thickness: Quantity<Length>,
        /// Thermal conductivity, in W/(m·K).
        must conductivity: Quantity<Conductivity>,
    }

    /// What moves heat out of a zone: by lowering a flow of coolant by a fixed difference (`flow`, `drop`, `coolant`), or by a
    /// `duty`, with a coefficient of performance where it draws power. Figures are of one.
    CoolerDoc = "Cooler" {
        /// The zone it cools.
        must cools: Name,
        /// The zone that the heat goes to; without it, it leaves the plant.
        may rejects_to: Name,
        /// What circulates in its loop: a substance.
        may coolant: Name,
        /// Coolant that passes it, in kg/s.
        may flow: Quantity<SomeMassFlow>,
        /// By how much it lowers it, in K.
        may drop: SomeDifference,
        /// Heat that it moves, in W; stands instead of `flow` and `drop`.
        may duty: Quantity<SomePower>,
        /// Heat moved over power drawn; goes with `duty` and stands instead of `draws`.
        may cop: Plain<Ratio>,
        /// Temperature of the coolant where it takes it in, in °C: the zone is held there, not below. Without it, it runs always.
        may set_point: Temperature<SetPoint>,
        /// Electric power it draws, in W.
        may draws: Quantity<ElectricPower>,
        /// Whether what it draws is rejected as heat besides what it moves: true with `duty`, false with `drop`, unless said.
        may rejects_draw: bool,
        /// How far the coolant must stay from freezing and boiling, in K; 0 unless said.
        may margin: Difference,
        /// How many there are; left out, as many as are needed.
        may count: Whole<MachineCount>,
    }

    /// What makes power of a zone's heat: flow · specific heat · (zone − outlet) is taken while the zone is hot enough; the fluid
    /// comes back. Figures are of one.
    TurbineDoc = "Turbine" {
        /// The zone whose temperature is its inlet's.
        must zone: Name,
        /// What passes through it: a substance.
        must fluid: Name,
        /// How much of it, in kg/s.
        must flow: Quantity<SomeMassFlow>,
        /// Below this inlet temperature it stands still, in °C.
        must inlet_min: Temperature<LeastInlet>,
        /// From this inlet temperature on it generates all it can, in °C.
        must inlet_rated: Temperature<RatedInlet>,
        /// The temperature at which the fluid comes back, in °C.
        must outlet: Temperature<OutletPoint>,
        /// Electric power it generates at the rated inlet, in W.
        must generates: Quantity<ElectricPower>,
        /// The share of the heat it takes that its casing gives to `casing_zone`; nothing unless said.
        may casing_share: Quantity<Share>,
        /// The zone it stands in; goes with `casing_share`.
        may casing_zone: Name,
        /// How many there are; left out, as many as are needed.
        may count: Whole<MachineCount>,
    }

    /// Heat that comes into a zone from outside: as `heat`, or as matter (`flow`, `substance`, `at`) that leaves at the zone's
    /// temperature.
    HotSourceDoc = "HotSource" {
        /// The zone it heats.
        must zone: Name,
        /// Heat while it is on, in W.
        may heat: Quantity<SomePower>,
        /// Matter while it is on, in kg/s.
        may flow: Quantity<SomeMassFlow>,
        /// What it is.
        may substance: Name,
        /// How hot it comes, in °C.
        may at: Temperature<AnyTemperature>,
        /// When it comes and goes; without it, it is always there.
        may pattern: PatternDoc,
    }

    /// Starts and stops things by the temperature of a zone. With `start_at` above `stop_at` it starts at or above the one and
    /// stops at or below the other, as for what cools; the other way about as for what warms. Several on one target let it run
    /// only while all of them are on.
    ThermostatDoc = "Thermostat" {
        /// The zone it watches.
        must watch: Name,
        /// Where it starts, in °C.
        must start_at: Temperature<StartPoint>,
        /// Where it stops, in °C; not the same.
        must stop_at: Temperature<StopPoint>,
        /// What it starts and stops: units, supplies, demands, coolers, turbines or hot sources.
        must runs: OneOrMore<Name>,
        /// Whether it is on at time zero; false unless said.
        may on: bool,
    }
}

choices! {
    /// Published properties to begin from.
    PropertiesDoc(Properties) = "SubstanceProperties" {
        "iapws-if97" => Properties::Steam97,
        "water" => Properties::Preset(Preset::Water),
        "ethanol" => Properties::Preset(Preset::Ethanol),
        "ammonia" => Properties::Preset(Preset::Ammonia),
        "carbon-dioxide" => Properties::Preset(Preset::CarbonDioxide),
        "nitrogen" => Properties::Preset(Preset::Nitrogen),
        "oxygen" => Properties::Preset(Preset::Oxygen),
        "air" => Properties::Preset(Preset::Air),
        "aluminium" => Properties::Preset(Preset::Aluminium),
        "iron" => Properties::Preset(Preset::Iron),
        "copper" => Properties::Preset(Preset::Copper),
    }
}

/// The other side of a wall: the name of a zone, or `ambient`.
#[derive(Clone, Debug)]
pub(in crate::plan) struct OtherSide(pub String);

/// The word for what is outside.
pub(in crate::plan) const AMBIENT: &str = "ambient";

impl Wire for OtherSide {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        Name::read(node, place, reader).map(|name| Self(name.0))
    }
}

/// How warm products leave: `feed`, `zone`, or a temperature.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct ProductDoc(pub ProductAt);

impl Wire for ProductDoc {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        match &node.value {
            Value::Text(text) if text == "feed" => Some(Self(ProductAt::Feed)),
            Value::Text(text) if text == "zone" => Some(Self(ProductAt::Zone)),
            _ => Temperature::<AnyTemperature>::read(node, place, reader).map(|at| Self(ProductAt::Fixed(at.0))),
        }
    }
}

impl Check for LayerDoc {}

impl SubstanceDoc {
    fn brought(&self) -> Option<crate::plan::presets::Figures> {
        self.properties.map(|properties| properties.0.figures())
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

/// The names that the sections about heat refer to.
struct Known<'n> {
    zones: Written<'n>,
    substances: Written<'n>,
    units: Written<'n>,
    supplies: Written<'n>,
    demands: Written<'n>,
    coolers: Written<'n>,
    turbines: Written<'n>,
    hot_sources: Written<'n>,
}

impl PlanDocument {
    /// Notes names that heat refers to and nothing has, and what does not hold between the sections.
    pub(super) fn check_heat<'n>(&self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        let document = reader.document;
        let names = |name, what| Written::of(document, node, name, what);
        let known = Known {
            zones: names("zones", "zone"),
            substances: names("substances", "substance"),
            units: names("units", "unit"),
            supplies: names("supplies", "supply"),
            demands: names("demands", "demand"),
            coolers: names("coolers", "cooler"),
            turbines: names("turbines", "turbine"),
            hot_sources: names("hot_sources", "hot source"),
        };
        let one = |name: &str, of: &Written<'n>, part: &[&str], reader: &mut Reader<'n>| {
            if !of.has(name) {
                let child = part.iter().try_fold(node, |node, name| document.field(node, name)).unwrap_or(node);
                below(place, part, |place| unknown(name, &[of], child, place, reader));
            }
        };
        for (name, zone) in self.zones.iter().flat_map(|section| &section.0) {
            for (substance, _) in &zone.contents.0.0 {
                self.needs_heat(substance, &["zones", name, "contents", substance], node, place, &known, reader);
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
                    self.needs_heat(&coolant.0, &at, node, place, &known, reader);
                } else {
                    one(&coolant.0, &known.substances, &at, reader);
                }
                self.drop_fits(name, cooler, node, place, reader);
            }
        }
        for (name, turbine) in self.turbines.iter().flat_map(|section| &section.0) {
            one(&turbine.zone.0, &known.zones, &["turbines", name, "zone"], reader);
            self.needs_heat(&turbine.fluid.0, &["turbines", name, "fluid"], node, place, &known, reader);
            if let Some(zone) = &turbine.casing_zone {
                one(&zone.0, &known.zones, &["turbines", name, "casing_zone"], reader);
            }
        }
        for (name, source) in self.hot_sources.iter().flat_map(|section| &section.0) {
            one(&source.zone.0, &known.zones, &["hot_sources", name, "zone"], reader);
            if let Some(substance) = &source.substance {
                self.needs_heat(&substance.0, &["hot_sources", name, "substance"], node, place, &known, reader);
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
                        super::across::only_one(&run.0, &of, child, place, reader);
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
