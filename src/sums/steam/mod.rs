//! Water and steam as they are: a state, and the cycle of a plant that boils, expands, condenses and pumps.

mod state;

use super::answer::{Outcome, Refusal, concern};
use super::arguments::Arguments;
use super::heat::watts;
use super::parameter::Parameter;
use super::wording::{celsius, percent};
use super::{Kind, Sum};
use crate::plan::FaultCode;
use crate::quantity::{Printed, dimension, number, print_si};
use crate::questions::answer::Weight;
use state::{CRITICAL_C, CRITICAL_PA, GREATEST_PA, HOTTEST_C, Phase, State, TRIPLE_PA};

/// A wetter exhaust wears blades out: common practice, no source.
const DRY_ENOUGH: f64 = 0.88;

const fn temperature(name: &'static str, example: &'static str, says: &'static str) -> Parameter {
    Parameter::new(name, Kind::Temperature, (0.0, HOTTEST_C), example, says)
}

/// A state of water or steam, by IAPWS R7-97(2012).
pub(super) const STATE: Sum = Sum {
    name: "steam-state",
    title: "Water and steam",
    says: "What a kilogram of water or steam is at two of pressure, temperature and share of steam: enthalpy, entropy, volume.",
    formula: "IAPWS R7-97(2012), Industrial Formulation 1997, 0 to 800 °C, 611.657 Pa to 100 MPa; enthalpy and entropy are nothing in water at its triple point",
    parameters: &[
        Parameter::new("pressure", Kind::Pressure, (TRIPLE_PA, GREATEST_PA), "3 MPa", "absolute pressure").optional(),
        temperature("temperature", "350 °C", "temperature").optional(),
        Parameter::share("quality", "90 %", "share of steam where water and steam are side by side").optional(),
    ],
    example: "pressure=3 MPa&temperature=350 °C",
    evaluate: of_state,
};

/// The cycle of W. J. M. Rankine: Y. A. Cengel, M. A. Boles, *Thermodynamics: An Engineering Approach*, 5th ed.,
/// chapter 10, Vapor and Combined Power Cycles.
pub(super) const CYCLE: Sum = Sum {
    name: "steam-cycle",
    title: "Steam cycle",
    says: "What a plant that boils, expands, condenses and pumps water makes of its heat, and how wet its exhaust is.",
    formula: "work = turbine − pump; turbine = turbine_efficiency × (steam − exhaust of the same entropy); \
              pump = volume of the condensate × (pressure − condenser) ÷ pump_efficiency; efficiency = work ÷ (steam − feed)",
    parameters: &[
        Parameter::new(
            "pressure",
            Kind::Pressure,
            (TRIPLE_PA, GREATEST_PA),
            "3 MPa",
            "absolute pressure of the boiler",
        ),
        temperature("temperature", "350 °C", "temperature of the steam; saturated when left out").optional(),
        Parameter::new(
            "condenser",
            Kind::Pressure,
            (TRIPLE_PA, CRITICAL_PA),
            "10 kPa",
            "absolute pressure of the condenser",
        ),
        Parameter::positive_share("turbine_efficiency", "85 %", "isentropic efficiency of the turbine").or("1"),
        Parameter::positive_share("pump_efficiency", "70 %", "efficiency of the pump").or("1"),
        Parameter::positive("flow", Kind::MassRate, "2 kg/s", "the steam, to tell powers").optional(),
    ],
    example: "pressure=3 MPa&temperature=350 °C&condenser=10 kPa",
    evaluate: cycle,
};

fn pascals(pressure: f64) -> Printed<dimension::Pressure> {
    print_si(pressure)
}

fn per_mass(heat: f64) -> Printed<dimension::HeatPerMass> {
    print_si(heat)
}

fn out_of_range(parameter: &'static str, found: String, expected: String) -> Refusal {
    Refusal { parameter, code: FaultCode::OutOfRange, found, expected }
}

