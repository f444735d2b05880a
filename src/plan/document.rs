//! The plan document as it is written: one list of fields for the reader and for the schema.

mod across;
mod floor;
mod heat;
mod time;

#[cfg(feature = "openapi")]
pub(super) use floor::ALL;
pub(super) use floor::{FloorDoc, PlaceDoc, RowDoc};
#[cfg(feature = "openapi")]
pub(super) use heat::OtherSide;
pub(super) use heat::{
    AMBIENT, CoolerDoc, HotSourceDoc, ProductDoc, SubstanceDoc, ThermostatDoc, TurbineDoc, WallDoc, ZoneDoc,
};
pub(super) use time::{LoopDoc, NowDoc, PatternDoc, StoreDoc, SwitchDoc};
#[cfg(feature = "openapi")]
pub(super) use time::{PulseDoc, StepsDoc};

use super::FaultCode;
use super::field::{
    Cells, DayLength, ElectricPower, HeaderName, LineCount, LineRate, MachineCount, Machines, Mass, Name, Period,
    Plain, Quantity, Rank, Rate, RateOnKey, RunningCost, Share, Title, Whole, Worth,
};
use super::map::{AtLeastOne, ByHeader, Flows, Parts, Section};
use super::model::{Carried, Course, Runs, When};
use super::node::{Node, Value};
use super::reader::{POWER, Place, Reader};
use super::temperature::{AnyTemperature, Temperature, UpperLimit};
use super::wire::{Check, Wire, choices, document, union};

