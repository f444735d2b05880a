//! The rows of the floor to scale, seen from the front: walls, machines with their names, what is kept free, what is missing.

use crate::forms::svg::canvas::{Anchor, Canvas, GROUND, INK, WARN};
use crate::forms::svg::letters::{bold, fit, width};
use crate::questions::answer::Named;
use crate::questions::whole_plan::{RowFigures, StandFigures};

/// The most rows that are drawn; those that lack room come first.
const MOST_ROWS: usize = 4;
/// The most runs of machines of one row that are drawn.
const MOST_RUNS: usize = 60;
/// The most machines of one run that are drawn one by one.
const MOST_SINGLE: u64 = 60;
const ROW: f64 = 30.0;
const LEFT: f64 = 120.0;
const RIGHT: f64 = 788.0;

/// How high the rows are together, with the room around them.
pub(super) fn height(rows: &Named<RowFigures>) -> f64 {
    if rows.is_empty() { 0.0 } else { ROW * rows.len().min(MOST_ROWS) as f64 + 8.0 }
}

/// Draws them one below the other, on one scale.
pub(super) fn draw(canvas: &mut Canvas, rows: &Named<RowFigures>, top: f64) {
    let mut shown: Vec<_> = rows.iter().collect();
    shown.sort_by_key(|(_, row)| row.missing_cells == 0);
    shown.truncate(MOST_ROWS);
    let widest = shown.iter().map(|(_, row)| row.width_cells + row.missing_cells).max().unwrap_or(1).max(1);
    let scale = (RIGHT - LEFT) / widest as f64;
    canvas.plate(4.0, top, 792.0, height(rows) - 4.0);
    for (at, (name, row)) in shown.iter().enumerate() {
        let y = top + 4.0 + ROW * at as f64;
        canvas.bold(12.0, y + 11.0, 11.0, Anchor::Start, &fit(name, bold(11.0), LEFT - 18.0));
        let said = format!("{} of {} cells", row.used_cells, row.width_cells);
        canvas.text(12.0, y + 23.0, 10.0, Anchor::Start, &fit(&said, 10.0, LEFT - 18.0));
        one(canvas, row, y, scale);
    }
}

fn one(canvas: &mut Canvas, row: &RowFigures, y: f64, scale: f64) {
    let x = |cell: u64| LEFT + scale * cell as f64;
    let tall = ROW - 6.0;
    canvas.rect(
        LEFT,
        y,
        scale * row.width_cells as f64,
        tall,
        &format!("fill=\"{GROUND}\" fill-opacity=\"0.5\" stroke=\"{INK}\" stroke-width=\"1\""),
    );
    if row.missing_cells > 0 {
        let wide = scale * row.missing_cells as f64;
        let attributes = format!("fill=\"url(#hatch)\" stroke=\"{WARN}\" stroke-width=\"1.5\"");
        canvas.rect(x(row.width_cells), y, wide, tall, &attributes);
        let said = format!("{} cells missing", row.missing_cells);
        canvas.text(RIGHT - 2.0, y + 16.0, 11.0, Anchor::End, &said);
    }
    let wall = format!("fill=\"{INK}\" fill-opacity=\"0.55\"");
    let walls = row.wall_cells.min(row.width_cells / 2);
    if walls > 0 {
        canvas.rect(LEFT, y, scale * walls as f64, tall, &wall);
        canvas.rect(x(row.width_cells - walls), y, scale * walls as f64, tall, &wall);
    }
    if row.access_cells > 0 {
        let wide = scale * row.access_cells.min(row.width_cells - row.access_at_cell.min(row.width_cells)) as f64;
        let dashed = format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1\" stroke-dasharray=\"2 3\"");
        canvas.rect(x(row.access_at_cell) + 1.0, y + 2.0, (wide - 2.0).max(1.0), tall - 4.0, &dashed);
    }
    for stand in row.stands.iter().take(MOST_RUNS) {
        run(canvas, stand, y, tall, scale);
    }
}

/// The size of letters in machines.
const SIZE: f64 = 10.0;

fn run(canvas: &mut Canvas, stand: &StandFigures, y: f64, tall: f64, scale: f64) {
    let box_of = format!("fill=\"#0072b2\" fill-opacity=\"0.8\" stroke=\"{INK}\" stroke-width=\"1\"");
    let at = LEFT + scale * stand.at_cell as f64;
    let each = scale * stand.each_cells as f64;
    let long = scale * (stand.pitch_cells * (stand.count.max(1) - 1) + stand.each_cells) as f64;
    let singly = stand.count <= MOST_SINGLE && each >= 3.0;
    if singly {
        for machine in 0..stand.count {
            canvas.rect(at + scale * (stand.pitch_cells * machine) as f64, y + 2.0, each, tall - 4.0, &box_of);
        }
    } else {
        canvas.rect(at, y + 2.0, long, tall - 4.0, &box_of);
    }
    // In each machine where its name fits, or once across all of them.
    let (name, base) = (&*stand.unit, y + tall / 2.0 + 3.5);
    let whole = if stand.count > 1 { format!("{} × {name}", stand.count) } else { name.to_owned() };
    if singly && width(name, SIZE) <= each - 2.0 {
        for machine in 0..stand.count {
            let middle = at + scale * (stand.pitch_cells * machine) as f64 + each / 2.0;
            canvas.text(middle, base, SIZE, Anchor::Middle, name);
        }
    } else {
        let label = fit(&whole, SIZE, long - 2.0);
        if label.chars().count() > 2 {
            canvas.text(at + long / 2.0, base, SIZE, Anchor::Middle, &label);
        }
    }
}
