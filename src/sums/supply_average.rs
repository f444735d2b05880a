//! What an intermittent supply gives in the long run.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, rate_figure};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{percent, time};

/// Average of an intermittent supply: `rate · on/every · active/(active + dormant)`.
pub(super) const SUM: Sum = Sum {
    name: "supply-average",
    title: "Average of an intermittent supply",
    says: "What a supply that comes in pulses, and sleeps in between, gives in the long run.",
    formula: "average = rate × on ÷ every × active ÷ (active + dormant); drawn in a pause = rate × on ÷ every × (every − on); \
              drawn while dormant = average × dormant",
    parameters: &[
        Parameter::rate("rate", "60 g/s", "what it gives while it flows: a mass flow or a power"),
        Parameter::time("on", "7 min", "how long it flows in each cycle; left out, with every, it never pauses")
            .optional(),
        Parameter::time("every", "18 min", "how long a cycle is, from one start to the next").optional(),
        Parameter::time(
            "active",
            "40 day",
            "how long it goes on with its cycles; left out, with dormant, it never sleeps",
        )
        .optional(),
        Parameter::time("dormant", "25 day", "how long it then sleeps").optional(),
        Parameter::day(),
    ],
    example: "rate=60 g/s&on=7 min&every=18 min&active=40 day&dormant=25 day&day=1 h",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (rate, day) = (arguments.number("rate")?, arguments.number("day")?);
    let pulse = both(arguments, "on", "every")?;
    let season = both(arguments, "active", "dormant")?;
    if let Some((on, every)) = pulse.filter(|(on, every)| on > every) {
        let found = format!("{}, longer than the cycle of {}", time(on, day), time(every, day));
        return Err(Refusal::contradiction("on", found, "at most the length of a cycle, every".to_owned()));
    }
    let mut outcome = Outcome::of(arguments);
    let mut sum = carried.print(rate);
    let duty = pulse.map_or(1.0, |(on, every)| on / every);
    let awake = season.map_or(1.0, |(active, dormant)| active / (active + dormant));
    let while_active = rate * duty;
    let average = while_active * awake;
    if let Some((on, every)) = pulse {
        let share = format!(" × {} ÷ {}", time(on, day), time(every, day));
        outcome.work(|| format!("{}{share} = {}", carried.print(rate), carried.print(while_active)));
        sum.push_str(&share);
    }
    if let Some((active, dormant)) = season {
        let share = format!(" × {} ÷ {}", time(active, day), time(active + dormant, day));
        outcome.work(|| format!("{}{share} = {}", carried.print(while_active), carried.print(average)));
        sum.push_str(&share);
    }
    let average_text = carried.print(average);
    if pulse.is_none() && season.is_none() {
        outcome.work(|| format!("it flows always: {average_text}"));
    }
    outcome.say = format!("{average_text} on average, {} of the full rate: {sum}.", percent(duty * awake));
    outcome.carried(carried, rate_figure!("average"), average);
    outcome.carried(carried, rate_figure!("while_active"), while_active);
    outcome.figure("duty_share", duty);
    outcome.figure("active_share", awake);
    if let Some((on, every)) = pulse {
        let drawn = while_active * (every - on);
        outcome.carried(carried, amount_figure!("cycle"), rate * on);
        outcome.carried(carried, amount_figure!("drawn_in_pause"), drawn);
        outcome.work(|| {
            format!("in a pause of {} the average draws {}", time(every - on, day), carried.print_amount(drawn))
        });
    }
    if let Some((_, dormant)) = season {
        let drawn = average * dormant;
        outcome.carried(carried, amount_figure!("drawn_while_dormant"), drawn);
        let drawn = carried.print_amount(drawn);
        outcome.work(|| format!("in {} of sleep the average draws {drawn}", time(dormant, day)));
        let asleep = time(dormant, day);
        outcome.say = format!("{} To draw that through the {asleep} of sleep takes {drawn} in store.", outcome.say);
    }
    Ok(outcome)
}

/// Two times that go together: both or neither.
fn both(arguments: &Arguments<'_>, one: &'static str, other: &'static str) -> Result<Option<(f64, f64)>, Refusal> {
    match (arguments.maybe(one), arguments.maybe(other)) {
        (Some(first), Some(second)) => Ok(Some((first, second))),
        (None, None) => Ok(None),
        (Some(_), None) => Err(Refusal::missing(other, format!("a time, as {one} is given"))),
        (None, Some(_)) => Err(Refusal::missing(one, format!("a time, as {other} is given"))),
    }
}
