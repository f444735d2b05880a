//! Bodies that warm up and cool down as one lump.

use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::heat::{DAY, body, conductance, joules, watts};
use super::parameter::Parameter;
use super::wording::{celsius, kelvin, lasting, percent};
use super::{Kind, Sum};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::Weight;

const HEAT_CAPACITY: Parameter = Parameter::positive(
    "heat_capacity",
    Kind::HeatCapacity,
    "4 MJ/K",
    "heat for each kelvin; or give masses and specific heats",
)
.optional();
const MASSES: Parameter =
    Parameter::positive("masses", Kind::Mass, "900 kg", "the masses that change temperature together")
        .many()
        .optional();
const SPECIFIC_HEATS: Parameter = Parameter::positive(
    "specific_heats",
    Kind::SpecificHeat,
    "0.85 kJ/(kg·K)",
    "the specific heat of each mass, or one for all",
)
.many()
.optional();

/// Warm-up: `C·ΔT/P`, with losses `τ·ln((T∞ − from)/(T∞ − to))`.
pub(super) const WARM_UP: Sum = Sum {
    name: "warm-up-time",
    title: "Warm-up time",
    says: "How long a heat flow takes to warm a body to a temperature, with what it loses on the way, and where it settles.",
    formula: "without losses time = heat_capacity × (to − from) ÷ power; with them it settles at ambient + power ÷ conductance and \
              time = heat_capacity ÷ conductance × ln((settles − from) ÷ (settles − to))",
    parameters: &[
        Parameter::positive("power", Kind::Power, "25 kW", "the heat flow into it"),
        Parameter::temperature("from", "18 °C", "temperature at the beginning"),
        Parameter::temperature("to", "70 °C", "temperature to be reached"),
        HEAT_CAPACITY,
        MASSES,
        SPECIFIC_HEATS,
        Parameter::measure(
            "conductance",
            Kind::Conductance,
            "120 W/K",
            "what it loses for each kelvin above the ambient",
        )
        .or("0"),
        Parameter::temperature("ambient", "18 °C", "temperature around it; left out, that at the beginning").optional(),
    ],
    example: "power=25 kW&from=18 °C&to=70 °C&masses=900 kg&specific_heats=0.85 kJ/(kg·K)&conductance=120 W/K",
    evaluate: warm_up,
};

/// Cool-down of a lump: `T = ambient + (from − ambient)·exp(−t/τ)`.
pub(super) const COOL_DOWN: Sum = Sum {
    name: "cool-down",
    title: "Cool-down to a limit",
    says: "How long a body takes to cool, or to warm, to a limit in surroundings that stay as they are, and where it is after a time.",
    formula: "time = time_constant × ln((from − ambient) ÷ (to − ambient)); time_constant = heat_capacity ÷ conductance, or \
              reading_after ÷ ln((from − ambient) ÷ (reading − ambient))",
    parameters: &[
        Parameter::temperature("from", "90 °C", "temperature at the beginning"),
        Parameter::temperature("ambient", "18 °C", "temperature around it"),
        Parameter::temperature("to", "40 °C", "the limit that it gets to").optional(),
        Parameter::time("after", "2 h", "a time after which its temperature is wanted").optional(),
        Parameter::time("time_constant", "3 h", "the time constant, where it is known").optional(),
        Parameter::temperature("reading", "80 °C", "in its place, a temperature that was read").optional(),
        Parameter::time("reading_after", "20 min", "how long after the beginning that was").optional(),
        HEAT_CAPACITY,
        MASSES,
        SPECIFIC_HEATS,
        Parameter::positive("conductance", Kind::Conductance, "120 W/K", "heat flow for each kelvin").optional(),
        Parameter::positive("area", Kind::Area, "6 m²", "in its place, the surface").optional(),
        Parameter::positive(
            "coefficient",
            Kind::HeatTransfer,
            "20 W/(m²·K)",
            "heat transfer coefficient of that surface",
        )
        .optional(),
    ],
    example: "from=90 °C&ambient=18 °C&to=40 °C&heat_capacity=1.2 MJ/K&conductance=120 W/K",
    evaluate: cool_down,
};

