//! How much goes into a closed loop.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, concern, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use crate::questions::answer::Weight;

/// Loop charge: from `flow · round trip` to `(holds − keep free) / (1 + expands)`.
pub(super) const SUM: Sum = Sum {
    name: "loop-charge",
    title: "Charge of a closed loop",
    says: "The window between enough to circulate and so much that nothing is left to expand into, and by how much a charge misses it.",
    formula: "least = flow × round_trip; most = (holds − keep_free) ÷ (1 + expands)",
    parameters: &[
        Parameter::positive_amount("holds", "420 kg", "what the loop holds when brim-full: a mass or a volume"),
        Parameter::share_or_amount(
            "keep_free",
            "20 kg",
            "what must stay free, such as for a moving gap: an amount, or a share",
        )
        .or("0"),
        Parameter::share("expands", "2 %", "by what share the charge grows from cold to hot").or("0"),
        Parameter::rate("flow", "5 kg/s", "the wanted circulation").or("0"),
        Parameter::time("round_trip", "60 s", "how long the coolant takes once round").optional(),
        Parameter::amount("charge", "395 kg", "what is in it, or is to go in").optional(),
    ],
    example: "holds=420 kg&keep_free=20 kg&expands=2 %&flow=5 kg/s&round_trip=60 s&charge=395 kg",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let holds = arguments.number("holds")?;
    let keep = arguments.part("keep_free").map_or(0.0, |part| part.of(holds));
    let (expands, flow) = (arguments.number("expands")?, arguments.number("flow")?);
    if keep > holds {
        let found = format!("{}, more than the loop holds", carried.print_amount(keep));
        return Err(Refusal::contradiction("keep_free", found, format!("at most {}", carried.print_amount(holds))));
    }
    let trip = match arguments.maybe("round_trip") {
        Some(trip) => trip,
        None if flow > 0.0 => return Err(Refusal::missing("round_trip", "a time, as flow is given")),
        None => 0.0,
    };
    let (least, most) = (flow * trip, (holds - keep) / (1.0 + expands));
    let text = |amount: f64| carried.print_amount(amount);
    let mut outcome = Outcome::of(arguments);
    if flow > 0.0 {
        outcome.work(|| format!("least: {} × {} = {}", carried.print(flow), lasting(trip, 86_400.0), text(least)));
    }
    let growth = if expands > 0.0 { format!(" ÷ (1 + {})", percent(expands)) } else { String::new() };
    outcome.work(|| format!("most: ({} − {} kept free){growth} = {}", text(holds), text(keep), text(most)));
    outcome.carried(carried, amount_figure!("least"), least);
    outcome.carried(carried, amount_figure!("most"), most);
    outcome.carried(carried, amount_figure!("window"), (most - least).max(0.0));
    outcome.say = format!("Charge from {} to {}.", text(least), text(most));
    if least > most {
        let short = (least - most) * (1.0 + expands);
        let say = format!("It takes {} to circulate and has room for {}.", text(least), text(most));
        outcome.say = format!("No charge fits: {} to circulate, room for {}.", text(least), text(most));
        let mend = remedy(format!("Let the loop hold {} more, or circulate less.", text(short)));
        let found = concern("loop-too-small", Weight::Failure, "holds", say);
        outcome.found(found.at_least(most, least, carried.amount_unit()).mended(mend));
    }
    let Some(charge) = arguments.maybe("charge") else { return Ok(outcome) };
    let (over, short) = ((charge - most).max(0.0), (least - charge).max(0.0));
    outcome.carried(carried, amount_figure!("over_full"), over);
    outcome.carried(carried, amount_figure!("short"), short);
    if over > 0.0 {
        outcome.work(|| format!("{} − {} = {} too much", text(charge), text(most), text(over)));
        outcome.say = format!("Over-full by {}: {} in it, {} at most.", text(over), text(charge), text(most));
        let found = concern("loop-over-full", Weight::Failure, "charge", outcome.say.clone());
        let mend = remedy(format!("Draw off {}.", text(over)));
        outcome.found(found.at_most(charge, most, carried.amount_unit()).mended(mend));
    }
    if short > 0.0 {
        outcome.work(|| format!("{} − {} = {} missing", text(least), text(charge), text(short)));
        let say = format!("Short by {}: {} in it, {} to circulate.", text(short), text(charge), text(least));
        outcome.say = if over > 0.0 { format!("{} {say}", outcome.say) } else { say.clone() };
        let mend = remedy(format!("Put in {} more.", text(short)));
        let found = concern("loop-starved", Weight::Failure, "charge", say);
        outcome.found(found.at_least(charge, least, carried.amount_unit()).mended(mend));
    }
    if over == 0.0 && short == 0.0 {
        outcome.say = format!("{} is right: from {} to {}.", text(charge), text(least), text(most));
    }
    Ok(outcome)
}
