//! The arithmetic of one row: how wide it is with its machines, and how many more fit.

use crate::quantity::whole_down;

/// What of a row is taken before any machine stands in it. Lengths are in one measure of length, such as floor cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// How thick each of the two end walls is.
    pub walls: f64,
    /// What is kept free in all, for ladders and doors.
    pub access: f64,
    /// What is kept free between two machines.
    pub gap: f64,
}

/// Machines that stand in a row.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Standing {
    /// How many.
    pub count: f64,
    /// Their widths together.
    pub width: f64,
}

impl Standing {
    /// With so many more of a width.
    #[must_use]
    pub fn and(self, count: f64, each: f64) -> Self {
        Self { count: self.count + count, width: self.width + count * each }
    }
}

impl Frame {
    /// How wide the row must be: 2 · walls + access + widths + (count − 1) · gap.
    #[must_use]
    pub fn width(&self, standing: Standing) -> f64 {
        2.0 * self.walls + self.access + standing.width + (standing.count - 1.0).max(0.0) * self.gap
    }

    /// How many more of a width fit into a row beside those that stand there, by `step`: one, or two where there are halves.
    #[must_use]
    pub fn more(&self, row: f64, standing: Standing, each: f64, step: f64) -> f64 {
        let gaps = if standing.count > 0.0 { self.gap * standing.count } else { 0.0 };
        let free = row - 2.0 * self.walls - self.access - standing.width - gaps;
        let count = whole_down((free + self.gap) / (each + self.gap)) as f64;
        (count / step).floor() * step
    }
}
