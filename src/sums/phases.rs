//! Phases: heat of melting and boiling, and whether a product freezes.

use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::heat::{DAY, flow, joules, kilograms, per_mass, specific, watts};
use super::parameter::Parameter;
use super::wording::{celsius, kelvin, lasting};
use super::{Kind, Sum};
use crate::questions::answer::Weight;

/// Latent duty: `mass · latent`, with what warms it before and after.
pub(super) const LATENT: Sum = Sum {
    name: "latent-duty",
    title: "Heat of a change of phase",
    says: "How much heat melts, freezes, boils or condenses a mass or a stream, with what it takes before and after, or how much a heat does.",
    formula: "heat = mass × (before × |changes_at − from| + latent + after × |to − changes_at|); mass = heat ÷ the same",
    parameters: &[
        Parameter::measure("latent", Kind::HeatPerMass, "334 kJ/kg", "heat of the change of phase"),
        Parameter::positive("mass", Kind::Mass, "18 g", "the mass; or a flow, a heat or a power").optional(),
        Parameter::positive("flow", Kind::MassRate, "50 g/s", "the stream that changes").optional(),
        Parameter::measure("heat", Kind::Energy, "1.15 MJ", "a heat, to tell what mass it changes").optional(),
        Parameter::measure("power", Kind::Power, "13.3 W", "a heat flow, to tell what stream it changes").optional(),
        Parameter::time("over", "24 h", "how long that heat flow goes on, to tell the mass").optional(),
        Parameter::temperature("changes_at", "0 °C", "melting or boiling point, where from or to is given").optional(),
        Parameter::temperature("from", "-10 °C", "temperature before").optional(),
        Parameter::positive("before", Kind::SpecificHeat, "2.1 kJ/(kg·K)", "specific heat before the change")
            .optional(),
        Parameter::temperature("to", "20 °C", "temperature after").optional(),
        Parameter::positive("after", Kind::SpecificHeat, "4.18 kJ/(kg·K)", "specific heat after the change").optional(),
    ],
    example: "latent=334 kJ/kg&mass=18 g&changes_at=0 °C&from=-10 °C&before=2.1 kJ/(kg·K)",
    evaluate: latent,
};

/// Freeze check of a conversion.
pub(super) const FREEZE_CHECK: Sum = Sum {
    name: "freeze-check",
    title: "Freeze check of a conversion",
    says: "Whether a conversion yields a product that freezes or boils at the temperature at which it leaves.",
    formula: "the product leaves as warm as its feed, at a fixed temperature, or as warm as its zone; it must stay above freezing and below boiling",
    parameters: &[
        Parameter::temperature("freezes", "0 °C", "freezing point of the product"),
        Parameter::temperature("boils", "100 °C", "boiling point of the product").optional(),
        Parameter::choice(
            "leaves_at",
            &["feed", "fixed", "zone"],
            "feed",
            "what its temperature follows: feed, fixed or zone",
        ),
        Parameter::temperature("feed", "-6 °C", "temperature of the feed").optional(),
        Parameter::temperature("fixed", "40 °C", "temperature at which it always leaves").optional(),
        Parameter::temperature("zone", "25 °C", "temperature of the zone").optional(),
        Parameter::measure("margin", Kind::Difference, "2 K", "how far to stay from freezing and boiling").or("0 K"),
    ],
    example: "freezes=0 °C&boils=100 °C&leaves_at=feed&feed=-6 °C",
    evaluate: freeze_check,
};

/// Heat for each kilogram, with the text of it.
fn heat_per_mass(arguments: &Arguments<'_>) -> Result<(f64, String), Refusal> {
    let latent = arguments.number("latent")?;
    let changes = arguments.maybe("changes_at");
    let mut heat = latent;
    let mut text = per_mass(latent).to_string();
    for (end, specific_heat, first) in [("from", "before", true), ("to", "after", false)] {
        let Some(at) = arguments.maybe(end) else { continue };
        let changes =
            changes.ok_or_else(|| Refusal::missing("changes_at", format!("a temperature, as {end} is given")))?;
        let per_kelvin = arguments
            .maybe(specific_heat)
            .ok_or_else(|| Refusal::missing(specific_heat, format!("a specific heat, as {end} is given")))?;
        let away = (at - changes).abs();
        heat += per_kelvin * away;
        let part = format!("{} × {}", specific(per_kelvin), kelvin(away));
        text = if first { format!("{part} + {text}") } else { format!("{text} + {part}") };
    }
    if let (Some(from), Some(to), Some(changes)) = (arguments.maybe("from"), arguments.maybe("to"), changes)
        && (from - changes) * (to - changes) > 0.0
    {
        let found = format!("{}, on the same side of the change as from", celsius(to));
        let expected = format!("the other side of {} from {}", celsius(changes), celsius(from));
        return Err(Refusal::contradiction("to", found, expected));
    }
    Ok((heat, text))
}

