//! A sheet to draw on: escaping, the width of text, numbers with fixed decimals. The same strokes give the same bytes.

use std::fmt::Write;

use crate::questions::answer::{Verdict, is_invisible};

/// Text fill and its outline: light in dark, so that it reads on any ground.
pub const INK: &str = "#ffffff";
/// The outline of text and the fill of boxes.
pub const GROUND: &str = "#10202b";
/// What warns: hatching and outlines of what is short or trapped (Okabe and Ito's vermillion).
pub const WARN: &str = "#d55e00";
/// Band colours that people with any colour vision tell apart: Okabe and Ito, "Color Universal Design", 2008, without black,
/// and without vermillion, which warns.
pub const BANDS: [&str; 6] = ["#56b4e9", "#e69f00", "#009e73", "#cc79a7", "#f0e442", "#0072b2"];

/// Where a text stands to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Begins there.
    Start,
    /// Is centred there.
    Middle,
    /// Ends there.
    End,
}

/// An SVG document in the making.
#[derive(Debug)]
pub struct Canvas {
    out: String,
    /// Where in it the drawing begins.
    drawn: usize,
    height: u32,
}

impl Canvas {
    /// A sheet of this size, with a title and a description for those who do not see it.
    #[must_use]
    pub fn new(width: u32, height: u32, title: &str, about: &str) -> Self {
        let mut canvas = Self { out: String::with_capacity(16_384), drawn: 0, height };
        let out = &mut canvas.out;
        let _ = write!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"title about\"><title id=\"title\">"
        );
        escape(out, title);
        out.push_str("</title><desc id=\"about\">");
        escape(out, about);
        let _ = write!(
            out,
            "</desc><defs><pattern id=\"hatch\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(45)\"><rect width=\"8\" height=\"8\" fill=\"{GROUND}\"/>\
             <rect width=\"4\" height=\"8\" fill=\"{WARN}\"/></pattern></defs>\
             <g font-family=\"Arial, Helvetica, 'DejaVu Sans', sans-serif\">"
        );
        canvas.drawn = canvas.out.len();
        canvas
    }

    /// How high it is.
    #[must_use]
    pub fn height(&self) -> f64 {
        f64::from(self.height)
    }

    /// The document.
    #[must_use]
    pub fn finish(mut self) -> String {
        self.out.push_str("</g></svg>");
        self.out
    }

    /// The document with what takes its place where it is shown at most `most` px wide. Who does not know of such rules, and who
    /// puts the document into a wide page, sees the sheet.
    #[must_use]
    pub fn finish_with(mut self, small: &Self, most: u32) -> String {
        self.out.insert_str(
            self.drawn,
            &format!(
                "<style>@media (max-width:{most}px){{.hotwell-sheet{{display:none}}.hotwell-card{{display:inline}}}}</style>\
                 <g class=\"hotwell-sheet\">"
            ),
        );
        self.out.push_str("</g><g class=\"hotwell-card\" display=\"none\">");
        self.out.push_str(&small.out[small.drawn..]);
        self.out.push_str("</g>");
        self.finish()
    }

    /// Text of a font size, outlined.
    pub fn text(&mut self, x: f64, y: f64, size: f64, anchor: Anchor, text: &str) {
        self.styled(x, y, size, anchor, false, text);
    }

    /// As [`Canvas::text`], bold.
    pub fn bold(&mut self, x: f64, y: f64, size: f64, anchor: Anchor, text: &str) {
        self.styled(x, y, size, anchor, true, text);
    }

    fn styled(&mut self, x: f64, y: f64, size: f64, anchor: Anchor, bold: bool, text: &str) {
        self.out.push_str("<text x=\"");
        self.number(x);
        self.out.push_str("\" y=\"");
        self.number(y);
        self.out.push_str("\" font-size=\"");
        self.number(size);
        self.out.push_str(match anchor {
            Anchor::Start => "\"",
            Anchor::Middle => "\" text-anchor=\"middle\"",
            Anchor::End => "\" text-anchor=\"end\"",
        });
        if bold {
            self.out.push_str(" font-weight=\"bold\"");
        }
        let _ = write!(
            self.out,
            " fill=\"{INK}\" stroke=\"{GROUND}\" stroke-width=\"2.6\" stroke-linejoin=\"round\" paint-order=\"stroke\">"
        );
        escape(&mut self.out, text);
        self.out.push_str("</text>");
    }

    /// A dark ground for text, through which the scene still shows.
    pub fn plate(&mut self, x: f64, y: f64, width: f64, height: f64) {
        self.rect(x, y, width, height, &format!("rx=\"5\" fill=\"{GROUND}\" fill-opacity=\"0.8\""));
    }

    /// A rectangle with attributes such as `fill="..."`.
    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, attributes: &str) {
        self.out.push_str("<rect x=\"");
        self.number(x);
        self.out.push_str("\" y=\"");
        self.number(y);
        self.out.push_str("\" width=\"");
        self.number(width.max(0.0));
        self.out.push_str("\" height=\"");
        self.number(height.max(0.0));
        let _ = write!(self.out, "\" {attributes}/>");
    }

    /// A path with attributes.
    pub fn path(&mut self, path: &Path, attributes: &str) {
        let _ = write!(self.out, "<path d=\"{}\" {attributes}/>", path.0);
    }

    fn number(&mut self, value: f64) {
        push_number(&mut self.out, value);
    }

    /// The mark of a verdict, told apart by its shape: a disc, a triangle, a square with a cross.
    pub fn verdict(&mut self, x: f64, y: f64, verdict: Verdict) {
        self.large_verdict(x, y, 1.0, verdict);
    }

    /// The same so many times as large.
    pub fn large_verdict(&mut self, x: f64, y: f64, times: f64, verdict: Verdict) {
        let at = |dx: f64, dy: f64| (x + times * dx, y + times * dy);
        let outline = format!("stroke=\"{INK}\" stroke-width=\"{}\" stroke-linejoin=\"round\"", tenth(1.5 * times));
        let stroked = |ink: &str| format!("fill=\"none\" stroke=\"{ink}\" stroke-width=\"{}\"", tenth(2.5 * times));
        let through = |points: &[(f64, f64)]| {
            let mut points = points.iter().map(|&(dx, dy)| at(dx, dy));
            let (x, y) = points.next().unwrap_or_default();
            points.fold(Path::new().to(x, y), |path, (x, y)| path.line(x, y))
        };
        let (left, top) = at(-9.0, -9.0);
        let side = 18.0 * times;
        match verdict {
            Verdict::Holds => {
                let disc = format!("rx=\"{}\" fill=\"#009e73\" {outline}", tenth(9.0 * times));
                self.rect(left, top, side, side, &disc);
                self.path(&through(&[(-4.0, 0.0), (-1.0, 3.5), (4.5, -3.5)]), &stroked(INK));
            }
            Verdict::HoldsWithCautions => {
                let sign = through(&[(0.0, -10.0), (10.5, 8.5), (-10.5, 8.5)]).close();
                self.path(&sign, &format!("fill=\"#e69f00\" {outline}"));
                let stroke = through(&[(0.0, -4.0), (0.0, 2.5)]).and(&through(&[(0.0, 5.0), (0.0, 6.5)]));
                self.path(&stroke, &stroked(GROUND));
            }
            Verdict::Fails => {
                self.rect(left, top, side, side, &format!("fill=\"{WARN}\" {outline}"));
                let cross = through(&[(-4.5, -4.5), (4.5, 4.5)]).and(&through(&[(4.5, -4.5), (-4.5, 4.5)]));
                self.path(&cross, &stroked(INK));
            }
        }
    }
}

