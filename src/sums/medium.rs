//! What the rates and amounts of a sum measure.

use crate::quantity::{Dimension, Exponents, dimension, print_si};

/// What flows: its rates and amounts have units of measure that belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Medium {
    /// Mass: kg/s and kg.
    Matter,
    /// Energy: W and J.
    Power,
    /// Volume: m³/s and m³.
    Volume,
}

impl Medium {
    const ALL: [Self; 3] = [Self::Matter, Self::Power, Self::Volume];

    /// The medium whose rates are made so.
    pub fn of_rate(exponents: Exponents) -> Option<Self> {
        Self::ALL.into_iter().find(|medium| medium.rate_exponents() == exponents)
    }

    /// The medium whose amounts are made so.
    pub fn of_amount(exponents: Exponents) -> Option<Self> {
        Self::ALL.into_iter().find(|medium| medium.amount_exponents() == exponents)
    }

    fn rate_exponents(self) -> Exponents {
        match self {
            Self::Matter => dimension::MassRate::EXPONENTS,
            Self::Power => dimension::Power::EXPONENTS,
            Self::Volume => dimension::VolumeRate::EXPONENTS,
        }
    }

    fn amount_exponents(self) -> Exponents {
        match self {
            Self::Matter => dimension::Mass::EXPONENTS,
            Self::Power => dimension::Energy::EXPONENTS,
            Self::Volume => dimension::Volume::EXPONENTS,
        }
    }

    /// What a rate is called: "mass flow".
    pub fn rate_label(self) -> &'static str {
        match self {
            Self::Matter => dimension::MassRate::LABEL,
            Self::Power => dimension::Power::LABEL,
            Self::Volume => dimension::VolumeRate::LABEL,
        }
    }

    /// What an amount is called: "mass".
    pub fn amount_label(self) -> &'static str {
        match self {
            Self::Matter => dimension::Mass::LABEL,
            Self::Power => dimension::Energy::LABEL,
            Self::Volume => dimension::Volume::LABEL,
        }
    }

    /// The SI unit of rates.
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::Matter => dimension::MassRate::SI,
            Self::Power => dimension::Power::SI,
            Self::Volume => dimension::VolumeRate::SI,
        }
    }

    /// The SI unit of amounts.
    pub fn amount_unit(self) -> &'static str {
        match self {
            Self::Matter => dimension::Mass::SI,
            Self::Power => dimension::Energy::SI,
            Self::Volume => dimension::Volume::SI,
        }
    }

    /// A rate as people read it: "2.5 kg/s".
    pub fn print(self, rate: f64) -> String {
        match self {
            Self::Matter => print_si::<dimension::MassRate>(rate).to_string(),
            Self::Power => print_si::<dimension::Power>(rate).to_string(),
            Self::Volume => print_si::<dimension::VolumeRate>(rate).to_string(),
        }
    }

    /// An amount as people read it: "800 kg".
    pub fn print_amount(self, amount: f64) -> String {
        match self {
            Self::Matter => print_si::<dimension::Mass>(amount).to_string(),
            Self::Power => print_si::<dimension::Energy>(amount).to_string(),
            Self::Volume => print_si::<dimension::Volume>(amount).to_string(),
        }
    }

    /// The one of three names that belongs to it.
    pub fn pick(self, [matter, power, volume]: [&'static str; 3]) -> &'static str {
        match self {
            Self::Matter => matter,
            Self::Power => power,
            Self::Volume => volume,
        }
    }
}
