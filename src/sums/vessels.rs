//! Vessels: how long one drains by its own weight, and how much a loop expands into.

use super::answer::{Outcome, Refusal};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use super::{Kind, Sum};
use crate::quantity::{Printed, dimension, number, print_si};

const DAY: f64 = 86_400.0;

/// Torricelli: `t = (D/d)² · 2·(√h₀ − √h₁) / (discharge · √(2g))`.
pub(super) const GRAVITY_DRAIN: Sum = Sum {
    name: "gravity-drain",
    title: "Draining a tank by gravity",
    says: "How long an upright tank takes to drain through a hole in its floor, from one level to another.",
    formula: "time = (tank ÷ hole)² × 2 × (√from − √to) ÷ (discharge × √(2 × gravity)); outflow = discharge × π/4 × hole² × √(2 × gravity × level)",
    parameters: &[
        Parameter::positive("tank", Kind::Length, "3 m", "diameter of the tank"),
        Parameter::positive("hole", Kind::Length, "25 mm", "diameter of the hole"),
        Parameter::measure("from", Kind::Length, "4 m", "level at the beginning, above the hole"),
        Parameter::measure("to", Kind::Length, "1 m", "level at the end").or("0"),
        Parameter::positive_share("discharge", "61 %", "discharge coefficient of the hole; 1 for a rounded one")
            .or("1"),
        Parameter::positive("gravity", Kind::Acceleration, "9.81 m/s²", "acceleration of free fall").or("9.80665 m/s²"),
    ],
    example: "tank=3 m&hole=25 mm&from=4 m&to=1 m&discharge=61 %",
    evaluate: gravity_drain,
};

/// Expansion vessel: `V = expands · content / (1 − p_fill/p_most)`.
pub(super) const EXPANSION: Sum = Sum {
    name: "expansion-vessel",
    title: "Expansion vessel of a closed loop",
    says: "How large the vessel of a closed loop must be that takes up what its charge expands, between two pressures.",
    formula: "expansion = content × expands; vessel = expansion ÷ (1 − (fill + ambient) ÷ (most + ambient))",
    parameters: &[
        Parameter::positive("content", Kind::Volume, "600 L", "what the loop holds"),
        Parameter::share("expands", "3.5 %", "by what share it grows from cold to hot"),
        Parameter::positive("fill", Kind::Pressure, "2.3 bar", "pressure when filled and cold, absolute"),
        Parameter::positive("most", Kind::Pressure, "4 bar", "pressure that must not be passed when hot, absolute"),
        Parameter::measure("ambient", Kind::Pressure, "1.013 bar", "added to both, where they are gauge pressures")
            .or("0"),
    ],
    example: "content=600 L&expands=3.5 %&fill=2.3 bar&most=4 bar",
    evaluate: expansion,
};

fn length(metres: f64) -> Printed<dimension::Length> {
    print_si(metres)
}

fn gravity_drain(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (tank, hole) = (arguments.number("tank")?, arguments.number("hole")?);
    let (from, to) = (arguments.number("from")?, arguments.number("to")?);
    let (discharge, gravity) = (arguments.number("discharge")?, arguments.number("gravity")?);
    if to > from {
        let found = format!("{}, above where it begins", length(to));
        return Err(Refusal::contradiction("to", found, format!("at most from, {}", length(from))));
    }
    if hole > tank {
        let found = format!("{}, wider than the tank", length(hole));
        return Err(Refusal::contradiction("hole", found, format!("at most tank, {}", length(tank))));
    }
    let ratio = (tank / hole).powi(2);
    let speed = discharge * (2.0 * gravity).sqrt();
    // √a − √b as (a − b)/(√a + √b), which keeps its digits where the levels are close.
    let roots = if from > 0.0 { (from - to) / (from.sqrt() + to.sqrt()) } else { 0.0 };
    let seconds = ratio * 2.0 * roots / speed;
    let area = std::f64::consts::FRAC_PI_4;
    let (first, last) = (area * hole * hole * speed * from.sqrt(), area * hole * hole * speed * to.sqrt());
    let drained = area * tank * tank * (from - to);
    let mut outcome = Outcome::of(arguments);
    let flow = print_si::<dimension::VolumeRate>;
    outcome.work(|| format!("({} ÷ {})² = {}", length(tank), length(hole), number(ratio)));
    outcome.work(|| {
        format!(
            "{} × 2 × (√{} − √{}) ÷ {} = {}",
            number(ratio),
            number(from),
            number(to),
            number(speed),
            lasting(seconds, DAY)
        )
    });
    outcome.work(|| format!("the outflow goes from {} to {}", flow(first), flow(last)));
    outcome.say = format!(
        "{} from {} to {}: {} drain, at first {}.",
        lasting(seconds, DAY),
        length(from),
        length(to),
        print_si::<dimension::Volume>(drained),
        flow(first)
    );
    outcome.figure("time_s", seconds);
    outcome.figure("drained_m3", drained);
    outcome.figure("first_outflow_m3_s", first);
    outcome.figure("last_outflow_m3_s", last);
    Ok(outcome)
}

fn expansion(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (content, expands) = (arguments.number("content")?, arguments.number("expands")?);
    let ambient = arguments.number("ambient")?;
    let (fill, most) = (arguments.number("fill")? + ambient, arguments.number("most")? + ambient);
    let (volume, pressure) = (print_si::<dimension::Volume>, print_si::<dimension::Pressure>);
    if fill >= most * (1.0 - 1e-9) {
        let found = format!("{}, no more than it is filled with", pressure(most));
        return Err(Refusal::contradiction("most", found, format!("more than {}", pressure(fill))));
    }
    let grows = content * expands;
    let takes = 1.0 - fill / most;
    let vessel = grows / takes;
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} × {} = {}", volume(content), percent(expands), volume(grows)));
    outcome
        .work(|| format!("1 − {} ÷ {} = {} of the vessel takes it up", pressure(fill), pressure(most), percent(takes)));
    outcome.work(|| format!("{} ÷ {} = {}", volume(grows), percent(takes), volume(vessel)));
    outcome.say = format!(
        "A vessel of {}: {} of expansion between {} and {}.",
        volume(vessel),
        volume(grows),
        pressure(fill),
        pressure(most)
    );
    outcome.figure("expansion_m3", grows);
    outcome.figure("vessel_m3", vessel);
    outcome.figure("acceptance_share", takes);
    Ok(outcome)
}
