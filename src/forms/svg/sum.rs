//! A single sum as a picture: the line, the working, the figures.

use super::canvas::{Anchor, Canvas};
use super::letters::{bold, fit, fit_words, width, wrap};
use crate::plan::{Pointer, pointer};
use crate::quantity::{Time, dimension, number, print_si};
use crate::questions::answer::{figure_name, figure_text, span};
use crate::sums::{self, SumAnswer};

const WIDTH: u32 = 800;
const HEIGHT: u32 = 600;
/// The most findings, lines of working and figures that are shown; no sum has as many.
const MOST_FINDINGS: usize = 3;
const MOST_LINES: usize = 10;
const MOST_FIGURES: usize = 16;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &SumAnswer) -> Canvas {
    let name = answer.question.trim_start_matches("sums/");
    let title = sums::find(name).map_or(name, |sum| sum.title);
    let mut canvas = Canvas::new(WIDTH, HEIGHT, title, &answer.say);
    let said = wrap(&answer.say, 18.0, 768.0, 4);
    let findings = answer.findings.iter().take(MOST_FINDINGS);
    let findings: Vec<String> = findings.flat_map(|finding| wrap(&finding.say, 14.0, 740.0, 2)).collect();
    let working = &answer.working[..answer.working.len().min(MOST_LINES)];
    let figures: Vec<(String, String)> = figures(answer).take(MOST_FIGURES).collect();
    let rows = figures.len().div_ceil(2);
    let heights = [(said.len(), 24.0), (findings.len(), 19.0), (working.len(), 22.0), (rows, 22.0)];
    let all: f64 = heights.iter().map(|&(lines, height)| height * lines as f64).sum();
    canvas.plate(4.0, 8.0, 792.0, (all + 92.0).min(584.0));
    canvas.verdict(25.0, 34.0, answer.verdict);
    canvas.bold(48.0, 42.0, 22.0, Anchor::Start, &fit_words(title, bold(22.0), 730.0));
    let mut y = 78.0;
    for line in &said {
        canvas.text(16.0, y, 18.0, Anchor::Start, line);
        y += 24.0;
    }
    for line in &findings {
        canvas.text(32.0, y, 14.0, Anchor::Start, line);
        y += 19.0;
    }
    y += 6.0;
    for line in working {
        canvas.text(32.0, y, 16.0, Anchor::Start, &fit(line, 16.0, 752.0));
        y += 22.0;
    }
    y += 8.0;
    // Two columns: name to the left, figure to the right, and the name in what room the figure leaves.
    for (at, (name, value)) in figures.iter().enumerate() {
        let left = if at < rows { 32.0 } else { 416.0 };
        let row = y + 22.0 * (at % rows) as f64;
        let value = fit(value, bold(14.0), 200.0);
        canvas.text(left, row, 14.0, Anchor::Start, &fit(name, 14.0, 345.0 - width(&value, bold(14.0))));
        canvas.bold(left + 350.0, row, 14.0, Anchor::End, &value);
    }
    canvas
}

/// The figures as people read them: "capacity" of "2.7 kg/s".
pub(super) fn figures(answer: &SumAnswer) -> impl Iterator<Item = (String, String)> + '_ {
    let told = |name: &str, value: f64| {
        let at = Pointer::parse(&pointer(&[name]));
        at.map_or_else(
            || (name.to_owned(), number(value).to_string()),
            |at| (figure_name(&at), figure_text(&at, value)),
        )
    };
    let names: Vec<String> = answer.figures.iter().map(|(name, value)| told(name, value).0).collect();
    answer.figures.iter().enumerate().map(move |(at, (name, value))| {
        let (mut plain, text) = told(name, value);
        // A share is told from the amount of which it is one.
        if name.ends_with("_share") && names.iter().enumerate().any(|(other, name)| other != at && *name == plain) {
            plain.push_str(" share");
        }
        // A time in its two greatest parts. How long a local day is stands in no figure, so there are no days.
        let time = text == print_si::<dimension::Time>(value).to_string();
        (plain, if time { span(value, Time::ZERO) } else { text })
    })
}
