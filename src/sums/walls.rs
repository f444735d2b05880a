//! Walls: heat through layers.

use super::answer::{Outcome, Refusal, concern};
use super::arguments::Arguments;
use super::heat::{DAY, along, conductance, joules, watts};
use super::parameter::Parameter;
use super::wording::{celsius, kelvin, lasting};
use super::{Kind, Sum};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::Weight;

/// Heat through layers in series: `U = 1/(Rsi + Σ d/λ + Σ R + Rse)`, after ISO 6946.
///
/// The surface resistances when left out, 0.13 and 0.04 m²·K/W, are those of ISO 6946:2007, table 1, for a horizontal heat flow, as
/// public implementations of the standard quote it.
pub(super) const SUM: Sum = Sum {
    name: "wall-loss",
    title: "Heat through the layers of a wall",
    says: "How much heat goes through a wall of layers, how well it insulates, and how warm its faces are.",
    formula: "resistance = inside + thickness ÷ conductivity + … + resistances + outside; U = 1 ÷ resistance; \
              heat = area × U × (inside_at − outside_at); inner face = inside_at − heat ÷ area × inside",
    parameters: &[
        Parameter::positive("area", Kind::Area, "1.2 m²", "area of the wall"),
        Parameter::positive("thicknesses", Kind::Length, "4, 10, 4 mm", "the layers from inside to outside")
            .many()
            .optional(),
        Parameter::positive(
            "conductivities",
            Kind::Conductivity,
            "0.78, 0.026, 0.78 W/(m·K)",
            "the conductivity of each, or one for all",
        )
        .many()
        .optional(),
        Parameter::measure("resistances", Kind::Insulance, "0.18 m²·K/W", "more layers, by their resistance")
            .many()
            .optional(),
        Parameter::measure(
            "inside",
            Kind::Insulance,
            "10 W/(m²·K)",
            "resistance of the inner surface, or its heat transfer coefficient",
        )
        .or("0.13 m²·K/W"),
        Parameter::measure(
            "outside",
            Kind::Insulance,
            "40 W/(m²·K)",
            "resistance of the outer surface, or its heat transfer coefficient",
        )
        .or("0.04 m²·K/W"),
        Parameter::temperature("inside_at", "20 °C", "temperature inside; or give the difference").optional(),
        Parameter::temperature("outside_at", "-10 °C", "temperature outside").optional(),
        Parameter::measure("difference", Kind::Difference, "35 K", "by how much the two sides differ").optional(),
        Parameter::time("over", "24 h", "a time over which the heat is wanted").optional(),
        Parameter::temperature("freezes", "0 °C", "at which moisture on its inner face freezes").or("0 °C"),
    ],
    example: "area=1.2 m²&thicknesses=4, 10, 4 mm&conductivities=0.78, 0.026, 0.78 W/(m·K)&inside=10 W/(m²·K)&outside=40 W/(m²·K)\
              &inside_at=20 °C&outside_at=-10 °C",
    evaluate,
};

/// The two sides: their difference (inside less outside), and the temperatures where they are given.
fn sides(arguments: &Arguments<'_>) -> Result<(f64, Option<(f64, f64)>), Refusal> {
    match (arguments.maybe("inside_at"), arguments.maybe("outside_at"), arguments.maybe("difference")) {
        (Some(inside), Some(outside), None) => Ok((inside - outside, Some((inside, outside)))),
        (None, None, Some(difference)) => Ok((difference, None)),
        (None, None, None) => Err(Refusal::missing("inside_at", "inside_at and outside_at, or difference")),
        (None, Some(_), None) => Err(Refusal::missing("inside_at", "a temperature, as outside_at is given")),
        (Some(_), None, None) => Err(Refusal::missing("outside_at", "a temperature, as inside_at is given")),
        (_, _, Some(_)) => Err(Refusal::contradiction(
            "difference",
            "both a difference and temperatures".to_owned(),
            "one of the two".to_owned(),
        )),
    }
}

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let area = arguments.number("area")?;
    let (inside, outside) = (arguments.number("inside")?, arguments.number("outside")?);
    let thicknesses = arguments.list("thicknesses");
    let conductivities = if thicknesses.is_empty() {
        Vec::new()
    } else {
        along(arguments, "conductivities", "thicknesses", thicknesses.len())?
    };
    let (difference, temperatures) = sides(arguments)?;
    let insulance = print_si::<dimension::ThermalInsulance>;
    let mut outcome = Outcome::of(arguments);
    let mut terms = vec![number(inside).to_string()];
    let mut resistance = inside + outside;
    for (thickness, conductivity) in thicknesses.iter().zip(&conductivities) {
        resistance += thickness / conductivity;
        terms.push(format!("{} ÷ {}", number(*thickness), number(*conductivity)));
    }
    for more in arguments.list("resistances") {
        resistance += more;
        terms.push(number(*more).to_string());
    }
    terms.push(number(outside).to_string());
    if resistance < 1e-9 {
        return Err(Refusal::missing("thicknesses", "layers, resistances or surfaces that resist"));
    }
    if terms.len() > 7 {
        let more = terms.len() - 6;
        terms.splice(3..terms.len() - 3, [format!("{more} more")]);
    }
    let coefficient = 1.0 / resistance;
    let per_area = difference.abs() * coefficient;
    let heat = area * per_area;
    outcome.work(|| format!("{} = {}", terms.join(" + "), insulance(resistance)));
    outcome.work(|| format!("1 ÷ that: {}", print_si::<dimension::HeatTransfer>(coefficient)));
    outcome.work(|| {
        format!(
            "{} × {} × {} = {}",
            print_si::<dimension::Area>(area),
            print_si::<dimension::HeatTransfer>(coefficient),
            kelvin(difference.abs()),
            watts(heat)
        )
    });
    let way = if difference < 0.0 { "inward" } else { "outward" };
    outcome.say = format!(
        "{} {way}: {} × {} × {}.",
        watts(heat),
        print_si::<dimension::Area>(area),
        print_si::<dimension::HeatTransfer>(coefficient),
        kelvin(difference.abs())
    );
    outcome.figure("resistance_m2_k_w", resistance);
    outcome.figure("coefficient_w_m2_k", coefficient);
    outcome.figure("conductance_w_k", area * coefficient);
    outcome.figure("heat_w", heat);
    outcome.work(|| format!("{} for the whole wall", conductance(area * coefficient)));
    if let Some(over) = arguments.maybe("over") {
        outcome.work(|| format!("{} × {} = {}", watts(heat), lasting(over, DAY), joules(heat * over)));
        outcome.say = format!("{} In {} that is {}.", outcome.say, lasting(over, DAY), joules(heat * over));
        outcome.figure("heat_j", heat * over);
    }
    if let Some((inner, outer)) = temperatures {
        let density = difference / resistance;
        let (face, back) = (inner - density * inside, outer + density * outside);
        outcome.work(|| format!("inner face {}, outer face {}", celsius(face), celsius(back)));
        outcome.figure("inside_face_c", face);
        outcome.figure("outside_face_c", back);
        let freezes = arguments.number("freezes")?;
        if face < freezes && inner > freezes {
            let say = format!("The inner face is at {}: moisture freezes on it.", celsius(face));
            outcome.say = format!("{} {say}", outcome.say);
            outcome.found(concern("face-freezes", Weight::Caution, "inside_at", say).at_least(face, freezes, "°C"));
        }
    }
    Ok(outcome)
}
