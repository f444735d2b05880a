//! Matter or electric power: what decides the unit of measure of what flows.

use crate::quantity::{Dimension, dimension, push_si};

/// What a header carries, and so the unit of every rate on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carried {
    /// Matter: rates are kg/s.
    Matter,
    /// Electric power: rates are W. Only the reserved header `power`.
    Power,
}

impl Carried {
    /// What a header of that name carries: `power` is reserved for electric power.
    #[must_use]
    pub fn by_name(header: &str) -> Self {
        if header == "power" { Self::Power } else { Self::Matter }
    }

    /// The SI unit of rates: "kg/s" or "W".
    #[must_use]
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::Matter => dimension::MassRate::SI,
            Self::Power => dimension::Power::SI,
        }
    }

    /// The SI unit of amounts: "kg" or "J".
    #[must_use]
    pub fn amount_unit(self) -> &'static str {
        match self {
            Self::Matter => dimension::Mass::SI,
            Self::Power => dimension::Energy::SI,
        }
    }

    /// An amount as people read it: "800 kg", "40 MJ".
    #[must_use]
    pub fn print_amount(self, amount: f64) -> String {
        let mut text = String::with_capacity(24);
        self.push_amount(&mut text, amount);
        text
    }

    /// Adds what [`Carried::print_amount`] says.
    pub fn push_amount(self, text: &mut String, amount: f64) {
        match self {
            Self::Matter => push_si::<dimension::Mass>(text, amount),
            Self::Power => push_si::<dimension::Energy>(text, amount),
        }
    }

    /// A rate as people read it: "300 g/s", "2.5 kW".
    #[must_use]
    pub fn print(self, rate: f64) -> String {
        let mut text = String::with_capacity(24);
        self.push(&mut text, rate);
        text
    }

    /// Adds what [`Carried::print`] says.
    pub fn push(self, text: &mut String, rate: f64) {
        match self {
            Self::Matter => push_si::<dimension::MassRate>(text, rate),
            Self::Power => push_si::<dimension::Power>(text, rate),
        }
    }
}
