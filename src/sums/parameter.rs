//! What a sum is asked with.

use serde::Serialize;

use crate::plan::ABSOLUTE_ZERO_C;
use crate::quantity::{Dimension, Exponents, dimension};

/// A parameter of a sum.
#[derive(Clone, Copy, Debug)]
pub struct Parameter {
    /// Its name in the query string.
    pub name: &'static str,
    /// What is read from its text.
    pub kind: Kind,
    /// Whether the sum cannot do without it.
    pub required: bool,
    /// Whether it is a list, its items apart by commas. An item without a unit of measure has that of the next item that
    /// has one: `12, 8, 6 t/day`.
    pub many: bool,
    /// The words of a [`Kind::Choice`].
    pub choices: &'static [&'static str],
    /// What it is when left out, as it would be written.
    pub default: Option<&'static str>,
    /// The least it may be, in the SI unit of its kind. A share given as a rate is held to [`Parameter::LEAST_RATE`] and
    /// [`Parameter::MOST_RATE`] instead.
    pub least: f64,
    /// The most it may be, in the SI unit of its kind. An amount given in place of a share is held to
    /// [`Parameter::MOST_AMOUNT`] instead.
    pub most: f64,
    /// One way to write it.
    pub example: &'static str,
    /// What it is, in a few words.
    pub says: &'static str,
}

/// What a parameter is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = SumParameterKind))]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A mass flow (kg/s), a power (W) or a volume flow (m³/s). All rates and amounts of a sum that are of this kind measure
    /// the same medium; a number without a unit of measure is in the SI unit of the others, and in kg/s if none has one.
    Rate,
    /// As [`Kind::Rate`], apart from it: the rates of a second thing, which may measure something else than the first.
    SecondRate,
    /// A share (0 to 1, or percent) of something, or a [`Kind::Rate`] where a unit of measure says so.
    ShareOrRate,
    /// A mass (kg), an energy (J) or a volume (m³), of the same medium as the rates.
    Amount,
    /// A share (0 to 1, or percent) of something, or a [`Kind::Amount`] where a unit of measure says so.
    ShareOrAmount,
    /// A time; a number without a unit of measure is in seconds.
    Time,
    /// The length of the local day, before any other time is read. At most one of a sum.
    Day,
    /// A whole number of things.
    Count,
    /// A number without a unit of measure; percent will do.
    Number,
    /// A share, 0 to 1 or percent.
    Share,
    /// `yes` or `no`.
    Flag,
    /// One of a few words.
    Choice,
    /// A temperature on a scale, in °C.
    Temperature,
    /// A difference of temperatures, in K.
    Difference,
    /// A mass, in kg.
    Mass,
    /// A mass flow, in kg/s.
    MassRate,
    /// A power or heat flow, in W.
    Power,
    /// An energy, in J.
    Energy,
    /// Heat that a mass takes up for each kelvin, in J/(kg·K).
    SpecificHeat,
    /// Heat that a mass takes up, in J/kg.
    HeatPerMass,
    /// Heat that a body takes up for each kelvin, in J/K.
    HeatCapacity,
    /// Heat flow for each kelvin, in W/K.
    Conductance,
    /// Thermal conductivity, in W/(m·K).
    Conductivity,
    /// Heat flow for each kelvin and area, in W/(m²·K).
    HeatTransfer,
    /// Thermal resistance of an area, in m²·K/W; a heat transfer coefficient (W/(m²·K)) where a unit of measure says so.
    Insulance,
    /// A length, in m.
    Length,
    /// An area, in m².
    Area,
    /// A volume, in m³.
    Volume,
    /// A density, in kg/m³.
    Density,
    /// A pressure, in Pa.
    Pressure,
    /// An acceleration, in m/s².
    Acceleration,
    /// A voltage, in V.
    Voltage,
}

/// The one dimension of a kind.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fixed {
    pub label: &'static str,
    pub si: &'static str,
    pub exponents: Exponents,
}

impl Fixed {
    const fn of<D: Dimension>() -> Self {
        Self { label: D::LABEL, si: D::SI, exponents: D::EXPONENTS }
    }
}

impl Kind {
    /// The SI unit of measure that a bare number is in; `None` where there is none.
    #[must_use]
    pub fn unit(self) -> Option<&'static str> {
        match self {
            Self::Rate | Self::SecondRate => Some("kg/s, W or m³/s"),
            Self::ShareOrRate => Some("1, kg/s, W or m³/s"),
            Self::Amount => Some("kg, J or m³"),
            Self::ShareOrAmount => Some("1, kg, J or m³"),
            Self::Temperature => Some("°C"),
            Self::Difference => Some("K"),
            Self::Share => Some("1"),
            Self::Count | Self::Number | Self::Flag | Self::Choice => None,
            _ => self.fixed().map(|fixed| fixed.si),
        }
    }

    /// The dimension, of a kind that has just one and no scale of its own.
    pub(super) fn fixed(self) -> Option<Fixed> {
        Some(match self {
            Self::Time | Self::Day => Fixed::of::<dimension::Time>(),
            Self::Mass => Fixed::of::<dimension::Mass>(),
            Self::MassRate => Fixed::of::<dimension::MassRate>(),
            Self::Power => Fixed::of::<dimension::Power>(),
            Self::Energy => Fixed::of::<dimension::Energy>(),
            Self::SpecificHeat => Fixed::of::<dimension::SpecificHeat>(),
            Self::HeatPerMass => Fixed::of::<dimension::HeatPerMass>(),
            Self::HeatCapacity => Fixed::of::<dimension::HeatCapacity>(),
            Self::Conductance => Fixed::of::<dimension::Conductance>(),
            Self::Conductivity => Fixed::of::<dimension::Conductivity>(),
            Self::HeatTransfer => Fixed::of::<dimension::HeatTransfer>(),
            Self::Insulance => Fixed::of::<dimension::ThermalInsulance>(),
            Self::Length => Fixed::of::<dimension::Length>(),
            Self::Area => Fixed::of::<dimension::Area>(),
            Self::Volume => Fixed::of::<dimension::Volume>(),
            Self::Density => Fixed::of::<dimension::Density>(),
            Self::Pressure => Fixed::of::<dimension::Pressure>(),
            Self::Acceleration => Fixed::of::<dimension::Acceleration>(),
            Self::Voltage => Fixed::of::<dimension::Voltage>(),
            _ => return None,
        })
    }
}

