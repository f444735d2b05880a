//! Where masses or streams that mix settle.

use super::answer::{Outcome, Refusal, concern};
use super::arguments::Arguments;
use super::heat::{along, capacity, conductance, joules, kilograms};
use super::parameter::Parameter;
use super::wording::{celsius, percent};
use super::{Kind, Sum};
use crate::questions::answer::Weight;

/// Mixing temperature: `Σ m·c·T / Σ m·c`, with a solid that melts in it.
pub(super) const SUM: Sum = Sum {
    name: "mixing-temperature",
    title: "Mixing temperature",
    says: "Where masses, or streams, of different temperatures settle when they mix, and how much of a solid melts among them.",
    formula: "T = (m × c × T + …) ÷ (m × c + …); with a solid, what the others give above its melting point first melts it: \
              T = melts_at + (heat − solid × latent) ÷ (m × c + … + solid × liquid_heat)",
    parameters: &[
        Parameter::positive("masses", Kind::Mass, "0.25, 0.5 kg", "the masses; or give flows").many().optional(),
        Parameter::positive("flows", Kind::MassRate, "1, 3 kg/s", "the streams").many().optional(),
        Parameter::positive(
            "specific_heats",
            Kind::SpecificHeat,
            "4186, 900 J/(kg·K)",
            "the specific heat of each, or one for all",
        )
        .many(),
        Parameter::temperature("temperatures", "20, 150 °C", "the temperature of each").many(),
        Parameter::positive("solid", Kind::Mass, "18 g", "mass of a solid that melts among the masses").optional(),
        Parameter::measure("latent", Kind::HeatPerMass, "334 kJ/kg", "heat that melts it").optional(),
        Parameter::temperature("melts_at", "0 °C", "its melting point").or("0 °C"),
        Parameter::temperature("solid_at", "-10 °C", "its temperature; left out, its melting point").optional(),
        Parameter::positive("solid_heat", Kind::SpecificHeat, "2.1 kJ/(kg·K)", "its specific heat as a solid")
            .optional(),
        Parameter::positive(
            "liquid_heat",
            Kind::SpecificHeat,
            "4186 J/(kg·K)",
            "its specific heat when melted; left out, that of the first mass",
        )
        .optional(),
    ],
    example: "masses=0.25 kg&specific_heats=4186 J/(kg·K)&temperatures=20 °C&solid=18 g&latent=334 kJ/kg",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (masses, flows) = (arguments.list("masses"), arguments.list("flows"));
    let (name, amounts) = match (masses, flows) {
        ([], []) => return Err(Refusal::missing("masses", "masses, or flows")),
        (masses, []) => ("masses", masses),
        ([], flows) => ("flows", flows),
        _ => {
            return Err(Refusal::contradiction(
                "flows",
                "both masses and flows".to_owned(),
                "one of the two".to_owned(),
            ));
        }
    };
    let heats = along(arguments, "specific_heats", name, amounts.len())?;
    let temperatures = along(arguments, "temperatures", name, amounts.len())?;
    let each: Vec<f64> = amounts.iter().zip(&heats).map(|(amount, heat)| amount * heat).collect();
    let all: f64 = each.iter().sum();
    let base = temperatures.first().copied().unwrap_or_default();
    // Reckoned from the first temperature, so that equal temperatures stay as they are.
    let mixed = base + each.iter().zip(&temperatures).map(|(heat, at)| heat * (at - base)).sum::<f64>() / all;
    let mut outcome = Outcome::of(arguments);
    let rate = name == "flows";
    let shown = |heat: f64| if rate { conductance(heat).to_string() } else { capacity(heat).to_string() };
    let terms: Vec<String> = each
        .iter()
        .zip(&temperatures)
        .take(4)
        .map(|(heat, at)| format!("{} at {}", shown(*heat), celsius(*at)))
        .collect();
    let more = if each.len() > 4 { format!(" and {} more", each.len() - 4) } else { String::new() };
    outcome.work(|| format!("{}{more}: {}", terms.join(", "), celsius(mixed)));
    outcome.say = format!("It settles at {}.", celsius(mixed));
    if rate {
        outcome.figure("total_kg_s", amounts.iter().sum());
    }
    if let Some(solid) = arguments.maybe("solid") {
        if rate {
            let found = "a mass of solid among streams".to_owned();
            return Err(Refusal::contradiction("solid", found, "masses, with a solid".to_owned()));
        }
        melt(arguments, &mut outcome, (all, mixed), heats.first().copied().unwrap_or_default(), solid)?;
    } else {
        outcome.figure("settles_at_c", mixed);
    }
    Ok(outcome)
}

/// A solid among masses that, without it, settle at `mixed`.
fn melt(
    arguments: &Arguments<'_>,
    outcome: &mut Outcome,
    (all, mixed): (f64, f64),
    first_heat: f64,
    solid: f64,
) -> Result<(), Refusal> {
    let latent = arguments.number("latent")?;
    let melts = arguments.number("melts_at")?;
    let liquid_heat = arguments.maybe("liquid_heat").unwrap_or(first_heat);
    let solid_heat = arguments.maybe("solid_heat");
    let at = arguments.maybe("solid_at").unwrap_or(melts);
    if at > melts {
        let found = format!("{}, above its melting point", celsius(at));
        return Err(Refusal::contradiction("solid_at", found, format!("at most {}", celsius(melts))));
    }
    if at < melts && solid_heat.is_none() {
        return Err(Refusal::missing("solid_heat", "its specific heat, as it is colder than its melting point"));
    }
    let solid_heat = solid_heat.unwrap_or(liquid_heat);
    // What the others give down to the melting point, less what warms the solid up to it.
    let given = all * (mixed - melts);
    let to_melting = solid_heat * (melts - at);
    let heat = given - solid * to_melting;
    let (settles, melted) = if heat >= solid * latent {
        (melts + (heat - solid * latent) / (all + solid * liquid_heat), solid)
    } else if heat >= 0.0 {
        (melts, (heat / latent).min(solid))
    } else {
        (melts + heat / (all + solid * solid_heat), 0.0)
    };
    outcome.work(|| {
        format!(
            "without the solid {}; down to {} that gives {}",
            celsius(mixed),
            celsius(melts),
            joules(given.max(0.0))
        )
    });
    outcome.work(|| format!("to melt all of {}: {}", kilograms(solid), joules(solid * (latent + to_melting))));
    outcome.figure("settles_at_c", settles);
    outcome.figure("melted_kg", melted);
    outcome.figure("melted_share", (melted / solid).min(1.0));
    outcome.figure("melt_heat_j", melted * latent);
    if latent + to_melting > 0.0 && given > 0.0 {
        outcome.figure("most_solid_kg", given / (latent + to_melting));
        outcome.work(|| format!("more than {} would not melt wholly", kilograms(given / (latent + to_melting))));
    }
    if melted >= solid {
        outcome.say = format!("It settles at {}, and all {} melts.", celsius(settles), kilograms(solid));
    } else {
        outcome.say = format!(
            "It settles at {}: {} of the {} melts.",
            celsius(settles),
            percent(melted / solid),
            kilograms(solid)
        );
        let say = format!("{} stays solid.", kilograms(solid - melted));
        outcome.found(concern("solid-left", Weight::Note, "solid", say).at_most(solid, melted, "kg"));
    }
    if heat < 0.0 {
        let say = "It ends below the melting point: whatever else freezes there is not counted.".to_owned();
        outcome
            .found(concern("below-melting-point", Weight::Caution, "temperatures", say).at_least(settles, melts, "°C"));
    }
    Ok(())
}