/// The pressure, where water boils at it.
fn boils(parameter: &'static str, pressure: f64) -> Result<f64, Refusal> {
    if (TRIPLE_PA..=CRITICAL_PA).contains(&pressure) {
        return Ok(pressure);
    }
    let expected = format!("{} to {}, where water boils", pascals(TRIPLE_PA), pascals(CRITICAL_PA));
    Err(out_of_range(parameter, pascals(pressure).to_string(), expected))
}

fn of_state(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let given = (arguments.maybe("pressure"), arguments.maybe("temperature"), arguments.maybe("quality"));
    let state = match given {
        (Some(pressure), Some(temperature), None) => state::at(pressure, temperature),
        (Some(pressure), None, Some(quality)) => state::boiling_at(boils("pressure", pressure)?, quality),
        (None, Some(temperature), Some(quality)) => {
            if temperature > CRITICAL_C {
                let expected = format!("at most {}, where water boils", celsius(CRITICAL_C));
                return Err(out_of_range("temperature", celsius(temperature), expected));
            }
            let pressure = state::boiling_pa(temperature).clamp(TRIPLE_PA, CRITICAL_PA);
            State { temperature_c: temperature, ..state::boiling_at(pressure, quality) }
        }
        (Some(_), Some(_), Some(_)) => {
            let expected = "two of pressure, temperature and quality".to_owned();
            return Err(Refusal::contradiction("quality", "all three".to_owned(), expected));
        }
        (Some(_), None, None) => return Err(Refusal::missing("temperature", "a temperature, or a quality".to_owned())),
        (None, Some(_), None) => return Err(Refusal::missing("pressure", "a pressure, or a quality".to_owned())),
        (None, None, _) => {
            return Err(Refusal::missing("pressure", "two of pressure, temperature and quality".to_owned()));
        }
    };
    let mut outcome = Outcome::of(arguments);
    let how = match state.quality {
        Some(quality) => format!("{}, {} of it steam", state.phase.name(), percent(quality)),
        None => state.phase.name().to_owned(),
    };
    let entropy = print_si::<dimension::SpecificHeat>(state.entropy_j_k);
    outcome.say = format!(
        "{} at {}: {how}; {}, entropy {entropy}, {} m³/kg.",
        celsius(state.temperature_c),
        pascals(state.pressure_pa),
        per_mass(state.enthalpy_j),
        number(state.volume_m3)
    );
    outcome.work(|| format!("IAPWS R7-97(2012): {}", described(&state)));
    if let Some(boils) = state::boiling_c(state.pressure_pa).filter(|_| state.quality.is_none()) {
        outcome.work(|| format!("at {} water boils at {}", pascals(state.pressure_pa), celsius(boils)));
        outcome.figure("boils_at_c", boils);
    }
    outcome.figure("pressure_pa", state.pressure_pa);
    outcome.figure("temperature_c", state.temperature_c);
    outcome.figure("enthalpy_j_kg", state.enthalpy_j);
    outcome.figure("entropy_j_kg_k", state.entropy_j_k);
    outcome.figure("volume_m3_kg", state.volume_m3);
    if let Some(heat) = state.specific_heat_j_k {
        outcome.figure("specific_heat_j_kg_k", heat);
    }
    if let Some(quality) = state.quality {
        outcome.figure("steam_share", quality);
    }
    Ok(outcome)
}

fn described(state: &State) -> String {
    let heat =
        state.specific_heat_j_k.map(|heat| format!(", specific heat {}", print_si::<dimension::SpecificHeat>(heat)));
    format!("enthalpy {}, {}{}", per_mass(state.enthalpy_j), state.phase.name(), heat.unwrap_or_default())
}

