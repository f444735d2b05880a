//! The kinds of field: names, numbers within bounds, quantities, and rates on a header.

mod rate;

pub(super) use rate::{LineRate, Rate, RateOnKey};

use super::FaultCode;
use super::model::HeaderId;
use super::node::{Document, Node, Value};
use super::reader::{Place, Reader};
use super::wire::Wire;
use crate::quantity::{Dimension, Measure, QuantityFault, QuantityReader, Time, dimension, within_range};

/// Bounds of a number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    pub least: f64,
    /// Whether `least` itself is left out.
    pub above: bool,
    pub most: Option<f64>,
    pub say: &'static str,
}

pub(super) const NOT_NEGATIVE: Bounds = Bounds { least: 0.0, above: false, most: None, say: "0 or more" };
pub(super) const POSITIVE: Bounds = Bounds { least: 0.0, above: true, most: None, say: "more than 0" };
pub(super) const UP_TO_A_MILLION: Bounds = Bounds { least: 0.0, above: false, most: Some(1e6), say: "0 to 1,000,000" };
pub(super) const UP_TO_ONE: Bounds = Bounds { least: 0.0, above: false, most: Some(1.0), say: "0 to 1" };

/// Where water boils, in Pa: from the triple point to the critical point, IAPWS R7-97(2012).
pub(super) const BOILING: Bounds =
    Bounds { least: 611.657, above: false, most: Some(22.064e6), say: "611.657 Pa to 22.064 MPa, where water boils" };

impl Bounds {
    pub fn hold(&self, number: f64) -> bool {
        number >= self.least && !(self.above && number <= self.least) && self.most.is_none_or(|most| number <= most)
    }
}

/// A quantity field: its dimension, its bounds, and its name in the schema.
#[cfg_attr(not(feature = "openapi"), allow(dead_code))] // its name and description are for the schema
pub(super) trait QuantityField {
    type D: Dimension;
    const NAME: &'static str;
    const ABOUT: &'static str;
    const BOUNDS: Bounds;
}

/// A quantity within the bounds of its field.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quantity<F: QuantityField>(pub Measure<F::D>);

macro_rules! quantity_fields {
    ($($(#[doc = $about:literal])* $name:ident: $dimension:ident, $bounds:ident;)*) => {$(
        $(#[doc = $about])*
        #[derive(Clone, Copy, Debug)]
        pub(super) struct $name;
        impl QuantityField for $name {
            type D = dimension::$dimension;
            const NAME: &'static str = stringify!($name);
            const ABOUT: &'static str = concat!($($about, "\n"),*);
            const BOUNDS: Bounds = $bounds;
        }
    )*};
}

quantity_fields! {
    /// A mass.
    Mass: Mass, NOT_NEGATIVE;
    /// A mass that is not nothing.
    SomeMass: Mass, POSITIVE;
    /// A mass flow.
    MassFlow: MassRate, NOT_NEGATIVE;
    /// Electric power.
    ElectricPower: Power, NOT_NEGATIVE;
    /// A length of time, which may be nothing.
    Duration: Time, NOT_NEGATIVE;
    /// A length of time that is not nothing.
    Period: Time, POSITIVE;
    /// A mass flow that is not nothing.
    SomeMassFlow: MassRate, POSITIVE;
    /// Power or heat that is not nothing.
    SomePower: Power, POSITIVE;
    /// Heat per mass.
    HeatPerMass: HeatPerMass, NOT_NEGATIVE;
    /// Heat flow per kelvin.
    Conductance: Conductance, POSITIVE;
    /// Thermal conductivity.
    Conductivity: Conductivity, POSITIVE;
    /// Thermal resistance of surfaces, for an area.
    SurfaceResistance: ThermalInsulance, NOT_NEGATIVE;
    /// A length.
    Length: Length, POSITIVE;
    /// An area.
    Area: Area, POSITIVE;
    /// A share of one.
    Share: Share, UP_TO_ONE;
    /// A share of a rate, which may be more than all of it.
    RateShare: Share, UP_TO_A_MILLION;
    /// Absolute pressure at which water boils.
    SteamPressure: Pressure, BOILING;
    /// A specific heat capacity.
    SpecificHeat: SpecificHeat, POSITIVE;
}

pub(super) fn expected_quantity<D: Dimension>(bounds: Bounds) -> String {
    let number = if D::SI == "1" { "a plain number".to_owned() } else { format!("a number in {}", D::SI) };
    format!("{}, {}: {number}, or a text such as {:?}", D::LABEL, bounds.say, D::EXAMPLE)
}

impl<F: QuantityField> Wire for Quantity<F> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let expected = || expected_quantity::<F::D>(F::BOUNDS);
        match measure::<F::D>(node, &mut reader.quantities) {
            Some(Ok(measure)) if F::BOUNDS.hold(measure.si()) => Some(Self(measure)),
            Some(Ok(_)) => {
                reader.fault_here(node, place, FaultCode::OutOfRange, expected);
                None
            }
            Some(Err(fault)) => {
                reader.quantity_fault(node, place, &fault, expected);
                None
            }
            None => {
                reader.fault_here(node, place, FaultCode::WrongType, expected);
                None
            }
        }
    }
}

