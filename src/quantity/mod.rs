//! Measures: finite numbers in SI that remember their dimension, how they are read and how they are printed.

mod measure;

pub use measure::{Dimension, Measure};

macro_rules! dimensions {
    ($($(#[$doc:meta])* $name:ident: $label:literal, $si:literal, $suffix:literal, $example:literal;)*) => {
        /// The dimensions that plans and sums speak of.
        pub mod dimension {
            use super::Dimension;
            $($(#[$doc])* #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)] pub struct $name;
              impl Dimension for $name {
                  const LABEL: &'static str = $label;
                  const SI: &'static str = $si;
                  const SUFFIX: &'static str = $suffix;
                  const EXAMPLE: &'static str = $example;
              })*
        }
        $($(#[$doc])* pub type $name = Measure<dimension::$name>;)*
    };
}

dimensions! {
    /// Mass per time, kg/s.
    MassRate: "mass flow", "kg/s", "_kg_s", "300 g/s";
    /// Mass, kg.
    Mass: "mass", "kg", "_kg", "800 kg";
    /// Power or heat flow, W.
    Power: "power", "W", "_w", "2.5 kW";
    /// Energy, J.
    Energy: "energy", "J", "_j", "40 MJ";
    /// Time, s.
    Time: "time", "s", "_s", "7 min";
    /// A share of one, 0 to 1 where a field says so.
    Share: "share", "1", "_share", "75 %";
    /// Specific heat capacity, J/(kg·K).
    SpecificHeat: "specific heat", "J/(kg·K)", "_j_kg_k", "4.18 kJ/(kg·K)";
}
