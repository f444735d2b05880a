//! A search as a picture: with which values the condition holds, the figure it is about, and the value that was found.

use super::canvas::{Anchor, BANDS, Canvas, GROUND, INK};
use super::curve::{Stretch, Turns, curve, dot, grid, joined, labels, shares, strip};
use super::head;
use super::letters::{bold, fit, width};
use crate::questions::answer::{figure_name, figure_text};
use crate::questions::seek::SeekAnswer;

const LEFT: f64 = 96.0;
const RIGHT: f64 = 776.0;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &SeekAnswer) -> Canvas {
    let (mut canvas, top) = head(answer);
    let numbers = answer.figures.samples.iter().map(|sample| sample.number);
    let Some(across) = Stretch::of(numbers, LEFT, RIGHT) else { return canvas };
    let figures = answer.figures.samples.iter().filter_map(|sample| sample.figure);
    // Without a figure there is no curve, and the strip follows at once.
    let curved = answer.figures.figure.as_ref().filter(|_| figures.clone().next().is_some());
    let bottom = if curved.is_some() { 516.0 } else { top + 44.0 };
    canvas.plate(4.0, top, 792.0, bottom + 76.0 - top);
    let places: Vec<f64> = answer.figures.samples.iter().map(|sample| across.place(sample.number)).collect();
    if let (Some(at), Some(up)) = (curved, Stretch::of(figures, bottom - 14.0, top + 30.0)) {
        canvas.bold(14.0, top + 18.0, 13.0, Anchor::Start, &fit(&figure_name(at), bold(13.0), 740.0));
        grid(&mut canvas, &up, LEFT, RIGHT, 6.0, |mark| fit(&figure_text(at, mark), 10.0, 84.0));
        let points: Vec<Option<(f64, f64)>> = places
            .iter()
            .zip(&answer.figures.samples)
            .map(|(x, sample)| sample.figure.map(|figure| (*x, up.place(figure))))
            .collect();
        curve(&mut canvas, &points, BANDS[0]);
        points.iter().flatten().for_each(|(x, y)| dot(&mut canvas, *x, *y, BANDS[0]));
    }
    let turns = |holds: bool| if holds { Turns::Well } else { Turns::Badly };
    let parts = shares(&places, LEFT - 10.0, RIGHT + 10.0).into_iter().zip(&answer.figures.samples);
    strip(
        &mut canvas,
        bottom + 6.0,
        20.0,
        &joined(parts.map(|((from, to), sample)| (from, to, turns(sample.holds))).collect()),
    );
    if let Some(found) = &answer.figures.found {
        let x = across.place(found.number);
        canvas.rect(x - 2.0, top + 34.0, 4.0, bottom - top - 4.0, &format!("fill=\"{INK}\" stroke=\"{GROUND}\""));
        let text = found.value.as_str().map_or_else(|| found.value.to_string(), str::to_owned);
        let half = width(&text, bold(16.0)) / 2.0 + 8.0;
        canvas.bold(x.clamp(half, 800.0 - half), top + 30.0, 16.0, Anchor::Middle, &text);
    }
    labels(&mut canvas, &across, bottom + 46.0, answer.figures.unit.as_deref().unwrap_or(""));
    canvas.bold(400.0, bottom + 66.0, 12.0, Anchor::Middle, &fit(&answer.figures.at, bold(12.0), 760.0));
    canvas
}