/// A path, point by point.
#[derive(Clone, Debug, Default)]
pub struct Path(String);

impl Path {
    /// Nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    fn step(mut self, command: char, numbers: &[f64]) -> Self {
        self.0.push(command);
        for (at, &number) in numbers.iter().enumerate() {
            if at > 0 {
                self.0.push(' ');
            }
            push_number(&mut self.0, number);
        }
        self
    }

    /// Lifts the pen to a point.
    #[must_use]
    pub fn to(self, x: f64, y: f64) -> Self {
        self.step('M', &[x, y])
    }

    /// A straight line.
    #[must_use]
    pub fn line(self, x: f64, y: f64) -> Self {
        self.step('L', &[x, y])
    }

    /// A curve that leaves and arrives level.
    #[must_use]
    pub fn level_curve(self, from: (f64, f64), to: (f64, f64)) -> Self {
        let middle = f64::midpoint(from.0, to.0);
        self.step('C', &[middle, from.1, middle, to.1, to.0, to.1])
    }

    /// Round the corner at the first point towards the second.
    #[must_use]
    pub fn corner(self, corner: (f64, f64), to: (f64, f64)) -> Self {
        self.step('Q', &[corner.0, corner.1, to.0, to.1])
    }

    /// Another path besides.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        self.0.push_str(&other.0);
        self
    }

    /// Back to the beginning.
    #[must_use]
    pub fn close(mut self) -> Self {
        self.0.push('Z');
        self
    }
}

fn tenth(value: f64) -> String {
    let mut text = String::new();
    push_number(&mut text, value);
    text
}

/// One decimal, without a needless one.
fn push_number(out: &mut String, value: f64) {
    let tenths = (value * 10.0).round();
    let whole = (tenths / 10.0).trunc();
    // Adding nothing turns -0 into 0.
    if (tenths - whole * 10.0).abs() < 0.5 {
        let _ = write!(out, "{}", whole + 0.0);
    } else {
        let _ = write!(out, "{:.1}", tenths / 10.0);
    }
}

/// Text as XML content; what XML cannot carry, and what does not show, is a space.
fn escape(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            c if is_invisible(c) => out.push(' '),
            c => out.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Path, escape};

    #[test]
    fn numbers_have_one_decimal_at_most() {
        let path = Path::new().to(1.0, -0.04).line(2.25, 1e-12).line(-0.06, 12.349);
        assert_eq!(path.0, "M1 0L2.3 0L-0.1 12.3");
    }

    #[test]
    fn what_xml_cannot_carry_is_a_space() {
        let mut out = String::new();
        escape(&mut out, "a<b>&c\u{0}\u{ffff}\u{202e}d");
        assert_eq!(out, "a&lt;b&gt;&amp;c   d");
    }
}
