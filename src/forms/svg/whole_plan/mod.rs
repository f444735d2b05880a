//! A whole plan as a picture: the verdict and its line, the network of flows, the power, a card for each store and zone with
//! the span it goes through, and the rows of the floor.

mod cards;
mod rows;
#[cfg(test)]
mod tests;

use super::canvas::{Anchor, Canvas, fit, wrap};
use super::{flow_balance, heat_budget};
use crate::questions::whole_plan::WholePlan;

const WIDTH: u32 = 800;
const HEIGHT: u32 = 600;
/// The network takes at least so much.
const LEAST_FLOWS: f64 = 190.0;
/// The strip of power with its room.
const POWER: f64 = 78.0;

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &WholePlan) -> String {
    let title = answer.title.as_deref().unwrap_or("Whole plan");
    let mut canvas = Canvas::new(WIDTH, HEIGHT, title, &answer.say);
    let said = wrap(&answer.say, 12.0, 776.0, 3);
    let titled = 34.0 + 15.0 * said.len() as f64;
    canvas.plate(4.0, 8.0, 792.0, titled);
    canvas.verdict(21.0, 24.0, answer.verdict);
    canvas.bold(40.0, 30.0, 16.0, Anchor::Start, &fit(title, 18.0, 640.0));
    for (at, line) in said.iter().enumerate() {
        canvas.text(12.0, 50.0 + 15.0 * at as f64, 12.0, Anchor::Start, line);
    }
    // From the bottom up, so that what is left is for the network.
    let mut bottom = f64::from(HEIGHT) - 6.0;
    let top = 8.0 + titled + 6.0;
    let mut take = |height: f64| {
        if height <= 0.0 || bottom - height < top + LEAST_FLOWS {
            return None;
        }
        bottom -= height;
        Some(bottom)
    };
    let floor = take(rows::height(&answer.floor));
    let cards = cards::of(answer);
    let gauges = take(if cards.is_empty() { 0.0 } else { cards::HEIGHT });
    let power = take(if answer.flow.power.is_some() { POWER } else { 0.0 });
    let flows = answer.flow.headers.iter().any(|(_, on)| on.made_kg_s > 0.0 || on.supplied_kg_s > 0.0);
    match answer.heat.as_ref().filter(|_| !flows && bottom >= heat_budget::LEDGERS_END) {
        // Where no matter flows, what there is to see is heat.
        Some(heat) => heat_budget::ledgers(&mut canvas, heat),
        None => flow_balance::panel(&mut canvas, &answer.flow, top, bottom - top - 4.0),
    }
    if let Some(top) = power {
        flow_balance::power_strip(&mut canvas, &answer.flow, top + 2.0);
    }
    if let Some(top) = gauges {
        cards::draw(&mut canvas, &cards, top);
    }
    if let Some(top) = floor {
        rows::draw(&mut canvas, &answer.floor, top);
    }
    canvas.finish()
}
