//! Published properties that a substance of a plan can begin from.
//!
//! Source of the table: `OpenStax`, College Physics 2e, modules m42224 (specific heats; those of gases at constant pressure) and
//! m42225 (melting and boiling at 1 atm, with their heats). The specific heats of water and aluminium and all of m42225 were
//! looked up; the other specific heats are from memory of the same table. Water boils with 2256 kJ/kg, as the text of m42225 says.
//!
//! Water and steam by formulation: IAPWS R7-97(2012), Industrial Formulation 1997, by the crate `seuif97`, at the pressure that the plan
//! says; for ice IAPWS R10-06(2009), from memory.

/// A real substance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Preset {
    Water,
    Ethanol,
    Ammonia,
    Nitrogen,
    Oxygen,
    CarbonDioxide,
    Air,
    Aluminium,
    Copper,
    Iron,
}

/// Where properties come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Properties {
    /// IAPWS-IF97.
    Steam97,
    /// The table.
    Preset(Preset),
}

/// What they bring: J/(kg·K), °C, J/kg.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Figures {
    pub specific_heat: Option<f64>,
    pub solid_heat: Option<f64>,
    pub gas_heat: Option<f64>,
    pub freezes_at_c: Option<f64>,
    pub boils_at_c: Option<f64>,
    pub fusion_j_kg: Option<f64>,
    pub vaporisation_j_kg: Option<f64>,
}

/// One phase only.
fn only(specific_heat: f64) -> Figures {
    Figures { specific_heat: Some(specific_heat), ..Figures::default() }
}

/// A gas whose boiling point lies far below any hall.
fn gas(specific_heat: f64, boils_at_c: f64, freezes_at_c: f64, fusion: f64, vaporisation: f64) -> Figures {
    Figures {
        specific_heat: Some(specific_heat),
        solid_heat: None,
        gas_heat: Some(specific_heat),
        freezes_at_c: Some(freezes_at_c),
        boils_at_c: Some(boils_at_c),
        fusion_j_kg: Some(fusion),
        vaporisation_j_kg: Some(vaporisation),
    }
}

impl Properties {
    /// What they bring at a pressure, in Pa, of 1 atm unless said: those of the table do not depend on it.
    pub fn figures(self, pressure_pa: Option<f64>) -> Figures {
        let preset = match self {
            Self::Steam97 => return by_formulation(pressure_pa.unwrap_or(ATMOSPHERE_PA)),
            Self::Preset(preset) => preset,
        };
        match preset {
            Preset::Water => Figures {
                specific_heat: Some(4186.0),
                solid_heat: Some(2090.0),
                gas_heat: Some(2020.0),
                freezes_at_c: Some(0.0),
                boils_at_c: Some(100.0),
                fusion_j_kg: Some(334e3),
                vaporisation_j_kg: Some(2256e3),
            },
            Preset::Ethanol => Figures {
                specific_heat: Some(2450.0),
                freezes_at_c: Some(-114.0),
                boils_at_c: Some(78.3),
                fusion_j_kg: Some(104e3),
                vaporisation_j_kg: Some(854e3),
                ..Figures::default()
            },
            Preset::Ammonia => gas(2190.0, -33.4, -75.0, 108e3 * 4.186, 1370e3),
            Preset::Nitrogen => gas(1040.0, -195.8, -210.0, 25.5e3, 201e3),
            Preset::Oxygen => gas(913.0, -183.0, -218.8, 13.8e3, 213e3),
            Preset::CarbonDioxide => only(833.0),
            Preset::Air => only(1015.0),
            Preset::Aluminium => only(900.0),
            Preset::Copper => only(387.0),
            Preset::Iron => only(452.0),
        }
    }
}

/// 1 atm, Pa.
const ATMOSPHERE_PA: f64 = 101_325.0;
/// Where the mean specific heat of the liquid begins, °C.
const FROM_C: f64 = 0.01;
/// How far above boiling that of steam ends, K.
const SUPERHEAT_K: f64 = 100.0;

