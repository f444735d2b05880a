//! A flow balance as a picture: supplies, headers and units from left to right, bands as wide as the rates they carry, what
//! flows back below, and the power as a strip of its own.

mod columns;
mod graph;
mod layout;
mod power;
#[cfg(test)]
mod tests;
mod trial;

use super::canvas::{Anchor, BANDS, Canvas, GROUND, INK, Path, WARN};
use super::letters::{fit, width};
use super::{SHEET, sheet, title};
use crate::plan::Carried;
use crate::questions::flow_balance::{FlowBalance, FlowFigures};
use graph::{Graph, Kind, Most};
use layout::{Area, Band, Layout, Place, Route};

/// How wide a title may be beside the ruler.
pub(in crate::forms::svg) const TITLE: f64 = 640.0;

/// What is drawn by itself, from most to least, with the font sizes to try it at.
const TRIES: [(Most, &[f64]); 6] = [
    (Most { units: 15, headers: 24, ends: 3 }, &[12.0, 11.0, 10.0]),
    (Most { units: 12, headers: 18, ends: 2 }, &[10.0]),
    (Most { units: 10, headers: 14, ends: 2 }, &[10.0]),
    (Most { units: 8, headers: 11, ends: 1 }, &[10.0]),
    (Most { units: 5, headers: 8, ends: 1 }, &[10.0]),
    (Most { units: 3, headers: 5, ends: 1 }, &[10.0]),
];

/// The picture, 800 × 600 on a transparent ground.
#[must_use]
pub fn draw(answer: &FlowBalance) -> Canvas {
    let (mut canvas, top) = sheet(SHEET, title(answer), &answer.say, answer.verdict, TITLE);
    let bottom = if answer.figures.power.is_some() { 516.0 } else { 592.0 };
    network(&mut canvas, &answer.figures, top, bottom - top);
    power::strip(&mut canvas, &answer.figures, Area { left: 12.0, top: 522.0, width: 776.0, height: 72.0 });
    canvas
}

/// The network of flows across the sheet, on a ground of its own.
pub(in crate::forms::svg) fn network(canvas: &mut Canvas, flow: &FlowFigures, top: f64, height: f64) {
    canvas.plate(4.0, top, 792.0, height);
    let area = area(top, height);
    if let Some((_, graph, layout)) = arranged(flow, area) {
        if graph.edges.iter().any(|edge| edge.rate > 0.0) {
            ruler(canvas, layout.scale);
        }
        flows(canvas, &graph, &layout);
    } else {
        let y = area.top + area.height / 2.0;
        canvas.text(400.0, y + 5.0, 14.0, Anchor::Middle, "no matter flows");
    }
}

/// The steps by which ever more is gathered into one box.
pub(in crate::forms::svg) const GATHERINGS: usize = TRIES.len();

/// At which of the first `few` steps of gathering the network can be drawn so high: 0 where nothing is gathered.
pub(in crate::forms::svg) fn gathering(flow: &FlowFigures, height: f64, few: usize) -> Option<usize> {
    arranged_in(flow, area(0.0, height), few).map(|(tried, ..)| tried)
}

fn area(top: f64, height: f64) -> Area {
    Area { left: 10.0, top: top + 4.0, width: 780.0, height: height - 8.0 }
}

/// The strip of power, which is 72 high.
pub(in crate::forms::svg) fn power_strip(canvas: &mut Canvas, flow: &FlowFigures, top: f64) {
    power::strip(canvas, flow, Area { left: 12.0, top, width: 776.0, height: 72.0 });
}

/// Which of [`TRIES`] fits, and what comes of it.
fn arranged(flow: &FlowFigures, area: Area) -> Option<(usize, Graph, Layout)> {
    arranged_in(flow, area, GATHERINGS)
}

