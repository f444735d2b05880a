//! What a sum is asked with.

use serde::Serialize;

/// A parameter of a sum.
#[derive(Clone, Copy, Debug)]
pub struct Parameter {
    /// Its name in the query string.
    pub name: &'static str,
    /// What is read from its text.
    pub kind: Kind,
    /// Whether the sum cannot do without it.
    pub required: bool,
    /// What it is when left out, as it would be written.
    pub default: Option<&'static str>,
    /// The least it may be, in the SI unit of its kind. A share given as a rate is held to [`Parameter::LEAST_RATE`] and
    /// [`Parameter::MOST_RATE`] instead.
    pub least: f64,
    /// The most it may be, in the SI unit of its kind.
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
    /// A mass flow (kg/s) or a power (W). All rates of a sum that are of this kind measure the same; a number without a
    /// unit of measure is in the SI unit of the others, and in kg/s if none has one.
    Rate,
    /// As [`Kind::Rate`], apart from it: the rates of a second thing, which may measure something else than the first.
    SecondRate,
    /// A share (0 to 1, or percent) of something, or a [`Kind::Rate`] where a unit of measure says so.
    ShareOrRate,
    /// A time; a number without a unit of measure is in seconds.
    Time,
    /// The length of the local day, before any other time is read. At most one of a sum.
    Day,
    /// A whole number of things.
    Count,
    /// A number without a unit of measure; percent will do.
    Number,
    /// `yes` or `no`.
    Flag,
}

impl Kind {
    /// The SI unit of measure that a bare number is in; `None` where there is none.
    #[must_use]
    pub fn unit(self) -> Option<&'static str> {
        match self {
            Self::Rate | Self::SecondRate => Some("kg/s or W"),
            Self::ShareOrRate => Some("1, kg/s or W"),
            Self::Time | Self::Day => Some("s"),
            Self::Count | Self::Number | Self::Flag => None,
        }
    }
}

impl Parameter {
    /// The smallest rate to divide by, in kg/s or W: a milligram a second, a microwatt.
    pub const LEAST_RATE: f64 = 1e-6;
    /// The greatest rate, in kg/s or W.
    pub const MOST_RATE: f64 = 1e12;
    /// The greatest count of machines or lines, asked or answered.
    pub const MOST_COUNT: f64 = 1e9;

    const fn new(
        name: &'static str,
        kind: Kind,
        bounds: (f64, f64),
        example: &'static str,
        says: &'static str,
    ) -> Self {
        Self { name, kind, required: true, default: None, least: bounds.0, most: bounds.1, example, says }
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