document! {
    /// A plan: one document of which every question is asked. All sections are optional, and names of things are the author's
    /// own. A number is in the SI unit that its field states; a text is a number and a unit of measure, such as "300 g/s".
    PlanDocument = "Plan" {
        /// What the author calls it.
        may title: Title,
        /// The length of the local day, 24 h unless said: what "day" means in every quantity of the plan.
        may day: DayLength,
        /// Substances with their properties.
        may substances: Section<SubstanceDoc>,
        /// Types of machine. Rates are for one machine at full duty.
        may units: Section<UnitDoc>,
        /// Headers that have lines. Whatever takes or gives names headers; only those with lines need an entry here.
        may headers: ByHeader<HeaderDoc>,
        /// What comes in from outside.
        may supplies: Section<SupplyDoc>,
        /// What is asked for.
        may demands: Section<DemandDoc>,
        /// Where surplus may leave, by header. Without an outlet surplus is trapped; surplus power is spilled freely.
        may outlets: ByHeader<OutletDoc>,
        /// What holds matter or energy: sumps, tanks, banks of batteries.
        may stores: Section<StoreDoc>,
        /// What starts and stops by the level of a store.
        may switches: Section<SwitchDoc>,
        /// Closed loops and the charge in them.
        may loops: Section<LoopDoc>,
        /// What has a temperature: halls, chambers, tanks.
        may zones: Section<ZoneDoc>,
        /// The temperature outside, in °C.
        may ambient: Temperature<AnyTemperature>,
        /// What moves heat out of zones.
        may coolers: Section<CoolerDoc>,
        /// What makes power of heat.
        may turbines: Section<TurbineDoc>,
        /// Heat that comes in from outside.
        may hot_sources: Section<HotSourceDoc>,
        /// What starts and stops by the temperature of a zone.
        may thermostats: Section<ThermostatDoc>,
        /// Rows in which machines stand.
        may floor: FloorDoc,
        /// How long a rehearsal lasts, in s; 10 local days unless said.
        may horizon: Quantity<Period>,
        /// Where things stand now.
        may now: NowDoc,
        /// What the plant is for. Without an aim it serves the demands.
        may aim: AimDoc,
        /// Whether to reckon what one more of each thing that binds would be worth.
        may worth: bool,
    }

    /// A type of machine. Rates are for one machine at full duty.
    UnitDoc = "Unit" {
        /// How many there are, or within which bounds they are counted; left out, they are sized.
        may count: CountDoc,
        /// What one takes, by header: kg/s, on `power` W.
        may takes: Flows,
        /// What one gives, by header: kg/s, on `power` W.
        may gives: Flows,
        /// Electric power one makes, in W.
        may generates: Quantity<ElectricPower>,
        /// Electric power one draws, in W.
        may draws: Quantity<ElectricPower>,
        /// Electric power one draws when it stands still, in W.
        may idle_draw: Quantity<ElectricPower>,
        /// First rank is served first and cut last; 1 unless said.
        may rank: Whole<Rank>,
        /// What makes it run: `fed` (the default) as much as inputs and room for outputs allow, `wanted` only what is asked of its
        /// products.
        may when: RunsDoc,
        /// The least share of full duty a running machine can be turned down to; 0 unless said, 1 means fully or not at all.
        may turndown: Quantity<Share>,
        /// What one costs each second at full duty, in the currency of the aim's values.
        may running_cost: Plain<RunningCost>,
        /// Heat that one at full duty gives to its zone, in W.
        may sheds: Quantity<ElectricPower>,
        /// The zone it stands in.
        may zone: Name,
        /// The greatest temperature of its zone that it bears, in °C.
        may limit: Temperature<UpperLimit>,
        /// How warm its products leave it: `feed` (the default) as warm as what it takes, `zone` as warm as its zone, which gives or
        /// takes the heat for it (specific heats are those of substances that have a header's name), or a temperature in °C, for
        /// which no heat is counted beside what it `sheds`.
        may product_at: ProductDoc,
        /// Width in floor cells.
        may width: Whole<Cells>,
        /// Height in floor cells; 1 unless said.
        may height: Whole<Cells>,
        /// What one is built of: mass by material, in kg.
        may build: Parts<Quantity<Mass>>,
    }

    /// Bounds of a count that is to be found.
    CountRange = "CountRange" {
        /// The fewest; 0 unless said.
        may at_least: Whole<MachineCount>,
        /// The most; without it there is no limit.
        may at_most: Whole<MachineCount>,
    }

    /// A distribution header.
    HeaderDoc = "Header" {
        /// What one line of it carries at most: kg/s, on `power` W.
        may line: LineRate,
        /// How many lines there are, where that is fixed; it takes `line` to mean anything.
        may lines: Whole<LineCount>,
    }

    /// Something that comes in from outside.
    SupplyDoc = "Supply" {
        /// The header it comes in on.
        must header: HeaderName,
        /// The most it gives while it is on: kg/s, on `power` W; without it, as much as is wanted.
        may rate: Rate,
        /// First rank supplies first, last rank is the reserve; 1 unless said.
        may rank: Whole<Rank>,
        /// `wanted` (the default): a tap, only what is drawn. `always`: a spring, all of it, and what finds no place is lost.
        may when: WhenDoc,
        /// How warm it comes, in °C. What several bring to a header mixes at the rates of the steady state.
        may at: Temperature<AnyTemperature>,
        /// When it comes and goes; without it, it is always there.
        may pattern: PatternDoc,
    }

    /// Something that is asked for.
    DemandDoc = "Demand" {
        /// The header it is taken from.
        must header: HeaderName,
        /// How much: kg/s, on `power` W.
        must rate: Rate,
        /// First rank is served first and cut last; 1 unless said.
        may rank: Whole<Rank>,
        /// When it asks for how much of its rate; without it, always for all of it.
        may pattern: PatternDoc,
    }

    /// A way out for surplus.
    OutletDoc = "Outlet" {
        /// The most it lets out: kg/s, on `power` W; without it, as much as there is.
        may limit: Rate,
    }

    /// Run so many machines of each unit, at full duty.
    RunAim = "RunAim" {
        /// Machines by unit.
        must run: AtLeastOne<Section<Plain<Machines>>>,
    }

    /// Make so much on each header, net of what the plant itself takes.
    MakeAim = "MakeAim" {
        /// Rate by header: kg/s, on `power` W.
        must make: AtLeastOne<ByHeader<RateOnKey>>,
    }

    /// Make the most of a sum of values, less running costs, from what there is.
    MostAim = "MostAim" {
        /// Value of one kg (on `power`, one J) by header. Empty: what is demanded at the least running cost.
        must most: ByHeader<Plain<Worth>>,
    }
}

