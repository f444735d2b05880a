//! Water and steam by IAPWS R7-97(2012), Industrial Formulation 1997, through the crate `seuif97`: from 0 to 800 °C, and from
//! the pressure of the triple point to 100,000,000 Pa.

use seuif97::{OCP, OH, OP, OS, OT, OV, ps, pt, px, tx};

/// The least pressure at which water and steam stand side by side, Pa (the triple point).
pub const TRIPLE_PA: f64 = 611.657;
/// The critical point: pressure, Pa.
pub const CRITICAL_PA: f64 = 22.064e6;
/// The critical point: temperature, °C.
pub const CRITICAL_C: f64 = 373.946;
/// The hottest state of the formulation that is reckoned with, °C.
pub const HOTTEST_C: f64 = 800.0;
/// Its greatest pressure, Pa.
pub const GREATEST_PA: f64 = 100e6;

const MEGA: f64 = 1e6;
const KILO: f64 = 1e3;

/// What it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    Water,
    Wet,
    Steam,
    Supercritical,
}

impl Phase {
    pub fn name(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Wet => "wet steam",
            Self::Steam => "steam",
            Self::Supercritical => "beyond the critical point",
        }
    }
}

/// A state of water or steam, per kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    pub pressure_pa: f64,
    pub temperature_c: f64,
    pub volume_m3: f64,
    pub enthalpy_j: f64,
    pub entropy_j_k: f64,
    /// None where both phases are there: heat does not warm it.
    pub specific_heat_j_k: Option<f64>,
    /// The share of steam, where both phases may be there.
    pub quality: Option<f64>,
    pub phase: Phase,
}

/// Temperature at which water boils at this pressure, °C; `None` outside of what boils.
pub fn boiling_c(pressure_pa: f64) -> Option<f64> {
    (TRIPLE_PA..=CRITICAL_PA).contains(&pressure_pa).then(|| px(pressure_pa / MEGA, 0.0, OT))
}

/// One phase, at a pressure and a temperature within the bounds of the formulation.
pub fn at(pressure_pa: f64, temperature_c: f64) -> State {
    let property = |of| pt(pressure_pa / MEGA, temperature_c, of);
    let phase = match boiling_c(pressure_pa) {
        Some(boils) if temperature_c < boils => Phase::Water,
        Some(_) => Phase::Steam,
        None if temperature_c < CRITICAL_C => Phase::Water,
        None => Phase::Supercritical,
    };
    State {
        pressure_pa,
        temperature_c,
        volume_m3: property(OV),
        enthalpy_j: property(OH) * KILO,
        entropy_j_k: property(OS) * KILO,
        specific_heat_j_k: Some(property(OCP) * KILO),
        quality: None,
        phase,
    }
}

/// Water and steam side by side, at a pressure that boils.
pub fn boiling_at(pressure_pa: f64, quality: f64) -> State {
    let property = |of| px(pressure_pa / MEGA, quality, of);
    State {
        pressure_pa,
        temperature_c: property(OT),
        volume_m3: property(OV),
        enthalpy_j: property(OH) * KILO,
        entropy_j_k: property(OS) * KILO,
        specific_heat_j_k: None,
        quality: Some(quality),
        phase: Phase::Wet,
    }
}

/// The pressure at which water boils at this temperature, Pa.
pub fn boiling_pa(temperature_c: f64) -> f64 {
    tx(temperature_c, 0.0, OP) * MEGA
}

/// What steam of this entropy becomes at a lower pressure that boils.
pub fn expanded(entropy_j_k: f64, pressure_pa: f64) -> State {
    let (water, steam) = (boiling_at(pressure_pa, 0.0), boiling_at(pressure_pa, 1.0));
    if entropy_j_k <= steam.entropy_j_k {
        return boiling_at(pressure_pa, share(water.entropy_j_k, steam.entropy_j_k, entropy_j_k));
    }
    at(pressure_pa, ps(pressure_pa / MEGA, entropy_j_k / KILO, OT))
}

/// What has this enthalpy at a pressure that boils.
pub fn of_enthalpy(enthalpy_j: f64, pressure_pa: f64) -> State {
    let (water, steam) = (boiling_at(pressure_pa, 0.0), boiling_at(pressure_pa, 1.0));
    if enthalpy_j <= steam.enthalpy_j {
        return boiling_at(pressure_pa, share(water.enthalpy_j, steam.enthalpy_j, enthalpy_j));
    }
    at(pressure_pa, seuif97::ph(pressure_pa / MEGA, enthalpy_j / KILO, OT))
}

/// How far a value is on the way from that of water to that of steam.
fn share(water: f64, steam: f64, value: f64) -> f64 {
    ((value - water) / (steam - water)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Backward equations and forward ones tell of the same state: what is expanded has the entropy it had.
    #[test]
    fn what_is_expanded_keeps_its_entropy() {
        for (pressure, temperature, low) in
            [(3e6, 350.0, 75e3), (3e6, 600.0, 1e6), (10e6, 500.0, 10e3), (0.2e6, 400.0, 1e5)]
        {
            let hot = at(pressure, temperature);
            let cold = expanded(hot.entropy_j_k, low);
            approx::assert_relative_eq!(cold.entropy_j_k, hot.entropy_j_k, max_relative = 2e-6);
            assert!(cold.enthalpy_j < hot.enthalpy_j);
            let again = of_enthalpy(cold.enthalpy_j, low);
            approx::assert_relative_eq!(again.temperature_c, cold.temperature_c, max_relative = 1e-4);
        }
    }

    #[test]
    fn phases_are_told_apart() {
        let phase = |pressure: f64, temperature: f64| at(pressure, temperature).phase;
        assert_eq!(phase(1e5, 99.0), Phase::Water);
        assert_eq!(phase(1e5, 100.0), Phase::Steam);
        assert_eq!(phase(30e6, 20.0), Phase::Water);
        assert_eq!(phase(30e6, 500.0), Phase::Supercritical);
    }
}
