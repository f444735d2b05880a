//! A comparison as a table: a column for each variant, a row for each figure, the best of each row marked.

use super::canvas::{Anchor, Canvas, GROUND, INK};
use super::letters::{bold, fit, width};
use super::{SHEET, TITLE, head, sheet};
use crate::plan::Pointer;
use crate::questions::answer::{Verdict, figure_name};
use crate::questions::compare::{CompareAnswer, CompareFigures, shown_figure};

/// Variants and figures that are drawn; the rest is counted.
const MOST_COLUMNS: usize = 6;
const MOST_ROWS: usize = 16;
const LEFT: f64 = 14.0;
const NAMES: f64 = 206.0;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &CompareAnswer) -> Canvas {
    let (mut canvas, top) = head(answer);
    let rows_high = 30.0 * answer.figures.compared.len() as f64;
    canvas.plate(4.0, top, 792.0, (96.0 + rows_high).min(592.0 - top));
    let columns = answer.figures.variants.len().min(MOST_COLUMNS);
    let wide = (786.0 - LEFT - NAMES) / columns.max(1) as f64;
    let right = |column: usize| LEFT + NAMES + wide * (column as f64 + 1.0) - 6.0;
    for (column, (name, variant)) in answer.figures.variants.iter().take(columns).enumerate() {
        let mark = right(column) - 9.0;
        match variant.verdict {
            Some(verdict) => canvas.verdict(mark, top + 18.0, verdict),
            None => canvas.text(right(column), top + 23.0, 11.0, Anchor::End, "no answer"),
        }
        if *name == answer.figures.best {
            canvas.rect(
                right(column) - wide + 8.0,
                top + 32.0,
                wide - 4.0,
                22.0,
                &format!("rx=\"4\" fill=\"none\" stroke=\"{INK}\""),
            );
            canvas.bold(right(column), top + 48.0, 13.0, Anchor::End, &fit(name, bold(13.0), wide - 12.0));
        } else {
            canvas.text(right(column), top + 48.0, 13.0, Anchor::End, &fit(name, 13.0, wide - 12.0));
        }
    }
    rows(&mut canvas, &answer.figures, top + 62.0, columns, right);
    let (more_columns, more_rows) =
        (answer.figures.variants.len() - columns, answer.figures.compared.len().saturating_sub(MOST_ROWS));
    if more_columns + more_rows > 0 {
        let more = [(more_columns, "variants"), (more_rows, "figures")];
        let more: Vec<String> =
            more.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} more {what}")).collect();
        let text = format!("{} in the answer", more.join(", "));
        canvas.text(LEFT, 586.0, 11.0, Anchor::Start, &text);
    }
    canvas
}

fn rows(canvas: &mut Canvas, compare: &CompareFigures, top: f64, columns: usize, right: impl Fn(usize) -> f64) {
    let rows = compare.compared.len().min(MOST_ROWS);
    let high = ((572.0 - top) / rows.max(1) as f64).min(30.0);
    // A mark of the best has room before the text.
    let room = right(0) - LEFT - NAMES - 16.0;
    for (row, (at, figure)) in compare.compared.iter().take(MOST_ROWS).enumerate() {
        let Some(at) = Pointer::parse(at) else { continue };
        let y = top + high * row as f64;
        canvas.rect(LEFT, y, 772.0, 0.6, &format!("fill=\"{INK}\" fill-opacity=\"0.4\""));
        let base = y + high / 2.0 + 4.5;
        canvas.text(LEFT, base, 12.0, Anchor::Start, &fit(&figure_name(&at), 12.0, NAMES - 8.0));
        for (column, (name, _)) in compare.variants.iter().take(columns).enumerate() {
            let Some(value) = figure.values.get(name) else { continue };
            let text = shown_figure(&at, value);
            if figure.best.contains(name) {
                // A disc besides the weight of the letters, which small text does not show well.
                let disc = format!("rx=\"3\" fill=\"#009e73\" stroke=\"{GROUND}\"");
                let text = fit(&text, bold(12.0), room);
                canvas.rect(right(column) - width(&text, bold(12.0)) - 12.0, base - 7.0, 6.0, 6.0, &disc);
                canvas.bold(right(column), base, 12.0, Anchor::End, &text);
            } else {
                canvas.text(right(column), base, 12.0, Anchor::End, &fit(&text, 12.0, room));
            }
        }
    }
}

/// Lines of a batch that are drawn; the rest is counted.
const MOST_LINES: usize = 22;

/// The questions of a batch, each with its verdict and its line: the picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn batch(title: &str, say: &str, verdict: Verdict, lines: &[(Option<Verdict>, &str)]) -> Canvas {
    let (mut canvas, top) = sheet(SHEET, title, say, verdict, TITLE);
    canvas.plate(4.0, top, 792.0, (16.0 + 26.0 * lines.len() as f64).min(592.0 - top));
    let high = ((580.0 - top) / lines.len().clamp(1, MOST_LINES + 1) as f64).min(26.0);
    for (index, (verdict, line)) in lines.iter().take(MOST_LINES).enumerate() {
        let y = top + 8.0 + high * (index as f64 + 0.5);
        if let Some(verdict) = verdict {
            canvas.verdict(54.0, y, *verdict);
        }
        canvas.text(34.0, y + 4.5, 12.0, Anchor::End, &index.to_string());
        canvas.text(72.0, y + 4.5, 12.0, Anchor::Start, &fit(line, 12.0, 712.0));
    }
    if lines.len() > MOST_LINES {
        let text = format!("{} more questions", lines.len() - MOST_LINES);
        canvas.text(72.0, 586.0, 11.0, Anchor::Start, &text);
    }
    canvas
}