/// Water and steam. Latent heat at boiling is h″ − h′; specific heats are means, (h′ − h(0.01 °C)) ÷ (boiling − 0.01 °C) of the liquid
/// and (h(boiling + 100 K) − h″) ÷ 100 K of steam.
fn by_formulation(pressure_pa: f64) -> Figures {
    use seuif97::{OCP, OH, OT, pt, px};
    let mpa = pressure_pa / 1e6;
    let boils = px(mpa, 0.0, OT);
    let (liquid, steam) = (px(mpa, 0.0, OH), px(mpa, 1.0, OH));
    let kj = 1e3;
    // Where it boils as soon as it has melted nothing can be warmed first: then as at that temperature and 1 atm.
    let warmed = if boils - FROM_C > 1.0 {
        (liquid - pt(mpa, FROM_C, OH)) / (boils - FROM_C)
    } else {
        pt(ATMOSPHERE_PA / 1e6, FROM_C, OCP)
    };
    Figures {
        specific_heat: Some(warmed * kj),
        solid_heat: Some(2096.7),
        gas_heat: Some((pt(mpa, boils + SUPERHEAT_K, OH) - steam) / SUPERHEAT_K * kj),
        freezes_at_c: Some(0.0),
        boils_at_c: Some(boils),
        fusion_j_kg: Some(333_426.5),
        vaporisation_j_kg: Some((steam - liquid).max(0.0) * kj),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seuif97::{OCP, OH, OP, OT, OV, pt, tx};

    /// IAPWS R7-97(2012), tables 5, 15 and 35: the verification values of the release.
    #[test]
    fn the_formulation_gives_the_verification_values_of_its_release() {
        let points = [
            // T in K, p in MPa, v in m³/kg, h in kJ/kg, cp in kJ/(kg·K)
            (300.0, 3.0, 0.100215168e-2, 0.115331273e3, 0.417301218e1),
            (300.0, 80.0, 0.971180894e-3, 0.184142828e3, 0.401008987e1),
            (500.0, 3.0, 0.120241800e-2, 0.975542239e3, 0.465580682e1),
            (300.0, 0.0035, 0.394913866e2, 0.254991145e4, 0.191300162e1),
            (700.0, 0.0035, 0.923015898e2, 0.333568375e4, 0.208141274e1),
            (700.0, 30.0, 0.542946619e-2, 0.263149474e4, 0.103505092e2),
        ];
        for (kelvin, p, v, h, cp) in points {
            let t = kelvin - 273.15;
            for (found, expected) in [(pt(p, t, OV), v), (pt(p, t, OH), h), (pt(p, t, OCP), cp)] {
                approx::assert_relative_eq!(found, expected, max_relative = 1e-8);
            }
        }
        for (kelvin, p) in [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)] {
            approx::assert_relative_eq!(tx(kelvin - 273.15, 0.0, OP), p, max_relative = 1e-8);
        }
        let _ = OT;
    }

    #[test]
    fn water_at_one_atmosphere_is_as_handbooks_have_it() {
        let figures = Properties::Steam97.figures(None);
        let near = |found: Option<f64>, expected: f64, share: f64| {
            approx::assert_relative_eq!(found.expect("it is given"), expected, max_relative = share);
        };
        // NIST Chemistry WebBook at 1 atm, from memory: boils at 373.12 K with 2256.5 kJ/kg.
        near(figures.boils_at_c, 99.97, 1e-4);
        near(figures.vaporisation_j_kg, 2256.5e3, 1e-3);
        near(figures.specific_heat, 4190.0, 3e-3);
    }

    /// From the triple point to the critical point: nothing out of the range of the formulation, and each grows or falls as it must.
    #[test]
    fn the_formulation_holds_at_every_pressure_at_which_water_boils() {
        let pressures = (0..=400).map(|k| 611.657 * (22.064e6_f64 / 611.657).powf(f64::from(k) / 400.0));
        let all: Vec<Figures> =
            pressures.map(|pa| Properties::Steam97.figures(Some(pa.clamp(611.657, 22.064e6)))).collect();
        for figures in &all {
            let [liquid, gas] = [figures.specific_heat, figures.gas_heat].map(|heat| heat.expect("it is given"));
            assert!((4150.0..8500.0).contains(&liquid) && (1850.0..20e3).contains(&gas), "{figures:?}");
        }
        for pair in all.windows(2) {
            let latent = |at: usize| pair[at].vaporisation_j_kg.expect("it is given");
            assert!(pair[1].boils_at_c > pair[0].boils_at_c && latent(1) < latent(0), "{pair:?}");
        }
        assert_eq!(all.last().expect("the critical point").vaporisation_j_kg.map(|heat| heat < 2e5), Some(true));
    }
}
