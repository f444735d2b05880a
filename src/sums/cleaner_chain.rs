//! What removes what units give off, and what treats that.

use super::Sum;
use super::answer::{Outcome, Refusal, rate_figure};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{Headcount, counted, ratio, sentence};

/// Cleaner chain: units → removers → treaters.
pub(super) const SUM: Sum = Sum {
    name: "cleaner-chain",
    title: "Cleaners for what units give off",
    says: "How many removers so many units need for what they give off, and how many treaters for what the removers make.",
    formula: "given = units × gives; removers = given ÷ removes, rounded up; made = (given ÷ removes) × product; \
              treaters = made ÷ treats, rounded up",
    parameters: &[
        Parameter::number(
            "units",
            (0.0, Parameter::MOST_COUNT),
            "5",
            "how many units run; 4.5 is four and one at half duty",
        ),
        Parameter::rate("gives", "500 g/s", "what one unit gives off"),
        Parameter::positive_rate("removes", "300 g/s", "what one remover takes of it at full duty"),
        Parameter::rate("product", "382 g/s", "what one remover makes of it at full duty").second().optional(),
        Parameter::positive_rate("treats", "1 kg/s", "what one treater takes of that at full duty").second().optional(),
    ],
    example: "units=5&gives=500 g/s&removes=300 g/s&product=382 g/s&treats=1 kg/s",
    evaluate,
};

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (units, removes) = (arguments.number("units")?, arguments.number("removes")?);
    let from_each = arguments.number("gives")?;
    let given = units * from_each;
    let cleaners = Headcount::of(given / removes, "removes")?;
    let (given_text, removes_text) = (carried.print(given), carried.print(removes));
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} × {} = {given_text}", counted(units, "unit"), carried.print(from_each)));
    outcome.work(|| {
        format!("{given_text} ÷ {removes_text} = {}: {}", ratio(&cleaners), counted(cleaners.count, "remover"))
    });
    outcome.carried(carried, rate_figure!("given"), given);
    outcome.figure("removers_needed", cleaners.needed);
    outcome.figure("removers", cleaners.count);
    outcome.figure("remover_utilisation_share", cleaners.utilisation);
    outcome.figure("last_remover_share", cleaners.last);
    outcome.say = if cleaners.count == 0.0 {
        "No removers: nothing is given off.".to_owned()
    } else {
        format!(
            "{}: {given_text} ÷ {removes_text} = {}, {}.",
            counted(cleaners.count, "remover"),
            ratio(&cleaners),
            cleaners.how()
        )
    };
    match (arguments.maybe("product"), arguments.maybe("treats")) {
        (None, None) => {}
        (Some(_), None) => return Err(Refusal::missing("treats", "what one treater takes, as product is given")),
        (None, Some(_)) => return Err(Refusal::missing("product", "what one remover makes, as treats is given")),
        (Some(product), Some(treats)) => treat(arguments, &cleaners, product, treats, &mut outcome)?,
    }
    Ok(outcome)
}

/// The second link: what the removers make goes to treaters.
fn treat(
    arguments: &Arguments<'_>,
    removers: &Headcount,
    product: f64,
    treats: f64,
    outcome: &mut Outcome,
) -> Result<(), Refusal> {
    let carried = arguments.second_carried();
    // Removers make in proportion to what they take, so it is the needed ones that count, not the rounded ones.
    let made = removers.needed * product;
    let treaters = Headcount::of(made / treats, "treats")?;
    let (made_text, treats_text) = (carried.print(made), carried.print(treats));
    let count = counted(treaters.count, "treater");
    outcome.work(|| format!("{} × {} = {made_text}", ratio(removers), carried.print(product)));
    outcome.work(|| format!("{made_text} ÷ {treats_text} = {}: {count}", ratio(&treaters)));
    outcome.carried(carried, rate_figure!("product"), made);
    outcome.figure("treaters_needed", treaters.needed);
    outcome.figure("treaters", treaters.count);
    outcome.figure("treater_utilisation_share", treaters.utilisation);
    outcome.figure("last_treater_share", treaters.last);
    let more = if treaters.count == 0.0 {
        format!(" {}: the removers make nothing.", sentence(&count))
    } else {
        format!(" Then {count}: {made_text} ÷ {treats_text} = {}, {}.", ratio(&treaters), treaters.how())
    };
    outcome.say.push_str(&more);
    Ok(())
}
