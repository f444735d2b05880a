//! The lot at which filling up and keeping cost least.

use super::answer::{Outcome, Refusal, amount_figure, concern, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use super::{Kind, Sum};
use crate::quantity::number;
use crate::questions::answer::Weight;

/// Stock cycle with a finite filling rate: `lot = √(2·setup·demand / (holding·(1 − demand/fill)))`.
pub(super) const SUM: Sum = Sum {
    name: "stock-cycle",
    title: "Cheapest filling cycle of a stock",
    says: "How much to fill at a time, where each filling costs something to begin and every kilogram costs something to keep.",
    formula: "lot = √(2 × setup × demand ÷ (holding × (1 − demand ÷ fill))); peak = lot × (1 − demand ÷ fill); \
              cycle = lot ÷ demand; filling = lot ÷ fill",
    parameters: &[
        Parameter::positive_rate("demand", "10 t/day", "what is drawn all the time"),
        Parameter::positive_rate("fill", "25 t/day", "what comes in while it is being filled"),
        Parameter::new(
            "setup",
            Kind::Number,
            (1e-9, 1e12),
            "1800",
            "what one filling costs to begin, in any money or effort",
        ),
        Parameter::new(
            "holding",
            Kind::Number,
            (1e-12, 1e12),
            "0.005",
            "what keeping 1 kg, 1 J or 1 m³ for a day costs, in the same",
        ),
        Parameter::day(),
    ],
    example: "demand=10 t/day&fill=25 t/day&setup=1800&holding=0.005",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (demand, fill, day) = (arguments.number("demand")?, arguments.number("fill")?, arguments.number("day")?);
    let (setup, holding) = (arguments.number("setup")?, arguments.number("holding")?);
    let duty = demand / fill;
    let (demand_text, fill_text) = (carried.print(demand), carried.print(fill));
    let mut outcome = Outcome::of(arguments);
    if duty >= 1.0 {
        outcome.say = format!("Filling never stops: {demand_text} is drawn and {fill_text} comes in.");
        outcome.figure("duty_share", 1.0);
        let found = concern("fill-too-small", Weight::Failure, "fill", outcome.say.clone());
        let mend = remedy(format!("Fill with more than {demand_text}."));
        outcome.found(found.at_least(fill, demand, carried.si_unit()).mended(mend));
        return Ok(outcome);
    }
    let lot = (2.0 * setup * demand * day / (holding * (1.0 - duty))).sqrt();
    let peak = lot * (1.0 - duty);
    let (cycle, on) = (lot / demand, lot / fill);
    let (lot_text, peak_text) = (carried.print_amount(lot), carried.print_amount(peak));
    let daily = carried.print_amount(demand * day);
    outcome.work(|| format!("duty: {demand_text} ÷ {fill_text} = {}", percent(duty)));
    outcome.work(|| {
        format!(
            "√(2 × {} × {daily} a day ÷ ({} × {})) = {lot_text}",
            number(setup),
            number(holding),
            percent(1.0 - duty)
        )
    });
    outcome.work(|| format!("{lot_text} × {} = {peak_text} at the most in stock", percent(1.0 - duty)));
    outcome.say = format!(
        "{lot_text} at a time: filling for {} of every {}, at most {peak_text} in stock.",
        lasting(on, day),
        lasting(cycle, day)
    );
    outcome.carried(carried, amount_figure!("lot"), lot);
    outcome.carried(carried, amount_figure!("peak"), peak);
    outcome.figure("cycle_s", cycle);
    outcome.figure("on_s", on);
    outcome.figure("duty_share", duty);
    Ok(outcome)
}
