//! Measures: finite numbers in SI that remember their dimension, how they are read and how they are printed.

mod likeness;
mod measure;
mod print;
mod read;
mod rounding;
mod scale;
#[cfg(test)]
mod tests;

pub use likeness::{likeness, most_alike};
pub use measure::{Dimension, Exponents, Measure};
pub use print::{Number, Printed, number, percent, print, print_si, push_number, push_si, tenths};
pub use read::{
    GREATEST, LEAST, LONGEST, QuantityFault, QuantityReader, Reading, SPELLINGS, Unreadable, number_of, unit_of,
    within_range,
};
pub use rounding::{ROUNDING_TOLERANCE, whole_down, whole_up};

macro_rules! dimensions {
    ($($(#[$doc:meta])* $name:ident: $label:literal, $si:literal, $suffix:literal, $example:literal, $exponents:expr, $ladder:expr;)*) => {
        /// The dimensions that plans and sums speak of.
        pub mod dimension {
            use super::{Dimension, Exponents};
            $($(#[$doc])* #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)] pub struct $name;
              impl Dimension for $name {
                  const LABEL: &'static str = $label;
                  const SI: &'static str = $si;
                  const SUFFIX: &'static str = $suffix;
                  const EXAMPLE: &'static str = $example;
                  const EXPONENTS: Exponents = $exponents;
                  const LADDER: &'static [(f64, &'static str)] = $ladder;
              })*
            /// The label of each dimension with its exponents, to name what was found in place of what was expected.
            pub(super) const LABELS: &[(&str, Exponents)] = &[$(($name::LABEL, $name::EXPONENTS)),*];
        }
        $($(#[$doc])* pub type $name = Measure<dimension::$name>;)*
    };
}

dimensions! {
    /// Mass per time, kg/s.
    MassRate: "mass flow", "kg/s", "_kg_s", "300 g/s", [0, -1, 1, 0, 0, 0, 0],
        &[(1e-9, "µg/s"), (1e-6, "mg/s"), (1e-3, "g/s"), (1.0, "kg/s"), (1e3, "t/s")];
    /// Mass, kg.
    Mass: "mass", "kg", "_kg", "800 kg", [0, 0, 1, 0, 0, 0, 0],
        &[(1e-9, "µg"), (1e-6, "mg"), (1e-3, "g"), (1.0, "kg"), (1e3, "t")];
    /// Power or heat flow, W.
    Power: "power", "W", "_w", "2.5 kW", [2, -3, 1, 0, 0, 0, 0],
        &[(1e-6, "µW"), (1e-3, "mW"), (1.0, "W"), (1e3, "kW"), (1e6, "MW"), (1e9, "GW")];
    /// Energy, J.
    Energy: "energy", "J", "_j", "40 MJ", [2, -2, 1, 0, 0, 0, 0],
        &[(1e-3, "mJ"), (1.0, "J"), (1e3, "kJ"), (1e6, "MJ"), (1e9, "GJ")];
    /// Time, s.
    Time: "time", "s", "_s", "7 min", [0, 1, 0, 0, 0, 0, 0],
        &[(1e-6, "µs"), (1e-3, "ms"), (1.0, "s"), (60.0, "min"), (3600.0, "h")];
    /// A share of one, 0 to 1 where a field says so.
    Share: "share", "1", "_share", "75 %", [0; 7], &[(0.01, "%")];
    /// A share of something that goes in a second, 1/s.
    PerTime: "share per time", "1/s", "_per_s", "0.2 %/day", [0, -1, 0, 0, 0, 0, 0],
        &[(0.01 / 3600.0, "%/h"), (0.01, "%/s")];
    /// Heat that changes the phase of a mass, J/kg.
    HeatPerMass: "heat per mass", "J/kg", "_j_kg", "334 kJ/kg", [2, -2, 0, 0, 0, 0, 0],
        &[(1.0, "J/kg"), (1e3, "kJ/kg"), (1e6, "MJ/kg")];
    /// Heat flow for a difference of temperatures, W/K.
    Conductance: "thermal conductance", "W/K", "_w_k", "12 W/K", [2, -3, 1, 0, -1, 0, 0],
        &[(1e-3, "mW/K"), (1.0, "W/K"), (1e3, "kW/K")];
    /// Thermal conductivity, W/(m·K).
    Conductivity: "thermal conductivity", "W/(m·K)", "_w_m_k", "0.78 W/(m·K)", [1, -3, 1, 0, -1, 0, 0],
        &[(1.0, "W/(m·K)")];
    /// Difference of temperatures for a heat flow through an area, m²·K/W.
    ThermalInsulance: "thermal resistance of an area", "m²·K/W", "_m2_k_w", "0.17 m²·K/W", [0, 3, -1, 0, 1, 0, 0],
        &[(1.0, "m²·K/W")];
    /// Length, m.
    Length: "length", "m", "_m", "25 mm", [1, 0, 0, 0, 0, 0, 0],
        &[(1e-3, "mm"), (1.0, "m"), (1e3, "km")];
    /// Area, m².
    Area: "area", "m²", "_m2", "1.2 m²", [2, 0, 0, 0, 0, 0, 0],
        &[(1.0, "m²")];
    /// Specific heat capacity, J/(kg·K).
    SpecificHeat: "specific heat", "J/(kg·K)", "_j_kg_k", "4.18 kJ/(kg·K)", [2, -2, 0, 0, -1, 0, 0],
        &[(1.0, "J/(kg·K)"), (1e3, "kJ/(kg·K)")];
    /// Heat that warms a body by a kelvin, J/K.
    HeatCapacity: "heat capacity", "J/K", "_j_k", "4 MJ/K", [2, -2, 1, 0, -1, 0, 0],
        &[(1.0, "J/K"), (1e3, "kJ/K"), (1e6, "MJ/K"), (1e9, "GJ/K")];
    /// Heat flow through an area for a difference of temperatures, W/(m²·K).
    HeatTransfer: "heat transfer coefficient", "W/(m²·K)", "_w_m2_k", "10 W/(m²·K)", [0, -3, 1, 0, -1, 0, 0],
        &[(1.0, "W/(m²·K)"), (1e3, "kW/(m²·K)")];
    /// Volume, m³.
    Volume: "volume", "m³", "_m3", "600 L", [3, 0, 0, 0, 0, 0, 0],
        &[(1e-6, "mL"), (1e-3, "L"), (1.0, "m³")];
    /// Volume per time, m³/s.
    VolumeRate: "volume flow", "m³/s", "_m3_s", "30 L/s", [3, -1, 0, 0, 0, 0, 0],
        &[(1e-6, "mL/s"), (1e-3, "L/s"), (1.0, "m³/s")];
    /// Mass per volume, kg/m³.
    Density: "density", "kg/m³", "_kg_m3", "998 kg/m³", [-3, 0, 1, 0, 0, 0, 0],
        &[(1.0, "kg/m³")];
    /// Pressure, Pa.
    Pressure: "pressure", "Pa", "_pa", "2.3 bar", [-1, -2, 1, 0, 0, 0, 0],
        &[(1.0, "Pa"), (1e3, "kPa"), (1e5, "bar")];
    /// Change of speed per time, m/s².
    Acceleration: "acceleration", "m/s²", "_m_s2", "9.81 m/s²", [1, -2, 0, 0, 0, 0, 0],
        &[(1.0, "m/s²")];
    /// Electric potential, V.
    Voltage: "voltage", "V", "_v", "12 V", [2, -2, 1, 0, 0, -1, 0],
        &[(1.0, "V"), (1e3, "kV")];
}
