//! Turbines on a hot chamber, and the working fluid that rides out pulses.

use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::heat::{DAY, body, capacity, conductance, flow, joules, kilograms, specific, watts};
use super::parameter::Parameter;
use super::wording::{Headcount, celsius, counted, kelvin, lasting, percent, ratio};
use super::{Kind, Sum};
use crate::quantity::number;
use crate::questions::answer::Weight;

/// Turbines needed: each takes `flow · specific heat · (inlet − outlet)`.
pub(super) const TURBINES: Sum = Sum {
    name: "turbines-needed",
    title: "Turbines needed for a heat flow",
    says: "How many turbines a heat flow needs at an inlet temperature, what they generate, and what is wasted above their rating.",
    formula: "takes = flow × specific_heat × (inlet − outlet); count = heat ÷ takes, rounded up; \
              generates = takes × efficiency, at most the rating; inlet at which it is reached = outlet + rating ÷ (efficiency × flow × specific_heat)",
    parameters: &[
        Parameter::measure("heat", Kind::Power, "600 kW", "the heat flow that comes into the hot chamber"),
        Parameter::positive("flow", Kind::MassRate, "500 g/s", "working fluid through one turbine"),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "2 kJ/(kg·K)", "specific heat of the working fluid"),
        Parameter::temperature("inlet", "180 °C", "temperature at which it comes in"),
        Parameter::temperature("outlet", "80 °C", "temperature at which it leaves"),
        Parameter::positive_share("efficiency", "15 %", "share of the heat taken that becomes power").or("1"),
        Parameter::positive("rating", Kind::Power, "18 kW", "the most that one turbine generates").optional(),
        Parameter::temperature("inlet_min", "115 °C", "below this inlet it stands still").optional(),
    ],
    example: "heat=600 kW&flow=500 g/s&specific_heat=2 kJ/(kg·K)&inlet=180 °C&outlet=80 °C&efficiency=15 %&rating=18 kW",
    evaluate: turbines,
};

/// Ballast window: `pulse / (specific heat · (limit − start))` to `cells · cell limit`.
pub(super) const BALLAST: Sum = Sum {
    name: "ballast-window",
    title: "Ballast of a hot chamber",
    says: "How much working fluid keeps the peaks of an intermittent hot source under a limit without passing what the vessel may hold.",
    formula: "stored = (power − removed) × on; least = stored ÷ (specific_heat × (limit − start)); most = cells × cell_limit; \
              peak = start + stored ÷ (mass × specific_heat)",
    parameters: &[
        Parameter::positive("power", Kind::Power, "500 kW", "heat flow of the source while it is on"),
        Parameter::time("on", "5 min", "how long a pulse lasts"),
        Parameter::measure("removed", Kind::Power, "150 kW", "heat that turbines and walls take off meanwhile").or("0"),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "2 kJ/(kg·K)", "specific heat of the working fluid"),
        Parameter::temperature("start", "140 °C", "temperature when a pulse begins"),
        Parameter::temperature("limit", "175 °C", "temperature that must not be passed"),
        Parameter::positive("cells", Kind::Number, "36", "size of the hot chamber, in cells").optional(),
        Parameter::positive("cell_limit", Kind::Mass, "60 kg", "mass in a cell at which the vessel's limit is reached")
            .optional(),
        Parameter::positive("mass", Kind::Mass, "1.8 t", "the working fluid that is in it").optional(),
    ],
    example: "power=500 kW&on=5 min&removed=150 kW&specific_heat=2 kJ/(kg·K)&start=140 °C&limit=175 °C&cells=36&cell_limit=60 kg&mass=1.8 t",
    evaluate: ballast,
};

