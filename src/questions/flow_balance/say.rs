//! The answer in one line: the most important thing first.

use super::network::Network;
use super::order::Step;
use crate::balance::Balance;
use crate::plan::{Aim, Carried, Plan};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Finding, LINE_BYTES, Verdict, Weight, one_line, short};

/// The most units and supplies that are named.
const MOST_NAMED: usize = 5;

/// The line.
pub(super) fn say(
    plan: &Plan,
    balance: &Balance,
    network: &Network,
    order: &[Step],
    verdict: Verdict,
    findings: &[Finding],
) -> String {
    let text = match (verdict, findings.iter().find(|finding| finding.weight > Weight::Note)) {
        (Verdict::Fails, Some(first)) => {
            let remedy = first.remedy.as_ref().map_or_else(String::new, |remedy| format!("; {}", remedy.say));
            let failures = findings.iter().filter(|finding| finding.weight == Weight::Failure).count();
            let more = match failures {
                0 | 1 => String::new(),
                2 => " And 1 more failure.".to_owned(),
                more => format!(" And {} more failures.", more - 1),
            };
            format!("Fails: {}{remedy}.{more}", first.say).replace("?; ", "? ")
        }
        (Verdict::HoldsWithCautions, Some(first)) => {
            let cautions = findings.iter().filter(|finding| finding.weight == Weight::Caution).count();
            let heads = if cautions == 1 { "1 caution".to_owned() } else { format!("{cautions} cautions, first") };
            let summary = summary(plan, balance, network, order);
            format!("Holds: {summary}. With {heads}: {}.", first.say)
        }
        _ => format!("Holds: {}.", summary(plan, balance, network, order)),
    };
    one_line(&text, LINE_BYTES)
}

/// Counts, what is drawn, lines and power: "5 × burner, 12 × absorber; 50 g/s of methanol (1 line at 83 %); 214 kW to spare".
fn summary(plan: &Plan, balance: &Balance, network: &Network, order: &[Step]) -> String {
    let mut parts = Vec::new();
    match &plan.aim {
        Aim::Make(targets) => {
            let made = targets.iter().zip(&balance.aims).map(|(target, reached)| {
                let header = plan.header(target.header);
                (header.carries, short(&header.name), reached.got)
            });
            let made: Vec<String> = made
                .map(|(carries, name, got)| match carries {
                    Carried::Matter => format!("{} of {name}", carries.print(got)),
                    Carried::Power => carries.print(got),
                })
                .collect();
            parts.push(format!("{} made", listed(&made)));
        }
        Aim::Most(_) => {
            if let Some(value) = balance.value {
                parts.push(format!("{} of value a second at best", number(value)));
            }
        }
        Aim::Unsaid | Aim::Run(_) => {}
    }
    let units: Vec<String> = order
        .iter()
        .filter_map(|step| match step {
            Step::Unit { unit, .. } => Some(unit.0),
            _ => None,
        })
        .filter(|&at| balance.units[at].count > 0)
        .map(|at| format!("{} × {}", balance.units[at].count, short(&plan.units[at].name)))
        .collect();
    parts.push(if units.is_empty() { "nothing runs".to_owned() } else { listed(&units) });
    let fed = plan
        .headers
        .iter()
        .zip(&balance.headers)
        .filter(|(header, flow)| header.carries == Carried::Matter && flow.supplied > 0.0);
    let fed: Vec<String> = fed
        .map(|(header, flow)| {
            let lines = match (flow.lines, flow.line_utilisation) {
                (Some(1), Some(share)) => format!(" (1 line at {})", print_si::<dimension::Share>(share)),
                (Some(lines), Some(share)) => format!(" ({lines} lines at {})", print_si::<dimension::Share>(share)),
                _ => String::new(),
            };
            format!("{} of {}{lines}", header.carries.print(flow.supplied), short(&header.name))
        })
        .collect();
    if !fed.is_empty() {
        parts.push(format!("draws {}", listed(&fed)));
    }
    if let Some(power) = network.power {
        let flow = &balance.headers[power.0];
        if flow.supplied > 0.0 {
            parts.push(format!("{} of power drawn from supplies", Carried::Power.print(flow.supplied)));
        }
        if flow.let_out > 0.0 {
            parts.push(format!("{} to spare", Carried::Power.print(flow.let_out)));
        }
    }
    parts.join("; ")
}

fn listed(things: &[String]) -> String {
    if things.len() <= MOST_NAMED {
        return things.join(", ");
    }
    format!("{} and {} more", things[..MOST_NAMED].join(", "), things.len() - MOST_NAMED)
}