union! {
    /// What the plant is for: exactly one of `run`, `make` and `most`.
    AimDoc = "Aim" {
        /// Run so many.
        Run(RunAim) by run,
        /// Make so much.
        Make(MakeAim) by make,
        /// Make the most.
        Most(MostAim) by most,
    }
}

choices! {
    /// What makes a unit run.
    RunsDoc(Runs) = "UnitRuns" {
        "fed" => Runs::Fed,
        "wanted" => Runs::Wanted,
    }
    /// When a supply gives.
    WhenDoc(When) = "SupplyGives" {
        "wanted" => When::Wanted,
        "always" => When::Always,
    }
}

/// How many machines of a unit there are: a whole number, or bounds within which they are counted.
#[derive(Debug)]
pub(super) enum CountDoc {
    /// So many.
    Fixed(Whole<MachineCount>),
    /// Within bounds.
    Range(CountRange),
}

impl Wire for CountDoc {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        match node.value {
            Value::Object { .. } => CountRange::read(node, place, reader).map(Self::Range),
            Value::Number(_) => Whole::read(node, place, reader).map(Self::Fixed),
            _ => {
                reader.fault_here(node, place, FaultCode::WrongType, || {
                    "a whole number, or an object with at_least and at_most".to_owned()
                });
                None
            }
        }
    }
}

impl Check for RunAim {}
impl Check for MakeAim {}
impl Check for MostAim {}

impl Check for PlanDocument {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        self.check_across(node, place, reader);
    }
}

impl Check for UnitDoc {
    fn check<'n>(&mut self, _: &'n Node<'n>, _: &Place<'_>, reader: &mut Reader<'n>) {
        // What makes or draws power needs the header, whether or not anything names it.
        let touches = |power: &Option<Quantity<ElectricPower>>| power.is_some_and(|power| power.0.si() > 0.0);
        if touches(&self.generates) || touches(&self.draws) || touches(&self.idle_draw) {
            reader.header(POWER);
        }
    }
}

impl Check for CountRange {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        if let (Some(least), Some(most)) = (self.at_least, self.at_most)
            && least.0 > most.0
        {
            reader.contradiction(
                node,
                place,
                || format!("at_least {} and at_most {}", least.0, most.0),
                || "at_least no greater than at_most".to_owned(),
            );
        }
    }
}

/// Settles a rate whose header is known by now.
fn settle<'n>(
    rate: Option<Rate>,
    name: &str,
    carries: Carried,
    node: &'n Node<'n>,
    place: &Place<'_>,
    reader: &mut Reader<'n>,
) {
    if let (Some(rate), Some(child)) = (rate, reader.document.field(node, name)) {
        rate.on(carries, child, &place.below(name), reader);
    }
}

impl Check for HeaderDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        settle(self.line.map(|line| line.0), "line", Carried::by_name(place.key()), node, place, reader);
    }
}

impl Check for OutletDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        settle(self.limit, "limit", Carried::by_name(place.key()), node, place, reader);
    }
}

impl Check for SupplyDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        settle(self.rate, "rate", reader.carried(self.header.0), node, place, reader);
        let has_steps = self.pattern.as_ref().is_some_and(|pattern| matches!(pattern.0.course, Course::Steps(_)));
        if has_steps && reader.document.field(node, "rate").is_none() {
            // Steps are shares of a rate.
            reader.missing(node, place, "rate");
        }
    }
}

impl Check for DemandDoc {
    fn check<'n>(&mut self, node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) {
        settle(Some(self.rate), "rate", reader.carried(self.header.0), node, place, reader);
    }
}
