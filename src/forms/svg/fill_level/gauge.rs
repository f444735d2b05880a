//! A gauge of a store: where it stands at time zero, and what comes of it.

use super::{Area, Row};
use crate::forms::svg::canvas::{Anchor, BANDS, Canvas, INK, Path, WARN};
use crate::forms::svg::letters::{bold, fit};
use crate::quantity::{Time, dimension, print_si};
use crate::questions::answer::span;
use crate::questions::fill_level::StoreFigures;

/// A line beside a gauge.
struct Line {
    text: String,
    /// A sign stands before it.
    warns: bool,
    /// It is what the eye should find first.
    large: bool,
}

impl Line {
    fn plain(text: String) -> Self {
        Self { text, warns: false, large: false }
    }
}

/// What is said of a store beside its gauge: the trouble first.
fn says(store: &StoreFigures, day: Time) -> Vec<Line> {
    let mut said = Vec::new();
    let mut come = |what: &str, at: f64, warns: bool| {
        if at > 0.0 {
            said.push(Line { text: format!("{what} in"), warns, large: false });
            said.push(Line { text: span(at, day), warns: false, large: true });
        } else {
            said.push(Line { text: format!("{what} now"), warns, large: false });
        }
    };
    let short = store.unserved_kg.or(store.unserved_j).unwrap_or(0.0) > 0.0;
    if let Some(at) = store.first_empty_s.0 {
        come("runs dry", at, short);
    }
    let lost = store.lost_kg.unwrap_or(0.0) > 0.0;
    if let Some(at) = store.first_full_s.0 {
        come(if lost { "overflows" } else { "is full" }, at, lost);
    }
    let capacity = store.capacity_kg.or(store.capacity_j).unwrap_or(1.0);
    let share = |level: Option<f64>| print_si::<dimension::Share>(level.unwrap_or(0.0) / capacity);
    let (least, greatest) = (store.least_kg.or(store.least_j), store.greatest_kg.or(store.greatest_j));
    said.push(Line::plain(format!("{} to {}", share(least), share(greatest))));
    if let Some(starts) = store.starts_per_h.filter(|&starts| starts > 0.0) {
        said.push(Line::plain(format!("{} starts/h", crate::quantity::number(starts))));
    }
    said
}

fn amount(kg: Option<f64>, j: Option<f64>) -> String {
    match (kg, j) {
        (Some(kg), _) => print_si::<dimension::Mass>(kg).to_string(),
        (None, Some(j)) => print_si::<dimension::Energy>(j).to_string(),
        (None, None) => String::new(),
    }
}

pub(super) fn draw(canvas: &mut Canvas, row: &Row<'_>, area: Area, day: Time) {
    let store = row.store;
    let (left, top) = (area.left + 8.0, area.top + 22.0);
    canvas.bold(left, area.top + 15.0, 12.0, Anchor::Start, &fit(row.name, bold(12.0), LABELS));
    let bottom = area.top + area.height - 8.0;
    let (tall, wide) = (bottom - top, 30.0);
    let capacity = store.capacity_kg.or(store.capacity_j).unwrap_or(1.0);
    let level = (store.start_kg.or(store.start_j).unwrap_or(0.0) / capacity).clamp(0.0, 1.0);
    canvas.rect(left, top, wide, tall, &format!("rx=\"3\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.5\""));
    let y = bottom - tall * level;
    canvas.rect(left + 2.0, y, wide - 4.0, bottom - y - 1.0, &format!("fill=\"{}\" fill-opacity=\"0.85\"", BANDS[0]));
    // The surface, and how high it stands.
    let surface = Path::new().to(left + 1.0, y).line(left + wide + 5.0, y);
    canvas.path(&surface, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.5\""));
    let text = print_si::<dimension::Share>(level);
    let x = left + wide + 8.0;
    let mut lines = vec![Line::plain(format!("{text} of {}", amount(store.capacity_kg, store.capacity_j)))];
    lines.extend(says(store, day));
    let step = 16.0_f64.min(tall / lines.len() as f64);
    let size = (step - 2.5).clamp(7.0, 11.0);
    let room = LABELS - wide - 8.0;
    for (at, line) in lines.iter().enumerate() {
        let y = top + size + step * at as f64;
        let Line { text, warns, large } = line;
        if *warns {
            // A mark with a shape of its own, so that it is not the colour that warns.
            let sign = Path::new().to(x + 4.0, y - 8.0).line(x + 8.5, y).line(x - 0.5, y).close();
            canvas.path(&sign, &format!("fill=\"{WARN}\" stroke=\"{INK}\" stroke-width=\"0.8\""));
            canvas.bold(x + 12.0, y, size, Anchor::Start, &fit(text, bold(size), room - 12.0));
        } else if *large {
            canvas.bold(x, y, size + 1.5, Anchor::Start, &fit(text, bold(size + 1.5), room));
        } else {
            canvas.text(x, y, size, Anchor::Start, &fit(text, size, room));
        }
    }
}

/// How wide a gauge is with what is said beside it.
const LABELS: f64 = 176.0;
