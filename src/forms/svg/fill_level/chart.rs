//! A level over time, with the bands of switches, limits, and marks where switches act.

use super::{Area, Row};
use crate::forms::svg::axis::Axis;
use crate::forms::svg::canvas::{Anchor, BANDS, Canvas, GROUND, INK, Path, WARN};
use crate::forms::svg::letters::{fit, width};
use crate::quantity::percent;
use crate::questions::fill_level::LevelFigures;

/// The height of a share of the capacity.
struct Scale {
    top: f64,
    bottom: f64,
}

impl Scale {
    fn y(&self, share: f64) -> f64 {
        self.bottom - (self.bottom - self.top) * share.clamp(0.0, 1.0)
    }
}

pub(super) fn draw(canvas: &mut Canvas, figures: &LevelFigures, row: &Row<'_>, area: Area, axis: &Axis) {
    let scale = Scale { top: area.top + 9.0, bottom: area.top + area.height - 9.0 };
    grid(canvas, axis, &scale);
    bands(canvas, row, axis, &scale);
    limits(canvas, row, axis, &scale);
    level(canvas, row, axis, &scale);
    marks(canvas, figures, row, axis, &scale);
    names(canvas, row, axis, &scale);
}

fn grid(canvas: &mut Canvas, axis: &Axis, scale: &Scale) {
    let mut path = Path::new();
    for at in axis.marks() {
        path = path.to(axis.x(at), scale.top).line(axis.x(at), scale.bottom);
    }
    for share in [0.0, 0.5, 1.0] {
        path = path.to(axis.left, scale.y(share)).line(axis.right, scale.y(share));
        canvas.text(axis.left - 4.0, scale.y(share) + 3.5, 10.0, Anchor::End, &percent(share).to_string());
    }
    canvas.path(&path, &format!("fill=\"none\" stroke=\"{INK}\" stroke-opacity=\"0.28\" stroke-width=\"0.8\""));
}

/// The band of each switch: from where it starts, a full line, to where it stops, a broken one.
fn bands(canvas: &mut Canvas, row: &Row<'_>, axis: &Axis, scale: &Scale) {
    for (at, (_, switch)) in row.switches.iter().enumerate() {
        let colour = BANDS[1 + at % (BANDS.len() - 1)];
        let (start, stop) = (scale.y(switch.start_at_share), scale.y(switch.stop_at_share));
        let shade = format!("fill=\"{colour}\" fill-opacity=\"0.16\"");
        canvas.rect(axis.left, start.min(stop), axis.right - axis.left, (start - stop).abs(), &shade);
        let line = |y: f64| Path::new().to(axis.left, y).line(axis.right, y);
        let stroke = format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.4\"");
        canvas.path(&line(start), &stroke);
        canvas.path(&line(stop), &format!("{stroke} stroke-dasharray=\"6 4\""));
    }
}

/// What starts at which line, over everything else, and the letters of limits.
fn names(canvas: &mut Canvas, row: &Row<'_>, axis: &Axis, scale: &Scale) {
    const SIZE: f64 = 10.0;
    let mut taken: Vec<f64> = Vec::new();
    for (name, switch) in &row.switches {
        let (start, stop) = (scale.y(switch.start_at_share), scale.y(switch.stop_at_share));
        let y = if start < stop { start + SIZE + 2.0 } else { start - 3.0 };
        let y = y.clamp(scale.top + SIZE, scale.bottom - 2.0);
        if taken.iter().all(|other| (other - y).abs() > SIZE) {
            taken.push(y);
            let label = fit(&format!("{name} starts"), SIZE, 200.0);
            let wide = width(&label, SIZE) + 4.0;
            // A ground of its own: the level runs to and fro behind it.
            let ground = format!("rx=\"2\" fill=\"{GROUND}\" fill-opacity=\"0.7\"");
            canvas.rect(axis.right - 4.0 - wide, y - SIZE, wide + 2.0, SIZE + 3.0, &ground);
            canvas.text(axis.right - 4.0, y, SIZE, Anchor::End, &label);
        }
    }
    for (letters, limit) in limits_of(row) {
        canvas.text(axis.left + 5.0, scale.y(limit) - 2.0, 10.0, Anchor::Start, letters);
    }
}

fn limits_of<'a>(row: &Row<'_>) -> impl Iterator<Item = (&'a str, f64)> {
    let store = row.store;
    let all =
        [("LL", store.low_low_share), ("L", store.low_share), ("H", store.high_share), ("HH", store.high_high_share)];
    all.into_iter().filter_map(|(letters, limit)| Some((letters, limit?)))
}

/// The limits of the level.
fn limits(canvas: &mut Canvas, row: &Row<'_>, axis: &Axis, scale: &Scale) {
    for (_, limit) in limits_of(row) {
        let y = scale.y(limit);
        let path = Path::new().to(axis.left, y).line(axis.right, y);
        canvas.path(&path, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1\" stroke-dasharray=\"2 3\""));
    }
}

