//! The arithmetic in order: what each zone gets and gives, what coolers and turbines do about it, set points, ballast.

use std::fmt::{self, Write as _};

use super::celsius;
use super::fill::{ledger, window};
use super::reckon::Reckoned;
use crate::heat::network::Side;
use crate::plan::{Cooler, Moving, Plan};
use crate::quantity::{Printed, dimension, number, print_si};
use crate::questions::answer::short;

/// The most lines of `working`; the last says how many are left out.
pub const MOST_HEAT_LINES: usize = 200;
/// The most terms of one sum that are written out.
const MOST_TERMS: usize = 8;

/// The lines so far.
struct Lines(Vec<String>);

impl Lines {
    fn say(&mut self, text: fmt::Arguments<'_>) {
        self.0.push(begin(text));
    }
}

/// A line that begins so, with room for the rest: most have under a hundred bytes.
fn begin(text: fmt::Arguments<'_>) -> String {
    let mut line = String::with_capacity(112);
    let _ = line.write_fmt(text);
    line
}

fn watts(w: f64) -> Printed<dimension::Power> {
    print_si(w)
}

/// The lines.
pub(super) fn working(plan: &Plan, reckoned: &Reckoned) -> Vec<String> {
    let mut lines = Lines(Vec::with_capacity(24));
    for at in 0..plan.zones.len() {
        zone(plan, reckoned, at, &mut lines);
    }
    coolers(plan, reckoned, &mut lines);
    turbines(plan, reckoned, &mut lines);
    thermostats(plan, reckoned, &mut lines);
    for ballast in &reckoned.ballast {
        let name = short(&plan.zones[ballast.zone].name);
        let kg = |kg: f64| print_si::<dimension::Mass>(kg);
        if let Some((peak, trough, period)) = ballast.cycle {
            lines.say(format_args!(
                "{name}: with {} one cycle of {} goes from {} to {}",
                kg(ballast.present_kg),
                print_si::<dimension::Time>(period),
                celsius(trough),
                celsius(peak)
            ));
        }
        if let Some(least) = ballast.least_kg {
            lines.say(format_args!("{name}: the peak keeps the limit from {} on", kg(least)));
        }
        if let Some(greatest) = ballast.greatest_kg {
            lines.say(format_args!("{name}: its cells bear {} in all", kg(greatest)));
        }
    }
    let mut lines = lines.0;
    if lines.len() > MOST_HEAT_LINES {
        let more = lines.len() - (MOST_HEAT_LINES - 1);
        lines.truncate(MOST_HEAT_LINES - 1);
        lines.push(format!("and {more} more steps, left out"));
    }
    lines
}

fn zone(plan: &Plan, reckoned: &Reckoned, at: usize, lines: &mut Lines) {
    let zone = &plan.zones[at];
    let name = short(&zone.name);
    let mut line = begin(format_args!("{name}: "));
    let (mut total, mut plus) = (0.0, "");
    for (id, mass) in &zone.contents {
        let Some(heat) = plan.substances[id.0].heat_at(zone.at_c) else { continue };
        let (mass, heat_shown) = (mass.si(), print_si::<dimension::SpecificHeat>(heat));
        let _ = write!(line, "{plus}{} × {heat_shown}", print_si::<dimension::Mass>(mass));
        total += mass * heat;
        plus = " + ";
    }
    let _ = write!(line, " = {} per kelvin", print_si::<dimension::Energy>(total));
    lines.0.push(line);
    let Some(rest) = reckoned.at_rest() else { return };
    let t = rest.temperatures_c[at];
    for wall in &reckoned.assembly.network.walls {
        if wall.zone != at {
            continue;
        }
        let (other, to) = match wall.to {
            Side::Zone(other) => (rest.temperatures_c[other], plan.zones[other].name.as_str()),
            Side::Fixed(other) => (other, "ambient"),
        };
        let (open, close) = if other < 0.0 { ("(", ")") } else { ("", "") };
        lines.say(format_args!(
            "{name} to {}: {} × ({} − {open}{}{close}) = {}",
            short(to),
            print_si::<dimension::Conductance>(wall.conductance),
            celsius(t),
            celsius(other),
            watts(wall.conductance * (t - other))
        ));
    }
    let ledger = ledger(plan, reckoned, at);
    // What stands before the terms is in front of them, so that the line is made in one piece.
    let mut terms = begin(format_args!("{name} at {}: ", celsius(t)));
    let before = terms.len();
    for (index, (what, w)) in ledger.iter().filter(|(_, w)| *w != 0.0).enumerate() {
        if index == MOST_TERMS {
            terms.push_str(" + …");
            break;
        }
        let sign = match (index, *w < 0.0) {
            (0, false) => "",
            (0, true) => "−",
            (_, false) => " + ",
            (_, true) => " − ",
        };
        let _ = write!(terms, "{sign}{} ({})", watts(w.abs()), short(what));
    }
    let sum: f64 = ledger.iter().map(|(_, w)| w).sum();
    let size: f64 = ledger.iter().map(|(_, w)| w.abs()).sum();
    let sum = if sum.abs() <= 1e-9 * size { 0.0 } else { sum };
    if terms.len() > before {
        let _ = write!(terms, " = {}", watts(sum));
        lines.0.push(terms);
    }
}

