//! What the sums of heat share: bodies, differences of temperatures, printing.

use super::answer::Refusal;
use super::arguments::Arguments;
use super::wording::kelvin;
use crate::quantity::{Printed, dimension, number, print_si};

/// A day of 24 h, to print times by.
pub(super) const DAY: f64 = 86_400.0;

/// 0 °C in K.
pub(super) const CELSIUS_ZERO_K: f64 = 273.15;

pub(super) fn watts(power: f64) -> Printed<dimension::Power> {
    print_si(power)
}

pub(super) fn joules(energy: f64) -> Printed<dimension::Energy> {
    print_si(energy)
}

pub(super) fn kilograms(mass: f64) -> Printed<dimension::Mass> {
    print_si(mass)
}

pub(super) fn flow(flow: f64) -> Printed<dimension::MassRate> {
    print_si(flow)
}

pub(super) fn specific(heat: f64) -> Printed<dimension::SpecificHeat> {
    print_si(heat)
}

pub(super) fn capacity(heat: f64) -> Printed<dimension::HeatCapacity> {
    print_si(heat)
}

pub(super) fn per_mass(heat: f64) -> Printed<dimension::HeatPerMass> {
    print_si(heat)
}

pub(super) fn conductance(conductance: f64) -> Printed<dimension::Conductance> {
    print_si(conductance)
}

/// The items of a list that goes with another: one for each of those, or one for all.
pub(super) fn along(
    arguments: &Arguments<'_>,
    name: &'static str,
    with: &'static str,
    count: usize,
) -> Result<Vec<f64>, Refusal> {
    match arguments.list(name) {
        [] => Err(Refusal::missing(name, format!("one for each of {with}, or one for all"))),
        [one] => Ok(vec![*one; count]),
        items if items.len() == count => Ok(items.to_vec()),
        items => Err(Refusal::contradiction(
            name,
            format!("{} items", items.len()),
            format!("{count}, one for each of {with}, or one for all"),
        )),
    }
}

/// What a body takes up for each kelvin: `heat_capacity`, or `masses` with `specific_heats`. With the line that says so.
pub(super) fn body(arguments: &Arguments<'_>) -> Result<(f64, String), Refusal> {
    let masses = arguments.list("masses");
    match (arguments.maybe("heat_capacity"), masses) {
        (Some(heat), []) => Ok((heat, capacity(heat).to_string())),
        (None, []) => Err(Refusal::missing("heat_capacity", "heat_capacity, or masses and specific_heats")),
        (None, masses) => {
            let heats = along(arguments, "specific_heats", "masses", masses.len())?;
            let all: f64 = masses.iter().zip(&heats).map(|(mass, heat)| mass * heat).sum();
            Ok((all, format!("{} = {}", products(masses, &heats), capacity(all))))
        }
        (Some(_), _) => Err(Refusal::contradiction(
            "masses",
            "both masses and heat_capacity".to_owned(),
            "one of the two".to_owned(),
        )),
    }
}

/// "0.25 kg × 4.19 kJ/(kg·K) + …", the first three.
pub(super) fn products(masses: &[f64], heats: &[f64]) -> String {
    let shown: Vec<String> = masses
        .iter()
        .zip(heats)
        .take(3)
        .map(|(mass, heat)| format!("{} × {}", kilograms(*mass), specific(*heat)))
        .collect();
    let more = if masses.len() > 3 { format!(" + {} more", masses.len() - 3) } else { String::new() };
    format!("{}{more}", shown.join(" + "))
}

/// A change of temperature: `difference`, or `from` and `to`. Positive where it warms; with the text of its size.
pub(super) fn change(arguments: &Arguments<'_>) -> Result<Option<(f64, String)>, Refusal> {
    match (arguments.maybe("difference"), arguments.maybe("from"), arguments.maybe("to")) {
        (Some(difference), None, None) => Ok(Some((difference, kelvin(difference)))),
        (None, Some(from), Some(to)) => {
            let text = if from < 0.0 || to < 0.0 {
                kelvin((to - from).abs())
            } else {
                format!("({} − {}) K", number(to.max(from)), number(to.min(from)))
            };
            Ok(Some((to - from, text)))
        }
        (None, None, None) => Ok(None),
        (None, None, Some(_)) => Err(Refusal::missing("from", "a temperature, as to is given")),
        (None, Some(_), None) => Err(Refusal::missing("to", "a temperature, as from is given")),
        (Some(_), _, _) => Err(Refusal::contradiction(
            "difference",
            "both a difference and temperatures".to_owned(),
            "one of the two".to_owned(),
        )),
    }
}
