//! Pictures: one file or folder each, on a transparent ground, legible over a dark and over a light scene.

mod axis;
pub mod canvas;
pub mod card;
pub mod compare;
mod curve;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;
mod letters;
pub mod seek;
mod spans;
pub mod sum;
pub mod sweep;
pub mod whole_plan;

use super::Picture;
use crate::questions::answer::{Answer, Figures, Verdict};
use canvas::{Anchor, Canvas};
use card::Card;
use letters::{bold, fit_words, width, wrap};

/// What was asked for, of a sheet and a card.
pub fn shown(picture: Picture, sheet: impl FnOnce() -> Canvas, card: &Card<'_>) -> String {
    match picture {
        Picture::ByWidth => {
            let sheet = sheet();
            let card = card.on(&sheet);
            sheet.finish_with(&card, card::MOST_WIDE)
        }
        Picture::Sheet => sheet().finish(),
        Picture::Card => card.draw().finish(),
    }
}

/// The questions of a batch, each with its verdict and its line.
#[must_use]
pub fn list(title: &str, say: &str, verdict: Verdict, lines: &[(Option<Verdict>, &str)], picture: Picture) -> String {
    let card = Card::new(title, title, say, verdict, card::list(lines));
    shown(picture, || compare::batch(title, say, verdict, lines), &card)
}

/// The height of a sheet.
const SHEET: u32 = 600;
/// The room for a title across the sheet.
const TITLE: f64 = 740.0;

/// A sheet of 800 × 600 with the head of an answer; and where the room below begins.
fn head<F: Figures>(answer: &Answer<F>) -> (Canvas, f64) {
    sheet(SHEET, title(answer), &answer.say, answer.verdict, TITLE)
}

/// What an answer is called: what its author calls the plan, or the question.
fn title<F: Figures>(answer: &Answer<F>) -> &str {
    answer.title.as_deref().unwrap_or(F::TITLE)
}

/// A sheet so high with its title, for which there is so much room, the mark of the verdict and the line; and where the room
/// below begins.
fn sheet(height: u32, title: &str, say: &str, verdict: Verdict, room: f64) -> (Canvas, f64) {
    let mut canvas = Canvas::new(800, height, title, say);
    let said = wrap(say, 12.0, 776.0, MOST_LINES);
    canvas.plate(4.0, 8.0, 792.0, head_end(&said) - 14.0);
    canvas.verdict(21.0, 24.0, verdict);
    // A title is told smaller before it is cut.
    let size = [16.0, 14.5, 13.0, 12.0].into_iter().find(|&size| width(title, bold(size)) <= room).unwrap_or(12.0);
    canvas.bold(40.0, 30.0, size, Anchor::Start, &fit_words(title, bold(size), room));
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
