//! The validated plan. Everything in it refers by index, so a name that does not resolve cannot occur.

mod carried;
mod floor;
mod heat;
mod time;

pub use carried::Carried;
pub use floor::{FloorRow, Placed, Placing};
pub use heat::{
    ABSOLUTE_ZERO_C, Brings, Cooler, HotSource, Moving, ProductAt, Substance, Thermostat, Turbine, Wall, Zone,
};
pub use time::{Course, Gated, LevelLimits, Loop, Pattern, Seasons, StandingLoss, Start, Step, Store, Switch, Watched};

use crate::quantity::{Mass, Power, Share, Time};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {
        $($(#[$doc])* #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)] pub struct $name(pub usize);)*
    };
}

ids! {
    /// Index into [`Plan::headers`].
    HeaderId;
    /// Index into [`Plan::units`].
    UnitId;
    /// Index into [`Plan::supplies`].
    SupplyId;
    /// Index into [`Plan::demands`].
    DemandId;
    /// Index into [`Plan::outlets`].
    OutletId;
    /// Index into [`Plan::stores`].
    StoreId;
    /// Index into [`Plan::switches`].
    SwitchId;
    /// Index into [`Plan::substances`].
    SubstanceId;
    /// Index into [`Plan::zones`].
    ZoneId;
    /// Index into [`Plan::coolers`].
    CoolerId;
    /// Index into [`Plan::turbines`].
    TurbineId;
    /// Index into [`Plan::hot_sources`].
    HotSourceId;
    /// Index into [`Plan::thermostats`].
    ThermostatId;
}

/// A plan whose every name resolves and whose every number is finite and within its field's bounds.
///
/// All lists but that of rows are in the order of names, so that the order of the document decides nothing; [`Plan::listed`]
/// has it. Header names are unique, and so are names within each list.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What the author calls it.
    pub title: Option<String>,
    /// The length of the local day; 24 h unless the plan says otherwise.
    pub day: Time,
    /// Substances with properties.
    pub substances: Vec<Substance>,
    /// Every header that anything in the plan names, whether or not the `headers` section declares it.
    pub headers: Vec<Header>,
    /// Types of machine.
    pub units: Vec<Unit>,
    /// What comes in from outside.
    pub supplies: Vec<Supply>,
    /// What is asked for.
    pub demands: Vec<Demand>,
    /// Where surplus may leave. At most one for each header.
    pub outlets: Vec<Outlet>,
    /// What holds matter or energy.
    pub stores: Vec<Store>,
    /// What starts and stops by level.
    pub switches: Vec<Switch>,
    /// Closed loops.
    pub loops: Vec<Loop>,
    /// What has a temperature.
    pub zones: Vec<Zone>,
    /// The temperature outside, °C, where the plan says it.
    pub ambient_c: Option<f64>,
    /// What moves heat out of zones.
    pub coolers: Vec<Cooler>,
    /// What makes power of heat.
    pub turbines: Vec<Turbine>,
    /// Heat from outside.
    pub hot_sources: Vec<HotSource>,
    /// Switches that watch a zone.
    pub thermostats: Vec<Thermostat>,
    /// The rows of the floor, first to be filled first.
    pub rows: Vec<FloorRow>,
    /// How long a rehearsal lasts; 10 local days unless the plan says otherwise.
    pub horizon: Time,
    /// What the plant is for.
    pub aim: Aim,
    /// Whether the worth of what binds is to be reckoned.
    pub wants_worth: bool,
    /// In which order the document has things.
    pub listed: Listed,
}

/// The order of the document: of each section, where its things stand in the plan's own order, as the document has them.
/// Headers are in the order in which it first names them.
#[derive(Clone, Debug, Default)]
pub struct Listed {
    /// Places in [`Plan::headers`].
    pub headers: Vec<usize>,
    /// Places in [`Plan::outlets`].
    pub outlets: Vec<usize>,
    /// Places in [`Plan::units`].
    pub units: Vec<usize>,
    /// Places in [`Plan::supplies`].
    pub supplies: Vec<usize>,
    /// Places in [`Plan::demands`].
    pub demands: Vec<usize>,
    /// Places in [`Plan::stores`].
    pub stores: Vec<usize>,
    /// Places in [`Plan::switches`].
    pub switches: Vec<usize>,
    /// Places in [`Plan::loops`].
    pub loops: Vec<usize>,
    /// Places in [`Plan::zones`].
    pub zones: Vec<usize>,
    /// Places in [`Plan::coolers`].
    pub coolers: Vec<usize>,
    /// Places in [`Plan::turbines`].
    pub turbines: Vec<usize>,
    /// Places in [`Plan::thermostats`].
    pub thermostats: Vec<usize>,
}

/// Things of a plan in the order of the document, each with its place in the plan's own order.
pub fn in_order<'p, T>(places: &'p [usize], things: &'p [T]) -> impl Iterator<Item = (usize, &'p T)> {
    places.iter().map(|&at| (at, &things[at]))
}

impl Plan {
    /// The header of that id.
    ///
    /// # Panics
    /// Where the id comes from another plan.
    #[must_use]
    pub fn header(&self, id: HeaderId) -> &Header {
        &self.headers[id.0]
    }

    /// The header of that name.
    #[must_use]
    pub fn header_named(&self, name: &str) -> Option<HeaderId> {
        self.headers.iter().position(|header| header.name == name).map(HeaderId)
    }

    /// The header that carries electric power, where anything makes, draws or names it.
    #[must_use]
    pub fn power(&self) -> Option<HeaderId> {
        self.headers.iter().position(|header| header.carries == Carried::Power).map(HeaderId)
    }

