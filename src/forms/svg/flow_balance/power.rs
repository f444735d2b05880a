//! The electric power: what is made, and what becomes of it, as two bars of one scale.

use super::super::canvas::{Anchor, Canvas, GROUND, INK};
use super::super::letters::{fit, width};
use super::layout::Area;
use crate::plan::Carried;
use crate::questions::answer::short;
use crate::questions::flow_balance::FlowFigures;

/// What a piece of a bar stands for, and so how it is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fill {
    Made,
    Drawn,
    Spare,
    Missing,
}

struct Piece {
    name: String,
    watts: f64,
    fill: Fill,
}

/// The most pieces of one bar that stand by themselves.
const MOST_PIECES: usize = 7;

/// Draws the strip, where there is any power.
pub(super) fn strip(canvas: &mut Canvas, flow: &FlowFigures, area: Area) {
    let Some(power) = &flow.power else { return };
    let (upper, lower) = (gathered(made(flow)), gathered(used(flow)));
    let sum = |pieces: &[Piece]| pieces.iter().map(|piece| piece.watts).sum::<f64>();
    let greatest = sum(&upper).max(sum(&lower));
    canvas.plate(4.0, area.top - 2.0, 792.0, area.height + 4.0);
    canvas.bold(area.left, area.top + 12.0, 12.0, Anchor::Start, "power");
    let sign = if power.net_w < 0.0 { "−" } else { "" };
    let net = format!("net {sign}{}", Carried::Power.print(power.net_w.abs()));
    let mut said = format!(
        "generated {}, drawn {}, {net}",
        Carried::Power.print(power.generated_w),
        Carried::Power.print(power.drawn_w)
    );
    if power.unserved_w > 0.0 {
        said = format!("{said}, short {}", Carried::Power.print(power.unserved_w));
    }
    canvas.text(area.left + 46.0, area.top + 12.0, 12.0, Anchor::Start, &said);
    if greatest <= 0.0 {
        return;
    }
    let room = area.width - 46.0;
    // What is too narrow for a label of its own.
    let mut narrow: Vec<String> = Vec::new();
    for (pieces, y, word) in [(upper, area.top + 18.0, "made"), (lower, area.top + 45.0, "used")] {
        canvas.text(area.left, y + 16.0, 11.0, Anchor::Start, word);
        let mut x = area.left + 46.0;
        for piece in pieces {
            let wide = room * (piece.watts / greatest);
            let fill = match piece.fill {
                Fill::Made => "fill=\"#f0e442\" fill-opacity=\"0.45\"".to_owned(),
                Fill::Drawn => "fill=\"#0072b2\" fill-opacity=\"0.8\"".to_owned(),
                Fill::Spare => format!("fill=\"{GROUND}\" fill-opacity=\"0.55\" stroke-dasharray=\"2 3\""),
                Fill::Missing => "fill=\"url(#hatch)\"".to_owned(),
            };
            canvas.rect(x, y, wide, 23.0, &format!("{fill} stroke=\"{INK}\" stroke-width=\"1\""));
            let watts = Carried::Power.print(piece.watts);
            let whole = format!("{} {watts}", piece.name);
            let (middle, space) = (x + wide / 2.0, wide - 4.0);
            if width(&whole, 11.0) <= space {
                canvas.text(middle, y + 15.5, 11.0, Anchor::Middle, &whole);
            } else if width(&watts, SMALL) <= space && space >= LEAST_NAMED {
                canvas.text(middle, y + 9.5, SMALL, Anchor::Middle, &fit(&piece.name, SMALL, space));
                canvas.text(middle, y + 20.5, SMALL, Anchor::Middle, &watts);
            } else {
                narrow.push(whole);
            }
            x += wide;
        }
    }
    let from = area.left + 46.0 + width(&said, 12.0) + 12.0;
    let right = area.left + area.width;
    if !narrow.is_empty() && right - from > 60.0 {
        let said = format!("narrow: {}", narrow.join(", "));
        canvas.text(right, area.top + 12.0, 10.0, Anchor::End, &fit(&said, 10.0, right - from));
    }
}

/// The size of letters where name and amount stand one above the other.
const SMALL: f64 = 10.0;
/// The least room in which a name says anything.
const LEAST_NAMED: f64 = 30.0;