/// Swing of a heat store under pulses, by a steady removal or through a conductance.
pub(super) const PULSED: Sum = Sum {
    name: "pulsed-heat",
    title: "Temperature swing under pulses of heat",
    says: "How far a body swings under pulses of heat once it has settled, and how large it must be for a wanted swing.",
    formula: "removed evenly, swing = power × on × (1 − on ÷ every) ÷ heat_capacity; through a conductance, with \
              E1 = exp(−on × conductance ÷ heat_capacity) and E2 likewise of the pause, greatest = sink + power ÷ conductance × (1 − E1) ÷ \
              (1 − E1 × E2), least = sink + (greatest − sink) × E2",
    parameters: &[
        Parameter::positive("power", Kind::Power, "50 kW", "heat flow while it is on"),
        Parameter::time("on", "15 min", "how long a pulse lasts"),
        Parameter::time("every", "50 min", "from one pulse to the next"),
        Parameter::positive(
            "heat_capacity",
            Kind::HeatCapacity,
            "4 MJ/K",
            "heat for each kelvin; or give masses and specific heats",
        )
        .optional(),
        Parameter::positive("masses", Kind::Mass, "1 t", "the masses that swing together").many().optional(),
        Parameter::positive(
            "specific_heats",
            Kind::SpecificHeat,
            "4 kJ/(kg·K)",
            "the specific heat of each, or one for all",
        )
        .many()
        .optional(),
        Parameter::positive(
            "conductance",
            Kind::Conductance,
            "500 W/K",
            "through which the heat leaves; without it, it leaves evenly",
        )
        .optional(),
        Parameter::temperature("sink", "20 °C", "temperature that it leaves to").or("0 °C"),
        Parameter::positive("swing", Kind::Difference, "5 K", "a wanted swing").optional(),
    ],
    example: "power=50 kW&on=15 min&every=50 min&heat_capacity=4 MJ/K&conductance=500 W/K&sink=20 °C&swing=5 K",
    evaluate: pulsed,
};

fn turbines(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let heat = arguments.number("heat")?;
    let (mass, heat_per) = (arguments.number("flow")?, arguments.number("specific_heat")?);
    let (inlet, outlet) = (arguments.number("inlet")?, arguments.number("outlet")?);
    let efficiency = arguments.number("efficiency")?;
    if inlet <= outlet {
        let found = format!("{}, no colder than the inlet", celsius(outlet));
        return Err(Refusal::contradiction("outlet", found, format!("below inlet, {}", celsius(inlet))));
    }
    let takes = mass * heat_per * (inlet - outlet);
    let count = Headcount::of(heat / takes, "heat")?;
    let things = counted(count.count, "turbine");
    let turned = takes * efficiency;
    let rating = arguments.maybe("rating");
    let stands = arguments.maybe("inlet_min").is_some_and(|least| inlet < least);
    let each = if stands { 0.0 } else { rating.map_or(turned, |rating| rating.min(turned)) };
    let running = count.utilisation * count.count;
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| {
        format!(
            "{} × {} × ({} − {}) K = {} taken by one",
            flow(mass),
            specific(heat_per),
            number(inlet),
            number(outlet),
            watts(takes)
        )
    });
    outcome.work(|| format!("{} ÷ {} = {}: {things}", watts(heat), watts(takes), ratio(&count)));
    outcome.figure("takes_w", takes);
    outcome.figure("needed", count.needed);
    outcome.figure("count", count.count);
    outcome.figure("running_share", count.utilisation);
    outcome.figure("each_generates_w", each);
    outcome.figure("generates_w", each * running);
    outcome.say = format!(
        "{things}: {} ÷ {} = {}; together {}.",
        watts(heat),
        watts(takes),
        ratio(&count),
        watts(each * running)
    );
    if let Some(rating) = rating {
        let rated = outlet + rating / (efficiency * mass * heat_per);
        let over = (turned - rating).max(0.0);
        let wastes = (takes - rating / efficiency).max(0.0);
        outcome.work(|| format!("the rating of {} is reached at {}", watts(rating), celsius(rated)));
        outcome.figure("inlet_rated_c", rated);
        outcome.figure("each_wastes_w", wastes);
        outcome.figure("wastes_w", wastes * running);
        // What comes out even is not above the rating.
        if over > 1e-9 * rating && !stands {
            let lost = watts(wastes * running);
            outcome.work(|| format!("{} of heat goes through each without becoming power", watts(wastes)));
            outcome.say = format!("{} Above {} heat is wasted: {lost}.", outcome.say, celsius(rated));
            let say = format!(
                "At {} the turbines are past their rating, which {} reaches: {lost} of heat is wasted.",
                celsius(inlet),
                celsius(rated)
            );
            let found = concern("heat-wasted", Weight::Caution, "inlet", say);
            let mend = remedy(format!("Let the chamber run {} cooler, with more turbines.", kelvin(inlet - rated)));
            outcome.found(found.at_most(inlet, rated, "°C").mended(mend));
        }
    }
    if let Some(least) = arguments.maybe("inlet_min").filter(|_| stands) {
        let say = format!("At {} they stand still: they want {} at least.", celsius(inlet), celsius(least));
        outcome.say.clone_from(&say);
        let mend = remedy(format!("Let the chamber get {} warmer.", kelvin(least - inlet)));
        outcome
            .found(concern("too-cold-to-run", Weight::Failure, "inlet", say).at_least(inlet, least, "°C").mended(mend));
    }
    Ok(outcome)
}

