//! How often a pump between two levels starts.

use super::answer::{Outcome, Refusal, amount_figure, concern, rate_figure, remedy};
use super::arguments::Arguments;
use super::medium::Medium;
use super::parameter::Parameter;
use super::store_time::level;
use super::wording::{lasting, percent};
use super::{Kind, Sum};
use crate::plan::FaultCode;
use crate::quantity::number;
use crate::questions::answer::Weight;

const HOUR: f64 = 3600.0;
const DAY: f64 = 86_400.0;

/// Pump starts: the cycle is `V/flow + V/(pump − flow)`.
pub(super) const STARTS: Sum = Sum {
    name: "pump-starts",
    title: "Pump starts and duty",
    says: "How often a pump that switches between two levels starts in an hour, its duty, and the flow at which it starts most often.",
    formula: "off = volume ÷ flow; on = volume ÷ (pump − flow); starts per hour = 3600 s ÷ (on + off); duty = flow ÷ pump; \
              worst flow = pump ÷ 2, with pump ÷ (4 × volume) starts a second",
    parameters: &[
        Parameter::rate("flow", "12 L/s", "what flows in where the pump empties, or is drawn where it fills"),
        Parameter::positive_rate("pump", "30 L/s", "what the pump moves while it runs"),
        Parameter::positive_amount("volume", "4500 L", "what lies between the two levels; or give both levels")
            .optional(),
        Parameter::share_or_amount("start_at", "80 %", "the level at which it starts").optional(),
        Parameter::share_or_amount("stop_at", "20 %", "the level at which it stops").optional(),
        Parameter::positive_amount("capacity", "7500 L", "what the store holds, where levels are shares").optional(),
        Parameter::time("least_cycle", "10 min", "the shortest time from start to start that the pump can bear")
            .optional(),
    ],
    example: "flow=12 L/s&pump=30 L/s&volume=4500 L&least_cycle=10 min",
    evaluate: starts,
};

/// Volume for a pump: `V = T·Q/4`.
pub(super) const VOLUME: Sum = Sum {
    name: "pump-volume",
    title: "Volume for a pump",
    says: "How much must lie between start and stop level so that a pump starts no more often than it can bear, at any flow.",
    formula: "volume = cycle × pump ÷ 4, as the worst flow is pump ÷ 2; with two pumps that take turns, half of it",
    parameters: &[
        Parameter::positive_rate("pump", "30 L/s", "what the pump moves while it runs"),
        Parameter::time("cycle", "10 min", "the shortest time from start to start; or give the starts").optional(),
        Parameter::new("starts", Kind::Number, (1e-6, 1e6), "6", "the most starts in an hour").optional(),
    ],
    example: "pump=30 L/s&cycle=10 min",
    evaluate: volume,
};

fn volume(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let pump = arguments.number("pump")?;
    let cycle = match (arguments.maybe("cycle"), arguments.maybe("starts")) {
        (Some(cycle), None) => cycle,
        (None, Some(starts)) => HOUR / starts,
        (None, None) => return Err(Refusal::missing("cycle", "cycle, or starts")),
        (Some(_), Some(_)) => {
            return Err(Refusal::contradiction(
                "starts",
                "both cycle and starts".to_owned(),
                "one of the two".to_owned(),
            ));
        }
    };
    let volume = cycle * pump / 4.0;
    let (volume_text, half) = (carried.print_amount(volume), carried.print_amount(volume / 2.0));
    let (pump_text, cycle_text) = (carried.print(pump), lasting(cycle, DAY));
    let mut outcome = Outcome::of(arguments);
    let worst = carried.print(pump / 2.0);
    outcome.work(|| format!("worst flow: {pump_text} ÷ 2 = {worst}"));
    outcome.work(|| format!("{cycle_text} × {pump_text} ÷ 4 = {volume_text}"));
    outcome.work(|| format!("two pumps that take turns: {volume_text} ÷ 2 = {half}"));
    outcome.say = format!(
        "{volume_text} between start and stop: {cycle_text} × {pump_text} ÷ 4; {half} with two pumps that take turns."
    );
    outcome.carried(carried, amount_figure!("volume"), volume);
    outcome.carried(carried, amount_figure!("volume_two_alternating"), volume / 2.0);
    outcome.carried(carried, rate_figure!("worst_flow"), pump / 2.0);
    outcome.figure("cycle_s", cycle);
    outcome.figure("starts_per_h", HOUR / cycle);
    Ok(outcome)
}

