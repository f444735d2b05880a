//! The card: an answer where there is little room. A sheet of 800 units that is shown 320 px wide has letters of 4 px; the card
//! has the mark of the verdict, the title, the line and the figures that tell most, in letters of at least 12 px there.

mod rows;
#[cfg(test)]
mod tests;

use std::borrow::Cow;

use super::canvas::{Anchor, Canvas, GROUND, INK, Path, WARN};
use super::letters::{bold, fit_words, width, wrap};
use super::title;
use crate::forms::Drawn;
use crate::quantity::number;
use crate::questions::answer::{Answer, Verdict};
use crate::sums::{self, SumAnswer};

pub use rows::{compare, fill_level, flow_balance, heat_budget, list, seek, sweep, whole_plan};

/// The width, in px, up to which the card is shown in place of the sheet: the smallest letters of a sheet have 7 px there.
pub const MOST_WIDE: u32 = 560;

/// The least size of letters: 12 px where the card is 320 px wide.
const LEAST: f64 = 30.0;
/// Of titles, the largest that puts it on one line, or else on two.
const TITLES: [f64; 4] = [38.0, 34.0, 31.0, LEAST];
const SAID: f64 = 32.0;
const VALUE: f64 = 34.0;
/// From one line to the next.
const TITLE_STEP: f64 = 43.0;
const SAID_STEP: f64 = 39.0;
const ROW: f64 = 48.0;
/// Between what is said and the rows.
const GAP: f64 = 12.0;
/// Where texts begin, beside the mark and below it, and where they end.
const BESIDE: f64 = 104.0;
const LEFT: f64 = 22.0;
const RIGHT: f64 = 780.0;
/// The least height of a card by itself: that of the cards in which links are shown, 1.91 times as wide as high.
const LOW: f64 = 419.0;
const HIGH: f64 = 600.0;
/// From the last baseline to the end of the plate.
const RIM: f64 = 28.0;
/// Rows that are kept room for before what is said is cut, and the most that are drawn.
const KEPT: usize = 4;
const MOST_ROWS: usize = 8;
/// The least that a value leaves to its name.
const LEAST_NAME: f64 = 200.0;

/// A figure that tells much.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What stands before it.
    mark: Option<Mark>,
    name: String,
    /// With its unit of measure; nothing where the name says it all.
    value: String,
}

/// A mark before a figure, told apart by its shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    /// Something is wrong there.
    Warns,
    /// How something turns out.
    Turns(Verdict),
}

impl Row {
    fn new(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { mark: None, name: name.into(), value: value.into() }
    }

    fn warning(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { mark: Some(Mark::Warns), ..Self::new(name, value) }
    }

    fn turning(verdict: Option<Verdict>, name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { mark: verdict.map(Mark::Turns), ..Self::new(name, value) }
    }
}

/// All that stands on a card.
pub struct Card<'a> {
    verdict: Verdict,
    /// What was asked and how it turns out, in words.
    asked: String,
    title: &'a str,
    say: Cow<'a, str>,
    rows: Vec<Row>,
}

/// The card of an answer to a question.
pub fn of<F: Drawn>(answer: &Answer<F>) -> Card<'_> {
    Card::new(F::TITLE, title(answer), &answer.say, answer.verdict, F::rows(answer))
}

/// The card of a sum.
pub fn of_sum(answer: &SumAnswer) -> Card<'_> {
    let name = answer.question.trim_start_matches("sums/");
    let title = sums::find(name).map_or(name, |sum| sum.title);
    // Sums that hold say nothing of it.
    let asked = if answer.verdict == Verdict::Holds { "" } else { word(answer.verdict) };
    Card {
        verdict: answer.verdict,
        asked: asked.to_owned(),
        title,
        say: (&answer.say).into(),
        rows: super::sum::figures(answer).map(|(name, text)| Row::new(name, text)).collect(),
    }
}

impl<'a> Card<'a> {
    /// What is said begins with how it turns out, which stands above the title already.
    pub fn new(question: &str, title: &'a str, say: &'a str, verdict: Verdict, rows: Vec<Row>) -> Self {
        let asked =
            if title == question { word(verdict).to_owned() } else { format!("{question}: {}", lower(verdict)) };
        let say = match say.strip_prefix("Holds: ").or_else(|| say.strip_prefix("Fails: ")) {
            Some(rest) => capital(rest).into(),
            None => say.into(),
        };
        Self { verdict, asked, title, say, rows }
    }

    /// The card by itself, as high as what stands on it.
    pub fn draw(&self) -> Canvas {
        let laid = self.lay(HIGH);
        self.drawn(&laid, laid.end.max(LOW))
    }

    /// The card on a sheet so high.
    pub fn on(&self, sheet: &Canvas) -> Canvas {
        self.drawn(&self.lay(sheet.height()), sheet.height())
    }

