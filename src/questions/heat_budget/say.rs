//! The answer in one line: the most important thing first, and the tightest margin.

use super::celsius;
use super::{HeatBudget, HeatFigures};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{LINE_BYTES, Verdict, Weight, made_one_line, quoted, short};

/// The most zones, coolers and turbines that are named, each.
const MOST_NAMED: usize = 3;

/// The line.
pub(super) fn say(answer: &HeatBudget) -> String {
    let first = answer.findings.iter().find(|finding| finding.weight > Weight::Note);
    let text = match (answer.verdict, first) {
        (Verdict::Fails, Some(first)) => {
            let remedy = first.remedy.as_ref().map_or_else(String::new, |remedy| format!("; {}", remedy.say));
            let failures = answer.findings.iter().filter(|finding| finding.weight == Weight::Failure).count();
            let more = match failures {
                0 | 1 => String::new(),
                2 => " And 1 more failure.".to_owned(),
                more => format!(" And {} more failures.", more - 1),
            };
            format!("Fails: {}{remedy}.{more}", first.say)
        }
        (Verdict::HoldsWithCautions, Some(first)) => {
            format!("Holds: {}. With a caution: {}.", summary(&answer.figures), first.say)
        }
        _ => format!("Holds: {}.", summary(&answer.figures)),
    };
    made_one_line(text, LINE_BYTES)
}

fn summary(heat: &HeatFigures) -> String {
    let mut parts = Vec::new();
    let zones: Vec<String> = heat
        .zones
        .by_name()
        .into_iter()
        .filter_map(|(name, zone)| match zone.cycle {
            Some(cycle) => {
                Some(format!("{} goes from {} to {}", short(name), celsius(cycle.trough_c), celsius(cycle.peak_c)))
            }
            None => Some(format!("{} settles at {}", short(name), celsius(zone.settles_at_c?))),
        })
        .take(MOST_NAMED)
        .collect();
    parts.push(if heat.zones.is_empty() {
        "the plan has no zone, so there is nothing to warm or cool".to_owned()
    } else if zones.is_empty() {
        "no zone comes to rest".to_owned()
    } else {
        zones.join(", ")
    });
    for (name, cooler) in heat.coolers.by_name().into_iter().take(MOST_NAMED) {
        let share = cooler
            .running_share
            .map_or_else(String::new, |share| format!(" running {} of the time", print_si::<dimension::Share>(share)));
        let needed = cooler.needed.map_or_else(String::new, |needed| format!(" ({} needed)", number(needed)));
        parts.push(format!("{} × {}{needed}{share}", cooler.count, short(name)));
    }
    for (name, turbine) in heat.turbines.by_name().into_iter().take(MOST_NAMED) {
        let needed = turbine.needed.map_or_else(String::new, |needed| format!(" ({} needed)", number(needed)));
        let makes =
            turbine.generates_w.map_or_else(String::new, |w| format!(" making {}", print_si::<dimension::Power>(w)));
        parts.push(format!("{} × {}{needed}{makes}", turbine.count, short(name)));
    }
    if let Some(power) = heat.power {
        parts.push(format!("turbines less coolers {}", print_si::<dimension::Power>(power.net_w)));
    }
    if let Some((name, margin)) = tightest(heat) {
        parts.push(format!("tightest margin {} K, {name}", number(margin)));
    }
    parts.join("; ")
}

/// The smallest difference between a temperature and what it must not pass.
fn tightest(heat: &HeatFigures) -> Option<(String, f64)> {
    let below: fn(&str) -> String = |name| format!("{} below its limit", quoted(name));
    let zones = heat.zones.by_name().into_iter();
    let zones = zones.filter_map(|(name, zone)| Some((name, below, zone.limit_c? - zone.hottest_c())));
    let above: fn(&str) -> String = |name| format!("the coolant of {} above freezing", quoted(name));
    let coolers = heat.coolers.by_name().into_iter().filter_map(|(name, cooler)| {
        let freezing = cooler.set_point_least_c? - cooler.drop_k;
        Some((name, above, cooler.coldest_c? - freezing))
    });
    let (name, say, margin) = zones.chain(coolers).min_by(|(.., a), (.., b)| a.total_cmp(b))?;
    Some((say(name), margin))
}
