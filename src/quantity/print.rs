//! Numbers and measures as people read them.

use std::fmt::{self, Write};
use std::marker::PhantomData;

use super::dimension;
use super::measure::{Dimension, Measure};

/// A measure with three or four significant digits and the unit of measure that fits it: "2.5 kg/s", "300 g/s", "12 kW".
#[must_use]
pub fn print<D: Dimension>(measure: Measure<D>) -> Printed<D> {
    print_si(measure.si())
}

/// As [`print`], for a number that is known to be in the SI unit of `D`; one that is not finite is "unknown".
#[must_use]
pub fn print_si<D: Dimension>(si: f64) -> Printed<D> {
    Printed { si, of: PhantomData }
}

/// A share as people read it: "75 %".
#[must_use]
pub fn percent(share: f64) -> Printed<dimension::Share> {
    print_si(share)
}

/// A plain number with three significant digits, four where it begins with 1, whole numbers and thousands in full:
/// "8.33", "1.125", "12", "12346". Never "-0"; one that is not finite is "unknown".
#[must_use]
pub fn number(value: f64) -> Number {
    Number(value)
}

/// A number to a tenth, as temperatures are read: "28.4".
#[must_use]
pub fn tenths(value: f64) -> Number {
    number((value * 10.0).round() / 10.0)
}

/// What [`print_si`] says, written where it is shown: a line of an answer holds several.
#[derive(Clone, Copy, Debug)]
pub struct Printed<D> {
    si: f64,
    of: PhantomData<D>,
}

/// What [`number`] says, likewise.
#[derive(Clone, Copy, Debug)]
pub struct Number(f64);

impl<D: Dimension> fmt::Display for Printed<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_si::<D>(f, self.si)
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_number(f, self.0)
    }
}

/// Adds what [`print_si`] says.
pub fn push_si<D: Dimension>(text: &mut String, si: f64) {
    // A string takes whatever is written to it.
    let _ = write_si::<D>(text, si);
}

/// Adds what [`number`] says.
pub fn push_number(text: &mut String, value: f64) {
    let _ = write_number(text, value);
}

fn write_si<D: Dimension>(out: &mut impl Write, si: f64) -> fmt::Result {
    if !si.is_finite() {
        return out.write_str("unknown");
    }
    let smallest = D::LADDER.first().copied().unwrap_or((1.0, D::SI));
    let (scale, spelt) = if si == 0.0 {
        // Nothing is nothing of the SI unit, but shares read as percent throughout.
        D::LADDER.iter().copied().find(|(_, spelt)| *spelt == D::SI).unwrap_or(smallest)
    } else {
        // The mantissa is rounded before it is held against 1, so that 999.96 g/s becomes 1 kg/s and not 1000 g/s.
        D::LADDER.iter().copied().rev().find(|(scale, _)| is_shown_as_one_or_more(si / scale)).unwrap_or(smallest)
    };
    write_number(out, si / scale)?;
    out.write_str(" ")?;
    out.write_str(spelt)
}

fn write_number(out: &mut impl Write, value: f64) -> fmt::Result {
    if !value.is_finite() {
        return out.write_str("unknown");
    }
    let size = value.abs();
    if size == 0.0 {
        return out.write_str("0");
    }
    let Some(Rounded { mut digits, mut decimals }) = Rounded::of(size) else {
        return out.write_str(&trimmed(&format!("{:.*e}", significant(size) - 1, value)));
    };
    // Every answer prints dozens of numbers: putting a point into an integer is several times quicker than printing a float.
    while decimals > 0 && digits % 10 == 0 {
        digits /= 10;
        decimals -= 1;
    }
    let mut text = [b'0'; 24];
    let mut start = text.len();
    let mut written = 0;
    while digits > 0 || written <= decimals {
        if written == decimals && decimals > 0 {
            start -= 1;
            text[start] = b'.';
        }
        start -= 1;
        text[start] = DIGITS[(digits % 10) as usize];
        digits /= 10;
        written += 1;
    }
    if value < 0.0 {
        start -= 1;
        text[start] = b'-';
    }
    out.write_str(std::str::from_utf8(&text[start..]).map_err(|_| fmt::Error)?)
}

const DIGITS: [u8; 10] = *b"0123456789";

/// The powers of ten between which numbers are shown in full.
const TENS: [f64; 20] =
    [1e-4, 1e-3, 1e-2, 1e-1, 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// Where 1 stands among [`TENS`].
const ONE: usize = 4;

/// A size as it is shown in full: an integer with its last `decimals` digits after the point.
struct Rounded {
    digits: u64,
    decimals: usize,
}

impl Rounded {
    /// Nothing for sizes that are shown with an exponent.
    fn of(size: f64) -> Option<Self> {
        if !(1e-4..1e15).contains(&size) {
            return None;
        }
        let place = TENS.partition_point(|ten| *ten <= size) - 1;
        // 1.9996 with four digits is 2.000, which trims to 2.
        let significant = if size < 2.0 * TENS[place] { 4 } else { 3 };
        let decimals = (significant + ONE - 1).saturating_sub(place);
        let digits = (size * TENS[ONE + decimals]).round();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within 1 and 1e15
        Some(Self { digits: digits as u64, decimals })
    }
}

/// Whether [`number`] shows 1 or more, whatever the sign.
fn is_shown_as_one_or_more(value: f64) -> bool {
    let size = value.abs();
    Rounded::of(size).map_or(size >= 1.0, |Rounded { digits, decimals }| digits as f64 >= TENS[ONE + decimals])
}

/// Digits that count in a number with an exponent: four where the first is 1, three otherwise, so that the error stays
/// below half a percent.
fn significant(size: f64) -> usize {
    let leading = size / 10_f64.powi(exponent(size));
    if leading < 2.0 { 4 } else { 3 }
}

#[allow(clippy::cast_possible_truncation)] // log10 of a finite positive double lies within ±324
fn exponent(size: f64) -> i32 {
    size.log10().floor() as i32
}

/// Drops zeros at the end of a mantissa: "2.500e20" becomes "2.5e20".
fn trimmed(text: &str) -> String {
    match text.split_once('e') {
        Some((mantissa, exponent)) if mantissa.contains('.') => {
            format!("{}e{exponent}", mantissa.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn a_number_is_printed_as_the_standard_library_prints_it() {
        let mut state = 7_u64;
        for _ in 0..20_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let value = 10_f64.powf((state >> 11) as f64 / (1_u64 << 53) as f64 * 18.0 - 3.5);
            let scientific = format!("{value:e}");
            let exponent: i32 = scientific.split_once('e').expect("an exponent").1.parse().expect("a number");
            let significant = if scientific.starts_with('1') { 4 } else { 3 };
            let decimals = usize::try_from(significant - 1 - exponent).unwrap_or(0);
            if decimals == 0 && (value.fract() - 0.5).abs() < f64::EPSILON {
                // A tie: the library goes to the even neighbour, people go up.
                continue;
            }
            let mut expected = format!("{value:.decimals$}");
            if decimals > 0 {
                expected = expected.trim_end_matches('0').trim_end_matches('.').to_owned();
            }
            assert_eq!(number(value).to_string(), expected, "{value}");
            assert_eq!(number(-value).to_string(), format!("-{expected}"));
        }
    }
}
