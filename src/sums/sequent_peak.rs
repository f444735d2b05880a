//! The least store for a pattern of inflows.

use super::Sum;
use super::answer::{Outcome, Refusal, amount_figure, concern, rate_figure, remedy};
use super::arguments::Arguments;
use super::parameter::Parameter;
use super::wording::{lasting, percent};
use crate::quantity::ROUNDING_TOLERANCE;
use crate::questions::answer::Weight;

/// Sequent peak: `K = max(0, K + draft − inflow)` step by step; the store is the greatest `K`.
pub(super) const SEQUENT_PEAK: Sum = Sum {
    name: "sequent-peak",
    title: "Least store for a pattern of inflows",
    says: "How much a store must hold so that a steady draft is never short, from a list of inflows that repeats, or comes once.",
    formula: "K = max(0, K + (draft − inflow) × step), from step to step; store = the greatest K; \
              a list that repeats is run through twice, as its last deficit goes into the first step",
    parameters: &[
        Parameter::rate("inflows", "12, 8, 6, 15, 10 t/day", "what flows in, step by step").many(),
        Parameter::rate("draft", "10 t/day", "what is drawn all the time"),
        Parameter::time("step", "1 day", "how long each step is"),
        Parameter::flag("once", "whether the list comes once, to a full store, and not again and again"),
        Parameter::day(),
    ],
    example: "inflows=12, 8, 6, 15, 10 t/day&draft=10 t/day&step=1 day",
    evaluate: sequent_peak,
};

/// Load levelling: a plant that runs steadily under a load that does not.
pub(super) const LOAD_LEVELLING: Sum = Sum {
    name: "load-levelling",
    title: "Levelling a load with a store",
    says: "How large a plant must be that runs steadily under a load that comes and goes, and how much the store between them holds.",
    formula: "plant = mean of the loads ÷ run share; store = sequent peak of the loads against the plant, over and over",
    parameters: &[
        Parameter::rate("loads", "0, 0, 40, 90, 60, 10 kW", "the load, step by step, over and over").many(),
        Parameter::time("step", "4 h", "how long each step is"),
        Parameter::day(),
    ],
    example: "loads=0, 0, 40, 90, 60, 10 kW&step=4 h",
    evaluate: load_levelling,
};

/// What a list of net draws per step (draft − inflow, times step) asks of a store.
struct Peak {
    /// The greatest deficit.
    store: f64,
    /// The deficit after the last step of the first pass.
    end: f64,
    /// The step (from 1) at whose end the deficit is greatest.
    step: usize,
    /// The least content at the beginning, so that nothing is ever short.
    start: f64,
}

fn peak(nets: &[f64], passes: usize) -> Peak {
    let mut peak = Peak { store: 0.0, end: 0.0, step: 0, start: 0.0 };
    let (mut deficit, mut drawn) = (0.0_f64, 0.0_f64);
    for pass in 0..passes {
        for (index, net) in nets.iter().enumerate() {
            deficit = (deficit + net).max(0.0);
            drawn += net;
            peak.start = peak.start.max(drawn);
            if deficit > peak.store {
                peak.store = deficit;
                peak.step = index + 1;
            }
        }
        if pass == 0 {
            peak.end = deficit;
        }
    }
    // What fills up on the way need not be there at the beginning, and no more than all can be.
    peak.start = peak.start.min(peak.store);
    // What the rounding of sums leaves is nothing.
    let noise = 1e-12 * nets.iter().map(|net| net.abs()).sum::<f64>();
    for figure in [&mut peak.store, &mut peak.end, &mut peak.start] {
        if *figure <= noise {
            *figure = 0.0;
        }
    }
    peak
}

fn sequent_peak(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let inflows = arguments.list("inflows");
    let (draft, step, day) = (arguments.number("draft")?, arguments.number("step")?, arguments.number("day")?);
    let once = arguments.flag("once");
    let mean = inflows.iter().sum::<f64>() / inflows.len().max(1) as f64;
    let nets: Vec<f64> = inflows.iter().map(|inflow| (draft - inflow) * step).collect();
    let short = !once && draft > mean * (1.0 + ROUNDING_TOLERANCE);
    let peak = peak(&nets, if once || short { 1 } else { 2 });
    let text = |amount: f64| carried.print_amount(amount);
    let mut outcome = Outcome::of(arguments);
    let (draft_text, mean_text) = (carried.print(draft), carried.print(mean));
    outcome.work(|| format!("mean inflow of {} steps of {}: {mean_text}", inflows.len(), lasting(step, day)));
    if peak.store > 0.0 {
        outcome.work(|| format!("greatest deficit, after step {}: {}", peak.step, text(peak.store)));
    }
    outcome.work(|| format!("deficit left after the last step: {}", text(peak.end)));
    outcome.carried(carried, amount_figure!("store"), peak.store);
    outcome.carried(carried, amount_figure!("least_start"), peak.start);
    outcome.carried(carried, amount_figure!("deficit_at_end"), peak.end);
    outcome.carried(carried, rate_figure!("mean_inflow"), mean);
    let how = if once { "once, from full" } else { "over and over" };
    outcome.say = format!("A store of {} keeps up {draft_text}, {how}.", text(peak.store));
    if peak.store == 0.0 {
        outcome.say = format!("No store is needed: {draft_text} always flows in.");
    }
    if short {
        outcome.say = format!("No store keeps up {draft_text}: {mean_text} flows in on average.");
        outcome.work(|| format!("one pass alone, from full, would take {}", text(peak.store)));
        let found = concern("draft-above-average", Weight::Failure, "draft", outcome.say.clone());
        let mend = remedy(format!("Draw at most {mean_text}."));
        outcome.found(found.at_most(draft, mean, carried.si_unit()).mended(mend));
    }
    Ok(outcome)
}

fn load_levelling(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let carried = arguments.carried();
    let loads = arguments.list("loads");
    let (step, day) = (arguments.number("step")?, arguments.number("day")?);
    let mean = loads.iter().sum::<f64>() / loads.len().max(1) as f64;
    let greatest = loads.iter().copied().fold(0.0, f64::max);
    let nets: Vec<f64> = loads.iter().map(|load| (load - mean) * step).collect();
    let peak = peak(&nets, 2);
    let text = |amount: f64| carried.print_amount(amount);
    let mut outcome = Outcome::of(arguments);
    let period = step * loads.len() as f64;
    let mean_text = carried.print(mean);
    outcome.work(|| format!("{} in {}: {mean_text} on average", text(mean * period), lasting(period, day)));
    outcome.work(|| format!("greatest load {}", carried.print(greatest)));
    outcome.work(|| format!("greatest deficit against the average: {}", text(peak.store)));
    outcome.say = format!(
        "A plant of {mean_text} with a store of {} carries peaks of {}.",
        text(peak.store),
        carried.print(greatest)
    );
    if greatest > 0.0 {
        outcome.work(|| format!("the plant is {} of the greatest load", percent(mean / greatest)));
    }
    outcome.carried(carried, rate_figure!("plant"), mean);
    outcome.carried(carried, rate_figure!("greatest_load"), greatest);
    outcome.carried(carried, amount_figure!("total"), mean * period);
    outcome.carried(carried, amount_figure!("store"), peak.store);
    Ok(outcome)
}