/// A sphere as one lump: `τ = ρ·c·D/(6·h)`.
pub(super) const SPHERE: Sum = Sum {
    name: "lumped-sphere",
    title: "Time constant of a sphere",
    says: "How fast a small sphere follows the temperature around it, or how small it must be to be that fast.",
    formula: "time_constant = density × specific_heat × diameter ÷ (6 × coefficient); Biot number = coefficient × diameter ÷ (6 × conductivity)",
    parameters: &[
        Parameter::positive("density", Kind::Density, "8500 kg/m³", "density of the sphere"),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "400 J/(kg·K)", "its specific heat"),
        Parameter::positive("coefficient", Kind::HeatTransfer, "400 W/(m²·K)", "heat transfer coefficient around it"),
        Parameter::positive("diameter", Kind::Length, "0.7 mm", "its diameter; or give the time constant").optional(),
        Parameter::time("time_constant", "1 s", "the wanted time constant").optional(),
        Parameter::positive(
            "conductivity",
            Kind::Conductivity,
            "20 W/(m·K)",
            "its conductivity, to tell whether it is one lump",
        )
        .optional(),
    ],
    example: "density=8500 kg/m³&specific_heat=400 J/(kg·K)&coefficient=400 W/(m²·K)&time_constant=1 s&conductivity=20 W/(m·K)",
    evaluate: sphere,
};

fn warm_up(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (power, from, to) = (arguments.number("power")?, arguments.number("from")?, arguments.number("to")?);
    let loss = arguments.number("conductance")?;
    let ambient = arguments.maybe("ambient").unwrap_or(from);
    if to <= from {
        let found = format!("{}, no warmer than it is", celsius(to));
        return Err(Refusal::contradiction("to", found, format!("above from, {}", celsius(from))));
    }
    let (capacity, text) = body(arguments)?;
    let heat = capacity * (to - from);
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| text);
    outcome.work(|| format!("{} × {} = {}", super::heat::capacity(capacity), kelvin(to - from), joules(heat)));
    outcome.figure("heat_j", heat);
    if loss == 0.0 {
        let seconds = heat / power;
        outcome.work(|| format!("{} ÷ {} = {}", joules(heat), watts(power), lasting(seconds, DAY)));
        outcome.say = format!("{}: {} ÷ {}.", lasting(seconds, DAY), joules(heat), watts(power));
        outcome.figure("time_s", seconds);
        return Ok(outcome);
    }
    let settles = ambient + power / loss;
    let least = loss * (to - ambient).max(0.0);
    outcome.work(|| {
        format!("it settles at {} + {} ÷ {} = {}", celsius(ambient), watts(power), conductance(loss), celsius(settles))
    });
    outcome.figure("settles_at_c", settles);
    outcome.figure("least_power_w", least);
    outcome.figure("time_constant_s", capacity / loss);
    // The excess of power decides, not a temperature that is rounded.
    let excess = power - loss * (to - ambient);
    let seconds = capacity / loss * (loss * (to - from) / excess).ln_1p();
    if excess <= 0.0 || !seconds.is_finite() {
        let say = format!("It never gets to {}: it settles at {}.", celsius(to), celsius(settles));
        outcome.say.clone_from(&say);
        let mend = remedy(format!("Heat it with more than {}.", watts(least)));
        outcome.found(concern("never-warm", Weight::Failure, "power", say).at_least(power, least, "W").mended(mend));
        return Ok(outcome);
    }
    outcome.work(|| {
        format!(
            "{} × ln({} ÷ {}) = {}",
            lasting(capacity / loss, DAY),
            kelvin(settles - from),
            kelvin(settles - to),
            lasting(seconds, DAY)
        )
    });
    outcome.say = format!("{} to {}; it would settle at {}.", lasting(seconds, DAY), celsius(to), celsius(settles));
    outcome.figure("time_s", seconds);
    Ok(outcome)
}

/// The time constant, however it is given, with the line that says so.
fn time_constant(arguments: &Arguments<'_>, from: f64, ambient: f64) -> Result<(f64, String), Refusal> {
    if let Some(constant) = arguments.maybe("time_constant") {
        return Ok((constant, format!("time constant {}", lasting(constant, DAY))));
    }
    match (arguments.maybe("reading"), arguments.maybe("reading_after")) {
        (Some(reading), Some(after)) => {
            let ratio = (from - ambient) / (reading - ambient);
            // A reading on the way from the beginning to the ambient.
            if !(ratio > 1.0 && ratio.is_finite()) {
                let found = format!("{}, which is not on the way", celsius(reading));
                let expected = format!("a temperature between {} and {}", celsius(from), celsius(ambient));
                return Err(Refusal::contradiction("reading", found, expected));
            }
            let constant = after / ratio.ln();
            let line = format!(
                "{} ÷ ln({} ÷ {}) = {}",
                lasting(after, DAY),
                kelvin((from - ambient).abs()),
                kelvin((reading - ambient).abs()),
                lasting(constant, DAY)
            );
            return Ok((constant, line));
        }
        (Some(_), None) => return Err(Refusal::missing("reading_after", "a time, as reading is given")),
        (None, Some(_)) => return Err(Refusal::missing("reading", "a temperature, as reading_after is given")),
        (None, None) => {}
    }
    let through = match (arguments.maybe("conductance"), arguments.maybe("area"), arguments.maybe("coefficient")) {
        (Some(through), None, None) => through,
        (None, Some(area), Some(coefficient)) => area * coefficient,
        (None, Some(_), None) => return Err(Refusal::missing("coefficient", "a coefficient, as area is given")),
        (None, None, Some(_)) => return Err(Refusal::missing("area", "an area, as coefficient is given")),
        (None, None, None) => {
            let expected = "time_constant, reading and reading_after, or conductance with a heat capacity";
            return Err(Refusal::missing("time_constant", expected));
        }
        (Some(_), _, _) => {
            let found = "both a conductance and an area or coefficient".to_owned();
            return Err(Refusal::contradiction("conductance", found, "one of the two".to_owned()));
        }
    };
    let (capacity, text) = body(arguments)?;
    let constant = capacity / through;
    Ok((constant, format!("{text} ÷ {} = {}", conductance(through), lasting(constant, DAY))))
}

