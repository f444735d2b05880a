//! A fill level as a picture: a row for each store with a gauge of where it stands at time zero and its level over time, the
//! bands of its switches and its limits; under them the charge of closed loops.

mod charge;
mod chart;
mod gauge;
#[cfg(test)]
mod tests;

use super::axis::Axis;
use super::canvas::{Anchor, Canvas};
use super::head;
use crate::quantity::Time;
use crate::questions::fill_level::{FillLevel, LevelFigures, StoreFigures, SwitchFigures};

const HEIGHT: f64 = 600.0;
/// The most stores that are drawn; those in trouble come first.
const MOST_STORES: usize = 4;
/// The most closed loops that are drawn.
const MOST_LOOPS: usize = 3;
/// Where charts begin and end.
const LEFT: f64 = 232.0;
const RIGHT: f64 = 786.0;

/// A rectangle on the sheet.
#[derive(Clone, Copy, Debug)]
struct Area {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

/// A store with its name and the switches that watch it.
struct Row<'a> {
    name: &'a str,
    store: &'a StoreFigures,
    switches: Vec<(&'a str, &'a SwitchFigures)>,
}

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &FillLevel) -> Canvas {
    let (mut canvas, top) = head(answer);
    let loops = answer.figures.loops.len().min(MOST_LOOPS);
    let bottom = HEIGHT - 4.0 - 40.0 * loops as f64;
    let rows = rows(&answer.figures);
    if rows.is_empty() && loops == 0 {
        canvas.plate(330.0, 282.0, 140.0, 28.0);
        canvas.text(400.0, 301.0, 14.0, Anchor::Middle, "nothing to fill");
        return canvas;
    }
    if !rows.is_empty() {
        stores(&mut canvas, &answer.figures, &rows, top, bottom - 4.0);
    }
    for (at, (name, figures)) in answer.figures.loops.iter().take(loops).enumerate() {
        let area = Area { left: 4.0, top: bottom + 40.0 * at as f64, width: 792.0, height: 36.0 };
        charge::draw(&mut canvas, name, figures, area);
    }
    canvas
}

fn stores(canvas: &mut Canvas, level: &LevelFigures, rows: &[Row<'_>], top: f64, bottom: f64) {
    let day = Time::from_si(level.day_s).unwrap_or(Time::ZERO);
    let until = rows.iter().filter_map(|row| row.store.course.at_s.last().copied()).fold(0.0, f64::max);
    let axis = Axis { left: LEFT, right: RIGHT, until, day };
    let foot = 34.0;
    let height = ((bottom - foot - top) / rows.len() as f64).min(430.0);
    for (at, row) in rows.iter().enumerate() {
        let area = Area { left: 4.0, top: top + height * at as f64, width: 792.0, height: height - 6.0 };
        canvas.plate(area.left, area.top, area.width, area.height);
        gauge::draw(canvas, row, Area { width: LEFT - 56.0, ..area }, day);
        chart::draw(canvas, level, row, area, &axis);
    }
    let at = top + height * rows.len() as f64;
    canvas.plate(4.0, at, 792.0, foot - 4.0);
    axis.labels(canvas, at + 13.0);
    chart::legend(canvas, level, at + 18.0, level.stores.len() - rows.len());
}

/// The stores to draw, those in trouble first, and the soonest of them.
fn rows(level: &LevelFigures) -> Vec<Row<'_>> {
    let trouble = |store: &StoreFigures| {
        let unserved = store.unserved_kg.or(store.unserved_j).unwrap_or(0.0) > 0.0;
        let lost = store.lost_kg.unwrap_or(0.0) > 0.0;
        let dry = store.first_empty_s.0.filter(|_| unserved);
        let full = store.first_full_s.0.filter(|_| lost);
        dry.unwrap_or(f64::INFINITY).min(full.unwrap_or(f64::INFINITY))
    };
    let mut rows: Vec<Row<'_>> = level
        .stores
        .iter()
        .map(|(name, store)| Row {
            name,
            store,
            switches: level
                .switches
                .iter()
                .filter(|(_, switch)| switch.watches == *name)
                .map(|(name, switch)| (&**name, switch))
                .collect(),
        })
        .collect();
    if rows.len() > MOST_STORES {
        rows.sort_by(|one, other| trouble(one.store).total_cmp(&trouble(other.store)));
        rows.truncate(MOST_STORES);
    }
    rows
}