/// A number in SI or a text with a unit of measure; `None` where the value is neither.
fn measure<D: Dimension>(
    node: &Node<'_>,
    quantities: &mut QuantityReader,
) -> Option<Result<Measure<D>, QuantityFault>> {
    match &node.value {
        Value::Number(number) => {
            Some(bare(*number).and_then(|si| Measure::from_si(si).ok_or(QuantityFault::OutOfRange)))
        }
        Value::Text(text) => Some(quantities.read(text)),
        _ => None,
    }
}

pub(super) fn bare(number: f64) -> Result<f64, QuantityFault> {
    // Adding nothing turns -0 into 0.
    if within_range(number) { Ok(number + 0.0) } else { Err(QuantityFault::OutOfRange) }
}

/// The length of the local day, in which "day" can only mean the standard one of 24 h.
#[derive(Clone, Copy, Debug)]
pub(super) struct DayLength(pub Time);

impl Wire for DayLength {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let local = reader.quantities.day();
        reader.quantities.set_day(standard_day());
        let read = Quantity::<Period>::read(node, place, reader);
        reader.quantities.set_day(local);
        read.map(|quantity| Self(quantity.0))
    }
}

/// 24 h.
pub(super) fn standard_day() -> Time {
    Time::from_si(86_400.0).unwrap_or(Time::ZERO)
}

/// The day as a plan says it, looked up before anything else is read; faults are found in their turn.
pub(super) fn day_of<'a>(document: &Document<'a>, plan: &Node<'a>) -> Time {
    document
        .field(plan, "day")
        .and_then(|node| measure::<dimension::Time>(node, &mut QuantityReader::new(standard_day())))
        .and_then(Result::ok)
        .filter(|day| POSITIVE.hold(day.si()))
        .unwrap_or_else(standard_day)
}

/// A number field that is no quantity.
#[cfg_attr(not(feature = "openapi"), allow(dead_code))] // its name and description are for the schema
pub(super) trait NumberField {
    const NAME: &'static str;
    const ABOUT: &'static str;
    const BOUNDS: Bounds;
}

/// A plain number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plain<F>(pub f64, std::marker::PhantomData<F>);

impl<F: NumberField> Wire for Plain<F> {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let (code, number) = match node.value {
            Value::Number(number) => {
                (FaultCode::OutOfRange, bare(number).ok().filter(|number| F::BOUNDS.hold(*number)))
            }
            _ => (FaultCode::WrongType, None),
        };
        if number.is_none() {
            reader.fault_here(node, place, code, || format!("a number, {}, at most 1e15", F::BOUNDS.say));
        }
        number.map(|number| Self(number, std::marker::PhantomData))
    }
}

