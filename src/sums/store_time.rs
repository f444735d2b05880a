//! When a store is full or empty.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, concern, rate_figure, remedy};
use super::arguments::{Arguments, Part};
use super::parameter::Parameter;
use super::wording::lasting;
use crate::questions::answer::Weight;

/// Time to full or empty: `(capacity − level) / (in − out)` or `level / (out − in)`.
pub(super) const SUM: Sum = Sum {
    name: "time-to-full-or-empty",
    title: "Time to full or empty",
    says: "How long until a store overflows or runs dry at steady flows.",
    formula: "time to full = (capacity − level) ÷ (inflow − outflow); time to empty = level ÷ (outflow − inflow)",
    parameters: &[
        Parameter::share_or_amount("level", "120 kg", "what is in it now: a mass, an energy, a volume, or a share"),
        Parameter::positive_amount(
            "capacity",
            "800 kg",
            "what it holds; wanted where it fills, or the level is a share",
        )
        .optional(),
        Parameter::rate("inflow", "300 g/s", "what flows in").or("0"),
        Parameter::rate("outflow", "900 g/s", "what flows out").or("0"),
        Parameter::day(),
    ],
    example: "level=120 kg&capacity=800 kg&inflow=300 g/s&outflow=900 g/s",
    evaluate,
};

/// The level as an amount, held against the capacity.
pub(super) fn level(arguments: &Arguments<'_>, name: &'static str, capacity: Option<f64>) -> Result<f64, Refusal> {
    let part = arguments.part(name).ok_or_else(|| Refusal::missing(name, "a level"))?;
    let amount = match (part, capacity) {
        (Part::Share(0.0), None) => 0.0,
        (Part::Share(_), None) => {
            return Err(Refusal::missing("capacity", format!("a capacity, as {name} is a share of it")));
        }
        (part, capacity) => part.of(capacity.unwrap_or_default()),
    };
    match capacity {
        Some(capacity) if amount > capacity => {
            let carried = arguments.carried();
            Err(Refusal::contradiction(
                name,
                format!("{}, more than the store holds", carried.print_amount(amount)),
                format!("at most the capacity of {}", carried.print_amount(capacity)),
            ))
        }
        _ => Ok(amount),
    }
}

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let day = arguments.number("day")?;
    let capacity = arguments.maybe("capacity");
    let level = level(arguments, "level", capacity)?;
    let (inflow, outflow) = (arguments.number("inflow")?, arguments.number("outflow")?);
    let (into, out) = (carried.print(inflow), carried.print(outflow));
    let level_text = carried.print_amount(level);
    let mut outcome = Outcome::of(arguments);
    outcome.carried(carried, amount_figure!("level"), level);
    if inflow > outflow {
        let capacity = capacity.ok_or_else(|| Refusal::missing("capacity", "a capacity, as the store fills"))?;
        let (net, room) = (inflow - outflow, capacity - level);
        let seconds = room / net;
        let lasts = lasting(seconds, day);
        let room_text = carried.print_amount(room);
        outcome.work(|| format!("{into} − {out} = {} more in than out", carried.print(net)));
        outcome.work(|| format!("{} − {level_text} = {room_text} of room", carried.print_amount(capacity)));
        outcome.work(|| format!("{room_text} ÷ {} = {lasts}", carried.print(net)));
        outcome.say = format!("Full in {lasts}: {room_text} of room ÷ {} more in than out.", carried.print(net));
        outcome.carried(carried, rate_figure!("fills"), net);
        outcome.carried(carried, amount_figure!("room"), room);
        outcome.figure("time_to_full_s", seconds);
    } else if outflow > inflow {
        let net = outflow - inflow;
        let seconds = level / net;
        let lasts = lasting(seconds, day);
        outcome.work(|| format!("{out} − {into} = {} more out than in", carried.print(net)));
        outcome.work(|| format!("{level_text} ÷ {} = {lasts}", carried.print(net)));
        outcome.say = format!("Empty in {lasts}: {level_text} ÷ {} more out than in.", carried.print(net));
        outcome.carried(carried, rate_figure!("drains"), net);
        outcome.figure("time_to_empty_s", seconds);
        if level == 0.0 {
            let say = format!("The store is empty, and {} is missing.", carried.print(net));
            let mend = remedy(format!("Bring in {} more, or take that much less.", carried.print(net)));
            let found = concern("store-empty", Weight::Failure, "level", say);
            outcome.found(found.at_least(level, 0.0, carried.amount_unit()).mended(mend));
        }
    } else {
        outcome.work(|| format!("{into} − {out} = nothing"));
        outcome.say = format!("Neither: {into} in and {out} out leave the level at {level_text}.");
        outcome.carried(carried, rate_figure!("drains"), 0.0);
    }
    Ok(outcome)
}
