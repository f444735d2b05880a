//! How many units a flow needs.

use super::Sum;
use super::answer::{Outcome, Refusal, rate_figure};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{Headcount, counted, ratio, sentence};

/// Units needed: `flow / each`, rounded up.
pub(super) const SUM: Sum = Sum {
    name: "units-needed",
    title: "Units needed for a flow",
    says: "How many units of one type a flow of matter or of power needs, and how hard they run.",
    formula: "needed = flow ÷ each; count = needed rounded up (5.0000001 is 5)",
    parameters: &[
        Parameter::rate("flow", "2.5 kg/s", "the flow to be handled: a mass flow or a power"),
        Parameter::positive_rate("each", "300 g/s", "what one unit handles at full duty"),
    ],
    example: "flow=2.5 kg/s&each=300 g/s",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (flow, each) = (arguments.number("flow")?, arguments.number("each")?);
    covering(arguments, flow, each, &COVER_BY_UNITS)
}

/// The words and names of a sum that covers a flow with so many of something.
pub(super) struct Cover {
    pub each: &'static str,
    pub thing: &'static str,
    pub counts: &'static str,
    pub last: &'static str,
    pub utilisation: &'static str,
}

const COVER_BY_UNITS: Cover =
    Cover { each: "each", thing: "unit", counts: "count", last: "last_unit_share", utilisation: "utilisation_share" };

/// `flow / each` rounded up, for units and for lines.
pub(super) fn covering(arguments: &Arguments<'_>, flow: f64, each: f64, cover: &Cover) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let count = Headcount::of(flow / each, cover.each)?;
    let things = counted(count.count, cover.thing);
    let (flow_text, each_text) = (carried.print(flow), carried.print(each));
    let capacity = count.count * each;
    let spare = if count.even() { 0.0 } else { (capacity - flow).max(0.0) };
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{flow_text} ÷ {each_text} = {}", ratio(&count)));
    outcome.work(|| format!("rounded up: {things}"));
    if count.count == 0.0 {
        outcome.say = format!("{}: nothing flows.", sentence(&things));
    } else {
        let how = count.how();
        outcome.say = [&*things, ": ", &flow_text, " ÷ ", &each_text, " = ", &ratio(&count), ", ", &how, "."].concat();
        outcome.work(|| {
            format!("{things} × {each_text} = {}, {} to spare; {how}", carried.print(capacity), carried.print(spare))
        });
    }
    outcome.figure("needed", count.needed);
    outcome.figure(cover.counts, count.count);
    outcome.figure(cover.utilisation, count.utilisation);
    outcome.figure(cover.last, count.last);
    outcome.carried(carried, rate_figure!("capacity"), capacity);
    outcome.carried(carried, rate_figure!("spare"), spare);
    Ok(outcome)
}
