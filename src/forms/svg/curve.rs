//! Curves over one axis of numbers: a frame with round marks, the curve, and a strip that tells verdicts apart.

use super::canvas::{Anchor, Canvas, GROUND, INK, Path, WARN};
use super::letters::{bold, width};
use crate::quantity::number;

/// A stretch of numbers, drawn between two places on the sheet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    low: f64,
    high: f64,
    start: f64,
    end: f64,
}

impl Stretch {
    /// What holds all these numbers, drawn from `start` to `end`; one number has room on both sides.
    pub fn of(numbers: impl Iterator<Item = f64>, start: f64, end: f64) -> Option<Self> {
        let (low, high) = numbers
            .filter(|number| number.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), number| (low.min(number), high.max(number)));
        if low > high {
            return None;
        }
        let room = if high - low > 1e-9 * high.abs().max(low.abs()) { 0.0 } else { (high.abs() * 0.1).max(1e-12) };
        Some(Self { low: low - room, high: high + room, start, end })
    }

    /// Where a number is drawn.
    pub fn place(&self, number: f64) -> f64 {
        let share = ((number - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.start + (self.end - self.start) * share
    }

    /// Round numbers within, at most `most` and a few.
    pub fn marks(&self, most: f64) -> Vec<f64> {
        let wide = self.high - self.low;
        let decade = 10_f64.powf((wide / most).log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * decade).find(|step| wide / step <= most);
        let Some(step) = step.filter(|step| step.is_finite() && *step > 0.0) else { return vec![self.low, self.high] };
        let mut place = (self.low / step - 1e-9).ceil();
        let mut marks = Vec::new();
        while place * step <= self.high + 1e-9 * step && marks.len() < 24 {
            // Adding nothing turns -0 into 0.
            marks.push(place * step + 0.0);
            place += 1.0;
        }
        if marks.is_empty() { vec![self.low, self.high] } else { marks }
    }
}

/// Labels below an axis, as many as there is room for.
pub(super) fn labels(canvas: &mut Canvas, axis: &Stretch, y: f64, unit: &str) {
    let mut free = f64::NEG_INFINITY;
    for mark in axis.marks(8.0) {
        let text = if unit.is_empty() { number(mark).to_string() } else { format!("{} {unit}", number(mark)) };
        let wide = width(&text, 11.0);
        let x = axis.place(mark).min(790.0 - wide / 2.0).max(10.0 + wide / 2.0);
        if x - wide / 2.0 > free {
            canvas.text(x, y, 11.0, Anchor::Middle, &text);
            free = x + wide / 2.0 + 8.0;
        }
    }
}

/// Lines across at round numbers, each told at the left.
pub(super) fn grid(canvas: &mut Canvas, up: &Stretch, left: f64, right: f64, most: f64, say: impl Fn(f64) -> String) {
    for mark in up.marks(most) {
        let y = up.place(mark);
        canvas.rect(left, y - 0.3, right - left, 0.6, &format!("fill=\"{INK}\" fill-opacity=\"0.4\""));
        canvas.text(left - 6.0, y + 4.0, 10.0, Anchor::End, &say(mark));
    }
}

/// A curve through points in order; where there is a gap, it is broken.
pub(super) fn curve(canvas: &mut Canvas, points: &[Option<(f64, f64)>], colour: &str) {
    for part in points.split(Option::is_none) {
        let mut part = part.iter().flatten();
        let Some(first) = part.next() else { continue };
        let rest: Vec<_> = part.collect();
        if rest.is_empty() {
            dot(canvas, first.0, first.1, colour);
            continue;
        }
        let path = rest.into_iter().fold(Path::new().to(first.0, first.1), |path, (x, y)| path.line(*x, *y));
        canvas.path(&path, &format!("fill=\"none\" stroke=\"{GROUND}\" stroke-width=\"4\" stroke-linejoin=\"round\""));
        canvas
            .path(&path, &format!("fill=\"none\" stroke=\"{colour}\" stroke-width=\"2.2\" stroke-linejoin=\"round\""));
    }
}

/// A point.
pub(super) fn dot(canvas: &mut Canvas, x: f64, y: f64, colour: &str) {
    let outline = format!("rx=\"3.5\" fill=\"{colour}\" stroke=\"{GROUND}\" stroke-width=\"1.2\"");
    canvas.rect(x - 3.5, y - 3.5, 7.0, 7.0, &outline);
}

/// How a value turns out, on a strip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turns {
    /// It holds.
    Well,
    /// With something to watch.
    Warily,
    /// It does not.
    Badly,
    /// There is no answer.
    Unknown,
}

