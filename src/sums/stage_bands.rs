//! Two stages on one store: whether their bands are in order.

use super::Sum;
use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use crate::quantity::number;
use crate::questions::answer::Weight;

/// Band check for two stages that fill or empty a store between start and stop levels.
pub(super) const SUM: Sum = Sum {
    name: "stage-bands",
    title: "Bands of two stages",
    says: "Whether two stages on one store start in the right order, whether the first can hold the load alone, and whether one chatters.",
    formula: "the first stage runs alone while it moves at least the load; the second starts when the level has gone past the first's \
              start to its own; cycle = band × capacity ÷ falling + band × capacity ÷ rising, of the stage that switches",
    parameters: &[
        Parameter::share("first_start", "75 %", "level at which the first stage starts"),
        Parameter::share("first_stop", "95 %", "level at which it stops"),
        Parameter::share("second_start", "45 %", "level at which the second stage starts"),
        Parameter::share("second_stop", "65 %", "level at which it stops"),
        Parameter::rate("load", "15 kW", "what the stages work against: the draw, or the inflow where they empty"),
        Parameter::positive_rate("first", "12 kW", "what the first stage moves"),
        Parameter::positive_rate("second", "9 kW", "what the second stage moves"),
        Parameter::positive_amount("capacity", "40 MJ", "what the store holds").optional(),
        Parameter::time("least_cycle", "10 min", "the shortest time from start to start that a stage can bear")
            .optional(),
    ],
    example: "first_start=75 %&first_stop=95 %&second_start=45 %&second_stop=65 %&load=15 kW&first=12 kW&second=9 kW&capacity=40 MJ",
    evaluate,
};

const DAY: f64 = 86_400.0;

/// A stage's levels. Those of stages that empty are counted from the top, so that every stage fills.
#[derive(Clone, Copy)]
struct Band {
    start: f64,
    stop: f64,
}

impl Band {
    fn width(self) -> f64 {
        self.stop - self.start
    }
}

/// Both stages, each as filling, and whether they do fill.
fn bands(arguments: &Arguments<'_>) -> Result<(Band, Band, bool), Refusal> {
    let read = |start: &'static str, stop: &'static str| -> Result<(f64, f64), Refusal> {
        let levels = (arguments.number(start)?, arguments.number(stop)?);
        if (levels.0 - levels.1).abs() < 1e-6 {
            let found = format!("{}, where it starts", percent(levels.1));
            let expected = format!("another level than {start}: without a deadband a stage chatters");
            return Err(Refusal::contradiction(stop, found, expected));
        }
        Ok(levels)
    };
    let first = read("first_start", "first_stop")?;
    let second = read("second_start", "second_stop")?;
    let fills = first.0 < first.1;
    if fills != (second.0 < second.1) {
        let sense = |fills| if fills { "fills" } else { "empties" };
        let found = format!("a stage that {}, as its stop level says", sense(!fills));
        let expected = format!("one that {}, as the first does", sense(fills));
        return Err(Refusal::contradiction("second_stop", found, expected));
    }
    let turned = |(start, stop): (f64, f64)| {
        if fills { Band { start, stop } } else { Band { start: 1.0 - start, stop: 1.0 - stop } }
    };
    Ok((turned(first), turned(second), fills))
}