    /// The unit of that name.
    #[must_use]
    pub fn unit_named(&self, name: &str) -> Option<UnitId> {
        self.units.iter().position(|unit| unit.name == name).map(UnitId)
    }
}

/// A rate on a header, in the SI unit of what that header carries ([`Carried`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flow {
    /// The header.
    pub header: HeaderId,
    /// kg/s or W; never negative.
    pub rate: f64,
}

/// A distribution header.
#[derive(Clone, Debug)]
pub struct Header {
    /// Its name.
    pub name: String,
    /// What it carries.
    pub carries: Carried,
    /// What one line of it carries at most (SI unit of [`Carried`]); positive.
    pub line: Option<f64>,
    /// How many lines there are, where that is fixed.
    pub lines: Option<u32>,
    /// Whether the `headers` section has it.
    pub declared: bool,
}

/// How many machines of a unit there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Count {
    /// Exactly so many.
    Fixed(u32),
    /// To be found, within bounds.
    Sized {
        /// The fewest.
        at_least: u32,
        /// The most.
        at_most: Option<u32>,
    },
}

/// What makes a unit run (rehearsal).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Runs {
    /// As much as inputs and room for outputs allow.
    #[default]
    Fed,
    /// Only what is asked of its products.
    Wanted,
}

/// A type of machine. Rates are for one machine at full duty.
#[derive(Clone, Debug)]
pub struct Unit {
    /// Its name.
    pub name: String,
    /// How many.
    pub count: Count,
    /// What one takes at full duty: rates positive, matter only, plus `power` where the author writes it there.
    pub takes: Vec<Flow>,
    /// What one gives at full duty.
    pub gives: Vec<Flow>,
    /// Electric power made at full duty.
    pub generates: Power,
    /// Electric power drawn at full duty.
    pub draws: Power,
    /// Electric power one machine draws when it stands still; while it runs at share x it draws (1-x) of this besides.
    pub idle_draw: Power,
    /// The least share of full duty a running machine can be turned down to. 1: each machine runs fully or not at all.
    pub turndown: Share,
    /// First rank is served first and cut last.
    pub rank: u32,
    /// What makes it run.
    pub when: Runs,
    /// Value units per second spent by one machine at full duty (for `most`).
    pub running_cost: f64,
    /// Width in cells, for the floor.
    pub width: Option<u32>,
    /// Height in cells, for the floor; 1 where it is not said.
    pub height: u32,
    /// What one is built of.
    pub build: Vec<(String, Mass)>,
    /// Heat that one at full duty gives to its zone, W.
    pub sheds: Power,
    /// Where it stands.
    pub zone: Option<ZoneId>,
    /// The greatest temperature of its zone that it bears, °C.
    pub limit_c: Option<f64>,
    /// How warm its products leave it.
    pub product_at: ProductAt,
}

/// When a supply gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum When {
    /// As a tap: only what is drawn.
    #[default]
    Wanted,
    /// As a spring: all of it, and what finds no place is lost.
    Always,
}

/// Something that comes in from outside.
#[derive(Clone, Debug)]
pub struct Supply {
    /// Its name.
    pub name: String,
    /// Where it comes in.
    pub header: HeaderId,
    /// The most it gives while on (SI unit of the header); `None`: as much as is wanted.
    pub rate: Option<f64>,
    /// First rank supplies first.
    pub rank: u32,
    /// Tap or spring.
    pub when: When,
    /// Intermittence.
    pub pattern: Option<Pattern>,
    /// How warm it comes, °C.
    pub at_c: Option<f64>,
}

impl Supply {
    /// The long-run average of what it can give, or `None` where it has no limit.
    #[must_use]
    pub fn average_rate(&self) -> Option<f64> {
        self.rate.map(|rate| rate * self.pattern.as_ref().map_or(1.0, Pattern::average_share))
    }
}

/// Something that is asked for.
#[derive(Clone, Debug)]
pub struct Demand {
    /// Its name.
    pub name: String,
    /// Where it is taken.
    pub header: HeaderId,
    /// How much (SI unit of the header).
    pub rate: f64,
    /// First rank is served first and cut last.
    pub rank: u32,
    /// When it asks for how much of its rate; without one, always for all of it.
    pub pattern: Option<Pattern>,
}

impl Demand {
    /// The long-run average of what it asks for.
    #[must_use]
    pub fn average_rate(&self) -> f64 {
        self.rate * self.pattern.as_ref().map_or(1.0, Pattern::average_share)
    }
}

/// A way out for surplus.
#[derive(Clone, Debug)]
pub struct Outlet {
    /// The header it drains.
    pub header: HeaderId,
    /// The most it lets out (SI unit of the header), `None`: as much as there is.
    pub limit: Option<f64>,
}

/// A target of the `make` aim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The header to make it on.
    pub header: HeaderId,
    /// How much, net of what the plant itself takes.
    pub rate: f64,
}

/// A value of the `most` aim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Value {
    /// The header whose delivery is worth something.
    pub header: HeaderId,
    /// Value units per kg or J delivered.
    pub each: f64,
}

/// What the plant is for.
#[derive(Clone, Debug, PartialEq)]
pub enum Aim {
    /// Nothing said: serve the demands; where there are none either, run every unit of fixed count.
    Unsaid,
    /// Run so many full-duty machines of each.
    Run(Vec<(UnitId, f64)>),
    /// Make so much of each header, net.
    Make(Vec<Target>),
    /// Make the most of a sum of values less running costs, from what there is. Demands on a valued header are the most
    /// that can be delivered there; on any other header they are served first. A valued header with no demand delivers
    /// without a limit.
    Most(Vec<Value>),
}