fn ballast(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (power, on, removed) = (arguments.number("power")?, arguments.number("on")?, arguments.number("removed")?);
    let heat_per = arguments.number("specific_heat")?;
    let (start, limit) = (arguments.number("start")?, arguments.number("limit")?);
    if limit <= start {
        let found = format!("{}, no warmer than at the start of a pulse", celsius(limit));
        return Err(Refusal::contradiction("limit", found, format!("above start, {}", celsius(start))));
    }
    let stored = (power - removed).max(0.0) * on;
    let least = stored / (heat_per * (limit - start));
    let (cells, mass) = (arguments.maybe("cells"), arguments.maybe("mass"));
    let most = match (cells, arguments.maybe("cell_limit")) {
        (Some(cells), Some(each)) => Some(cells * each),
        (None, Some(_)) => return Err(Refusal::missing("cells", "a number, as cell_limit is given")),
        (_, None) => None,
    };
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| {
        format!("({} − {}) × {} = {} in a pulse", watts(power), watts(removed), lasting(on, DAY), joules(stored))
    });
    outcome.work(|| {
        format!(
            "least: {} ÷ ({} × {}) = {}",
            joules(stored),
            specific(heat_per),
            kelvin(limit - start),
            kilograms(least)
        )
    });
    outcome.figure("stored_j", stored);
    outcome.figure("least_kg", least);
    outcome.say = format!(
        "At least {}: {} in a pulse, {} to warm up by.",
        kilograms(least),
        joules(stored),
        kelvin(limit - start)
    );
    if let Some(cells) = cells {
        outcome.figure("least_per_cell_kg", least / cells);
        outcome.work(|| format!("that is {} a cell", kilograms(least / cells)));
    }
    if let Some(most) = most {
        outcome.work(|| format!("most, by the vessel: {}", kilograms(most)));
        outcome.figure("most_kg", most);
        outcome.figure("window_kg", (most - least).max(0.0));
        outcome.say = format!(
            "From {} to {}: {} in a pulse, {} to warm up by.",
            kilograms(least),
            kilograms(most),
            joules(stored),
            kelvin(limit - start)
        );
        if most < least {
            outcome.say = format!(
                "No mass will do: {} to ride out a pulse, {} at most in the vessel.",
                kilograms(least),
                kilograms(most)
            );
            let mend = remedy(format!(
                "Take {} more off during a pulse, or make the chamber larger.",
                watts((least - most) * heat_per * (limit - start) / on)
            ));
            let found = concern("no-ballast", Weight::Failure, "cell_limit", outcome.say.clone());
            outcome.found(found.at_least(most, least, "kg").mended(mend));
        }
    }
    let Some(mass) = mass else { return Ok(outcome) };
    let peak = start + stored / (mass * heat_per);
    outcome.work(|| format!("{} warms from {} to {}", kilograms(mass), celsius(start), celsius(peak)));
    outcome.say = format!("{} With {} it peaks at {}.", outcome.say, kilograms(mass), celsius(peak));
    outcome.figure("peak_c", peak);
    outcome.figure("swing_k", peak - start);
    if mass < least {
        let say = format!("With {} a pulse takes it to {}, past {}.", kilograms(mass), celsius(peak), celsius(limit));
        let mend = remedy(format!("Add {}.", kilograms(least - mass)));
        outcome.found(concern("ballast-light", Weight::Failure, "mass", say).at_least(mass, least, "kg").mended(mend));
    }
    if let Some(most) = most.filter(|most| mass > *most) {
        let say = format!(
            "{} is more than the {} at which the vessel's limit chokes the source.",
            kilograms(mass),
            kilograms(most)
        );
        let mend = remedy(format!("Draw off {}.", kilograms(mass - most)));
        outcome.found(concern("ballast-heavy", Weight::Failure, "mass", say).at_most(mass, most, "kg").mended(mend));
    }
    Ok(outcome)
}