fn latent(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (each, text) = heat_per_mass(arguments)?;
    let given = ["mass", "flow", "heat", "power"];
    let mut asked = given.iter().filter_map(|name| arguments.maybe(name).map(|value| (*name, value)));
    let Some((name, value)) = asked.next() else {
        return Err(Refusal::missing("mass", "mass, flow, heat or power"));
    };
    if let Some((other, _)) = asked.next() {
        return Err(Refusal::contradiction(other, format!("both {name} and {other}"), "one of them".to_owned()));
    }
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{text} = {}", per_mass(each)));
    outcome.figure("heat_per_mass_j_kg", each);
    let over = arguments.maybe("over");
    if each <= 0.0 && matches!(name, "heat" | "power") {
        return Err(Refusal::contradiction("latent", "no heat at all".to_owned(), "a heat to divide by".to_owned()));
    }
    match name {
        "mass" => {
            outcome.say = format!("{}: {} × {}.", joules(value * each), kilograms(value), per_mass(each));
            outcome.figure("heat_j", value * each);
            if let Some(over) = over {
                outcome.figure("heat_w", value * each / over);
                outcome.work(|| format!("in {} that is {}", lasting(over, DAY), watts(value * each / over)));
            }
        }
        "flow" => {
            outcome.say = format!("{}: {} × {}.", watts(value * each), flow(value), per_mass(each));
            outcome.figure("heat_w", value * each);
        }
        "heat" => {
            outcome.say = format!("{}: {} ÷ {}.", kilograms(value / each), joules(value), per_mass(each));
            outcome.figure("mass_kg", value / each);
        }
        _ => {
            outcome.say = format!("{}: {} ÷ {}.", flow(value / each), watts(value), per_mass(each));
            outcome.figure("flow_kg_s", value / each);
            if let Some(over) = over {
                let mass = value * over / each;
                outcome.work(|| format!("in {} that is {}", lasting(over, DAY), kilograms(mass)));
                outcome.say = format!("{} In {} that is {}.", outcome.say, lasting(over, DAY), kilograms(mass));
                outcome.figure("mass_kg", mass);
            }
        }
    }
    Ok(outcome)
}

fn freeze_check(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (freezes, margin) = (arguments.number("freezes")?, arguments.number("margin")?);
    let boils = arguments.maybe("boils");
    if let Some(boils) = boils.filter(|boils| *boils <= freezes) {
        let found = format!("{}, at or below freezing", celsius(boils));
        return Err(Refusal::contradiction("boils", found, format!("above freezes, {}", celsius(freezes))));
    }
    let follows = arguments.chosen("leaves_at").unwrap_or("feed");
    let leaves = arguments
        .maybe(follows)
        .ok_or_else(|| Refusal::missing(follows, "a temperature, as leaves_at says that the product follows it"))?;
    let mut outcome = Outcome::of(arguments);
    outcome.figure("product_c", leaves);
    outcome.work(|| format!("the product leaves at {}, by its {follows} temperature", celsius(leaves)));
    outcome
        .work(|| format!("{} − {} = {} above freezing", celsius(leaves), celsius(freezes), kelvin(leaves - freezes)));
    outcome.say = format!("It leaves at {}, {} above freezing.", celsius(leaves), kelvin(leaves - freezes));
    let (least, greatest) = (freezes + margin, boils.map(|boils| boils - margin));
    outcome.figure("above_freezing_k", (leaves - freezes).max(0.0));
    if leaves < least {
        let short = kelvin(least - leaves);
        let (weight, say) = if leaves < freezes {
            (Weight::Failure, format!("The product leaves at {} and freezes at {}.", celsius(leaves), celsius(freezes)))
        } else {
            (Weight::Caution, format!("The product leaves within {} of freezing.", kelvin(leaves - freezes)))
        };
        outcome.say = format!("{say} Warm the {follows} by {short}.");
        let mend = remedy(format!("Warm the {follows} by {short}."));
        outcome.found(concern("product-freezes", weight, follows, say).at_least(leaves, least, "°C").mended(mend));
    }
    if let Some(boils) = boils {
        outcome.figure("below_boiling_k", (boils - leaves).max(0.0));
    }
    if let Some(greatest) = greatest.filter(|greatest| leaves > *greatest) {
        let say = format!("The product leaves at {}, and boils or comes near it.", celsius(leaves));
        let past = boils.is_some_and(|boils| leaves > boils);
        let weight = if past { Weight::Failure } else { Weight::Caution };
        outcome.say = format!("{} {say}", outcome.say);
        let mend = remedy(format!("Cool the {follows} by {}.", kelvin(leaves - greatest)));
        outcome.found(concern("product-boils", weight, follows, say).at_most(leaves, greatest, "°C").mended(mend));
    }
    Ok(outcome)
}