fn evaluate(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (first, second, fills) = bands(arguments)?;
    let load = arguments.number("load")?;
    let (one, two) = (arguments.number("first")?, arguments.number("second")?);
    let mut outcome = Outcome::of(arguments);
    outcome.figure("first_band_share", first.width());
    outcome.figure("second_band_share", second.width());
    outcome.figure("gap_share", (first.start - second.stop).max(0.0));
    outcome.figure("overlap_share", (second.stop - first.start).max(0.0).min(second.stop - second.start));
    outcome.work(|| format!("bands: first {}, second {}", percent(first.width()), percent(second.width())));
    let order = order(&mut outcome, first, second, fills);

    let (load_text, one_text) = (carried.print(load), carried.print(one));
    let both = one + two;
    let held = if load == 0.0 {
        "nothing loads them".to_owned()
    } else if load <= one {
        format!("the first holds {load_text} alone, at {}", percent(load / one))
    } else if load <= both {
        format!("the first alone cannot hold {load_text}, both can")
    } else {
        format!("both together cannot hold {load_text}")
    };
    outcome.work(|| format!("{one_text} and {} against {load_text}: {held}", carried.print(two)));
    outcome.figure("first_duty_share", (load / one).min(1.0));
    outcome.figure("second_duty_share", ((load - one).max(0.0) / two).min(1.0));
    if load > both {
        let short = carried.print(load - both);
        let say = format!("Both stages move {} and the load is {load_text}.", carried.print(both));
        let found = concern("stages-too-small", Weight::Failure, "load", say);
        let mend = remedy(format!("Add {short}, or shed {short} of load."));
        outcome.found(found.at_most(load, both, carried.si_unit()).mended(mend));
    } else if load > one {
        let say = format!("The first stage moves {one_text} of {load_text}: the second takes part for good.");
        let found = concern("first-cannot-hold", Weight::Note, "first", say);
        outcome.found(found.at_least(one, load, carried.si_unit()));
    }
    outcome.say = format!("{order}; {held}.");

    // Which stage switches, how fast the level then falls and rises, and over which band.
    let switching = if load == 0.0 || load >= both {
        None
    } else if load < one {
        Some(("first", load, one - load, first.width(), one))
    } else {
        (load > one).then_some(("second", load - one, both - load, second.width(), two))
    };
    if let (Some((stage, falling, rising, width, moves)), Some(capacity)) = (switching, arguments.maybe("capacity")) {
        let band = width * capacity;
        let cycle = band / falling + band / rising;
        let lasts = lasting(cycle, DAY);
        outcome.work(|| {
            format!(
                "the {stage} switches: {} ÷ {} + {} ÷ {} = {lasts}",
                carried.print_amount(band),
                carried.print(falling),
                carried.print_amount(band),
                carried.print(rising)
            )
        });
        outcome.say = format!("{} The {stage} starts every {lasts}.", outcome.say);
        outcome.figure("cycle_s", cycle);
        outcome.figure("starts_per_h", 3600.0 / cycle);
        outcome.figure("least_cycle_at_any_load_s", 4.0 * band / moves);
        if let Some(least) = arguments.maybe("least_cycle").filter(|least| cycle < *least) {
            let needed = width * least / cycle;
            let say = format!("The {stage} stage starts every {lasts}, and bears {}.", lasting(least, DAY));
            let mend = if needed <= 1.0 {
                remedy(format!("Set its levels {} apart.", percent(needed)))
            } else {
                remedy(format!("Take a store {} times as large.", number(least / cycle)))
            };
            let parameter = if stage == "first" { "first_stop" } else { "second_stop" };
            outcome.found(
                concern("stage-chatters", Weight::Caution, parameter, say).at_least(cycle, least, "s").mended(mend),
            );
        }
    }
    Ok(outcome)
}

/// Which stage starts first, and what is wrong with that.
fn order(outcome: &mut Outcome, first: Band, second: Band, fills: bool) -> &'static str {
    let way = |share: f64| percent(if fills { share } else { 1.0 - share });
    if second.start >= first.start {
        let together = second.start <= first.start;
        let say = if together { "Both stages start together." } else { "The second stage starts before the first." };
        let found = concern("stages-out-of-order", Weight::Caution, "second_start", say.to_owned());
        let mend = remedy(format!("Let the second start past {}, where the first starts.", way(first.start)));
        outcome.found(found.at_most(second.start, first.start, "1").mended(mend));
        return if together { "Both start together" } else { "The second starts before the first" };
    }
    if second.stop > first.start {
        let (weight, say) = if second.stop > first.stop {
            (Weight::Caution, "The second stage runs on when the first has stopped.".to_owned())
        } else {
            let text = format!("The second stage runs on past {}, where the first starts.", way(first.start));
            (Weight::Note, text)
        };
        let found = concern("bands-overlap", weight, "second_stop", say);
        let mend = remedy(format!("Let the second stop at {}.", way(first.start)));
        outcome.found(found.at_most(second.stop, first.start, "1").mended(mend));
        return "In order, with overlapping bands";
    }
    "In order"
}
