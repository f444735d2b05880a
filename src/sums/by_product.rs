//! What so many units give off together.

use super::Sum;
use super::answer::{Outcome, Refusal, rate_figure};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::counted;
use crate::quantity::push_number;

/// By-product: `count · each · yield`.
pub(super) const SUM: Sum = Sum {
    name: "by-product",
    title: "By-product of a count of units",
    says: "What so many units give off together; or, with a yield, what comes of what they burn.",
    formula: "total = count × each × yield",
    parameters: &[
        Parameter::number(
            "count",
            (0.0, Parameter::MOST_COUNT),
            "5",
            "how many units run; 4.5 is four and one at half duty",
        ),
        Parameter::rate("each", "750 g/s", "what one unit gives off at full duty; with a yield, what it takes"),
        Parameter::number(
            "yield",
            (0.0, 1e6),
            "1.373",
            "how much comes of one of what is taken, where each is an intake",
        )
        .or("1"),
    ],
    example: "count=5&each=750 g/s",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (count, each, yields) = (arguments.number("count")?, arguments.number("each")?, arguments.number("yield")?);
    let total = count * each * yields;
    let mut sum = format!("{} × {}", counted(count, "unit"), carried.print(each));
    if (yields - 1.0).abs() > f64::EPSILON {
        sum.push_str(" × ");
        push_number(&mut sum, yields);
    }
    let total_text = carried.print(total);
    let mut outcome = Outcome::of(arguments);
    outcome.say = format!("{total_text} in all: {sum}.");
    outcome.work(|| format!("{sum} = {total_text}"));
    outcome.figure("count", count);
    outcome.carried(carried, rate_figure!("each"), each * yields);
    outcome.carried(carried, rate_figure!("total"), total);
    Ok(outcome)
}
