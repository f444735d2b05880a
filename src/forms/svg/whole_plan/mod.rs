//! A whole plan as a picture: the verdict and its line, the network of flows, the power, a bar for each store and zone with
//! the span it goes through, and the rows of the floor.

mod rows;
#[cfg(test)]
mod tests;

use super::canvas::Canvas;
use super::{flow_balance, heat_budget, room_below, sheet, spans, title};
use crate::questions::whole_plan::WholePlan;

/// The heights of a sheet: the least at which the network gathers least into one box is taken.
const HEIGHTS: [u32; 4] = [600, 680, 760, 840];
/// The network takes at least so much.
const LEAST_FLOWS: f64 = 190.0;
/// The strip of power with its room.
const POWER: f64 = 78.0;
/// Room at the lower edge.
const FOOT: f64 = 6.0;

/// The picture on a transparent ground: 800 × 600, or higher where the network needs it.
#[must_use]
pub fn draw(answer: &WholePlan) -> Canvas {
    let mut spans = spans::of(&answer.figures);
    spans.truncate(spans::MOST);
    let floor = rows::height(&answer.figures.floor);
    let gauges = if spans.is_empty() { 0.0 } else { spans::HEIGHT };
    let power = if answer.figures.flow.power.is_some() { POWER } else { 0.0 };
    let top = room_below(&answer.say);
    let flows = answer.figures.flow.headers.iter().any(|(_, on)| on.made_kg_s > 0.0 || on.supplied_kg_s > 0.0);
    let left = |height: u32| f64::from(height) - FOOT - floor - gauges - power - top;
    // Where no matter flows, what there is to see is heat.
    let heat = answer.figures.heat.as_ref().filter(|_| !flows && left(HEIGHTS[0]) + top >= heat_budget::LEDGERS_END);
    let height = if flows {
        height(left, |room, few| flow_balance::gathering(&answer.figures.flow, room, few))
    } else {
        HEIGHTS[0]
    };
    let (mut canvas, _) = sheet(height, title(answer), &answer.say, answer.verdict, flow_balance::TITLE);
    // From the bottom up, so that what is left is for the network.
    let mut bottom = f64::from(height) - FOOT;
    let mut take = |height: f64| {
        if height <= 0.0 || bottom - height < top + LEAST_FLOWS {
            return None;
        }
        bottom -= height;
        Some(bottom)
    };
    let (floor, gauges, power) = (take(floor), take(gauges), take(power));
    match heat {
        Some(heat) => heat_budget::ledgers(&mut canvas, heat),
        None => flow_balance::network(&mut canvas, &answer.figures.flow, top, bottom - top - 4.0),
    }
    if let Some(top) = power {
        flow_balance::power_strip(&mut canvas, &answer.figures.flow, top + 2.0);
    }
    if let Some(top) = gauges {
        spans::draw(&mut canvas, &spans, top);
    }
    if let Some(top) = floor {
        rows::draw(&mut canvas, &answer.figures.floor, top);
    }
    canvas
}

/// The least of [`HEIGHTS`] with which least is gathered. `room` is what each leaves to the network, `gathering` at which of the
/// first so many steps of gathering that is enough.
fn height(room: impl Fn(u32) -> f64, gathering: impl Fn(f64, usize) -> Option<usize>) -> u32 {
    let mut best = (flow_balance::GATHERINGS, HEIGHTS[0]);
    for height in HEIGHTS {
        let room = room(height);
        // A higher sheet is worth it only where less is gathered.
        if room >= LEAST_FLOWS
            && let Some(less) = gathering(room - 4.0, best.0)
        {
            best = (less, height);
        }
    }
    best.1
}
