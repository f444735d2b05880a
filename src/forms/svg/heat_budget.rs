//! A heat budget as a picture: for each zone a thermometer with its limits and set-point window and a ledger of what brings
//! heat and what takes it; below, temperatures over time.

use super::axis::Axis;
use super::canvas::{Anchor, BANDS, Canvas, GROUND, INK, WARN};
use super::curve::{Stretch, curve, grid};
use super::head;
use super::letters::{bold, fit, width};
use crate::quantity::{Time, dimension, print_si, tenths};
use crate::questions::heat_budget::{HeatBudget, HeatFigures, ZoneFigures};

/// Zones drawn; the rest is counted.
const MOST_ZONES: usize = 4;
/// Bars of one ledger; the rest is summed up.
const MOST_BARS: usize = 6;
const TOP: f64 = 92.0;
const LEDGERS: f64 = 300.0;
/// Where a ledger begins beside its thermometer.
const LEDGER: f64 = 106.0;
/// How wide a ledger is in which names and amounts stand side by side.
const BESIDE: f64 = 130.0;
/// Room for an amount behind its bar.
const LONGEST_AMOUNT: f64 = 52.0;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &HeatBudget) -> Canvas {
    let (mut canvas, _) = head(answer);
    if answer.figures.zones.is_empty() {
        canvas.plate(330.0, 282.0, 140.0, 28.0);
        canvas.text(400.0, 301.0, 14.0, Anchor::Middle, "no zone has heat");
        return canvas;
    }
    ledgers(&mut canvas, &answer.figures);
    over_time(&mut canvas, &answer.figures);
    canvas
}

/// Where the ledgers end that [`ledgers`] draws.
pub(super) const LEDGERS_END: f64 = TOP + LEDGERS;

/// A thermometer and a ledger for each zone.
pub(super) fn ledgers(canvas: &mut Canvas, heat: &HeatFigures) {
    let shown = shown(heat);
    let wide = 796.0 / shown.len().max(1) as f64;
    for (at, (_, name, zone)) in shown.into_iter().enumerate() {
        panel(canvas, heat, name, zone, 4.0 + wide * at as f64, wide - 4.0);
    }
}

/// The zones that are drawn, with their places in the plan: all, or where they are too many those in trouble first, the
/// soonest of them, then those with most heat in them.
fn shown(figures: &HeatFigures) -> Vec<(usize, &str, &ZoneFigures)> {
    let mut zones: Vec<_> = figures.zones.iter().enumerate().map(|(at, (name, zone))| (at, &**name, zone)).collect();
    if zones.len() > MOST_ZONES {
        let trouble = |zone: &ZoneFigures| zone.first_over_limit_s.flatten().unwrap_or(f64::INFINITY);
        let heat = |zone: &ZoneFigures| zone.heat_w.iter().map(|(_, watts)| watts.abs()).sum::<f64>();
        zones.sort_by(|(_, _, one), (_, _, other)| {
            trouble(one).total_cmp(&trouble(other)).then(heat(other).total_cmp(&heat(one)))
        });
        zones.truncate(MOST_ZONES);
        zones.sort_by_key(|(at, ..)| *at);
    }
    zones
}

/// Everything that a thermometer of a zone shows.
struct Scale {
    low: f64,
    high: f64,
    top: f64,
    height: f64,
}

impl Scale {
    fn of(values: impl Iterator<Item = f64>, top: f64, height: f64) -> Self {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(t), high.max(t)));
        let room = ((high - low) * 0.1).max(1.0);
        Self { low: low - room, high: high + room, top, height }
    }

    fn y(&self, t: f64) -> f64 {
        self.top + self.height * (self.high - t) / (self.high - self.low)
    }
}

fn celsius(t: f64) -> String {
    format!("{} °C", tenths(t))
}

fn panel(canvas: &mut Canvas, heat: &HeatFigures, name: &str, zone: &ZoneFigures, left: f64, wide: f64) {
    canvas.plate(left, TOP, wide, LEDGERS);
    canvas.bold(left + 8.0, TOP + 18.0, 13.0, Anchor::Start, &fit(name, bold(13.0), wide - 16.0));
    thermometer(canvas, heat, zone, left + 20.0);
    ledger(canvas, zone, left + LEDGER, wide - LEDGER - 8.0);
}

