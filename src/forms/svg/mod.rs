//! Pictures: one file or folder each, on a transparent ground, legible over a dark and over a light scene.

mod canvas;
pub mod compare;
mod curve;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;
pub mod seek;
pub mod sum;
pub mod sweep;
pub mod whole_plan;

use crate::questions::answer::Verdict;
use canvas::{Anchor, Canvas, fit, wrap};

/// A sheet of 800 × 600 with its title, the mark of the verdict and the line; and where the room below begins.
fn head(title: &str, say: &str, verdict: Verdict) -> (Canvas, f64) {
    let mut canvas = Canvas::new(800, 600, title, say);
    let said = wrap(say, 12.0, 776.0, 3);
    let high = 34.0 + 15.0 * said.len() as f64;
    canvas.plate(4.0, 8.0, 792.0, high);
    canvas.verdict(21.0, 24.0, verdict);
    canvas.bold(40.0, 30.0, 16.0, Anchor::Start, &fit(title, 18.0, 740.0));
    for (at, line) in said.iter().enumerate() {
        canvas.text(12.0, 50.0 + 15.0 * at as f64, 12.0, Anchor::Start, line);
    }
    (canvas, 14.0 + high)
}