fn arranged_in(flow: &FlowFigures, area: Area, few: usize) -> Option<(usize, Graph, Layout)> {
    for (tried, (most, sizes)) in TRIES.into_iter().take(few).enumerate() {
        let graph = graph::graph(flow, most);
        if graph.nodes.is_empty() {
            return None;
        }
        if let Some(layout) = layout::layout(&graph, area, sizes) {
            return Some((tried, graph, layout));
        }
    }
    None
}

/// How wide a band of a round rate is.
fn ruler(canvas: &mut Canvas, scale: f64) {
    let target = 12.0 / scale;
    if !target.is_finite() || target <= 0.0 {
        return;
    }
    let decade = 10_f64.powf(target.log10().floor());
    let round = [5.0, 2.0, 1.0].into_iter().find(|step| step * decade <= target).unwrap_or(1.0) * decade;
    let label = Carried::Matter.print(round);
    let x = 786.0 - width(&label, 11.0);
    canvas.text(x, 29.0, 11.0, Anchor::Start, &label);
    let thick = round * scale;
    canvas.rect(
        x - 40.0,
        25.0 - thick / 2.0,
        34.0,
        thick,
        &format!("fill=\"{}\" fill-opacity=\"0.75\" stroke=\"{INK}\" stroke-width=\"0.7\"", BANDS[0]),
    );
}

fn flows(canvas: &mut Canvas, graph: &Graph, layout: &Layout) {
    let mut order: Vec<&Band> = layout.bands.iter().collect();
    order.sort_by(|a, b| b.width.total_cmp(&a.width).then(a.edge.cmp(&b.edge)));
    for band in order {
        let edge = &graph.edges[band.edge];
        let colour = BANDS[edge.colour % BANDS.len()];
        let path = route(&band.route, band.width);
        // A dark seam keeps bands apart where they cross, and on a light ground.
        canvas.path(
            &path,
            &format!(
                "fill=\"none\" stroke=\"{GROUND}\" stroke-opacity=\"0.55\" stroke-width=\"{:.1}\"",
                band.width + 1.4
            ),
        );
        let dash = if edge.rate > 0.0 { "" } else { " stroke-dasharray=\"3 4\"" };
        canvas.path(
            &path,
            &format!(
                "fill=\"none\" stroke=\"{colour}\" stroke-opacity=\"0.85\" stroke-width=\"{:.1}\"{dash}",
                band.width
            ),
        );
        if let Route::Lane { out, lane, back, .. } = band.route {
            arrow(canvas, f64::midpoint(out, back), lane, back < out);
        }
    }
    for (node, place) in graph.nodes.iter().zip(&layout.places) {
        outline(canvas, node.kind, place, node.short);
        if let (Kind::Unit, Some(share)) = (node.kind, node.share) {
            let full = (place.width - 8.0) * share.clamp(0.0, 1.0);
            let y = place.top + place.height - 5.0;
            canvas.rect(place.left + 4.0, y, place.width - 8.0, 2.5, "fill=\"#ffffff\" fill-opacity=\"0.3\"");
            canvas.rect(place.left + 4.0, y, full, 2.5, "fill=\"#ffffff\"");
        }
    }
    for (node, place) in graph.nodes.iter().zip(&layout.places) {
        label(canvas, node, place, layout.size);
    }
}

/// Which way a lane runs.
fn arrow(canvas: &mut Canvas, x: f64, y: f64, leftward: bool) {
    let d = if leftward { -5.0 } else { 5.0 };
    let head = Path::new().to(x - d, y - 4.0).line(x + d, y).line(x - d, y + 4.0);
    canvas.path(&head, &format!("fill=\"none\" stroke=\"{GROUND}\" stroke-width=\"3.5\""));
    canvas.path(&head, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.8\""));
}

