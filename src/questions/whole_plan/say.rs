//! The answer in one line: the first thing that goes wrong; or that all holds, and what comes nearest to its limit.

use super::found::PlanFinding;
use super::{PlanFigures, WholePlan};
use crate::plan::Plan;
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{LINE_BYTES, Verdict, Weight, one_line, span};
use crate::questions::flow_balance::FlowBalance;

/// The line.
pub(super) fn say(plan: &Plan, answer: &WholePlan) -> String {
    let first = answer.findings.iter().find(|finding| finding.told.weight > Weight::Note);
    let text = match (answer.verdict, first) {
        (Verdict::Fails, Some(first)) => {
            let failures = answer.findings.iter().filter(|finding| finding.told.weight == Weight::Failure).count();
            let more = match failures {
                0 | 1 => String::new(),
                2 => " And 1 more failure.".to_owned(),
                more => format!(" And {} more failures.", more - 1),
            };
            format!("Fails: {}{}{}.{more}", first.told.say, when(plan, first), remedy(first)).replace("?; ", "? ")
        }
        (Verdict::HoldsWithCautions, Some(first)) => {
            let cautions = answer.findings.iter().filter(|finding| finding.told.weight == Weight::Caution).count();
            let heads = if cautions == 1 { "1 caution".to_owned() } else { format!("{cautions} cautions, first") };
            format!("Holds: {}. With {heads}: {}.", summary(plan, &answer.figures), first.told.say)
        }
        _ => format!("Holds: {}.", summary(plan, &answer.figures)),
    };
    one_line(&text, LINE_BYTES)
}

/// When it first shows, where what is said of it is said of steady state.
fn when(plan: &Plan, finding: &PlanFinding) -> String {
    let steady = finding.question == FlowBalance::QUESTION;
    match finding.told.first_s.filter(|_| steady) {
        Some(first) if first > 0.0 => format!(", first after {}", span(first, plan.day)),
        _ => String::new(),
    }
}

/// What would mend it; what was tried out and does not do is not advised.
fn remedy(finding: &PlanFinding) -> String {
    match &finding.told.remedy {
        Some(remedy) if remedy.trial.verified != Some(false) => format!("; {}", remedy.told.say),
        _ => String::new(),
    }
}

/// "38 machines of 12 types, 4 coolers, 6 lines; 42 kW net; nothing is short in 50 day; tightest: sump falls to 96 kg (12 %)".
fn summary(plan: &Plan, whole: &PlanFigures) -> String {
    let figures = &whole.key_figures;
    let counted = |count: u64, one: &str| {
        let plural = if count == 1 { "" } else { "s" };
        format!("{count} {one}{plural}")
    };
    let machines =
        format!("{} of {}", counted(figures.units_count, "machine"), counted(figures.unit_types_count, "type"));
    let mut built = vec![if figures.units_count == 0 { "no machine runs".to_owned() } else { machines }];
    let others =
        [(figures.coolers_count, "cooler"), (figures.turbines_count, "turbine"), (figures.lines_count, "line")];
    built.extend(others.into_iter().filter_map(|(count, one)| Some(counted(count.filter(|&count| count > 0)?, one))));
    let mut parts = vec![built.join(", ")];
    if let Some(net) = figures.net_power_w {
        let sign = if net < 0.0 { "−" } else { "" };
        parts.push(format!("{sign}{} net", print_si::<dimension::Power>(net.abs())));
    }
    if let Some(fill) = whole.fill.as_ref().filter(|fill| !fill.demands.is_empty()) {
        parts.push(format!("nothing is short in {}", span(fill.reached_s, plan.day)));
    }
    if let Some(tightest) = &whole.tightest {
        parts.push(format!("tightest: {}", tightest.say));
    }
    parts.join("; ")
}
