//! A sweep as a picture: a curve for each of the first figures over the values, and how each value turns out below.

use super::canvas::{Anchor, BANDS, Canvas};
use super::curve::{Stretch, Turns, curve, dot, grid, joined, labels, shares, strip};
use super::head;
use super::letters::{bold, fit};
use crate::plan::Pointer;
use crate::questions::answer::{Verdict, figure_name, figure_text};
use crate::questions::sweep::SweepAnswer;

/// Figures that are drawn; the rest is counted.
const MOST_PANELS: usize = 3;
/// Values up to which each point is marked.
const MOST_DOTS: usize = 40;
const LEFT: f64 = 96.0;
const RIGHT: f64 = 776.0;
const BOTTOM: f64 = 516.0;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &SweepAnswer) -> Canvas {
    let (mut canvas, top) = head(answer);
    // What is no number stands in its order.
    let numbers: Vec<f64> = if answer.figures.axis.numbers.len() == answer.figures.rows.len() {
        answer.figures.axis.numbers.clone()
    } else {
        (0..answer.figures.rows.len()).map(|index| index as f64 + 1.0).collect()
    };
    let Some(across) = Stretch::of(numbers.iter().copied(), LEFT, RIGHT) else { return canvas };
    let places: Vec<f64> = numbers.iter().map(|number| across.place(*number)).collect();
    let drawn: Vec<(&String, Pointer)> = answer
        .figures
        .read
        .iter()
        .filter(|at| {
            answer.figures.rows.iter().any(|row| row.figures.get(*at).is_some_and(serde_json::Value::is_number))
        })
        .filter_map(|at| Some((at, Pointer::parse(at)?)))
        .collect();
    let shown = drawn.len().min(MOST_PANELS);
    canvas.plate(4.0, top, 792.0, 592.0 - top);
    let high = (BOTTOM - top) / shown.max(1) as f64;
    for (panel, (key, at)) in drawn.iter().take(MOST_PANELS).enumerate() {
        let above = top + high * panel as f64;
        let values: Vec<Option<f64>> =
            answer.figures.rows.iter().map(|row| row.figures.get(*key).and_then(serde_json::Value::as_f64)).collect();
        let Some(up) = Stretch::of(values.iter().flatten().copied(), above + high - 14.0, above + 30.0) else {
            continue;
        };
        canvas.bold(14.0, above + 18.0, 13.0, Anchor::Start, &fit(&figure_name(at), bold(13.0), 740.0));
        grid(&mut canvas, &up, LEFT, RIGHT, (high / 36.0).max(2.0), |mark| fit(&figure_text(at, mark), 10.0, 84.0));
        let mut points: Vec<(f64, Option<f64>)> =
            places.iter().zip(&values).map(|(x, value)| (*x, value.map(|value| up.place(value)))).collect();
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        let points: Vec<Option<(f64, f64)>> = points.into_iter().map(|(x, y)| Some((x, y?))).collect();
        let colour = BANDS[panel % BANDS.len()];
        curve(&mut canvas, &points, colour);
        if points.len() <= MOST_DOTS {
            points.iter().flatten().for_each(|(x, y)| dot(&mut canvas, *x, *y, colour));
        }
    }
    if drawn.len() > MOST_PANELS {
        let more = format!("{} more figures in the table", drawn.len() - MOST_PANELS);
        canvas.text(RIGHT, top + 18.0, 11.0, Anchor::End, &more);
    }
    let parts = shares(&places, LEFT - 10.0, RIGHT + 10.0).into_iter().zip(&answer.figures.rows);
    strip(
        &mut canvas,
        BOTTOM + 6.0,
        20.0,
        &joined(parts.map(|((from, to), row)| (from, to, turns(row.verdict))).collect()),
    );
    labels(&mut canvas, &across, BOTTOM + 46.0, answer.figures.unit.as_deref().unwrap_or(""));
    canvas.bold(400.0, BOTTOM + 66.0, 12.0, Anchor::Middle, &fit(&answer.figures.at, bold(12.0), 760.0));
    canvas
}

fn turns(verdict: Option<Verdict>) -> Turns {
    match verdict {
        Some(Verdict::Holds) => Turns::Well,
        Some(Verdict::HoldsWithCautions) => Turns::Warily,
        Some(Verdict::Fails) => Turns::Badly,
        None => Turns::Unknown,
    }
}