fn coolers(plan: &Plan, reckoned: &Reckoned, lines: &mut Lines) {
    for (at, cooler) in plan.coolers.iter().enumerate() {
        let name = short(&cooler.name);
        if let Moving::Drop { flow, drop_k, specific_heat } = cooler.moving {
            lines.say(format_args!(
                "{name}: {} × {} × {} K = {}",
                print_si::<dimension::MassRate>(flow.si()),
                print_si::<dimension::SpecificHeat>(specific_heat),
                number(drop_k),
                watts(cooler.moves_w())
            ));
        }
        let needed = &reckoned.coolers[at];
        if let Some(exact) = needed.exact {
            lines.say(format_args!(
                "{name}: {} ÷ {} = {} needed, {} there",
                watts(exact * cooler.moves_w()),
                watts(cooler.moves_w()),
                number(exact),
                needed.count
            ));
        }
        let (least, greatest) = window(plan, cooler);
        if let (Some(least), Some(coolant)) = (least, cooler.coolant.map(|id| &plan.substances[id.0]))
            && let Some(freezes) = coolant.freezes_at_c
        {
            lines.say(format_args!(
                "{name}: set point at least {} (freezing) + {} K (margin) + {} K (drop) = {}",
                celsius(freezes),
                number(cooler.margin_k),
                number(cooler.drop_k()),
                celsius(least)
            ));
        }
        if let Some(greatest) = greatest {
            lines.say(format_args!(
                "{name}: set point at most {}, {}",
                celsius(greatest),
                bound(plan, cooler, greatest)
            ));
        }
    }
}

/// What a greatest set point comes from.
fn bound(plan: &Plan, cooler: &Cooler, greatest_c: f64) -> String {
    let zone = &plan.zones[cooler.cools.0];
    let bears = plan.units.iter().find(|unit| unit.zone == Some(cooler.cools) && unit.limit_c == Some(greatest_c));
    match bears {
        _ if zone.limit_c == Some(greatest_c) => format!("the limit of {}", short(&zone.name)),
        Some(unit) => format!("which {} bears", short(&unit.name)),
        None if cooler.margin_k > 0.0 => format!("{} K (margin) below boiling", number(cooler.margin_k)),
        None => "where its coolant boils".to_owned(),
    }
}

fn thermostats(plan: &Plan, reckoned: &Reckoned, lines: &mut Lines) {
    for (at, thermostat) in plan.thermostats.iter().enumerate() {
        let Some(cycle) = reckoned.cycling.thermostats.get(at).copied().flatten() else { continue };
        let (name, zone) = (short(&thermostat.name), short(&plan.zones[thermostat.watch.0].name));
        let Some(period) = cycle.period_s else {
            let state = if cycle.on_share > 0.0 { "on" } else { "off" };
            lines.say(format_args!("{name}: {state} for good, {zone} comes to rest within its deadband"));
            continue;
        };
        let time = |s: f64| print_si::<dimension::Time>(s);
        let on_s = cycle.on_share * period;
        lines.say(format_args!(
            "{name}: {} on, {} off: {} ÷ {} = {} on",
            time(on_s),
            time(period - on_s),
            time(on_s),
            time(period),
            print_si::<dimension::Share>(cycle.on_share)
        ));
    }
}

fn turbines(plan: &Plan, reckoned: &Reckoned, lines: &mut Lines) {
    for (at, turbine) in plan.turbines.iter().enumerate() {
        let name = short(&turbine.name);
        let Some(rest) = reckoned.at_rest() else { continue };
        let inlet = rest.temperatures_c[turbine.zone.0];
        let running = rest.running[reckoned.assembly.turbines[at]];
        if let Some(mean) = reckoned.cycling.flow(reckoned.assembly.turbines[at]) {
            lines.say(format_args!("{name}: {} generated on the mean of a cycle", watts(mean.generated_w)));
            continue;
        }
        let inlet = if running > 0.0 { inlet.max(turbine.inlet_min_c) } else { inlet };
        lines.say(format_args!(
            "{name}: {} × {} × {} × ({} − {}) = {}",
            number(running),
            print_si::<dimension::MassRate>(turbine.flow.si()),
            print_si::<dimension::SpecificHeat>(turbine.specific_heat),
            celsius(inlet),
            celsius(turbine.outlet_c),
            watts(running * turbine.per_kelvin() * (inlet - turbine.outlet_c))
        ));
        lines.say(format_args!(
            "{name}: {} × {} × ({} − {}) ÷ ({} − {}), at most its rating, = {} generated",
            number(running),
            watts(turbine.generates.si()),
            celsius(inlet),
            celsius(turbine.outlet_c),
            celsius(turbine.inlet_rated_c),
            celsius(turbine.outlet_c),
            watts(running * turbine.generates_w(inlet))
        ));
    }
}
