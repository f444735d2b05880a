//! The sections about heat: zones and their walls, coolers, turbines, hot sources, thermostats; and substances.

mod across;
mod check;

use super::PlanDocument;
use crate::plan::field::{
    Area, Cells, Conductance, Conductivity, ElectricPower, HeatPerMass, Length, MachineCount, Name, Plain, Quantity,
    Ratio, Share, SomeMass, SomeMassFlow, SomePower, SpecificHeat, SteamPressure, SurfaceResistance, Whole,
};
use crate::plan::map::{AtLeastOne, List, OneOrMore, Parts};
use crate::plan::model::ProductAt;
use crate::plan::node::{Node, Value};
use crate::plan::presets::{Preset, Properties};
use crate::plan::reader::{Place, Reader};
use crate::plan::temperature::{
    AnyTemperature, BoilingPoint, Difference, FreezingPoint, LeastInlet, LowerLimit, OutletPoint, RatedInlet, SetPoint,
    SomeDifference, StartPoint, StopPoint, Temperature, UpperLimit,
};
use crate::plan::wire::{Wire, choices, document};

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
        /// formulation of 1997.
        may properties: PropertiesDoc,
        /// Absolute pressure of water and steam, in Pa: goes with `iapws-if97`; 1 atm unless said. Specific heats are means, of the
        /// liquid from 0.01 °C to boiling and of steam from boiling to 100 K above.
        may pressure: Quantity<SteamPressure>,
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
