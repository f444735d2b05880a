//! The charge of a closed loop against its window.

use super::Area;
use crate::forms::svg::canvas::{Anchor, BANDS, Canvas, INK, Path, WARN};
use crate::forms::svg::letters::{bold, fit};
use crate::quantity::{dimension, print_si};
use crate::questions::fill_level::LoopFigures;

pub(super) fn draw(canvas: &mut Canvas, name: &str, figures: &LoopFigures, area: Area) {
    let LoopFigures { charge_kg, least_kg, most_kg, over_kg, short_kg } = *figures;
    let mass = |kg: f64| print_si::<dimension::Mass>(kg);
    canvas.plate(area.left, area.top, area.width, area.height);
    canvas.bold(area.left + 8.0, area.top + 15.0, 12.0, Anchor::Start, &fit(name, bold(12.0), 170.0));
    let troubled = over_kg > 0.0 || short_kg > 0.0;
    let said = if least_kg > most_kg {
        format!("no charge fits: {} to {}", mass(least_kg), mass(most_kg))
    } else if over_kg > 0.0 {
        format!("over-full by {}", mass(over_kg))
    } else if short_kg > 0.0 {
        format!("short of {}", mass(short_kg))
    } else {
        format!("{} is within", mass(charge_kg))
    };
    let indent = if troubled { 13.0 } else { 0.0 };
    if troubled {
        let (x, y) = (area.left + 8.0, area.top + 30.0);
        let sign = Path::new().to(x + 4.5, y - 8.0).line(x + 9.0, y).line(x, y).close();
        canvas.path(&sign, &format!("fill=\"{WARN}\" stroke=\"{INK}\" stroke-width=\"0.8\""));
    }
    canvas.text(area.left + 8.0 + indent, area.top + 30.0, 11.0, Anchor::Start, &fit(&said, 11.0, 200.0));

    let (left, right, middle) = (super::LEFT, super::RIGHT, area.top + 13.0);
    let greatest = charge_kg.max(most_kg).max(least_kg);
    let x = |kg: f64| left + (right - left) * if greatest > 0.0 { kg / greatest / 1.04 } else { 0.0 };
    canvas.rect(left, middle - 6.0, right - left, 12.0, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1\""));
    canvas.rect(
        left + 1.0,
        middle - 5.0,
        x(charge_kg) - left,
        10.0,
        &format!("fill=\"{}\" fill-opacity=\"0.85\"", BANDS[0]),
    );
    if charge_kg > most_kg {
        canvas.rect(x(most_kg), middle - 5.0, x(charge_kg) - x(most_kg), 10.0, "fill=\"url(#hatch)\"");
    }
    // The window as a bracket, with what its ends are.
    let (low, high) = (x(least_kg), x(most_kg));
    let bracket =
        Path::new().to(low, middle - 9.0).line(low, middle + 9.0).line(high, middle + 9.0).line(high, middle - 9.0);
    canvas.path(&bracket, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.8\""));
    let text = format!("{} to {}", mass(least_kg), mass(most_kg));
    canvas.text(f64::midpoint(low, high).clamp(left + 60.0, right - 60.0), middle + 20.0, 10.0, Anchor::Middle, &text);
}
