//! Published properties that a substance of a plan can begin from.
//!
//! Source of the table: `OpenStax`, College Physics 2e, module m42224, table "Specific Heats of Various Substances" (solids and
//! liquids at 25 °C, water at 15 °C; gases at constant pressure and 20 °C, steam at 100 °C), and module m42225, table "Heats of Fusion
//! and Vaporization" (at 1 atm). Water boils with 2256 kJ/kg, as the text of m42225 says; its table has the heat at 37 °C.
//! Ammonia freezes by the CRC Handbook, at 195.42 K (table "Physical Constants of Inorganic Compounds") with 5.66 kJ/mol (table "Enthalpy of
//! Fusion"): m42225 has −75 °C and, among kcal/kg, a figure that is no heat of fusion of ammonia. Each number is held to a second
//! publication in the tests below; the farthest off is steam, 3 % under its specific heat where it is saturated.
//!
//! Water and steam by formulation: IAPWS R7-97(2012), Industrial Formulation 1997, by the crate `seuif97`, at the pressure that the plan
//! says. Ice: IAPWS R10-06(2009), table 6, at its melting point at 1 atm: 2096.71391024 J/(kg·K) and −333 354.873637 J/kg, where water
//! has 71.6427 J/kg by IAPWS-95.

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
            Preset::Ammonia => gas(2190.0, -33.4, -77.73, 5660.0 / 17.03052 * 1e3, 1370e3),
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
        // IAPWS-95, the scientific formulation, by `iapws` 1.5.5 and `CoolProp` 8.0.0: boils at 99.974296 °C with 2256.4716 kJ/kg. The CRC
        // Handbook, table "Enthalpy of Vaporization", has 373.12 K and 40.65 kJ/mol.
        near(figures.boils_at_c, 99.974_296, 2e-5);
        near(figures.vaporisation_j_kg, 2_256_471.6, 5e-5);
        near(figures.vaporisation_j_kg, 40.65e6 / 18.015_28, 1e-4);
        near(figures.specific_heat, 4190.0, 3e-3);
        near(figures.solid_heat, 2_096.713_910_24, 1e-5);
        near(figures.fusion_j_kg, 333_354.873_637 + 71.642_7, 1e-7);
    }

    /// CRC Handbook of Chemistry and Physics: tables "Standard Thermodynamic Properties of Chemical Substances" (at 25 °C), "Physical
    /// Constants" of inorganic and of organic compounds, "Enthalpy of Fusion", "Enthalpy of Vaporization", per mole and with molar masses
    /// in kg/kmol. What stands per kg and at one atmosphere: equations of state by `CoolProp` 8.0.0, at 20 °C, and steam saturated
    /// at 1 atm. Such publications differ by some percent.
    #[test]
    fn the_table_agrees_with_a_second_publication() {
        let of = |preset| Properties::Preset(preset).figures(None);
        let heats = [
            (of(Preset::Water).specific_heat, 75.3e3 / 18.015_28),
            (of(Preset::Water).solid_heat, 2_096.713_910_24),
            (of(Preset::Water).gas_heat, 2079.937),
            (of(Preset::Water).fusion_j_kg, 6.01e6 / 18.015_28),
            (of(Preset::Water).vaporisation_j_kg, 40.65e6 / 18.015_28),
            (of(Preset::Ethanol).specific_heat, 112.3e3 / 46.068_44),
            (of(Preset::Ethanol).fusion_j_kg, 4.931e6 / 46.068_44),
            (of(Preset::Ethanol).vaporisation_j_kg, 38.56e6 / 46.068_44),
            (of(Preset::Ammonia).specific_heat, 2163.342),
            (of(Preset::Ammonia).fusion_j_kg, 5.653e6 / 17.030_52),
            (of(Preset::Ammonia).vaporisation_j_kg, 23.33e6 / 17.030_52),
            (of(Preset::Nitrogen).specific_heat, 29.1e3 / 28.013_4),
            (of(Preset::Nitrogen).fusion_j_kg, 0.71e6 / 28.013_4),
            (of(Preset::Nitrogen).vaporisation_j_kg, 5.57e6 / 28.013_4),
            (of(Preset::Oxygen).specific_heat, 29.4e3 / 31.998_8),
            (of(Preset::Oxygen).fusion_j_kg, 0.44e6 / 31.998_8),
            (of(Preset::Oxygen).vaporisation_j_kg, 6.82e6 / 31.998_8),
            (of(Preset::CarbonDioxide).specific_heat, 37.1e3 / 44.009_5),
            (of(Preset::Air).specific_heat, 1006.144),
            (of(Preset::Aluminium).specific_heat, 24.2e3 / 26.981_538),
            (of(Preset::Copper).specific_heat, 24.4e3 / 63.546),
            (of(Preset::Iron).specific_heat, 25.1e3 / 55.845),
        ];
        for (found, expected) in heats {
            approx::assert_relative_eq!(found.expect("it is given"), expected, max_relative = 0.03);
        }
        let transitions = [
            (Preset::Water, 273.15, 373.124),
            (Preset::Ethanol, 159.01, 351.39),
            (Preset::Ammonia, 195.42, 239.82),
            (Preset::Nitrogen, 63.15, 77.355),
            (Preset::Oxygen, 54.36, 90.188),
        ];
        for (preset, freezes, boils) in transitions {
            let figures = of(preset);
            for (found, kelvin) in [(figures.freezes_at_c, freezes), (figures.boils_at_c, boils)] {
                approx::assert_abs_diff_eq!(found.expect("it is given"), kelvin - 273.15, epsilon = 0.15);
            }
        }
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
