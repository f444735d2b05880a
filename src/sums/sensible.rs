//! Heat that warms and cools: of a stream, of bodies, of a store.

use super::answer::{Outcome, Refusal};
use super::arguments::Arguments;
use super::heat::{along, capacity, change, flow, joules, kilograms, products, specific, watts};
use super::parameter::Parameter;
use super::wording::{celsius, kelvin, percent};
use super::{Kind, Sum};
use crate::quantity::{dimension, print_si};

const DIFFERENCE: Parameter = Parameter::measure(
    "difference",
    Kind::Difference,
    "11 K",
    "by how much its temperature changes; or give from and to",
)
.optional();
const FROM: Parameter = Parameter::temperature("from", "15 °C", "temperature at the beginning").optional();
const TO: Parameter = Parameter::temperature("to", "4 °C", "temperature at the end").optional();

/// Heat flow of a stream: `flow · specific heat · ΔT`.
pub(super) const STREAM: Sum = Sum {
    name: "stream-heat",
    title: "Heat flow of a stream",
    says: "How much heat a stream carries between two temperatures, or how far a heat flow warms it.",
    formula: "heat = flow × specific_heat × difference; difference = heat ÷ (flow × specific_heat)",
    parameters: &[
        Parameter::positive("flow", Kind::MassRate, "1 kg/s", "the stream, as a mass flow"),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "3.6 kJ/(kg·K)", "its specific heat"),
        DIFFERENCE,
        FROM,
        TO,
        Parameter::measure("heat", Kind::Power, "40 kW", "in place of to or difference: the heat flow into it")
            .optional(),
    ],
    example: "flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&from=15 °C&to=4 °C",
    evaluate: stream,
};

/// Heat of bodies: `Σ mass · specific heat · ΔT`.
pub(super) const BODIES: Sum = Sum {
    name: "sensible-heat",
    title: "Heat to warm bodies",
    says: "How much heat some masses take up or give off as they all change temperature, and the share of the first.",
    formula: "heat = (mass × specific_heat + …) × difference",
    parameters: &[
        Parameter::positive("masses", Kind::Mass, "0.5, 0.25 kg", "the masses that change temperature").many(),
        Parameter::positive(
            "specific_heats",
            Kind::SpecificHeat,
            "900, 4186 J/(kg·K)",
            "the specific heat of each, or one for all",
        )
        .many(),
        DIFFERENCE,
        FROM,
        TO,
    ],
    example: "masses=0.5, 0.25 kg&specific_heats=900, 4186 J/(kg·K)&from=20 °C&to=80 °C",
    evaluate: bodies,
};

/// A store of sensible heat: `mass = heat / (specific heat · ΔT)`.
pub(super) const STORE: Sum = Sum {
    name: "heat-store",
    title: "Mass to store heat in",
    says: "How much of a substance stores an amount of heat, or of cold, within a difference of temperatures.",
    formula: "mass = heat ÷ (specific_heat × difference × usable); volume = mass ÷ density",
    parameters: &[
        Parameter::positive("heat", Kind::Energy, "500 kWh", "the heat to be stored"),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "4.18 kJ/(kg·K)", "specific heat of the substance"),
        Parameter::positive("difference", Kind::Difference, "10 K", "between empty and full"),
        Parameter::positive_share("usable", "90 %", "share of the store that gives its heat at a useful temperature")
            .or("1"),
        Parameter::positive("density", Kind::Density, "1000 kg/m³", "density, to tell the volume").optional(),
    ],
    example: "heat=500 kWh&specific_heat=4.18 kJ/(kg·K)&difference=10 K&usable=90 %&density=1000 kg/m³",
    evaluate: store,
};

fn stream(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (mass, heat_per) = (arguments.number("flow")?, arguments.number("specific_heat")?);
    let rate = mass * heat_per;
    let mut outcome = Outcome::of(arguments);
    let carries = format!("{} × {}", flow(mass), specific(heat_per));
    if let Some(heat) = arguments.maybe("heat") {
        if arguments.maybe("difference").is_some() || arguments.maybe("to").is_some() {
            let expected = "one of the three".to_owned();
            return Err(Refusal::contradiction("heat", "a heat beside a difference or to".to_owned(), expected));
        }
        let difference = heat / rate;
        outcome.work(|| format!("{} ÷ ({carries}) = {}", watts(heat), kelvin(difference)));
        outcome.say = format!("{} warms it by {}: {} ÷ ({carries}).", watts(heat), kelvin(difference), watts(heat));
        outcome.figure("heat_w", heat);
        outcome.figure("difference_k", difference);
        if let Some(from) = arguments.maybe("from") {
            outcome.say = format!("{} From {} to {}.", outcome.say, celsius(from), celsius(from + difference));
            outcome.figure("to_c", from + difference);
        }
        return Ok(outcome);
    }
    let Some((difference, text)) = change(arguments)? else {
        return Err(Refusal::missing("difference", "difference, from and to, or heat"));
    };
    let heat = rate * difference.abs();
    let does = if difference < 0.0 { "given off" } else { "taken up" };
    outcome.work(|| format!("{carries} × {text} = {}", watts(heat)));
    outcome.say = format!("{} {does}: {carries} × {text}.", watts(heat));
    outcome.figure("heat_w", heat);
    outcome.figure("difference_k", difference.abs());
    Ok(outcome)
}

fn bodies(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let masses = arguments.list("masses");
    let heats = along(arguments, "specific_heats", "masses", masses.len())?;
    let Some((difference, text)) = change(arguments)? else {
        return Err(Refusal::missing("difference", "difference, or from and to"));
    };
    let each: Vec<f64> = masses.iter().zip(&heats).map(|(mass, heat)| mass * heat).collect();
    let all: f64 = each.iter().sum();
    let first = each.first().copied().unwrap_or_default();
    let heat = all * difference.abs();
    let does = if difference < 0.0 { "given off" } else { "taken up" };
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} = {}", products(masses, &heats), capacity(all)));
    outcome.work(|| format!("{} × {text} = {}", capacity(all), joules(heat)));
    outcome.say = format!("{} {does}: {} × {text}.", joules(heat), capacity(all));
    outcome.figure("heat_j", heat);
    outcome.figure("capacity_j_k", all);
    outcome.figure("difference_k", difference.abs());
    outcome.figure("first_j", first * difference.abs());
    outcome.figure("rest_j", each.iter().skip(1).sum::<f64>() * difference.abs());
    outcome.figure("first_share", (first / all).min(1.0));
    if each.len() > 1 {
        outcome.say = format!("{} The first has {} of it.", outcome.say, percent(first / all));
    }
    Ok(outcome)
}

fn store(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (heat, heat_per) = (arguments.number("heat")?, arguments.number("specific_heat")?);
    let (difference, usable) = (arguments.number("difference")?, arguments.number("usable")?);
    let mass = heat / (heat_per * difference * usable);
    let share = if usable < 1.0 { format!(" × {}", percent(usable)) } else { String::new() };
    let sum = format!("{} ÷ ({} × {}{share})", joules(heat), specific(heat_per), kelvin(difference));
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{sum} = {}", kilograms(mass)));
    outcome.say = format!("{}: {sum}.", kilograms(mass));
    outcome.figure("mass_kg", mass);
    if let Some(density) = arguments.maybe("density") {
        let volume = print_si::<dimension::Volume>(mass / density);
        outcome.work(|| format!("{} ÷ {} = {volume}", kilograms(mass), print_si::<dimension::Density>(density)));
        outcome.say = format!("{} That is {volume}.", outcome.say);
        outcome.figure("volume_m3", mass / density);
    }
    Ok(outcome)
}
