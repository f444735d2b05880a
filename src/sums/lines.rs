//! What lines carry: how many units one feeds, and how many a flow needs.

use super::Sum;
use super::answer::{Outcome, Refusal, rate_figure};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::units_needed::{Cover, covering};
use super::wording::{counted, ordinal, percent};
use crate::plan::FaultCode;
use crate::quantity::{ROUNDING_TOLERANCE, number, whole_down};
use crate::questions::answer::{Finding, Remedy, Weight};

/// Units fed: `line / each`, rounded down.
pub(super) const UNITS_FED: Sum = Sum {
    name: "units-fed",
    title: "Units fed by one line",
    says: "How many units of one type a line feeds in full, and what is left in it.",
    formula: "fed = line ÷ each; count = fed rounded down (4.9999999 is 5)",
    parameters: &[
        Parameter::rate("line", "10 kg/s", "what one line carries: a mass flow or a power"),
        Parameter::positive_rate("each", "2 kg/s", "what one unit takes at full duty"),
    ],
    example: "line=10 kg/s&each=2 kg/s",
    evaluate: units_fed,
};

/// Lines needed: `flow / line`, rounded up.
pub(super) const LINES_NEEDED: Sum = Sum {
    name: "lines-needed",
    title: "Lines needed for a flow",
    says: "How many lines a flow of matter or of power needs, and how full they are.",
    formula: "needed = flow ÷ line; lines = needed rounded up (5.0000001 is 5)",
    parameters: &[
        Parameter::rate("flow", "2.5 kg/s", "the flow to be carried: a mass flow or a power"),
        Parameter::positive_rate("line", "1 kg/s", "what one line carries at most"),
    ],
    example: "flow=2.5 kg/s&line=1 kg/s",
    evaluate: lines_needed,
};

const COVER_BY_LINES: Cover = Cover {
    each: "line",
    thing: "line",
    counts: "lines",
    last: "last_line_share",
    utilisation: "line_utilisation_share",
};

fn lines_needed(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    covering(arguments, arguments.number("flow")?, arguments.number("line")?, &COVER_BY_LINES)
}

fn units_fed(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (line, each) = (arguments.number("line")?, arguments.number("each")?);
    let fed = line / each;
    if fed > Parameter::MOST_COUNT {
        return Err(Refusal {
            parameter: "each",
            code: FaultCode::OutOfRange,
            found: format!("so little that {} are fed", number(fed)),
            expected: format!("so much that at most {} are fed", number(Parameter::MOST_COUNT)),
        });
    }
    let count = whole_down(fed) as f64;
    // What rounding calls even leaves nothing over.
    let next = if fed - count <= ROUNDING_TOLERANCE * count { 0.0 } else { fed - count };
    let used = (count * each).min(line);
    let spare = next * each;
    let (line_text, each_text) = (carried.print(line), carried.print(each));
    let units = counted(count, "unit");
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{line_text} ÷ {each_text} = {}", number(fed)));
    outcome.work(|| format!("rounded down: {units}"));
    let left = if line == 0.0 {
        "the line carries nothing".to_owned()
    } else if next == 0.0 {
        "the line is full".to_owned()
    } else {
        format!("{} left, with which the {} runs at {}", carried.print(spare), ordinal(count + 1.0), percent(next))
    };
    outcome.say = format!("A line feeds {units}: {line_text} ÷ {each_text} = {}; {left}.", number(fed));
    outcome.work(|| left);
    outcome.figure("fed", fed);
    outcome.figure("count", count);
    outcome.figure("line_utilisation_share", if line > 0.0 { used / line } else { 0.0 });
    outcome.figure("next_unit_share", next);
    outcome.carried(carried, rate_figure!("used"), used);
    outcome.carried(carried, rate_figure!("spare"), spare);
    if count == 0.0 {
        outcome.found(Finding {
            code: "line-too-small",
            weight: Weight::Failure,
            at: "/line".to_owned(),
            value: Some(line),
            limit: Some(each),
            margin: Some(line - each),
            unit: Some(carried.si_unit()),
            say: format!("One unit takes {each_text} and the line carries {line_text}: not even one runs in full."),
            remedy: Some(Remedy {
                say: format!("Give the unit {} more than one line carries.", carried.print(each - line)),
                patch: None,
            }),
            first_s: None,
        });
    }
    Ok(outcome)
}
