//! Whether units fit in a row, and how wide a row must be.

use super::Sum;
use super::answer::{Outcome, Refusal};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{counted, is_one};
use crate::floor::{Frame, Standing};
use crate::plan::FaultCode;
use crate::quantity::{number, push_number};
use crate::questions::answer::{Finding, Remedy, Weight};

/// Row fit: `2·walls + access + count·each + (count − 1)·gap`, and backwards.
pub(super) const SUM: Sum = Sum {
    name: "row-fit",
    title: "Units in a row",
    says: "How wide a row of units must be; or how many fit in a row, and how much wider it must be for one more.",
    formula: "width = 2 × walls + access + count × each + (count − 1) × gap; \
              fits = (row − 2 × walls − access + gap) ÷ (each + gap), rounded down; in symmetric halves both counts are even",
    parameters: &[
        Parameter::count("count", "9", "how many units are to stand in it").optional(),
        Parameter::number("row", (0.0, WIDEST), "30", "how wide the row is, in cells or any one measure of length")
            .optional(),
        Parameter::number("each", (1e-3, 1e6), "3", "how wide one unit is, in the same"),
        Parameter::number("walls", (0.0, 1e6), "1", "how thick each of the two end walls is").or("0"),
        Parameter::number("access", (0.0, 1e6), "4", "what is kept free in all, for ladders and doors").or("0"),
        Parameter::number("gap", (0.0, 1e6), "1", "what is kept free between two units").or("0"),
        Parameter::flag("symmetric", "whether the row has two equal halves"),
    ],
    example: "count=9&row=30&each=3&walls=1&access=4",
    evaluate,
};

const WIDEST: f64 = 1e12;

/// A row without its units.
struct Row {
    each: f64,
    frame: Frame,
    /// Units come by so many: one, or two where there are halves.
    step: f64,
}

impl Row {
    fn of(arguments: &Arguments<'_>) -> Result<Self, Refusal> {
        Ok(Self {
            each: arguments.number("each")?,
            frame: Frame {
                walls: arguments.number("walls")?,
                access: arguments.number("access")?,
                gap: arguments.number("gap")?,
            },
            step: if arguments.flag("symmetric") { 2.0 } else { 1.0 },
        })
    }

    /// How wide the row is with so many units.
    fn width(&self, count: f64) -> f64 {
        self.frame.width(Standing::default().and(count, self.each))
    }

    /// How many fit, by the step.
    fn fits(&self, row: f64) -> f64 {
        self.frame.more(row, Standing::default(), self.each, self.step)
    }

    /// The sum behind [`Row::width`].
    fn working(&self, count: f64) -> String {
        let mut sum = format!("{} × {}", number(count), number(self.each));
        let mut add = |name: &str, times: f64, width: f64| {
            if width > 0.0 && times > 0.0 {
                sum.push_str(" + ");
                if times > 1.0 {
                    push_number(&mut sum, times);
                    sum.push_str(" × ");
                }
                push_number(&mut sum, width);
                sum.push(' ');
                sum.push_str(name);
            }
        };
        add("gap", count - 1.0, self.frame.gap);
        add("wall", 2.0, self.frame.walls);
        add("access", 1.0, self.frame.access);
        sum
    }
}

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let row = Row::of(arguments)?;
    let asked = arguments.maybe("count");
    let count = asked.map(|count| (count / row.step).ceil() * row.step);
    let mut outcome = Outcome::of(arguments);
    if let (Some(asked), Some(count)) = (asked, count)
        && count > asked
    {
        outcome.work(|| format!("two equal halves: {} become {}", number(asked), number(count)));
    }
    match (count, arguments.maybe("row")) {
        (None, None) => return Err(Refusal::missing("count", "count, or row, or both")),
        (Some(count), None) => needed(&row, count, &mut outcome),
        (None, Some(wide)) => {
            let (fits, more) = fit(&row, wide, &mut outcome)?;
            outcome.say = format!(
                "{} {} in {}; {} more needs {}.",
                number(fits),
                if is_one(fits) { "fits" } else { "fit" },
                counted(wide, "cell"),
                number(row.step),
                counted(more, "more cell"),
            );
        }
        (Some(count), Some(wide)) => compare(&row, count, wide, &mut outcome)?,
    }
    Ok(outcome)
}

fn needed(row: &Row, count: f64, outcome: &mut Outcome) {
    let width = row.width(count);
    let sum = row.working(count);
    outcome.say = format!("{}: {sum}.", counted(width, "cell"));
    outcome.work(|| format!("{sum} = {}", counted(width, "cell")));
    outcome.figure("count", count);
    outcome.figure("needed_cells", width);
}

/// How many fit in a width, and how much wider it must be for one more (or two).
fn fit(row: &Row, wide: f64, outcome: &mut Outcome) -> Result<(f64, f64), Refusal> {
    let fits = row.fits(wide);
    if fits > Parameter::MOST_COUNT {
        return Err(Refusal {
            parameter: "each",
            code: FaultCode::OutOfRange,
            found: format!("so narrow that {} fit", number(fits)),
            expected: format!("so wide that at most {} fit", number(Parameter::MOST_COUNT)),
        });
    }
    let next = row.width(fits + row.step);
    let more = (next - wide).max(0.0);
    let spare = if fits > 0.0 { (wide - row.width(fits)).max(0.0) } else { wide };
    if fits > 0.0 {
        outcome.work(|| format!("{} = {}: {} fit", row.working(fits), counted(row.width(fits), "cell"), number(fits)));
    }
    let next_text = counted(next, "cell");
    outcome.work(|| {
        format!("{} = {next_text}: {} would need that", row.working(fits + row.step), number(fits + row.step))
    });
    outcome.figure("row_cells", wide);
    outcome.figure("fits", fits);
    outcome.figure("spare_cells", spare);
    outcome.figure("wider_for_more_cells", more);
    Ok((fits, more))
}

fn compare(row: &Row, count: f64, wide: f64, outcome: &mut Outcome) -> Result<(), Refusal> {
    let (fits, more) = fit(row, wide, outcome)?;
    let width = row.width(count);
    let missing = if count <= fits { 0.0 } else { (width - wide).max(0.0) };
    let (width_text, wide_text) = (counted(width, "cell"), counted(wide, "cell"));
    outcome.work(|| format!("{} = {width_text}", row.working(count)));
    outcome.figure("count", count);
    outcome.figure("needed_cells", width);
    outcome.figure("missing_cells", missing);
    if count <= fits {
        let spare = if count < fits {
            format!("{} would fit", number(fits))
        } else {
            format!("{} more needs {}", number(row.step), counted(more, "more cell"))
        };
        outcome.say = format!("{} fit in {wide_text}: {width_text} needed; {spare}.", number(count));
        return Ok(());
    }
    let missing_text = counted(missing, "cell");
    let say =
        format!("{} needed, {} fit: make the row of {wide_text} {missing_text} wider.", number(count), number(fits));
    outcome.found(Finding {
        code: "row-too-narrow",
        weight: Weight::Failure,
        at: "/row".to_owned(),
        value: Some(wide),
        limit: Some(width),
        margin: Some(-missing),
        unit: None,
        say: format!("{} units need {width_text} and the row has {wide_text}.", number(count)),
        remedy: Some(Remedy { say: format!("Make the row {missing_text} wider."), patch: None }),
        first_s: None,
    });
    outcome.say = say;
    Ok(())
}