fn level(canvas: &mut Canvas, row: &Row<'_>, axis: &Axis, scale: &Scale) {
    let course = &row.store.course;
    let points: Vec<(f64, f64)> =
        course.at_s.iter().zip(&course.level_share).map(|(&at, &share)| (axis.x(at), scale.y(share))).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return };
    let mut under = Path::new().to(first.0, scale.bottom);
    let mut line = Path::new().to(first.0, first.1);
    for point in &points {
        under = under.line(point.0, point.1);
    }
    for point in &points[1..] {
        line = line.line(point.0, point.1);
    }
    under = under.line(last.0, scale.bottom).close();
    canvas.path(&under, &format!("fill=\"{}\" fill-opacity=\"0.3\"", BANDS[0]));
    canvas.path(&line, &format!("fill=\"none\" stroke=\"{GROUND}\" stroke-width=\"4\" stroke-linejoin=\"round\""));
    canvas.path(&line, &format!("fill=\"none\" stroke=\"{}\" stroke-width=\"2\" stroke-linejoin=\"round\"", BANDS[0]));
}

/// Where switches start (a full triangle up) and stop (an open one down), and where the store first stands empty or full.
fn marks(canvas: &mut Canvas, figures: &LevelFigures, row: &Row<'_>, axis: &Axis, scale: &Scale) {
    let mut free = vec![[f64::NEG_INFINITY; 2]; row.switches.len()];
    for event in figures.acts.iter().filter(|event| event.at_s <= axis.until) {
        let Some(which) = row.switches.iter().position(|(name, _)| *name == &*event.name) else { continue };
        let switch = row.switches[which].1;
        let (starts, level) = match event.what {
            "switch-start" => (true, switch.start_at_share),
            "switch-stop" => (false, switch.stop_at_share),
            _ => continue,
        };
        let (x, y) = (axis.x(event.at_s), scale.y(level));
        // Marks on one another tell nothing.
        let last = &mut free[which][usize::from(starts)];
        if x >= *last {
            *last = x + 8.0;
            mark(canvas, x, y, starts);
        }
    }
    let store = row.store;
    let short = store.unserved_kg.or(store.unserved_j).unwrap_or(0.0) > 0.0;
    let lost = store.lost_kg.unwrap_or(0.0) > 0.0;
    for (first, level, text) in
        [(store.first_empty_s.0.filter(|_| short), 0.0, "dry"), (store.first_full_s.0.filter(|_| lost), 1.0, "full")]
    {
        let Some(first) = first.filter(|&first| first <= axis.until) else { continue };
        let (x, y) = (axis.x(first), scale.y(level));
        let cross = Path::new().to(x - 4.0, y - 4.0).line(x + 4.0, y + 4.0).to(x - 4.0, y + 4.0).line(x + 4.0, y - 4.0);
        canvas.path(&cross, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"4.5\""));
        canvas.path(&cross, &format!("fill=\"none\" stroke=\"{WARN}\" stroke-width=\"2.6\""));
        let (dx, anchor) = if x > axis.right - 40.0 { (-8.0, Anchor::End) } else { (8.0, Anchor::Start) };
        let dy = if level > 0.5 { 12.0 } else { -5.0 };
        canvas.bold(x + dx, y + dy, 10.0, anchor, text);
    }
}

fn mark(canvas: &mut Canvas, x: f64, y: f64, starts: bool) {
    let d = if starts { 4.0 } else { -4.0 };
    let sign = Path::new().to(x, y - d).line(x + 4.0, y + d * 0.75).line(x - 4.0, y + d * 0.75).close();
    let fill = if starts { INK } else { GROUND };
    let line = if starts { GROUND } else { INK };
    canvas.path(&sign, &format!("fill=\"{fill}\" stroke=\"{line}\" stroke-width=\"1.1\" stroke-linejoin=\"round\""));
}

/// What the signs mean, and what is not drawn.
pub(super) fn legend(canvas: &mut Canvas, level: &LevelFigures, y: f64, left_out: usize) {
    let mut x = 14.0;
    if !level.switches.is_empty() {
        mark(canvas, x, y, true);
        canvas.text(x + 8.0, y + 3.5, 10.0, Anchor::Start, "starts");
        x += 8.0 + width("starts", 10.0) + 14.0;
        mark(canvas, x, y, false);
        canvas.text(x + 8.0, y + 3.5, 10.0, Anchor::Start, "stops");
        x += 8.0 + width("stops", 10.0) + 14.0;
    }
    if left_out > 0 {
        canvas.text(x, y + 3.5, 10.0, Anchor::Start, &format!("{left_out} more stores"));
    }
}