/// A whole-number field.
#[cfg_attr(not(feature = "openapi"), allow(dead_code))] // its name and description are for the schema
pub(super) trait WholeField {
    const NAME: &'static str;
    const ABOUT: &'static str;
    const LEAST: u32;
    const MOST: u32;
}

/// A whole number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Whole<F>(pub u32, std::marker::PhantomData<F>);

impl<F: WholeField> Wire for Whole<F> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // whole and between two u32
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let (code, number) = match node.value {
            Value::Number(number) if number.fract() == 0.0 => {
                let within = (f64::from(F::LEAST)..=f64::from(F::MOST)).contains(&number);
                (FaultCode::OutOfRange, within.then_some(number as u32))
            }
            _ => (FaultCode::WrongType, None),
        };
        if number.is_none() {
            reader.fault_here(node, place, code, || format!("a whole number from {} to {}", F::LEAST, F::MOST));
        }
        number.map(|number| Self(number, std::marker::PhantomData))
    }
}

macro_rules! number_fields {
    ($($(#[doc = $about:literal])* $name:ident: $bounds:ident;)*) => {$(
        $(#[doc = $about])*
        #[derive(Clone, Copy, Debug)]
        pub(super) struct $name;
        impl NumberField for $name {
            const NAME: &'static str = stringify!($name);
            const ABOUT: &'static str = concat!($($about, "\n"),*);
            const BOUNDS: Bounds = $bounds;
        }
    )*};
}

number_fields! {
    /// One number over another, such as a coefficient of performance.
    Ratio: POSITIVE;
    /// So many machines at full duty, not necessarily whole.
    Machines: NOT_NEGATIVE;
    /// What one kg (on `power`, one J) delivered is worth, in any currency of the author's.
    Worth: NOT_NEGATIVE;
    /// What one machine at full duty costs each second, in the currency of the aim's values.
    RunningCost: NOT_NEGATIVE;
}

macro_rules! whole_fields {
    ($($(#[doc = $about:literal])* $name:ident: $least:literal to $most:literal;)*) => {$(
        $(#[doc = $about])*
        #[derive(Clone, Copy, Debug)]
        pub(super) struct $name;
        impl WholeField for $name {
            const NAME: &'static str = stringify!($name);
            const ABOUT: &'static str = concat!($($about, "\n"),*);
            const LEAST: u32 = $least;
            const MOST: u32 = $most;
        }
    )*};
}

whole_fields! {
    /// A number of machines.
    MachineCount: 0 to 1_000_000;
    /// A number of lines.
    LineCount: 1 to 1_000_000;
    /// A place in an order: rank 1 comes first.
    Rank: 1 to 1_000;
    /// A number of floor cells.
    Cells: 1 to 1_000_000;
    /// A number of floor cells on which nothing stands.
    FreeCells: 0 to 1_000_000;
}

/// Yes or no.
impl Wire for bool {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        if let Value::Flag(flag) = node.value {
            return Some(flag);
        }
        reader.fault_here(node, place, FaultCode::WrongType, || "true or false".to_owned());
        None
    }
}

/// A title: as a name.
#[derive(Clone, Debug)]
pub(super) struct Title(pub String);

/// A name of the author's that stands as a value.
#[derive(Clone, Debug)]
pub(super) struct Name(pub String);

/// The name of a header, which exists by being named.
#[derive(Clone, Copy, Debug)]
pub(super) struct HeaderName(pub HeaderId);

fn read_name<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<&'n str> {
    let Value::Text(text) = &node.value else {
        reader.fault_here(node, place, FaultCode::WrongType, || "a text".to_owned());
        return None;
    };
    reader.name(text, node, place).then_some(text)
}

impl Wire for Title {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_name(node, place, reader).map(|text| Self(text.to_owned()))
    }
}

impl Wire for Name {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_name(node, place, reader).map(|text| Self(text.to_owned()))
    }
}

impl Wire for HeaderName {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        read_name(node, place, reader).map(|name| Self(reader.header(name)))
    }
}
