//! A comparison in words.

use std::fmt::Write as _;

use serde_json::Value;

use super::rank::Reason;
use super::{CompareAnswer, CompareFigures, Reply, Row, Unanswered, rank};
use crate::plan::Pointer;
use crate::questions::answer::{LINE_BYTES, Name, Verdict, figure_name, figure_text, one_line, quoted, short};

/// Variants that a sentence about one figure names.
const MOST_NAMED: usize = 6;

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::HoldsWithCautions => "holds with cautions",
        Verdict::Fails => "fails",
    }
}

/// A figure as people read it; `null` is never.
pub(super) fn figure_value(at: &Pointer, value: &Value) -> String {
    match value {
        Value::Null => "never".to_owned(),
        Value::String(text) => short(text).into_owned(),
        other => other.as_f64().map_or_else(|| other.to_string(), |number| figure_text(at, number)),
    }
}

fn number_text(at: &Pointer, number: f64) -> String {
    if number.is_finite() { figure_text(at, number) } else { "never".to_owned() }
}

/// Why one comes before another.
pub(super) fn why(
    reason: &Reason<'_>,
    other: &str,
    index: usize,
    next: usize,
    replies: &[Result<Reply, Unanswered>],
) -> String {
    let other = quoted(other);
    let of = |index: usize| replies.get(index).and_then(|reply| reply.as_ref().ok());
    match reason {
        Reason::Verdict => match (of(index), of(next)) {
            (Some(one), Some(next)) => format!("{}, where {other} {}", verdict(one.verdict), verdict(next.verdict)),
            _ => format!("better than {other}"),
        },
        Reason::Failures(fewer) => format!("{fewer} fewer failures than {other}"),
        Reason::Cautions(fewer) => format!("{fewer} fewer cautions than {other}"),
        Reason::Figure(row) => match (row.number(index), row.number(next)) {
            (Some(one), Some(next)) => {
                let (name, one, next) = (figure_name(&row.at), number_text(&row.at, one), number_text(&row.at, next));
                format!("{} {one}, and {next} of {other}", short(&name))
            }
            _ => format!("better than {other}"),
        },
    }
}

/// What a figure comes to in each variant.
pub(super) fn figure(row: &Row, names: &[Name]) -> String {
    let values: Vec<(usize, String)> = (0..names.len())
        .filter_map(|index| Some((index, figure_value(&row.at, row.values[index].as_ref()?))))
        .collect();
    let name = figure_name(&row.at);
    let name = short(&name);
    let Some((_, first)) = values.first() else { return format!("{name}: in no answer") };
    let best = rank::best(row);
    if best.is_empty() && values.len() == names.len() && values.iter().all(|(_, value)| value == first) {
        return format!("{name}: {first} in all");
    }
    let mut parts: Vec<String> = values
        .iter()
        .take(MOST_NAMED)
        .map(|(index, value)| {
            let mark = if best.contains(index) { " (best)" } else { "" };
            format!("{value} {}{mark}", of(&names[*index]))
        })
        .collect();
    if values.len() > MOST_NAMED {
        parts.push(format!("and {} more", values.len() - MOST_NAMED));
    }
    format!("{name}: {}", parts.join(", "))
}

fn of(name: &str) -> String {
    if name == crate::plan::inquiry::Compare::AS_IT_IS { name.to_owned() } else { format!("with {}", quoted(name)) }
}

/// Why each is better than the next, and what each figure comes to.
pub(super) fn working(compare: &CompareFigures) -> Vec<String> {
    let mut lines: Vec<String> = compare
        .order
        .iter()
        .map(|placed| {
            let why = placed.why.as_ref().map_or(String::new(), |why| format!(": {why}"));
            format!("{}. {}{why}", placed.place, short(&placed.name))
        })
        .collect();
    lines.extend(compare.compared.values().map(|figure| figure.say.clone()));
    lines
}

/// The one line.
pub(super) fn say(answer: &CompareAnswer) -> String {
    let firsts = answer.figures.order.iter().filter(|placed| placed.place == 1).count();
    let unanswered = answer.figures.variants.iter().filter(|(_, variant)| variant.unanswered.is_some()).count();
    let all_alike = answer.figures.order.len() > 1 && firsts == answer.figures.order.len();
    let mut text = match (answer.figures.order.first(), &answer.figures.why) {
        _ if all_alike => {
            format!("All {firsts} are alike in what is compared: each {}.", verdict(answer.verdict))
        }
        (Some(first), why) => {
            let alike = if firsts > 1 { format!(" and {} alike", firsts - 1) } else { String::new() };
            let why = why.as_ref().map_or(String::new(), |why| format!(": {why}"));
            format!("Best is {}{alike}{why}.", short(&first.name))
        }
        (None, _) => String::new(),
    };
    if unanswered > 0 {
        let _ = write!(text, " {unanswered} without an answer.");
    }
    if let Some(best) = answer.figures.variants.get(&answer.figures.best).and_then(|best| best.say.as_ref()) {
        let _ = write!(text, " {best}");
    }
    one_line(&text, LINE_BYTES)
}
