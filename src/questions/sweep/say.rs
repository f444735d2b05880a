//! A sweep in words.

use std::fmt::Write as _;

use serde_json::Value;

use super::{SweepFigures, SweepRow};
use crate::plan::Pointer;
use crate::questions::answer::{LINE_BYTES, Verdict, figure_name, figure_text, one_line, quoted, short};

/// Stretches of one verdict that the line names.
const MOST_STRETCHES: usize = 4;
/// Figures that the line names.
const MOST_FIGURES: usize = 3;

/// A value as people read it.
pub(in crate::questions) fn value(value: &Value) -> String {
    match value {
        Value::String(text) => short(text).into_owned(),
        other => short(&other.to_string()).into_owned(),
    }
}

fn verdict(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Holds) => "holds",
        Some(Verdict::HoldsWithCautions) => "holds with cautions",
        Some(Verdict::Fails) => "fails",
        None => "no answer",
    }
}

/// Rows next to one another with one verdict.
fn stretches(rows: &[SweepRow]) -> Vec<&[SweepRow]> {
    rows.chunk_by(|one, next| one.verdict == next.verdict).collect()
}

fn stretch(rows: &[SweepRow]) -> String {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return String::new() };
    let says = verdict(first.verdict);
    if rows.len() == 1 {
        format!("{says} at {}", value(&first.value))
    } else {
        format!("{says} from {} to {}", value(&first.value), value(&last.value))
    }
}

/// The least and the greatest of a figure with the values that give them.
fn extremes<'r>(rows: &'r [SweepRow], at: &str) -> Option<[(f64, &'r Value); 2]> {
    let mut numbers = rows.iter().filter_map(|row| Some((row.figures.get(at)?.as_f64()?, &row.value)));
    let first = numbers.next()?;
    Some(numbers.fold([first, first], |[least, most], next| {
        [if next.0 < least.0 { next } else { least }, if next.0 > most.0 { next } else { most }]
    }))
}

/// For each stretch of one verdict and for each figure a line.
pub(super) fn working(sweep: &SweepFigures) -> Vec<String> {
    let mut lines: Vec<String> = stretches(&sweep.rows).into_iter().map(stretch).collect();
    for at in &sweep.read {
        let (Some([least, most]), Some(pointer)) = (extremes(&sweep.rows, at), Pointer::parse(at)) else { continue };
        lines.push(format!(
            "{}: least {} at {}, greatest {} at {}",
            figure_name(&pointer),
            figure_text(&pointer, least.0),
            value(least.1),
            figure_text(&pointer, most.0),
            value(most.1)
        ));
    }
    lines
}

/// The one line.
pub(super) fn say(sweep: &SweepFigures) -> String {
    let all = stretches(&sweep.rows);
    let mut parts: Vec<String> = all.iter().take(MOST_STRETCHES).map(|rows| stretch(rows)).collect();
    if all.len() > MOST_STRETCHES {
        parts.push(format!("{} more changes", all.len() - MOST_STRETCHES));
    }
    let mut text = format!("{} over {} values: {}", quoted(&sweep.at), sweep.rows.len(), parts.join(", "));
    let mut told = 0;
    for at in &sweep.read {
        let (Some([least, most]), Some(pointer)) = (extremes(&sweep.rows, at), Pointer::parse(at)) else { continue };
        // What stays the same is no news.
        if told < MOST_FIGURES && (most.0 - least.0).abs() > 1e-9 * most.0.abs().max(least.0.abs()) {
            let (least, most) = (figure_text(&pointer, least.0), figure_text(&pointer, most.0));
            let _ = write!(text, "; {} {least} to {most}", short(&figure_name(&pointer)));
            told += 1;
        }
    }
    text.push('.');
    one_line(&text, LINE_BYTES)
}
