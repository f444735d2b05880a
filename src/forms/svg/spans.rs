//! Spans: for each store and each zone a bar with the span that it goes through, its limits, and what is said of it.

use crate::forms::svg::canvas::{Anchor, BANDS, Canvas, INK, Path, WARN};
use crate::forms::svg::letters::{bold, fit, width};
use crate::quantity::{Time, percent, tenths};
use crate::questions::answer::span;
use crate::questions::fill_level::{LevelFigures, StoreFigures};
use crate::questions::heat_budget::{HeatFigures, ZoneFigures};
use crate::questions::whole_plan::PlanFigures;

/// How high a row of spans is, with the room around it.
pub(super) const HEIGHT: f64 = 66.0;
/// The most spans in a row.
pub(super) const MOST: usize = 6;

/// A span. Positions are shares of its bar.
pub(super) struct Span {
    pub name: String,
    /// The span.
    from: f64,
    to: f64,
    /// Where it stands at time zero.
    mark: Option<f64>,
    /// Limits.
    limits: Vec<f64>,
    /// The same said at length and ever shorter.
    pub said: Vec<String>,
    pub warns: bool,
    /// A store or a zone.
    colour: &'static str,
}

/// Stores, then zones; those in trouble before the others.
pub(super) fn of(whole: &PlanFigures) -> Vec<Span> {
    let stores = whole.fill.iter().flat_map(stores);
    let mut spans: Vec<Span> = stores.chain(whole.heat.iter().flat_map(zones)).collect();
    spans.sort_by_key(|span| !span.warns);
    spans
}

/// Stores; those in trouble before the others.
pub(super) fn of_stores(fill: &LevelFigures) -> Vec<Span> {
    let mut spans: Vec<Span> = stores(fill).collect();
    spans.sort_by_key(|span| !span.warns);
    spans
}

/// Zones; those in trouble before the others.
pub(super) fn of_zones(heat: &HeatFigures) -> Vec<Span> {
    let mut spans: Vec<Span> = zones(heat).collect();
    spans.sort_by_key(|span| !span.warns);
    spans
}

fn stores(fill: &LevelFigures) -> impl Iterator<Item = Span> + '_ {
    let day = Time::from_si(fill.day_s).unwrap_or(Time::ZERO);
    fill.stores.iter().map(move |(name, store)| of_store(name, store, day))
}

fn zones(heat: &HeatFigures) -> impl Iterator<Item = Span> + '_ {
    heat.zones.iter().map(|(name, zone)| of_zone(name, zone))
}

fn of_store(name: &str, store: &StoreFigures, day: Time) -> Span {
    let capacity = store.capacity_kg.or(store.capacity_j).unwrap_or(1.0);
    let share = |level: Option<f64>| (level.unwrap_or(0.0) / capacity).clamp(0.0, 1.0);
    let (from, to) = (share(store.least_kg.or(store.least_j)), share(store.greatest_kg.or(store.greatest_j)));
    let short = store.unserved_kg.or(store.unserved_j).unwrap_or(0.0) > 0.0;
    let lost = store.lost_kg.unwrap_or(0.0) > 0.0;
    let (said, warns) = match (store.first_empty_s.0.filter(|_| short), store.first_full_s.0.filter(|_| lost)) {
        (Some(at), _) => (format!("runs dry in {}", span(at, day)), true),
        (None, Some(at)) => (format!("overflows in {}", span(at, day)), true),
        (None, None) => (format!("{} to {}", percent(from), percent(to)), false),
    };
    Span {
        name: name.to_owned(),
        from,
        to,
        mark: Some(share(store.start_kg.or(store.start_j))),
        limits: [store.low_low_share, store.low_share, store.high_share, store.high_high_share]
            .into_iter()
            .flatten()
            .collect(),
        said: vec![said],
        warns,
        colour: BANDS[0],
    }
}

fn of_zone(name: &str, zone: &ZoneFigures) -> Span {
    let limit = zone.limit_c;
    let hottest = zone.hottest_c();
    let (low, high) = (zone.least_c.min(hottest), limit.map_or(hottest, |limit| limit.max(hottest)));
    // Room on both sides, so that a limit is seen to be one.
    let room = ((high - low) * 0.15).max(1.0);
    let (low, high) = (low - room, high + room);
    let share = |at: f64| ((at - low) / (high - low)).clamp(0.0, 1.0);
    let warns = limit.is_some_and(|limit| hottest > limit + 1e-9 * limit.abs().max(1.0));
    let of = limit.map_or_else(String::new, |limit| format!(" of {} °C", tenths(limit)));
    let unit = if limit.is_some() { "" } else { " °C" };
    let (least, most) = (tenths(zone.least_c).to_string(), tenths(hottest).to_string());
    let mut said = vec![format!("{most} °C{of}"), format!("{most}{unit}{of}")];
    if least != most {
        said.insert(0, format!("{least} to {most} °C{of}"));
        said.insert(1, format!("{least} to {most}{unit}{of}"));
    }
    Span {
        name: name.to_owned(),
        from: share(zone.least_c),
        to: share(hottest),
        mark: zone.settles_at_c.map(share),
        limits: limit.map(share).into_iter().collect(),
        said,
        warns,
        colour: BANDS[1],
    }
}

/// Draws them side by side.
pub(super) fn draw(canvas: &mut Canvas, spans: &[Span], top: f64) {
    let wide = 792.0 / spans.len().max(3) as f64;
    for (at, span) in spans.iter().enumerate() {
        let left = 4.0 + wide * at as f64;
        canvas.plate(left, top, wide - 4.0, HEIGHT - 4.0);
        let (inner, room) = (left + 8.0, wide - 20.0);
        let mut x = inner;
        if span.warns {
            // A mark with a shape of its own, so that it is not the colour that warns.
            let sign = Path::new().to(x + 5.0, top + 5.0).line(x + 10.5, top + 15.0).line(x - 0.5, top + 15.0).close();
            canvas.path(&sign, &format!("fill=\"{WARN}\" stroke=\"{INK}\" stroke-width=\"0.8\""));
            x += 14.0;
        }
        canvas.bold(x, top + 15.0, 12.0, Anchor::Start, &fit(&span.name, bold(12.0), room - (x - inner)));
        // Letters are drawn narrower than they are reckoned, and it has a rim.
        let fits = |said: &&String| width(said, 11.0) <= room + 6.0;
        if let Some(said) = span.said.iter().find(fits).or(span.said.last()) {
            canvas.text(inner, top + 55.0, 11.0, Anchor::Start, &fit(said, 11.0, room + 6.0));
        }
        let (y, tall) = (top + 23.0, 16.0);
        canvas.rect(inner, y, room, tall, &format!("rx=\"3\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.2\""));
        let (from, to) = (inner + room * span.from, inner + room * span.to);
        canvas.rect(
            from.min(inner + room - 2.0),
            y + 2.0,
            (to - from).max(2.0),
            tall - 4.0,
            &format!("fill=\"{}\" fill-opacity=\"0.85\"", span.colour),
        );
        for limit in &span.limits {
            canvas.rect(inner + room * limit - 1.0, y - 3.0, 2.0, tall + 6.0, &format!("fill=\"{WARN}\""));
        }
        if let Some(mark) = span.mark {
            let x = inner + room * mark;
            let pin =
                Path::new().to(x, y + tall - 3.0).line(x + 4.0, y + tall + 4.0).line(x - 4.0, y + tall + 4.0).close();
            canvas.path(&pin, &format!("fill=\"{INK}\" stroke=\"none\""));
        }
    }
}