fn thermometer(canvas: &mut Canvas, heat: &HeatFigures, zone: &ZoneFigures, x: f64) {
    let windows: Vec<(f64, f64)> = heat
        .coolers
        .iter()
        .filter(|(cooler, _)| zone.heat_w.get(cooler).is_some_and(|watts| *watts < 0.0))
        .filter_map(|(_, cooler)| Some((cooler.set_point_least_c?, cooler.set_point_greatest_c?)))
        .collect();
    let values = [Some(zone.least_c), Some(zone.greatest_c), zone.settles_at_c, zone.limit_c];
    let ends = windows.iter().flat_map(|(least, greatest)| [*least, *greatest]);
    let scale = Scale::of(values.into_iter().flatten().chain(ends), TOP + 34.0, LEDGERS - 60.0);
    let (top, bottom) = (scale.top, scale.top + scale.height);
    for (least, greatest) in windows {
        let (from, to) = (scale.y(greatest), scale.y(least));
        if to > from {
            canvas.rect(x - 7.0, from, 4.0, to - from, &format!("fill=\"{}\"", BANDS[2]));
        }
    }
    canvas.rect(
        x,
        top,
        10.0,
        bottom - top,
        &format!("rx=\"5\" fill=\"{GROUND}\" fill-opacity=\"0.8\" stroke=\"{INK}\""),
    );
    let (from, to) = (scale.y(zone.greatest_c), scale.y(zone.least_c));
    canvas.rect(x + 2.0, from, 6.0, (to - from).max(1.0), &format!("fill=\"{}\"", BANDS[1]));
    let mut labels: Vec<(f64, String, &str)> = Vec::new();
    if let Some(at) = zone.settles_at_c {
        canvas.rect(x - 2.0, scale.y(at) - 1.0, 14.0, 2.0, &format!("fill=\"{INK}\""));
        labels.push((scale.y(at), celsius(at), INK));
    }
    if let Some(limit) = zone.limit_c {
        canvas.rect(x - 2.0, scale.y(limit) - 1.0, 14.0, 2.0, &format!("fill=\"{WARN}\""));
        labels.push((scale.y(limit), format!("limit {}", celsius(limit)), WARN));
    }
    if zone.greatest_c - zone.least_c > 0.05 {
        labels.push((from, celsius(zone.greatest_c), INK));
        labels.push((to, celsius(zone.least_c), INK));
    }
    // Labels that would lie on one another are let go, the first being the most telling.
    let mut taken: Vec<f64> = Vec::new();
    for (y, label, _) in labels {
        if taken.iter().all(|other| (other - y).abs() > 11.0) {
            canvas.text(x + 15.0, y + 4.0, 10.0, Anchor::Start, &label);
            taken.push(y);
        }
    }
}

fn ledger(canvas: &mut Canvas, zone: &ZoneFigures, left: f64, wide: f64) {
    let mut bars: Vec<(String, f64)> = zone.heat_w.iter().map(|(name, w)| (name.to_string(), *w)).collect();
    // What rounding leaves of nothing is nothing.
    let noise = 1e-9 * zone.gain_w.unwrap_or(0.0).max(zone.removed_w.unwrap_or(0.0)).max(1.0);
    bars.retain(|(_, w)| w.abs() > noise);
    bars.sort_by(|(_, a), (_, b)| b.abs().total_cmp(&a.abs()));
    if bars.len() > MOST_BARS {
        let rest: f64 = bars[MOST_BARS - 1..].iter().map(|(_, w)| w).sum();
        let more = bars.len() - (MOST_BARS - 1);
        bars.truncate(MOST_BARS - 1);
        bars.push((format!("{more} more"), rest));
    }
    bars.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    if bars.is_empty() || wide < 40.0 {
        canvas.text(left, TOP + 60.0, 11.0, Anchor::Start, if wide < 40.0 { "" } else { "no heat at rest" });
        return;
    }
    let most = bars.iter().map(|(_, w)| w.abs()).fold(0.0, f64::max);
    let step = (LEDGERS - 78.0) / bars.len().max(3) as f64;
    for (at, (name, watts)) in bars.iter().enumerate() {
        let y = TOP + 36.0 + step * at as f64;
        let label = format!("{}{}", if *watts > 0.0 { "+" } else { "−" }, print_si::<dimension::Power>(watts.abs()));
        // Name and amount side by side, or the amount behind the bar where the panel is narrow.
        let aside = wide < BESIDE;
        let room = if aside { wide } else { wide - width(&label, 10.0) - 4.0 };
        canvas.text(left, y + 9.0, 10.0, Anchor::Start, &fit(name, 10.0, room));
        let longest = if aside { wide - LONGEST_AMOUNT } else { wide };
        let long = (longest * watts.abs() / most).max(1.0);
        let (x, base) =
            if aside { (left + long + width(&label, 10.0) + 4.0, y + 22.0) } else { (left + wide, y + 9.0) };
        canvas.text(x, base, 10.0, Anchor::End, &label);
        let fill = if *watts > 0.0 { BANDS[1] } else { BANDS[0] };
        canvas.rect(
            left,
            y + 13.0,
            long,
            (step - 20.0).clamp(3.0, 12.0),
            &format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"0.7\""),
        );
    }
    let (gain, removed) = (zone.gain_w.unwrap_or(0.0), zone.removed_w.unwrap_or(0.0));
    let left_over = if (gain - removed).abs() <= 1e-6 * gain.max(removed) { 0.0 } else { gain - removed };
    let [gain, removed, left_over] =
        [gain, removed, left_over].map(|w| print_si::<dimension::Power>(if w.abs() > noise { w } else { 0.0 }));
    let [passes, leaves, rest] = [format!("in {gain}"), format!("out {removed}"), format!("left {left_over}")];
    // What is left is what a ledger is for: where the line is too narrow it has one of its own, and so have all.
    let ways = [
        vec![format!("{passes}, {leaves}, {rest}")],
        vec![format!("{passes}, {leaves}"), rest.clone()],
        vec![passes, leaves, rest],
    ];
    let fits = |lines: &&Vec<String>| lines.iter().all(|line| width(line, 10.0) <= wide);
    let lines = ways.iter().find(fits).unwrap_or(&ways[2]);
    for (above, line) in lines.iter().rev().enumerate() {
        let y = TOP + LEDGERS - 12.0 - 12.0 * above as f64;
        canvas.text(left, y, 10.0, Anchor::Start, &fit(line, 10.0, wide));
    }
}

