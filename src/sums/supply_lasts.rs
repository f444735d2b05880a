//! How long a stock lasts.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, concern, rate_figure, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::lasting;
use crate::quantity::number;
use crate::questions::answer::Weight;

/// Days a supply lasts: `(stock − keep) / (draw − made)`.
pub(super) const SUM: Sum = Sum {
    name: "supply-lasts",
    title: "Days a supply lasts",
    says: "How many days a stock lasts, and what may be drawn so that it lasts as long as wanted.",
    formula: "days = (stock − keep) ÷ (draw − made) ÷ day; most draw = (stock − keep) ÷ wanted + made",
    parameters: &[
        Parameter::amount("stock", "12 t", "what there is: a mass, an energy or a volume"),
        Parameter::rate("draw", "60 kg/day", "what is drawn"),
        Parameter::rate("made", "15 kg/day", "what is made or found meanwhile").or("0"),
        Parameter::share_or_amount("keep", "10 %", "what is not to be touched: an amount, or a share of the stock")
            .or("0"),
        Parameter::time("wanted", "300 day", "how long it is to last").optional(),
        Parameter::day(),
    ],
    example: "stock=12 t&draw=60 kg/day&made=15 kg/day&keep=10 %&wanted=300 day",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (stock, draw, made) = (arguments.number("stock")?, arguments.number("draw")?, arguments.number("made")?);
    let day = arguments.number("day")?;
    let keep = arguments.part("keep").map_or(0.0, |part| part.of(stock));
    let usable = (stock - keep).max(0.0);
    let usable_text = carried.print_amount(usable);
    let mut outcome = Outcome::of(arguments);
    if keep > 0.0 {
        outcome
            .work(|| format!("{} − {} kept = {usable_text}", carried.print_amount(stock), carried.print_amount(keep)));
    }
    outcome.carried(carried, amount_figure!("usable"), usable);
    let net = draw - made;
    if net > 0.0 {
        let seconds = usable / net;
        let net_text = carried.print(net);
        if made > 0.0 {
            outcome.work(|| format!("{} − {} = {net_text}", carried.print(draw), carried.print(made)));
        }
        outcome.work(|| format!("{usable_text} ÷ {net_text} = {}", lasting(seconds, day)));
        outcome.say = format!("It lasts {}: {usable_text} ÷ {net_text}.", lasting(seconds, day));
        outcome.carried(carried, rate_figure!("net_draw"), net);
        outcome.figure("lasts_s", seconds);
        outcome.figure("lasts_days", seconds / day);
    } else {
        outcome.work(|| format!("{} drawn, {} made", carried.print(draw), carried.print(made)));
        outcome.say = format!("It lasts for ever: {} is drawn and {} made.", carried.print(draw), carried.print(made));
        outcome.carried(carried, rate_figure!("net_draw"), 0.0);
    }
    if let Some(wanted) = arguments.maybe("wanted") {
        let most = usable / wanted + made;
        let missing = (net.max(0.0) * wanted - usable).max(0.0);
        let most_text = carried.print(most);
        outcome.work(|| format!("to last {} at most {most_text} may be drawn", lasting(wanted, day)));
        outcome.carried(carried, rate_figure!("most_draw"), most);
        outcome.carried(carried, amount_figure!("missing"), missing);
        if missing > 0.0 {
            let missing_text = carried.print_amount(missing);
            let say = format!("For {} {missing_text} is missing.", lasting(wanted, day));
            outcome.say = format!("{} {say} Or draw at most {most_text}.", outcome.say);
            let mend = remedy(format!("Lay in {missing_text} more, or draw at most {most_text}."));
            let found = concern("stock-short", Weight::Failure, "stock", say);
            outcome.found(found.at_least(usable, usable + missing, carried.amount_unit()).mended(mend));
        } else {
            let factor = if net > 0.0 { usable / (net * wanted) } else { f64::INFINITY };
            if factor.is_finite() {
                outcome.work(|| format!("that is {} times as long as wanted", number(factor)));
            }
        }
    }
    Ok(outcome)
}
