//! Numbers and measures as people read them.

use super::measure::{Dimension, Measure};

/// A measure with three or four significant digits and the unit of measure that fits it: "2.5 kg/s", "300 g/s", "12 kW".
#[must_use]
pub fn print<D: Dimension>(measure: Measure<D>) -> String {
    print_si::<D>(measure.si())
}

/// As [`print`], for a number that is known to be in the SI unit of `D`; one that is not finite is "unknown".
#[must_use]
pub fn print_si<D: Dimension>(si: f64) -> String {
    if !si.is_finite() {
        return "unknown".to_owned();
    }
    let smallest = D::LADDER.first().copied().unwrap_or((1.0, D::SI));
    let (scale, spelt) = if si == 0.0 {
        // Nothing is nothing of the SI unit, but shares read as percent throughout.
        D::LADDER.iter().copied().find(|(_, spelt)| *spelt == D::SI).unwrap_or(smallest)
    } else {
        // The mantissa is rounded before it is held against 1, so that 999.96 g/s becomes 1 kg/s and not 1000 g/s.
        D::LADDER.iter().copied().rev().find(|(scale, _)| rounded(si / scale).abs() >= 1.0).unwrap_or(smallest)
    };
    format!("{} {spelt}", number(si / scale))
}

/// A plain number with three significant digits, four where it begins with 1, whole numbers and thousands in full:
/// "8.33", "1.125", "12", "12346". Never "-0"; one that is not finite is "unknown".
#[must_use]
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return "unknown".to_owned();
    }
    let size = value.abs();
    if size == 0.0 {
        return "0".to_owned();
    }
    if !(1e-4..1e15).contains(&size) {
        return trimmed(&format!("{:.*e}", significant(size) - 1, value));
    }
    let decimals = decimals(size);
    let text = format!("{:.*}", decimals, rounded(value));
    if decimals == 0 { text } else { text.trim_end_matches('0').trim_end_matches('.').to_owned() }
}

/// The value as [`number`] shows it.
fn rounded(value: f64) -> f64 {
    let size = value.abs();
    if !(1e-4..1e15).contains(&size) {
        return value;
    }
    let shift = 10_f64.powi(i32::try_from(decimals(size)).unwrap_or(0));
    (value * shift).round() / shift
}

/// Digits that count: four where the first is 1, three otherwise, so that the error stays below half a percent.
fn significant(size: f64) -> usize {
    let leading = size / 10_f64.powi(exponent(size));
    // 1.9996 with four digits is 2.000, which trims to 2.
    if leading < 2.0 { 4 } else { 3 }
}

#[allow(clippy::cast_possible_truncation)] // log10 of a finite positive double lies within ±324
fn exponent(size: f64) -> i32 {
    size.log10().floor() as i32
}

fn decimals(size: f64) -> usize {
    let digits = i32::try_from(significant(size)).unwrap_or(3);
    usize::try_from(digits - 1 - exponent(size)).unwrap_or(0)
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
