//! A search in words.

use std::fmt::Write as _;

use super::{HoldsWhere, SeekFigures, is_smallest};
use crate::plan::inquiry::{Seek, Want};
use crate::questions::answer::{LINE_BYTES, figure_name, figure_text, one_line, quoted};

/// Parts of the range that are named.
const MOST_PARTS: usize = 4;

/// What shall hold, as the end of a sentence about a value.
pub(super) fn want(seek: &Seek) -> String {
    match &seek.want {
        Want::Holds { with_cautions: false } => "the plan holds".to_owned(),
        Want::Holds { with_cautions: true } => "the plan holds, cautions allowed".to_owned(),
        Want::Absent(code) => format!("nothing is {}", quoted(code)),
        Want::Figure { at, at_least, at_most } => {
            let text = |number: &f64| figure_text(at, *number);
            let bounds = match (at_least.as_ref().map(text), at_most.as_ref().map(text)) {
                (Some(least), Some(most)) => format!("{least} to {most}"),
                (Some(least), None) => format!("{least} or more"),
                (None, Some(most)) => format!("{most} or less"),
                (None, None) => "anything".to_owned(),
            };
            format!("{} is {bounds}", quoted(&figure_name(at)))
        }
    }
}

/// The parts of the range in which it holds.
pub(super) fn parts(seek: &Seek, figures: &SeekFigures) -> String {
    let scale = &seek.span.scale;
    let text = |part: &super::HoldsFromTo| format!("from {} to {}", scale.text(part.from), scale.text(part.to));
    let mut parts: Vec<String> = figures.ranges.iter().take(MOST_PARTS).map(text).collect();
    if figures.ranges.len() > MOST_PARTS {
        parts.push(format!("in {} more parts", figures.ranges.len() - MOST_PARTS));
    }
    parts.join(", ")
}

/// The search step by step.
pub(super) fn working(seek: &Seek, figures: &SeekFigures, whole: bool) -> Vec<String> {
    let scale = &seek.span.scale;
    let holding = figures.samples.iter().filter(|sample| sample.holds).count();
    let mut lines = vec![format!(
        "{} values from {} to {}: with {holding} of them {}",
        figures.samples.len(),
        scale.text(seek.span.from),
        scale.text(seek.span.to),
        want(seek)
    )];
    if figures.samples.len() > 1 {
        let apart = scale.text(figures.sampled_every);
        lines.push(if whole && figures.sampled_every <= 1.0 {
            "they are all there are".to_owned()
        } else {
            format!("they are {apart} apart: what turns and turns back within that is not seen")
        });
    }
    if !figures.ranges.is_empty() {
        lines.push(format!("it holds {}", parts(seek, figures)));
    }
    if let (Some(found), Some(fails)) = (&figures.found, figures.fails_at) {
        lines.push(format!(
            "{} more plans between two of them: it holds with {} and not with {}",
            figures.tried - figures.samples.len(),
            scale.text(found.number),
            scale.text(fails)
        ));
    }
    lines
}

/// The one line.
pub(super) fn say(seek: &Seek, figures: &SeekFigures) -> String {
    let scale = &seek.span.scale;
    let which = if is_smallest(seek) { "smallest" } else { "largest" };
    let Some(found) = &figures.found else {
        let range = format!("from {} to {}", scale.text(seek.span.from), scale.text(seek.span.to));
        let text = format!("With no value of {} {range} that was tried {}.", quoted(&figures.at), want(seek));
        return one_line(&text, LINE_BYTES);
    };
    let mut text =
        format!("{}: the {which} {} with which {}", scale.text(found.number), quoted(&figures.at), want(seek));
    match figures.holds {
        HoldsWhere::Everywhere => text.push_str(", as it does with every value that was tried"),
        HoldsWhere::Several => {
            let _ = write!(text, "; it is not monotone: it holds {}", parts(seek, figures));
        }
        HoldsWhere::Above | HoldsWhere::Below => match figures.fails_at {
            Some(fails) => {
                let _ = write!(text, ", and not with {}", scale.text(fails));
            }
            None => text.push_str(", the end of the range"),
        },
        HoldsWhere::Nowhere => {}
    }
    let _ = write!(text, ". {}", found.say);
    one_line(&text, LINE_BYTES)
}