fn made(flow: &FlowFigures) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (name, unit) in &flow.units {
        if let Some(watts) = unit.power_w.filter(|&watts| watts > 0.0) {
            pieces.push(Piece { name: short(name).into_owned(), watts, fill: Fill::Made });
        }
    }
    if let Some(watts) = flow.power.as_ref().and_then(|power| power.turbines_w).filter(|&watts| watts > 0.0) {
        pieces.push(Piece { name: "turbines".to_owned(), watts, fill: Fill::Made });
    }
    for (name, supply) in &flow.supplies {
        if let Some(watts) = supply.drawn_w.filter(|&watts| watts > 0.0) {
            pieces.push(Piece { name: short(name).into_owned(), watts, fill: Fill::Made });
        }
    }
    if let Some(missing) = flow.power.as_ref().map(|power| power.unserved_w).filter(|&watts| watts > 0.0) {
        pieces.push(Piece { name: "short".to_owned(), watts: missing, fill: Fill::Missing });
    }
    pieces
}

fn used(flow: &FlowFigures) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (name, unit) in &flow.units {
        if let Some(watts) = unit.power_w.filter(|&watts| watts < 0.0) {
            pieces.push(Piece { name: short(name).into_owned(), watts: -watts, fill: Fill::Drawn });
        }
    }
    if let Some(watts) = flow.power.as_ref().and_then(|power| power.coolers_w).filter(|&watts| watts > 0.0) {
        pieces.push(Piece { name: "coolers".to_owned(), watts, fill: Fill::Drawn });
    }
    for (name, demand) in &flow.demands {
        if let Some(watts) = demand.served_w.filter(|&watts| watts > 0.0) {
            pieces.push(Piece { name: short(name).into_owned(), watts, fill: Fill::Drawn });
        }
    }
    if let Some(aim) = &flow.aim {
        for (_, made) in &aim.make {
            if let Some(watts) = made.got_w.filter(|&watts| watts > 0.0) {
                pieces.push(Piece { name: "aim".to_owned(), watts, fill: Fill::Drawn });
            }
        }
    }
    let Some(power) = &flow.power else { return pieces };
    let on_power = flow.demands.iter().any(|(_, demand)| demand.served_w.is_some());
    if let Some(watts) = power.delivered_w.filter(|&watts| watts > 0.0 && !on_power) {
        pieces.push(Piece { name: "delivered".to_owned(), watts, fill: Fill::Drawn });
    }
    if power.unserved_w > 0.0 {
        pieces.push(Piece { name: "not served".to_owned(), watts: power.unserved_w, fill: Fill::Missing });
    }
    if power.spilled_w > 0.0 {
        pieces.push(Piece { name: "spare".to_owned(), watts: power.spilled_w, fill: Fill::Spare });
    }
    if let Some(watts) = power.trapped_w {
        pieces.push(Piece { name: "trapped".to_owned(), watts, fill: Fill::Missing });
    }
    pieces
}

/// The smallest pieces of what is made and drawn as one.
fn gathered(mut pieces: Vec<Piece>) -> Vec<Piece> {
    let plain = |piece: &Piece| matches!(piece.fill, Fill::Made | Fill::Drawn);
    let mut sizes: Vec<f64> = pieces.iter().filter(|piece| plain(piece)).map(|piece| piece.watts).collect();
    if sizes.len() <= MOST_PIECES {
        return pieces;
    }
    sizes.sort_by(|a, b| b.total_cmp(a));
    let least = sizes[MOST_PIECES - 1];
    let small: Vec<usize> = (0..pieces.len()).filter(|&at| plain(&pieces[at]) && pieces[at].watts < least).collect();
    let (Some(&first), watts) = (small.first(), small.iter().map(|&at| pieces[at].watts).sum()) else { return pieces };
    let gathered = Piece { name: format!("{} more", small.len()), watts, fill: pieces[first].fill };
    let mut at = 0;
    pieces.retain(|_| {
        at += 1;
        small.binary_search(&(at - 1)).is_err()
    });
    let end = pieces.iter().position(|piece| !plain(piece)).unwrap_or(pieces.len());
    pieces.insert(end, gathered);
    pieces
}