/// Temperatures of the zones over the whole horizon; where they swing faster than there are pixels, between their extremes.
fn over_time(canvas: &mut Canvas, heat: &HeatFigures) {
    const NAMES: f64 = 10.0;
    let course = &heat.course;
    let (left, right, top, bottom) = (64.0, 690.0, 412.0, 564.0);
    canvas.plate(4.0, 398.0, 792.0, 196.0);
    let shown = shown(heat);
    let zones: Vec<(&str, &[(f64, f64)])> =
        shown.iter().filter_map(|&(at, name, _)| Some((name, course.zones.get(at)?.as_slice()))).collect();
    let until = zones.iter().filter_map(|(_, curve)| Some(curve.last()?.0)).fold(0.0, f64::max);
    let celsius_of = zones.iter().flat_map(|(_, curve)| curve.iter().map(|&(_, t)| t));
    let Some(up) = Stretch::of(celsius_of, bottom - 4.0, top + 4.0).filter(|_| until > 0.0) else { return };
    let axis = Axis { left, right, until, day: Time::from_si(course.day_s).unwrap_or(Time::ZERO) };
    grid(canvas, &up, left, right, 5.0, celsius);
    for (zone, (_, temperatures)) in zones.iter().enumerate() {
        let points: Vec<_> = temperatures.iter().map(|&(at, t)| Some((axis.x(at), up.place(t)))).collect();
        curve(canvas, &points, BANDS[zone % BANDS.len()]);
    }
    // Each curve by name where it ends, one name below another.
    let ends = zones.iter().enumerate();
    let mut names: Vec<(f64, usize, &str)> =
        ends.filter_map(|(at, (name, curve))| Some((up.place(curve.last()?.1), at, *name))).collect();
    names.sort_by(|one, other| one.0.total_cmp(&other.0));
    let step = NAMES + 3.0;
    let mut free = f64::INFINITY;
    for (y, ..) in names.iter_mut().rev() {
        *y = y.min(bottom).min(free - step);
        free = *y;
    }
    let mut taken = top - step;
    for (y, zone, name) in names {
        let y = y.max(taken + step);
        taken = y;
        let swatch = format!("fill=\"{}\" stroke=\"{GROUND}\"", BANDS[zone % BANDS.len()]);
        canvas.rect(right + 5.0, y - 2.0, 9.0, 4.0, &swatch);
        canvas.text(right + 18.0, y + 3.5, NAMES, Anchor::Start, &fit(name, NAMES, 82.0));
    }
    axis.labels(canvas, bottom + 18.0);
    let more = heat.zones.len() - shown.len();
    if more > 0 {
        let said = if more == 1 { "1 more zone".to_owned() } else { format!("{more} more zones") };
        canvas.text(790.0, bottom + 18.0, NAMES, Anchor::End, &said);
    }
}