/// A strip of stretches, each from `from` to `to`, told in words where there is room.
pub(super) fn strip(canvas: &mut Canvas, y: f64, high: f64, parts: &[(f64, f64, Turns)]) {
    for &(from, to, turns) in parts {
        let (fill, say) = match turns {
            Turns::Well => ("#009e73".to_owned(), "holds"),
            Turns::Warily => ("#e69f00".to_owned(), "with cautions"),
            Turns::Badly => ("url(#hatch)".to_owned(), "fails"),
            Turns::Unknown => (GROUND.to_owned(), "no answer"),
        };
        let line = if turns == Turns::Badly { WARN } else { INK };
        canvas.rect(from, y, to - from, high, &format!("fill=\"{fill}\" stroke=\"{line}\" stroke-width=\"0.8\""));
        if width(say, bold(12.0)) + 6.0 <= to - from {
            canvas.bold(f64::midpoint(from, to), y + high - 5.0, 12.0, Anchor::Middle, say);
        }
    }
}

/// For each value the stretch of the strip that is its own: half way to its neighbours.
pub(super) fn shares(places: &[f64], left: f64, right: f64) -> Vec<(f64, f64)> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|one, other| places[*one].total_cmp(&places[*other]));
    let mut shares = vec![(left, right); places.len()];
    for (at, &index) in order.iter().enumerate() {
        let before = at.checked_sub(1).map_or(left, |at| f64::midpoint(places[order[at]], places[index]));
        let after = order.get(at + 1).map_or(right, |&next| f64::midpoint(places[index], places[next]));
        shares[index] = (before, after);
    }
    shares
}

/// Stretches next to one another that turn out alike, as one.
pub(super) fn joined(mut parts: Vec<(f64, f64, Turns)>) -> Vec<(f64, f64, Turns)> {
    parts.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut joined: Vec<(f64, f64, Turns)> = Vec::new();
    for part in parts {
        match joined.last_mut() {
            Some(last) if last.2 == part.2 => last.1 = part.1,
            _ => joined.push(part),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::{Stretch, Turns, joined, shares};

    #[test]
    fn marks_are_round_and_few() {
        for (low, high, expected) in
            [(0.0, 10.0, vec![0.0, 2.0, 4.0, 6.0, 8.0, 10.0]), (-1.0, 1.0, vec![-1.0, -0.5, 0.0, 0.5, 1.0])]
        {
            let stretch = Stretch::of([low, high].into_iter(), 0.0, 100.0).expect("numbers");
            assert_eq!(stretch.marks(5.0), expected);
        }
        for exponent in -14..15 {
            let size = 10_f64.powi(exponent);
            let stretch = Stretch::of([0.31 * size, 0.97 * size].into_iter(), 0.0, 100.0).expect("numbers");
            assert!((1..=9).contains(&stretch.marks(8.0).len()), "{exponent}");
            assert!((0.0..=100.0).contains(&stretch.place(0.5 * size)));
        }
        assert!(Stretch::of(std::iter::empty(), 0.0, 1.0).is_none());
        let one = Stretch::of([7.0].into_iter(), 0.0, 100.0).expect("a number");
        assert!((one.place(7.0) - 50.0).abs() < 1e-9);
    }

    #[test]
    fn a_strip_is_shared_half_way() {
        assert_eq!(shares(&[10.0, 30.0, 20.0], 0.0, 40.0), [(0.0, 15.0), (25.0, 40.0), (15.0, 25.0)]);
        let parts = vec![(5.0, 9.0, Turns::Well), (0.0, 5.0, Turns::Well), (9.0, 10.0, Turns::Badly)];
        assert_eq!(joined(parts), [(0.0, 9.0, Turns::Well), (9.0, 10.0, Turns::Badly)]);
    }
}
