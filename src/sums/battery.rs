//! Batteries: how long one runs, and how large one must be.

use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{Headcount, counted, lasting, percent, ratio};
use super::{Kind, Sum};
use crate::quantity::{Printed, dimension, number, print_si};
use crate::questions::answer::Weight;

/// Battery run time: `(level − keep) · yield / (draw − charge)`.
pub(super) const RUN_TIME: Sum = Sum {
    name: "battery-run-time",
    title: "Battery run time",
    says: "How long a battery carries a load from its present charge.",
    formula: "usable = capacity × (level − keep) × yield; run time = usable ÷ (draw − charge)",
    parameters: &[
        Parameter::positive("capacity", Kind::Energy, "40 MJ", "what the battery holds when full"),
        Parameter::positive("draw", Kind::Power, "7 kW", "the load that it carries"),
        Parameter::share("level", "60 %", "its present charge, as a share of the capacity").or("1"),
        Parameter::share("keep", "20 %", "the charge below which it is not drawn on").or("0"),
        Parameter::positive_share("yield", "90 %", "share of the stored energy that reaches the load").or("1"),
        Parameter::measure("charge", Kind::Power, "2 kW", "what is still generated meanwhile").or("0"),
        Parameter::time("wanted", "3 h", "how long it is to run").optional(),
        Parameter::day(),
    ],
    example: "capacity=40 MJ&level=60 %&keep=20 %&draw=7 kW&charge=2 kW",
    evaluate: run_time,
};

/// Battery for an outage: `draw · outage / depth · temperature factor`, and a count of cells.
pub(super) const FOR_OUTAGE: Sum = Sum {
    name: "battery-for-outage",
    title: "Battery size for an outage",
    says: "How large a battery must be to carry a load through an outage, and how many of one kind that takes.",
    formula: "energy = draw × outage ÷ depth ÷ yield × temperature_factor; count = energy ÷ each, rounded up",
    parameters: &[
        Parameter::positive("draw", Kind::Power, "1 kWh/day", "the load that it carries, on average"),
        Parameter::time("outage", "2.5 day", "how long nothing charges it: the autonomy"),
        Parameter::positive_share("depth", "50 %", "depth of discharge: share of the capacity that may be drawn")
            .or("1"),
        Parameter::positive_share("yield", "90 %", "share of the stored energy that reaches the load").or("1"),
        Parameter::new(
            "temperature_factor",
            Kind::Number,
            (1e-3, 1e3),
            "1.3",
            "how much larger it must be for the cold",
        )
        .or("1"),
        Parameter::positive("each", Kind::Energy, "2.4 kWh", "what one battery or cell holds").optional(),
        Parameter::positive("voltage", Kind::Voltage, "12 V", "the voltage, to tell the charge").optional(),
        Parameter::day(),
    ],
    example: "draw=1 kWh/day&outage=2.5 day&depth=50 %&temperature_factor=1.3&each=2.4 kWh&voltage=12 V",
    evaluate: for_outage,
};

fn energy(joules: f64) -> Printed<dimension::Energy> {
    print_si(joules)
}

fn power(watts: f64) -> Printed<dimension::Power> {
    print_si(watts)
}

fn run_time(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (capacity, draw, charge) =
        (arguments.number("capacity")?, arguments.number("draw")?, arguments.number("charge")?);
    let (level, keep, yields) = (arguments.number("level")?, arguments.number("keep")?, arguments.number("yield")?);
    let day = arguments.number("day")?;
    let usable = capacity * (level - keep).max(0.0) * yields;
    let net = (draw - charge).max(0.0);
    let mut outcome = Outcome::of(arguments);
    let loss = if yields < 1.0 { format!(" × {}", percent(yields)) } else { String::new() };
    let usable_text = energy(usable);
    outcome.work(|| format!("{} × ({} − {}){loss} = {usable_text}", energy(capacity), percent(level), percent(keep)));
    outcome.figure("usable_j", usable);
    outcome.figure("net_draw_w", net);
    if charge > 0.0 {
        outcome.work(|| format!("{} − {} = {}", power(draw), power(charge), power(net)));
    }
    if net == 0.0 {
        outcome.say = format!("It never runs down: {} is generated for a load of {}.", power(charge), power(draw));
        return Ok(outcome);
    }
    let seconds = usable / net;
    let lasts = lasting(seconds, day);
    outcome.work(|| format!("{usable_text} ÷ {} = {lasts}", power(net)));
    outcome.say = format!("It runs for {lasts}: {usable_text} ÷ {}.", power(net));
    outcome.figure("run_s", seconds);
    if level <= keep {
        let say = format!("At {} it is not drawn on: {} is kept.", percent(level), percent(keep));
        let found = concern("battery-flat", Weight::Failure, "level", say);
        let mend = remedy(format!("Charge it above {}.", percent(keep)));
        outcome.found(found.at_least(level, keep, "1").mended(mend));
    }
    if let Some(wanted) = arguments.maybe("wanted") {
        let missing = (net * wanted - usable).max(0.0);
        outcome.figure("missing_j", missing);
        outcome.figure("most_draw_w", usable / wanted + charge);
        if missing > 0.0 {
            let say = format!("For {} {} is missing.", lasting(wanted, day), energy(missing));
            outcome.say = format!("{} {say}", outcome.say);
            let mend = remedy(format!("Draw at most {}.", power(usable / wanted + charge)));
            let found = concern("battery-short", Weight::Failure, "wanted", say);
            outcome.found(found.at_least(seconds, wanted, "s").mended(mend));
        }
    }
    Ok(outcome)
}

fn for_outage(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (draw, outage, day) = (arguments.number("draw")?, arguments.number("outage")?, arguments.number("day")?);
    let (depth, yields) = (arguments.number("depth")?, arguments.number("yield")?);
    let factor = arguments.number("temperature_factor")?;
    let used = draw * outage;
    let needed = used / depth / yields * factor;
    let mut outcome = Outcome::of(arguments);
    let (used_text, needed_text) = (energy(used), energy(needed));
    outcome.work(|| format!("{} × {} = {used_text}", power(draw), lasting(outage, day)));
    let mut sum = used_text.to_string();
    for (share, what) in [(depth, "depth"), (yields, "yield")] {
        if share < 1.0 {
            sum = format!("{sum} ÷ {} {what}", percent(share));
        }
    }
    if (factor - 1.0).abs() > 0.0 {
        sum = format!("{sum} × {} for the cold", number(factor));
    }
    outcome.work(|| format!("{sum} = {needed_text}"));
    outcome.say = format!("{needed_text} of battery: {sum}.");
    outcome.figure("used_j", used);
    outcome.figure("energy_j", needed);
    if let Some(voltage) = arguments.maybe("voltage") {
        let charge = needed / voltage;
        let hours = number(charge / 3600.0);
        outcome.work(|| format!("{needed_text} ÷ {} = {hours} Ah", print_si::<dimension::Voltage>(voltage)));
        outcome.say = format!("{} That is {hours} Ah at {}.", outcome.say, print_si::<dimension::Voltage>(voltage));
        outcome.figure("charge_a_s", charge);
    }
    if let Some(each) = arguments.maybe("each") {
        let count = Headcount::of(needed / each, "each")?;
        let things = counted(count.count, "battery").replace("batterys", "batteries");
        outcome.work(|| format!("{needed_text} ÷ {} = {}: {things}", energy(each), ratio(&count)));
        outcome.say = format!("{} {things} of {}.", outcome.say, energy(each));
        outcome.figure("needed", count.needed);
        outcome.figure("count", count.count);
    }
    Ok(outcome)
}