fn cool_down(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (from, ambient) = (arguments.number("from")?, arguments.number("ambient")?);
    let (constant, line) = time_constant(arguments, from, ambient)?;
    let (to, after) = (arguments.maybe("to"), arguments.maybe("after"));
    if to.is_none() && after.is_none() {
        return Err(Refusal::missing("to", "to, or after, or both"));
    }
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| line);
    outcome.figure("time_constant_s", constant);
    if let Some(to) = to {
        let ratio = if (to - from).abs() > 0.0 { (from - ambient) / (to - ambient) } else { 1.0 };
        if ratio >= 1.0 && ratio.is_finite() {
            let seconds = constant * ratio.ln();
            outcome.work(|| {
                format!(
                    "{} × ln({} ÷ {}) = {}",
                    lasting(constant, DAY),
                    kelvin((from - ambient).abs()),
                    kelvin((to - ambient).abs()),
                    lasting(seconds, DAY)
                )
            });
            outcome.say = format!("{} to {}.", lasting(seconds, DAY), celsius(to));
            outcome.figure("time_s", seconds);
        } else {
            let say = format!(
                "It never gets to {}: from {} it goes towards {}.",
                celsius(to),
                celsius(from),
                celsius(ambient)
            );
            outcome.say.clone_from(&say);
            outcome.found(concern("limit-not-reached", Weight::Caution, "to", say));
        }
    }
    if let Some(after) = after {
        let left = (-after / constant).exp();
        let then = ambient + (from - ambient) * left;
        outcome.work(|| format!("after {}: {} of the difference is left", lasting(after, DAY), percent(left)));
        let say = format!("After {} it is at {}.", lasting(after, DAY), celsius(then));
        outcome.say = if outcome.say.is_empty() { say } else { format!("{} {say}", outcome.say) };
        outcome.figure("after_c", then);
    }
    Ok(outcome)
}

/// Above it a body is not one lump: F. P. Incropera et al., Fundamentals of Heat and Mass Transfer, section 5.2 (from memory).
const LUMPED_BIOT: f64 = 0.1;

fn sphere(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (density, heat) = (arguments.number("density")?, arguments.number("specific_heat")?);
    let coefficient = arguments.number("coefficient")?;
    let per_metre = density * heat / (6.0 * coefficient);
    let (diameter, constant) = match (arguments.maybe("diameter"), arguments.maybe("time_constant")) {
        (Some(diameter), None) => (diameter, per_metre * diameter),
        (None, Some(constant)) => (constant / per_metre, constant),
        (None, None) => return Err(Refusal::missing("diameter", "diameter, or time_constant")),
        (Some(_), Some(_)) => {
            let found = "both diameter and time_constant".to_owned();
            return Err(Refusal::contradiction("time_constant", found, "one of the two".to_owned()));
        }
    };
    let (size, time) = (print_si::<dimension::Length>(diameter), print_si::<dimension::Time>(constant));
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| {
        format!(
            "{} × {} × {size} ÷ (6 × {}) = {time}",
            print_si::<dimension::Density>(density),
            print_si::<dimension::SpecificHeat>(heat),
            print_si::<dimension::HeatTransfer>(coefficient)
        )
    });
    outcome.say = format!("A sphere of {size} follows with a time constant of {time}.");
    outcome.figure("diameter_m", diameter);
    outcome.figure("time_constant_s", constant);
    if let Some(conductivity) = arguments.maybe("conductivity") {
        let biot = coefficient * diameter / (6.0 * conductivity);
        outcome.work(|| format!("Biot number {}", number(biot)));
        outcome.figure("biot", biot);
        if biot > LUMPED_BIOT {
            let say = format!("With a Biot number of {} it is not one lump: its middle lags.", number(biot));
            outcome.found(concern("not-one-lump", Weight::Caution, "diameter", say).at_most(biot, LUMPED_BIOT, "1"));
        }
    }
    Ok(outcome)
}