    fn lay(&self, high: f64) -> Laid {
        let broken = |size: f64| wrap(self.title, bold(size), RIGHT - BESIDE, 2);
        let whole_title = |size: &f64| !broken(*size).last().is_some_and(|line| line.ends_with('…'));
        let one_line = |size: &f64| width(self.title, bold(*size)) <= RIGHT - BESIDE;
        let size = TITLES.into_iter().find(one_line).or_else(|| TITLES.into_iter().find(whole_title)).unwrap_or(LEAST);
        let titles = broken(size);
        let above = if self.asked.is_empty() { 54.0 } else { 92.0 };
        let under = (above + TITLE_STEP * (titles.len().max(1) - 1) as f64).max(80.0) + 48.0;
        // The last baseline: below it stands nothing but the rim.
        let last = high - RIM - 4.0;
        let kept = self.rows.len().min(KEPT);
        let below = if kept == 0 { -SAID_STEP } else { GAP + ROW * (kept - 1) as f64 };
        let said = wrap(&self.say, SAID, RIGHT - LEFT, whole((last - under - below) / SAID_STEP).max(1));
        let first = under + SAID_STEP * said.len() as f64 + GAP;
        let shown = self.rows.len().min(MOST_ROWS).min(whole((last - first) / ROW + 1.0));
        let end = if shown == 0 { first - SAID_STEP - GAP } else { first + ROW * (shown - 1) as f64 } + RIM;
        Laid { size, titles, above, said, under, first, shown, end }
    }

    fn drawn(&self, laid: &Laid, high: f64) -> Canvas {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the height of a sheet
        let mut canvas = Canvas::new(800, high.ceil() as u32, self.title, &self.say);
        canvas.plate(4.0, 8.0, 792.0, laid.end - 8.0);
        canvas.large_verdict(58.0, 60.0, 3.4, self.verdict);
        if !self.asked.is_empty() {
            canvas.text(BESIDE, 47.0, LEAST, Anchor::Start, &fit_words(&self.asked, LEAST, RIGHT - BESIDE));
        }
        for (at, line) in laid.titles.iter().enumerate() {
            canvas.bold(BESIDE, laid.above + TITLE_STEP * at as f64, laid.size, Anchor::Start, line);
        }
        for (at, line) in laid.said.iter().enumerate() {
            canvas.text(LEFT, laid.under + SAID_STEP * at as f64, SAID, Anchor::Start, line);
        }
        for (at, row) in self.rows.iter().take(laid.shown).enumerate() {
            one(&mut canvas, row, laid.first + ROW * at as f64);
        }
        canvas
    }
}

/// Where everything goes: baselines of texts.
struct Laid {
    size: f64,
    titles: Vec<String>,
    above: f64,
    said: Vec<String>,
    under: f64,
    first: f64,
    shown: usize,
    end: f64,
}

/// One row: the name at the left, the value at the right.
fn one(canvas: &mut Canvas, row: &Row, base: f64) {
    canvas.rect(LEFT, base - 35.0, RIGHT - LEFT, 1.0, &format!("fill=\"{INK}\" fill-opacity=\"0.4\""));
    let mut left = LEFT;
    if let Some(mark) = row.mark {
        let (x, y) = (left + 15.0, base - 11.0);
        match mark {
            Mark::Warns => {
                let sign = Path::new().to(x, y - 15.0).line(x + 16.0, y + 12.0).line(x - 16.0, y + 12.0).close();
                let outline = format!("fill=\"{WARN}\" stroke=\"{INK}\" stroke-width=\"2\" stroke-linejoin=\"round\"");
                canvas.path(&sign, &outline);
                let stroke = Path::new().to(x, y - 5.0).line(x, y + 4.0).to(x, y + 6.5).line(x, y + 9.5);
                canvas.path(&stroke, &format!("fill=\"none\" stroke=\"{GROUND}\" stroke-width=\"3.5\""));
            }
            Mark::Turns(verdict) => canvas.large_verdict(x, y, 1.5, verdict),
        }
        left += 42.0;
    }
    let value = fit_words(&row.value, bold(VALUE), RIGHT - left - LEAST_NAME);
    let taken = if value.is_empty() { 0.0 } else { width(&value, bold(VALUE)) + 18.0 };
    canvas.text(left, base, LEAST, Anchor::Start, &fit_words(&row.name, LEAST, RIGHT - left - taken));
    if !value.is_empty() {
        canvas.bold(RIGHT, base, VALUE, Anchor::End, &value);
    }
}

/// So many whole ones.
fn whole(times: f64) -> usize {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few lines of a sheet
    let whole = times.max(0.0) as usize;
    whole
}

/// A verdict in words.
fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "Holds",
        Verdict::HoldsWithCautions => "Holds with cautions",
        Verdict::Fails => "Fails",
    }
}

/// The same within a sentence.
fn lower(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::HoldsWithCautions => "holds with cautions",
        Verdict::Fails => "fails",
    }
}

/// With a capital to begin with.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A count of things.
fn count(count: usize, one: &str, several: &str) -> String {
    format!("{} {}", number(count as f64), if count == 1 { one } else { several })
}
