//! What a loop must be given to go on.

use super::Sum;
use super::answer::{Outcome, Refusal, rate_figure};
use super::arguments::{Arguments, Part};
use super::medium::Medium;
use super::parameter::Parameter;
use super::wording::percent;
use crate::quantity::ROUNDING_TOLERANCE;
use crate::questions::answer::{Finding, Remedy, Weight};

/// Make-up of a loop: `lost − returned`.
pub(super) const SUM: Sum = Sum {
    name: "make-up",
    title: "Make-up of a loop",
    says: "What a loop must be given to make up for what it loses, after what comes back.",
    formula: "lost = circulation × share lost (or the rate lost); returned = lost × share returned (or the rate returned); \
              make-up = lost − returned",
    parameters: &[
        Parameter::positive_rate("circulation", "2.5 kg/s", "what goes round in the loop: a mass flow or a power"),
        Parameter::share_or_rate("lost", "2 %", "what is lost of it: a share of the circulation, or a rate"),
        Parameter::share_or_rate("returned", "60 %", "what comes back: a share of what is lost, or a rate").or("0"),
    ],
    example: "circulation=2.5 kg/s&lost=2 %&returned=60 %",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let circulation = arguments.number("circulation")?;
    let lost = arguments.part("lost").ok_or_else(|| Refusal::missing("lost", "a share or a rate"))?;
    let returned = arguments.part("returned").unwrap_or(Part::Share(0.0));
    let mut outcome = Outcome::of(arguments);
    let lost = part(carried, circulation, lost, "lost", &mut outcome);
    if lost > circulation * (1.0 + ROUNDING_TOLERANCE) {
        let found = format!("{}, more than goes round", carried.print(lost));
        let expected = format!("at most the circulation of {}", carried.print(circulation));
        return Err(Refusal::contradiction("lost", found, expected));
    }
    let returned = part(carried, lost, returned, "comes back", &mut outcome);
    let make_up = (lost - returned).max(0.0);
    let surplus = (returned - lost).max(0.0);
    let (lost_text, returned_text) = (carried.print(lost), carried.print(returned));
    let share = make_up / circulation;
    outcome.carried(carried, rate_figure!("lost"), lost);
    outcome.carried(carried, rate_figure!("returned"), returned);
    outcome.carried(carried, rate_figure!("make_up"), make_up);
    outcome.carried(carried, rate_figure!("surplus"), surplus);
    outcome.figure("make_up_share", share);
    if surplus > 0.0 {
        let surplus_text = carried.print(surplus);
        outcome.work(|| format!("{returned_text} − {lost_text} = {surplus_text} too much"));
        outcome.say = format!(
            "No make-up: {returned_text} comes back for {lost_text} lost, so the loop fills by {surplus_text}."
        );
        outcome.found(surplus_finding(carried, lost, returned, &surplus_text));
    } else {
        let make_up_text = carried.print(make_up);
        outcome.work(|| format!("{lost_text} − {returned_text} = {make_up_text}"));
        outcome.say = if make_up == 0.0 {
            format!("No make-up: {lost_text} is lost and {returned_text} comes back.")
        } else {
            format!(
                "{make_up_text} of make-up: {lost_text} lost − {returned_text} that comes back, {} of the {} that goes round.",
                percent(share),
                carried.print(circulation)
            )
        };
    }
    Ok(outcome)
}

/// A share of a whole, or the rate itself, with its line of working.
fn part(carried: Medium, whole: f64, part: Part, becomes: &str, outcome: &mut Outcome) -> f64 {
    match part {
        Part::Whole(rate) => {
            outcome.work(|| format!("{} {becomes}", carried.print(rate)));
            rate
        }
        Part::Share(share) => {
            let rate = whole * share;
            outcome
                .work(|| format!("{} × {} = {} {becomes}", carried.print(whole), percent(share), carried.print(rate)));
            rate
        }
    }
}

fn surplus_finding(carried: Medium, lost: f64, returned: f64, surplus: &str) -> Finding {
    Finding {
        code: "loop-fills",
        weight: Weight::Caution,
        at: "/returned".to_owned(),
        value: Some(returned),
        limit: Some(lost),
        margin: Some(lost - returned),
        unit: Some(carried.si_unit()),
        say: format!("{surplus} more comes back than is lost: the loop fills up."),
        remedy: Some(Remedy { say: format!("Draw off {surplus}."), patch: None }),
        first_s: None,
    }
}