fn route(route: &Route, width: f64) -> Path {
    match route {
        Route::Forward(points) => {
            let mut path = Path::new();
            let mut last: Option<(f64, f64)> = None;
            for &(from, to, y) in points {
                path = match last {
                    None => path.to(from, y),
                    Some(last) => path.level_curve(last, (from, y)),
                };
                if to > from {
                    path = path.line(to, y);
                }
                last = Some((to, y));
            }
            path
        }
        Route::Lane { from, out, lane, back, to } => {
            let r = (width / 2.0 + 4.0).min(18.0);
            let down = |y: f64, other: f64| if other > y { r } else { -r };
            let leftward = if back < out { -r } else { r };
            Path::new()
                .to(from.0, from.1)
                .line(out - r.min(out - from.0), from.1)
                .corner((*out, from.1), (*out, from.1 + down(from.1, *lane)))
                .line(*out, lane - down(from.1, *lane))
                .corner((*out, *lane), (out + leftward, *lane))
                .line(back - leftward, *lane)
                .corner((*back, *lane), (*back, lane + down(*lane, to.1)))
                .line(*back, to.1 - down(*lane, to.1))
                .corner((*back, to.1), (back + r.min(to.0 - back), to.1))
                .line(to.0, to.1)
        }
    }
}

/// The shape of a box tells what it is: a unit is a rectangle, a supply points to the right, a demand has round ends, an
/// outlet is open, what is trapped is hatched; what is short has a broken outline.
fn outline(canvas: &mut Canvas, kind: Kind, place: &Place, short: bool) {
    let Place { left, top, width, height, bar } = *place;
    let (right, bottom) = (left + width, top + height);
    let line = if short {
        format!("stroke=\"{WARN}\" stroke-width=\"2.5\" stroke-dasharray=\"6 3\"")
    } else {
        format!("stroke=\"{INK}\" stroke-width=\"1.2\"")
    };
    let filled = format!("fill=\"{GROUND}\" fill-opacity=\"0.88\" {line}");
    match kind {
        Kind::Header => {
            let x = left + width / 2.0 - 4.0;
            canvas.rect(x, bottom - bar - 1.0, 8.0, bar + 2.0, &format!("rx=\"2\" fill=\"{GROUND}\" {line}"));
        }
        Kind::Unit => canvas.rect(left, top, width, height, &filled),
        Kind::Supply => {
            let tip = 7.0;
            let path = Path::new()
                .to(left, top)
                .line(right - tip, top)
                .line(right, f64::midpoint(top, bottom))
                .line(right - tip, bottom)
                .line(left, bottom)
                .close();
            canvas.path(&path, &filled);
        }
        Kind::Demand => {
            canvas.rect(left, top, width, height, &format!("rx=\"{:.1}\" {filled}", (height / 2.0).min(14.0)));
        }
        Kind::Outlet => {
            canvas.rect(left, top, width, height, &format!("fill=\"{GROUND}\" fill-opacity=\"0.88\""));
            let path = Path::new().to(right, top).line(left, top).line(left, bottom).line(right, bottom);
            canvas.path(&path, &format!("fill=\"none\" {line}"));
        }
        Kind::Trapped => {
            canvas.rect(left, top, width, height, &format!("fill=\"url(#hatch)\" stroke=\"{INK}\" stroke-width=\"2\""));
        }
    }
}

fn label(canvas: &mut Canvas, node: &graph::Node, place: &Place, size: f64) {
    let line = size * 1.2;
    let x = place.left + place.width / 2.0;
    let text = line * node.lines.len() as f64;
    let top = match node.kind {
        Kind::Header => place.top,
        _ => place.top + (place.height - text) / 2.0 - if node.kind == Kind::Unit { 1.5 } else { 0.0 },
    };
    let room = match node.kind {
        Kind::Header => place.width + 10.0,
        Kind::Supply | Kind::Demand => place.width - 8.0,
        _ => place.width - 4.0,
    };
    for (at, said) in node.lines.iter().enumerate() {
        let y = top + line * at as f64 + size * 0.95;
        canvas.text(x, y, size, Anchor::Middle, &fit(said, size, room));
    }
}