fn cycle(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (high, low) = (arguments.number("pressure")?, arguments.number("condenser")?);
    if low >= high {
        let expected = format!("less than the pressure of the boiler, {}", pascals(high));
        return Err(Refusal::contradiction("condenser", pascals(low).to_string(), expected));
    }
    let steam = match arguments.maybe("temperature") {
        None => state::boiling_at(boils("pressure", high)?, 1.0),
        Some(temperature) => {
            let steam = state::at(high, temperature);
            if steam.phase == Phase::Water {
                let boils = state::boiling_c(high).unwrap_or(CRITICAL_C);
                let expected = format!("at least {}: it is water below", celsius(boils));
                return Err(Refusal::contradiction("temperature", celsius(temperature), expected));
            }
            steam
        }
    };
    let (turbine_share, pump_share) = (arguments.number("turbine_efficiency")?, arguments.number("pump_efficiency")?);
    let water = state::boiling_at(low, 0.0);
    let pump = water.volume_m3 * (high - low) / pump_share;
    let feed = water.enthalpy_j + pump;
    let ideal = state::expanded(steam.entropy_j_k, low);
    let turbine = turbine_share * (steam.enthalpy_j - ideal.enthalpy_j);
    let exhaust = state::of_enthalpy(steam.enthalpy_j - turbine, low);
    let (work, heat) = (turbine - pump, steam.enthalpy_j - feed);
    if work <= 0.0 {
        let found = format!("{}, whose turbine gives {}", pascals(low), per_mass(turbine));
        let expected = format!("a pressure low enough for more than the pump takes, {}", per_mass(pump));
        return Err(Refusal::contradiction("condenser", found, expected));
    }
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("condensate at {}: {}", celsius(water.temperature_c), per_mass(water.enthalpy_j)));
    outcome.work(|| format!("pump: {}; feed {}", per_mass(pump), per_mass(feed)));
    outcome.work(|| format!("boiler: {} − {} = {}", per_mass(steam.enthalpy_j), per_mass(feed), per_mass(heat)));
    outcome.work(|| {
        let of = if turbine_share < 1.0 { format!("{} of ", percent(turbine_share)) } else { String::new() };
        let (before, after) = (per_mass(steam.enthalpy_j), per_mass(ideal.enthalpy_j));
        format!("turbine: {of}{before} − {after} = {}", per_mass(turbine))
    });
    let efficiency = work / heat;
    outcome.work(|| {
        format!("({} − {}) ÷ {} = {}", per_mass(turbine), per_mass(pump), per_mass(heat), percent(efficiency))
    });
    let leaves = match exhaust.quality {
        Some(quality) => format!("{} of it steam", percent(quality)),
        None => "dry".to_owned(),
    };
    outcome.say = format!(
        "{} of the heat becomes work: {} of {}; exhaust at {}, {leaves}.",
        percent(efficiency),
        per_mass(work),
        per_mass(heat),
        celsius(exhaust.temperature_c)
    );
    if let Some(flow) = arguments.maybe("flow") {
        outcome.say = format!("{} {} for {} of heat.", outcome.say, watts(work * flow), watts(heat * flow));
        outcome.figure("power_w", work * flow);
        outcome.figure("heat_w", heat * flow);
        outcome.figure("rejected_w", (heat - work) * flow);
    }
    outcome.figure("efficiency_share", efficiency);
    outcome.figure("work_j_kg", work);
    outcome.figure("heat_j_kg", heat);
    outcome.figure("turbine_j_kg", turbine);
    outcome.figure("pump_j_kg", pump);
    outcome.figure("steam_c", steam.temperature_c);
    outcome.figure("exhaust_c", exhaust.temperature_c);
    if let Some(quality) = exhaust.quality {
        outcome.figure("exhaust_steam_share", quality);
        if quality < DRY_ENOUGH {
            let say = format!(
                "An exhaust of which less than {} is steam wears blades out (common practice, no source): hotter steam leaves it drier.",
                percent(DRY_ENOUGH)
            );
            outcome.found(concern("wet-exhaust", Weight::Note, "temperature", say));
        }
    }
    Ok(outcome)
}