/// What lies between the levels.
fn between(arguments: &Arguments<'_>, outcome: &mut Outcome) -> Result<f64, Refusal> {
    let carried = arguments.carried();
    let given = (arguments.maybe("volume"), arguments.part("start_at"), arguments.part("stop_at"));
    match given {
        (Some(volume), None, None) => Ok(volume),
        (None, Some(_), Some(_)) => {
            let capacity = arguments.maybe("capacity");
            let (start, stop) = (level(arguments, "start_at", capacity)?, level(arguments, "stop_at", capacity)?);
            let volume = (start - stop).abs();
            if volume < 1e-6 {
                return Err(Refusal::contradiction(
                    "stop_at",
                    format!("{}, where it starts", carried.print_amount(stop)),
                    "another level than start_at: without a deadband a pump chatters".to_owned(),
                ));
            }
            let sense = if start > stop { "it empties" } else { "it fills" };
            outcome.work(|| {
                format!(
                    "between {} and {}: {} ({sense})",
                    carried.print_amount(start),
                    carried.print_amount(stop),
                    carried.print_amount(volume)
                )
            });
            Ok(volume)
        }
        (None, Some(_), None) => Err(Refusal::missing("stop_at", "a level, as start_at is given")),
        (None, None, Some(_)) => Err(Refusal::missing("start_at", "a level, as stop_at is given")),
        (None, None, None) => Err(Refusal::missing("volume", "volume, or start_at and stop_at")),
        (Some(_), _, _) => Err(Refusal {
            parameter: "volume",
            code: FaultCode::Contradiction,
            found: "both volume and levels".to_owned(),
            expected: "one of the two".to_owned(),
        }),
    }
}

fn starts(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let (flow, pump) = (arguments.number("flow")?, arguments.number("pump")?);
    let mut outcome = Outcome::of(arguments);
    let volume = between(arguments, &mut outcome)?;
    let volume_text = carried.print_amount(volume);
    let (flow_text, pump_text) = (carried.print(flow), carried.print(pump));
    let worst = pump / 2.0;
    let worst_starts = HOUR * pump / (4.0 * volume);
    outcome.carried(carried, amount_figure!("volume"), volume);
    let duty = (flow / pump).min(1.0);
    let mut per_hour = 0.0;
    if flow > 0.0 && flow < pump {
        let (off, on) = (volume / flow, volume / (pump - flow));
        per_hour = HOUR / (on + off);
        outcome.work(|| format!("off: {volume_text} ÷ {flow_text} = {}", lasting(off, DAY)));
        outcome.work(|| format!("on: {volume_text} ÷ ({pump_text} − {flow_text}) = {}", lasting(on, DAY)));
        outcome.work(|| format!("1 h ÷ {} = {} starts an hour", lasting(on + off, DAY), number(per_hour)));
        outcome.say = format!(
            "{} starts an hour: {} on, {} off; duty {}.",
            number(per_hour),
            lasting(on, DAY),
            lasting(off, DAY),
            percent(duty)
        );
        outcome.figure("off_s", off);
        outcome.figure("on_s", on);
        outcome.figure("cycle_s", on + off);
        outcome.carried(carried, amount_figure!("moved_per_cycle"), pump * on);
    } else if flow == 0.0 {
        "It never starts: nothing flows.".clone_into(&mut outcome.say);
    } else {
        outcome.say = format!("It never stops: {flow_text} against {pump_text} that it moves.");
        too_small(&mut outcome, carried, flow, pump);
    }
    outcome.figure("starts_per_h", per_hour);
    outcome.figure("duty_share", duty);
    outcome.carried(carried, rate_figure!("worst_flow"), worst);
    outcome.figure("worst_starts_per_h", worst_starts);
    outcome
        .work(|| format!("at the worst, {}, it starts {} times an hour", carried.print(worst), number(worst_starts)));
    outcome.say = format!("{} At worst {} an hour, at {}.", outcome.say, number(worst_starts), carried.print(worst));
    if let Some(least) = arguments.maybe("least_cycle") {
        bearable(&mut outcome, carried, (pump, volume), least, per_hour);
    }
    Ok(outcome)
}

fn too_small(outcome: &mut Outcome, carried: Medium, flow: f64, pump: f64) {
    let say = format!("The pump moves {} and {} flows: it never gets ahead.", carried.print(pump), carried.print(flow));
    let found = concern("pump-too-small", Weight::Failure, "pump", say);
    let mend = remedy(format!("Give it more than {}.", carried.print(flow)));
    outcome.found(found.at_least(pump, flow, carried.si_unit()).mended(mend));
}

/// Holds the starts against what the pump can bear: a failure at the flow that there is, a caution at the worst.
fn bearable(outcome: &mut Outcome, carried: Medium, (pump, volume): (f64, f64), least: f64, per_hour: f64) {
    let needed = least * pump / 4.0;
    let most = HOUR / least;
    outcome.carried(carried, amount_figure!("least_volume"), needed);
    outcome.work(|| {
        format!(
            "for {} from start to start at any flow: {} between the levels",
            lasting(least, DAY),
            carried.print_amount(needed)
        )
    });
    // Volumes that come out even are met.
    if volume >= needed * (1.0 - 1e-9) {
        return;
    }
    let now = per_hour > most * (1.0 + 1e-9);
    let weight = if now { Weight::Failure } else { Weight::Caution };
    let when = if now { "now" } else { "at the worst flow" };
    let say = format!("It starts more often than {} times an hour {when}.", number(most));
    let found = concern("starts-too-often", weight, "volume", say);
    let mend = remedy(format!("Set the levels {} apart.", carried.print_amount(needed)));
    outcome.found(found.at_least(volume, needed, carried.amount_unit()).mended(mend));
}
