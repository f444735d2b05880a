//! Pictures: one file or folder each, on a transparent ground, legible over a dark and over a light scene.

mod axis;
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
use canvas::{Anchor, Canvas, fit, width, wrap};

/// A sheet of 800 × 600 with its title, the mark of the verdict and the line; and where the room below begins.
fn head(title: &str, say: &str, verdict: Verdict) -> (Canvas, f64) {
    sheet(600, title, say, verdict, 740.0)
}

/// As [`head`], so high, with room for so wide a title.
fn sheet(height: u32, title: &str, say: &str, verdict: Verdict, room: f64) -> (Canvas, f64) {
    let mut canvas = Canvas::new(800, height, title, say);
    let said = wrap(say, 12.0, 776.0, MOST_LINES);
    canvas.plate(4.0, 8.0, 792.0, head_end(&said) - 14.0);
    canvas.verdict(21.0, 24.0, verdict);
    // Letters are drawn narrower than they are reckoned.
    let size = [16.0, 14.5, 13.0].into_iter().find(|&size| width(title, size) <= room).unwrap_or(13.0);
    canvas.bold(40.0, 30.0, size, Anchor::Start, &fit(title, size * 1.06, room));
    for (at, line) in said.iter().enumerate() {
        canvas.text(12.0, 50.0 + 15.0 * at as f64, 12.0, Anchor::Start, line);
    }
    (canvas, head_end(&said))
}

/// The most lines of what is said under the title.
const MOST_LINES: usize = 3;

/// Where the room below the head of a sheet begins that says this.
fn room_below(say: &str) -> f64 {
    head_end(&wrap(say, 12.0, 776.0, MOST_LINES))
}

fn head_end(said: &[String]) -> f64 {
    48.0 + 15.0 * said.len() as f64
}
