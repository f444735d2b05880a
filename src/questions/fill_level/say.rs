//! The answer in one line: the soonest trouble and when; or that there is none, and what comes nearest to it.

use super::case::Case;
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Finding, LINE_BYTES, Verdict, Weight, one_line, short, span};

/// The most stores and switches that are named.
const MOST_NAMED: usize = 3;

/// The line.
pub(super) fn say(case: &Case<'_>, verdict: Verdict, findings: &[Finding]) -> String {
    let text = match (verdict, findings.first()) {
        (Verdict::Fails, Some(first)) => {
            let remedy = first.remedy.as_ref().map_or_else(String::new, |remedy| format!("; {}", remedy.say));
            let failures = findings.iter().filter(|finding| finding.weight == Weight::Failure).count();
            let more = match failures {
                0 | 1 => String::new(),
                2 => " And 1 more failure.".to_owned(),
                more => format!(" And {} more failures.", more - 1),
            };
            format!("Fails: {}{remedy}.{more}", first.say)
        }
        (Verdict::HoldsWithCautions, Some(first)) => {
            let cautions = findings.iter().filter(|finding| finding.weight == Weight::Caution).count();
            let heads = if cautions == 1 { "1 caution".to_owned() } else { format!("{cautions} cautions, first") };
            format!("Holds: {}. With {heads}: {}.", summary(case), first.say)
        }
        _ => format!("Holds: {}.", summary(case)),
    };
    one_line(&text, LINE_BYTES)
}

/// "nothing is short in 10 day; sump falls to 120 kg (15 %) after 3 h 10 min; sump pump starts 4.2 times an hour".
fn summary(case: &Case<'_>) -> String {
    let (plan, run) = (case.plan, &case.run);
    let mut parts = Vec::new();
    if !plan.demands.is_empty() {
        parts.push(format!("nothing is short in {}", span(run.reached_s, plan.day)));
    }
    let mut levels: Vec<String> = plan
        .stores
        .iter()
        .zip(&run.stores)
        .map(|(store, record)| {
            let carries = plan.header(store.header).carries;
            format!(
                "{} lies between {} and {} of {}",
                short(&store.name),
                print_si::<dimension::Share>(record.least / store.capacity),
                print_si::<dimension::Share>(record.greatest / store.capacity),
                carries.print_amount(store.capacity),
            )
        })
        .collect();
    some(&mut levels, "stores");
    parts.append(&mut levels);
    let mut starts: Vec<String> = (0..plan.switches.len())
        .filter(|&at| run.switches[at].starts > 0)
        .map(|at| {
            let rate = case.starts_per_h(at);
            let name = short(&plan.switches[at].name);
            if rate > 0.0 {
                format!("{name} starts {} times an hour", number(rate))
            } else {
                format!("{name} starts {} times", run.switches[at].starts)
            }
        })
        .collect();
    some(&mut starts, "switches");
    parts.append(&mut starts);
    let mut loops: Vec<String> = plan
        .loops
        .iter()
        .zip(&case.windows)
        .map(|(closed, window)| {
            let mass = |kg: f64| print_si::<dimension::Mass>(kg);
            format!(
                "{} may hold {} to {} and holds {}",
                short(&closed.name),
                mass(window.least),
                mass(window.most),
                mass(window.charge)
            )
        })
        .collect();
    some(&mut loops, "loops");
    parts.append(&mut loops);
    if parts.is_empty() { "there is nothing to fill".to_owned() } else { parts.join("; ") }
}

/// Cuts a list to what can be named.
fn some(things: &mut Vec<String>, what: &str) {
    if things.len() > MOST_NAMED {
        let more = things.len() - (MOST_NAMED - 1);
        things.truncate(MOST_NAMED - 1);
        things.push(format!("{more} more {what}"));
    }
}
