//! The time axis that all charts share.

use super::canvas::{Anchor, Canvas};
use super::letters::width;
use crate::quantity::Time;
use crate::questions::answer::span;

/// The most marks.
const MOST_MARKS: u32 = 7;

/// From time zero to `until`, between two places on the sheet.
pub(super) struct Axis {
    pub left: f64,
    pub right: f64,
    pub until: f64,
    pub day: Time,
}

impl Axis {
    /// Where a time stands.
    pub fn x(&self, at_s: f64) -> f64 {
        let share = if self.until > 0.0 { (at_s / self.until).clamp(0.0, 1.0) } else { 0.0 };
        self.left + (self.right - self.left) * share
    }

    /// Round times for marks.
    pub fn marks(&self) -> Vec<f64> {
        if !(self.until > 0.0 && self.until.is_finite()) {
            return vec![0.0];
        }
        let step = step(self.until, self.day.si());
        let mut marks = Vec::new();
        let mut number = 0.0;
        while number * step <= self.until * (1.0 + 1e-9) && marks.len() < 16 {
            marks.push(number * step);
            number += 1.0;
        }
        marks
    }

    /// What the marks say, at a height.
    pub fn labels(&self, canvas: &mut Canvas, y: f64) {
        let mut free = f64::NEG_INFINITY;
        for at in self.marks() {
            let text = if at == 0.0 { "0".to_owned() } else { span(at, self.day) };
            let wide = width(&text, 10.0);
            let x = self.x(at).min(self.right - wide / 2.0);
            if x - wide / 2.0 > free {
                canvas.text(x, y, 10.0, Anchor::Middle, &text);
                free = x + wide / 2.0 + 4.0;
            }
        }
    }
}

/// The least round step with no more than [`MOST_MARKS`] marks: of seconds, minutes, hours, then local days.
fn step(until: f64, day: f64) -> f64 {
    const ROUND: [f64; 17] = [
        1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0, 7200.0, 10_800.0, 21_600.0,
        43_200.0,
    ];
    let enough = |step: f64| until / step <= f64::from(MOST_MARKS);
    let decimal = |of: f64| {
        let decade = 10_f64.powf((until / of / f64::from(MOST_MARKS)).log10().floor());
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * decade * of).find(|&step| enough(step)).unwrap_or(until)
    };
    if until <= f64::from(MOST_MARKS) {
        return decimal(1.0);
    }
    let round = ROUND.into_iter().filter(|&step| step < day).find(|&step| enough(step));
    // A day longer than all that is shown marks nothing.
    round.unwrap_or_else(|| {
        if day > until {
            decimal(3600.0)
        } else if enough(day) {
            day
        } else {
            decimal(day)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::{Axis, step};
    use crate::quantity::Time;

    #[test]
    fn steps_are_round() {
        for (until, day, expected) in [
            (3.0, 86_400.0, 0.5),
            (60.0, 86_400.0, 10.0),
            (600.0, 86_400.0, 120.0),
            (86_400.0, 86_400.0, 21_600.0),
            (864_000.0, 86_400.0, 172_800.0),
            (36_000.0, 3600.0, 7200.0),
            (3.6e6, 3600.0, 720_000.0),
        ] {
            let found = step(until, day);
            assert!((found - expected).abs() < 1e-9 * expected, "{until} of {day}: {found}");
        }
    }

    #[test]
    fn marks_are_few_for_any_length() {
        for exponent in -12..15 {
            for day in [1.0, 600.0, 86_400.0, 1e9] {
                let day = Time::from_si(day).expect("finite");
                let axis = Axis { left: 0.0, right: 100.0, until: 3.7 * 10_f64.powi(exponent), day };
                let marks = axis.marks();
                assert!((2..=9).contains(&marks.len()), "{exponent}, {}: {marks:?}", day.si());
            }
        }
    }
}