/// The settled swing through a conductance: the greatest and the least above the sink, K.
fn settled(power: f64, on: f64, off: f64, heat: f64, through: f64) -> (f64, f64) {
    let (up, down) = (on * through / heat, off * through / heat);
    // 1 − exp(−x), with all its digits where x is small.
    let (risen, all) = (-(-up).exp_m1(), -(-(up + down)).exp_m1());
    let greatest = power / through * if all > 0.0 { risen / all } else { on / (on + off) };
    (greatest, greatest * (-down).exp())
}

fn pulsed(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (power, on, every) = (arguments.number("power")?, arguments.number("on")?, arguments.number("every")?);
    if on > every {
        let found = format!("{}, longer than from one pulse to the next", lasting(on, DAY));
        return Err(Refusal::contradiction("on", found, format!("at most every, {}", lasting(every, DAY))));
    }
    let through = arguments.maybe("conductance");
    let sink = arguments.number("sink")?;
    let wanted = arguments.maybe("swing");
    let duty = on / every;
    let evenly = power * on * (1.0 - duty);
    let given = arguments.maybe("heat_capacity").is_some() || !arguments.list("masses").is_empty();
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("mean heat: {} × {} = {}", watts(power), percent(duty), watts(power * duty)));
    outcome.figure("mean_w", power * duty);
    if let Some(through) = through {
        let rise = power * duty / through;
        outcome.work(|| format!("÷ {} = {} above the sink on average", conductance(through), kelvin(rise)));
        outcome.figure("mean_rise_k", rise);
    }
    if given || wanted.is_none() {
        let (heat, text) = body(arguments)?;
        let constant = evenly / heat;
        outcome.work(|| text);
        outcome.work(|| {
            format!(
                "removed evenly: {} × {} × {} ÷ {} = {}",
                watts(power),
                lasting(on, DAY),
                percent(1.0 - duty),
                capacity(heat),
                kelvin(constant)
            )
        });
        outcome.figure("swing_constant_k", constant);
        outcome.say = format!("It swings by {} while {} is removed evenly.", kelvin(constant), watts(power * duty));
        if let Some(through) = through {
            let (greatest, least) = settled(power, on, every - on, heat, through);
            let swing = greatest - least;
            outcome
                .work(|| format!("through the conductance: {} to {}", celsius(sink + least), celsius(sink + greatest)));
            outcome.say = format!(
                "It settles between {} and {}: a swing of {}.",
                celsius(sink + least),
                celsius(sink + greatest),
                kelvin(swing)
            );
            outcome.figure("greatest_c", sink + greatest);
            outcome.figure("least_c", sink + least);
            outcome.figure("swing_k", swing);
        }
    }
    if let Some(wanted) = wanted {
        let needed = through.map_or(evenly / wanted, |through| capacity_for(power, on, every, through, wanted));
        outcome.work(|| format!("for a swing of {}: {}", kelvin(wanted), capacity(needed)));
        let say = format!("For a swing of {} it takes {}.", kelvin(wanted), capacity(needed));
        outcome.say = if outcome.say.is_empty() { say } else { format!("{} {say}", outcome.say) };
        outcome.figure("needed_j_k", needed);
    }
    Ok(outcome)
}

/// The least heat capacity that swings no further than `wanted`, by bisection: the swing falls as the capacity grows.
fn capacity_for(power: f64, on: f64, every: f64, through: f64, wanted: f64) -> f64 {
    let swing = |heat: f64| {
        let (greatest, least) = settled(power, on, every - on, heat, through);
        greatest - least
    };
    // Through a conductance it swings less than by an even removal.
    let (mut low, mut high) = (0.0, power * on * (1.0 - on / every) / wanted);
    for _ in 0..200 {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if swing(middle) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}
