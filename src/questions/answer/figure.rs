//! Figures of an answer in words, by the pointer that leads to them.

use crate::plan::Pointer;
use crate::quantity::{Dimension, dimension, number, print_si};

/// An ending and how a figure with it is printed.
type Ending = (&'static str, fn(f64) -> String);

/// Endings of the names of figures that say their unit of measure, longest first, and how such a figure is printed.
const ENDINGS: &[Ending] = &[
    ("_per_day", |value| format!("{} a day", number(value))),
    ("_j_kg_k", measure::<dimension::SpecificHeat>),
    ("_m2_k_w", measure::<dimension::ThermalInsulance>),
    ("_w_m2_k", measure::<dimension::HeatTransfer>),
    ("_per_h", |value| format!("{} an hour", number(value))),
    ("_per_s", |value| format!("{} a second", number(value))),
    ("_m3_kg", |value| format!("{} m³/kg", number(value))),
    ("_share", measure::<dimension::Share>),
    ("_kg_s", measure::<dimension::MassRate>),
    ("_m3_s", measure::<dimension::VolumeRate>),
    ("_j_kg", measure::<dimension::HeatPerMass>),
    ("_j_k", measure::<dimension::HeatCapacity>),
    ("_w_k", measure::<dimension::Conductance>),
    // Electric charge is told in ampere-hours.
    ("_a_s", |value| format!("{} Ah", number(value / 3600.0))),
    ("_kg", measure::<dimension::Mass>),
    ("_pa", measure::<dimension::Pressure>),
    ("_m2", measure::<dimension::Area>),
    ("_m3", measure::<dimension::Volume>),
    ("_m", measure::<dimension::Length>),
    ("_w", measure::<dimension::Power>),
    ("_j", measure::<dimension::Energy>),
    ("_s", measure::<dimension::Time>),
    // Rounding to the microkelvin keeps 14.000000000000002 from being read as anything but 14.
    ("_c", |value| format!("{} °C", number((value * 1e6).round() / 1e6))),
    ("_k", |value| format!("{} K", number((value * 1e6).round() / 1e6))),
];

fn measure<D: Dimension>(si: f64) -> String {
    print_si::<D>(si).to_string()
}

fn ending(name: &str) -> Option<&'static Ending> {
    ENDINGS.iter().find(|(ending, _)| name.ends_with(ending))
}

/// A figure as people read it: `/power/net_w` of 54300 is "54.3 kW".
#[must_use]
pub fn figure_text(at: &Pointer, value: f64) -> String {
    at.steps().last().and_then(|name| ending(name)).map_or_else(|| number(value).to_string(), |(_, print)| print(value))
}

/// What a figure is called: `/units/absorber/count` is "absorber count", `/power/net_w` "power net".
#[must_use]
pub fn figure_name(at: &Pointer) -> String {
    let steps = at.steps();
    // The section is told by what stands in it.
    let in_section = steps.len() > 2 || steps.first().is_some_and(|section| section == "key_figures");
    let told = if in_section { &steps[1..] } else { steps };
    let mut words: Vec<String> = told.to_vec();
    if let Some(last) = words.last_mut() {
        let plain = ending(last).and_then(|(ending, _)| last.strip_suffix(ending)).unwrap_or(last);
        *last = plain.replace('_', " ");
    }
    words.join(" ")
}

/// A sum whose nothing is 0 and not −0, the same to the last bit in whatever order the numbers come.
pub fn sum(numbers: impl IntoIterator<Item = f64>) -> f64 {
    let mut numbers: Vec<f64> = numbers.into_iter().collect();
    numbers.sort_by(f64::total_cmp);
    numbers.into_iter().fold(0.0, |sum, number| sum + number)
}

#[cfg(test)]
mod tests {
    use super::{figure_name, figure_text};
    use crate::plan::Pointer;

    #[test]
    fn figures_are_told_with_their_unit_of_measure() {
        for (at, value, name, text) in [
            ("/power/net_w", 54_300.0, "power net", "54.3 kW"),
            ("/key_figures/net_power_w", 54_300.0, "net power", "54.3 kW"),
            ("/units/absorber/count", 8.0, "absorber count", "8"),
            ("/zones/hall/settles_at_c", 28.000000000000004, "hall settles at", "28 °C"),
            ("/supplies/seep/drawn_kg_s", 0.06, "seep drawn", "60 g/s"),
            ("/switches/float/starts_per_h", 1.6, "float starts", "1.6 an hour"),
            ("/stores/sump/first_full_s", 680.0, "sump first full", "11.33 min"),
            ("/charge_a_s", 1.95e6, "charge", "542 Ah"),
            ("/volume_m3_kg", 0.0906, "volume", "0.0906 m³/kg"),
            ("/needed_j_k", 6.29e6, "needed", "6.29 MJ/K"),
            ("/specific_heat_j_kg_k", 2354.0, "specific heat", "2.35 kJ/(kg·K)"),
            ("/worst_flow_m3_s", 0.015, "worst flow", "15 L/s"),
        ] {
            let at = Pointer::parse(at).expect("a pointer");
            assert_eq!((figure_name(&at).as_str(), figure_text(&at, value).as_str()), (name, text));
        }
    }
}