impl Parameter {
    /// The smallest rate to divide by, in kg/s or W: a milligram a second, a microwatt.
    pub const LEAST_RATE: f64 = 1e-6;
    /// The greatest rate, in kg/s or W.
    pub const MOST_RATE: f64 = 1e12;
    /// The greatest amount, in kg, J or m³.
    pub const MOST_AMOUNT: f64 = 1e15;
    /// The most items of a list.
    pub const MOST_LISTED: usize = 1_000;
    /// The longest text of a list, in bytes.
    pub const LONGEST_LIST: usize = 8_000;
    /// The hottest there is, in °C.
    pub const HOTTEST_C: f64 = 1e6;
    /// The greatest count of machines or lines, asked or answered.
    pub const MOST_COUNT: f64 = 1e9;

    pub(super) const fn new(
        name: &'static str,
        kind: Kind,
        bounds: (f64, f64),
        example: &'static str,
        says: &'static str,
    ) -> Self {
        Self {
            name,
            kind,
            required: true,
            many: false,
            choices: &[],
            default: None,
            least: bounds.0,
            most: bounds.1,
            example,
            says,
        }
    }

    /// A rate that may be nothing.
    pub(super) const fn rate(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Rate, (0.0, Self::MOST_RATE), example, says)
    }

    /// A rate that is divided by.
    pub(super) const fn positive_rate(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Rate, (Self::LEAST_RATE, Self::MOST_RATE), example, says)
    }

    /// A time that is divided by: from a millisecond to 30,000 years.
    pub(super) const fn time(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Time, (1e-3, 1e12), example, says)
    }

    /// A whole number of things from 1.
    pub(super) const fn count(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Count, (1.0, Self::MOST_COUNT), example, says)
    }

    /// A plain number within bounds.
    pub(super) const fn number(
        name: &'static str,
        bounds: (f64, f64),
        example: &'static str,
        says: &'static str,
    ) -> Self {
        Self::new(name, Kind::Number, bounds, example, says)
    }

    /// A share or a rate.
    pub(super) const fn share_or_rate(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::ShareOrRate, (0.0, 1.0), example, says)
    }

    /// An amount that may be nothing.
    pub(super) const fn amount(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Amount, (0.0, Self::MOST_AMOUNT), example, says)
    }

    /// An amount that is divided by.
    pub(super) const fn positive_amount(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Amount, (1e-6, Self::MOST_AMOUNT), example, says)
    }

    /// A share or an amount.
    pub(super) const fn share_or_amount(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::ShareOrAmount, (0.0, 1.0), example, says)
    }

    /// A share, which may be nothing.
    pub(super) const fn share(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Share, (0.0, 1.0), example, says)
    }

    /// A share that is divided by.
    pub(super) const fn positive_share(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Share, (1e-6, 1.0), example, says)
    }

    /// A temperature, not below absolute zero.
    pub(super) const fn temperature(name: &'static str, example: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Temperature, (ABSOLUTE_ZERO_C, Self::HOTTEST_C), example, says)
    }

    const fn most(kind: Kind) -> f64 {
        if matches!(kind, Kind::Difference) { Self::HOTTEST_C } else { 1e15 }
    }

    /// A measure of one dimension that may be nothing.
    pub(super) const fn measure(name: &'static str, kind: Kind, example: &'static str, says: &'static str) -> Self {
        Self::new(name, kind, (0.0, Self::most(kind)), example, says)
    }

    /// A measure of one dimension that is divided by.
    pub(super) const fn positive(name: &'static str, kind: Kind, example: &'static str, says: &'static str) -> Self {
        Self::new(name, kind, (1e-9, Self::most(kind)), example, says)
    }

    /// One of a few words; the first when left out.
    pub(super) const fn choice(
        name: &'static str,
        choices: &'static [&'static str],
        default: &'static str,
        says: &'static str,
    ) -> Self {
        Self { choices, ..Self::new(name, Kind::Choice, (0.0, 1.0), default, says).or(default) }
    }

    /// The same parameter as a list.
    pub(super) const fn many(self) -> Self {
        Self { many: true, ..self }
    }

    /// The length of the local day.
    pub(super) const fn day() -> Self {
        Self::new("day", Kind::Day, (1.0, 1e9), "1 h", "length of the local day: what \"day\" means in the times")
            .or("24 h")
    }

    /// `yes` or `no`, `no` when left out.
    pub(super) const fn flag(name: &'static str, says: &'static str) -> Self {
        Self::new(name, Kind::Flag, (0.0, 1.0), "yes", says).or("no")
    }

    /// The same parameter of the second thing.
    pub(super) const fn second(self) -> Self {
        Self { kind: Kind::SecondRate, ..self }
    }

    /// The same parameter, free to be left out.
    pub(super) const fn optional(self) -> Self {
        Self { required: false, ..self }
    }

    /// The same parameter with what it is when left out.
    pub(super) const fn or(self, default: &'static str) -> Self {
        Self { required: false, default: Some(default), ..self }
    }
}
