//! What must be in store to bridge an outage.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, concern, rate_figure, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use crate::questions::answer::Weight;

/// Storage for an outage: `(draw − supply) · outage / (1 − keep)`, and its refilling.
pub(super) const SUM: Sum = Sum {
    name: "storage-for-outage",
    title: "Storage to bridge an outage",
    says: "How much must be in store so that a draw goes on through an outage, and how long it takes to refill.",
    formula: "needed = (draw − supply) × outage ÷ yield; capacity = needed ÷ (1 − keep); \
              refill time = needed ÷ refill; least refill = needed ÷ (every − outage)",
    parameters: &[
        Parameter::rate("draw", "40 g/s", "what is drawn all the time: a mass flow, a power or a volume flow"),
        Parameter::time("outage", "25 day", "how long the supply is away"),
        Parameter::rate("supply", "10 g/s", "what still comes in during the outage").or("0"),
        Parameter::new(
            "keep",
            super::Kind::Share,
            (0.0, 0.999),
            "10 %",
            "share of the capacity that is never drawn on",
        )
        .or("0"),
        Parameter::positive_share("yield", "90 %", "share of what is stored that comes out again").or("1"),
        Parameter::positive_rate("refill", "25 g/s", "what can be put into store between two outages").optional(),
        Parameter::time("every", "65 day", "how long it is from one outage to the next").optional(),
        Parameter::day(),
    ],
    example: "draw=40 g/s&outage=25 day&day=1 h&refill=25 g/s&every=65 day",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (draw, outage, day) = (arguments.number("draw")?, arguments.number("outage")?, arguments.number("day")?);
    let (supply, keep, yields) = (arguments.number("supply")?, arguments.number("keep")?, arguments.number("yield")?);
    let every = arguments.maybe("every");
    if let Some(every) = every.filter(|every| *every <= outage) {
        let found = format!("{}, no longer than the outage", lasting(every, day));
        return Err(Refusal::contradiction("every", found, format!("longer than {}", lasting(outage, day))));
    }
    let short = (draw - supply).max(0.0);
    let needed = short * outage / yields;
    let capacity = needed / (1.0 - keep);
    let (short_text, outage_text) = (carried.print(short), lasting(outage, day));
    let needed_text = carried.print_amount(needed);
    let mut outcome = Outcome::of(arguments);
    if supply > 0.0 {
        outcome.work(|| format!("{} − {} = {short_text} short", carried.print(draw), carried.print(supply)));
    }
    let loss = if yields < 1.0 { format!(" ÷ {}", percent(yields)) } else { String::new() };
    outcome.work(|| format!("{short_text} × {outage_text}{loss} = {needed_text}"));
    outcome.say = format!("{needed_text} in store: {short_text} × {outage_text}{loss}.");
    if keep > 0.0 {
        let capacity_text = carried.print_amount(capacity);
        outcome.work(|| format!("{needed_text} ÷ (1 − {}) = {capacity_text} of capacity", percent(keep)));
        outcome.say = format!("{} With {} kept back it must hold {capacity_text}.", outcome.say, percent(keep));
    }
    outcome.carried(carried, rate_figure!("short"), short);
    outcome.carried(carried, amount_figure!("needed"), needed);
    outcome.carried(carried, amount_figure!("capacity"), capacity);
    let refill = arguments.maybe("refill");
    if let Some(refill) = refill {
        let seconds = needed / refill;
        let line = format!("{needed_text} ÷ {} = {} to refill", carried.print(refill), lasting(seconds, day));
        outcome.say = format!("{} Refilled at {} in {}.", outcome.say, carried.print(refill), lasting(seconds, day));
        outcome.work(|| line);
        outcome.figure("refill_s", seconds);
    }
    if let Some(every) = every {
        let least = needed / (every - outage);
        let least_text = carried.print(least);
        outcome.work(|| {
            format!("{needed_text} ÷ {} between outages = {least_text} at least", lasting(every - outage, day))
        });
        outcome.carried(carried, rate_figure!("least_refill"), least);
        if let Some(refill) = refill.filter(|refill| *refill < least) {
            let say = format!(
                "Refilling takes {least_text} and {} is there: the next outage finds it not full.",
                carried.print(refill)
            );
            let more = carried.print(least - refill);
            let found = concern("refill-too-slow", Weight::Failure, "refill", say);
            outcome.found(
                found.at_least(refill, least, carried.si_unit()).mended(remedy(format!("Refill with {more} more."))),
            );
        }
    }
    Ok(outcome)
}
