//! Reading a quantity: a number and a unit of measure, as people write them.

use std::borrow::Cow;
use std::collections::HashMap;

use super::Time;
use super::dimension::LABELS;
use super::measure::{Dimension, Exponents, Measure};
use super::scale::{self, Refused, Scale};

/// The smallest quantity other than nothing, in SI units. Below it lies rounding, not engineering.
pub const LEAST: f64 = 1e-15;
/// The largest quantity, in SI units: sums and products of quantities of any plan stay far from overflow.
pub const GREATEST: f64 = 1e15;
/// The longest text of a quantity, in bytes.
pub const LONGEST: usize = 64;
/// How many spellings of units of measure, besides the common ones, one document may use: each takes some microseconds to make
/// out, and a plan has a few dozen at most.
pub const SPELLINGS: usize = 1_000;

/// 0 °C in K.
const CELSIUS_ZERO_K: f64 = 273.15;
const KELVIN: Exponents = [0, 0, 0, 0, 1, 0, 0];

/// Whether a number in SI units is one that quantities may have: nothing, or between [`LEAST`] and [`GREATEST`] in size.
#[must_use]
pub fn within_range(si: f64) -> bool {
    si == 0.0 || (LEAST..=GREATEST).contains(&si.abs())
}

/// Why a text is not a quantity.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum QuantityFault {
    /// It is not a number with a unit of measure.
    #[error("{0}")]
    Unreadable(Unreadable),
    /// Nobody knows its unit of measure.
    #[error("nobody knows the unit of measure {unit:?}")]
    UnknownUnit {
        /// As written.
        unit: String,
    },
    /// It measures something else.
    #[error("this measures {found}, not {expected}")]
    WrongDimension {
        /// What it measures.
        found: String,
        /// What was wanted.
        expected: &'static str,
    },
    /// It is too large or too small to be meant: see [`LEAST`] and [`GREATEST`].
    #[error("quantities are 0 or between 1e-15 and 1e15 SI units in size")]
    OutOfRange,
    /// The document uses more than [`SPELLINGS`] spellings of units of measure.
    #[error("a document may use at most 1000 spellings of units of measure")]
    TooManySpellings,
}

impl QuantityFault {
    /// For an unknown unit of measure, the common one that is spelt most like it.
    #[must_use]
    pub fn near(&self) -> Option<&'static str> {
        match self {
            Self::UnknownUnit { unit } => scale::near(unit),
            _ => None,
        }
    }
}

/// Why a text cannot be read as a number with a unit of measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// It does not begin with a number.
    #[error("a quantity begins with a number")]
    NoNumber,
    /// A comma stands in or behind the number.
    #[error("a decimal point is a point, and thousands are not set apart")]
    Comma,
    /// A second number stands where the unit of measure should.
    #[error("after the number comes a unit of measure, not another number")]
    SecondNumber,
    /// It is longer than [`LONGEST`].
    #[error("a quantity is at most 64 bytes long")]
    TooLong,
}

/// A quantity before it is held against a dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// In SI units; finite and [`within_range`].
    pub si: f64,
    /// Of which base measures it is made.
    pub exponents: Exponents,
}

impl Reading {
    /// Whether it measures a `D`.
    #[must_use]
    pub fn is<D: Dimension>(&self) -> bool {
        self.exponents == D::EXPONENTS
    }

    /// It as a measure.
    ///
    /// # Errors
    /// [`QuantityFault::WrongDimension`].
    pub fn measure<D: Dimension>(&self) -> Result<Measure<D>, QuantityFault> {
        if !self.is::<D>() {
            return Err(QuantityFault::WrongDimension { found: self.label(), expected: D::LABEL });
        }
        Measure::from_si(self.si).ok_or(QuantityFault::OutOfRange)
    }

    /// What it measures, in words where there is one: "mass flow", "number without a unit of measure", "m³/s".
    #[must_use]
    pub fn label(&self) -> String {
        if self.exponents == [0; 7] {
            return "number without a unit of measure".to_owned();
        }
        if let Some((label, _)) = LABELS.iter().find(|(_, exponents)| *exponents == self.exponents) {
            return (*label).to_owned();
        }
        let mut text = String::from("quantity in ");
        let mut first = true;
        for (exponent, base) in self.exponents.iter().zip(["m", "s", "kg", "rad", "K", "C", "cd"]) {
            if *exponent != 0 {
                if !first {
                    text.push('·');
                }
                first = false;
                text.push_str(base);
                if *exponent != 1 {
                    text.push('^');
                    text.push_str(&exponent.to_string());
                }
            }
        }
        text
    }
}

/// Reads quantities of one document, remembering the units of measure it has met.
#[derive(Clone, Debug)]
pub struct QuantityReader {
    day: Time,
    met: HashMap<String, Scale>,
    /// Spellings made out so far, known or not.
    spellings: usize,
}

impl QuantityReader {
    /// A reader for a document whose local day is so long: `day`, `days` and `d` mean it.
    #[must_use]
    pub fn new(day: Time) -> Self {
        Self { day, met: HashMap::new(), spellings: 0 }
    }

    /// The length of the local day.
    #[must_use]
    pub fn day(&self) -> Time {
        self.day
    }

    /// Sets the length of the local day.
    pub fn set_day(&mut self, day: Time) {
        self.day = day;
    }

    /// Reads a quantity of a known dimension: "300 g/s", "4.18 kJ/(kg·K)", "75 %", "2 day".
    ///
    /// # Errors
    /// Every [`QuantityFault`].
    pub fn read<D: Dimension>(&mut self, text: &str) -> Result<Measure<D>, QuantityFault> {
        self.read_any(text)?.measure()
    }

    /// Reads a temperature on a scale, "14 °C", "287 K", "57 °F", in °C; degrees Celsius come out as they are written.
    ///
    /// # Errors
    /// Every [`QuantityFault`].
    pub fn read_temperature(&mut self, text: &str) -> Result<f64, QuantityFault> {
        self.kelvins(text, |value, scale| value * scale.factor / scale.divisor + (scale.offset - CELSIUS_ZERO_K))
    }

    /// Reads a difference of temperatures, in K: "11 K", "11 °C", "20 °F".
    ///
    /// # Errors
    /// Every [`QuantityFault`].
    pub fn read_difference(&mut self, text: &str) -> Result<f64, QuantityFault> {
        self.kelvins(text, |value, scale| value * scale.factor / scale.divisor)
    }

    fn kelvins(&mut self, text: &str, reckon: impl Fn(f64, Scale) -> f64) -> Result<f64, QuantityFault> {
        let text = &*with_degree(text);
        let reading = self.read_any(text);
        // Nothing of a scale's own, such as 0 K, is no quantity out of range.
        let exponents = match &reading {
            Ok(reading) => reading.exponents,
            Err(QuantityFault::OutOfRange) => KELVIN,
            Err(fault) => return Err(fault.clone()),
        };
        if exponents != KELVIN {
            let found = reading.map_or_else(|_| String::new(), |reading| reading.label());
            return Err(QuantityFault::WrongDimension { found, expected: "temperature" });
        }
        let (value, unit) = split(text.trim()).map_err(QuantityFault::Unreadable)?;
        let value = value.ok_or(QuantityFault::OutOfRange)?;
        let kelvins = reckon(value, self.scale(unit)?);
        if within_range(kelvins) || kelvins.abs() < LEAST { Ok(kelvins) } else { Err(QuantityFault::OutOfRange) }
    }

    /// As [`Self::read`], but a bare number is one in SI units, as it is in a document: for texts that cannot be numbers, such
    /// as query parameters.
    ///
    /// # Errors
    /// Every [`QuantityFault`].
    pub fn read_parameter<D: Dimension>(&mut self, text: &str) -> Result<Measure<D>, QuantityFault> {
        match split(text.trim()) {
            Ok((Some(si), "")) if within_range(si) => Measure::from_si(si).ok_or(QuantityFault::OutOfRange),
            _ => self.read(text),
        }
    }

    /// Reads a quantity of any dimension.
    ///
    /// # Errors
    /// Every [`QuantityFault`] but [`QuantityFault::WrongDimension`].
    pub fn read_any(&mut self, text: &str) -> Result<Reading, QuantityFault> {
        if text.len() > LONGEST {
            return Err(QuantityFault::Unreadable(Unreadable::TooLong));
        }
        let (value, unit) = split(text.trim()).map_err(QuantityFault::Unreadable)?;
        let value = value.ok_or(QuantityFault::OutOfRange)?;
        let scale = self.scale(unit)?;
        let mut si = value * scale.factor / scale.divisor + scale.offset;
        if scale.days != 0 {
            si *= self.day.si().powi(i32::from(scale.days));
        }
        // A non-zero number must not vanish on the way either.
        if !within_range(si) || (si == 0.0 && value != 0.0 && scale.offset == 0.0) {
            return Err(QuantityFault::OutOfRange);
        }
        Ok(Reading { si, exponents: scale.exponents })
    }

    fn scale(&mut self, unit: &str) -> Result<Scale, QuantityFault> {
        if unit.is_empty() {
            return Ok(Scale { factor: 1.0, divisor: 1.0, offset: 0.0, exponents: [0; 7], days: 0 });
        }
        if let Some(scale) = scale::common(unit) {
            return Ok(scale);
        }
        if let Some(scale) = self.met.get(unit) {
            return Ok(*scale);
        }
        if self.spellings >= SPELLINGS {
            return Err(QuantityFault::TooManySpellings);
        }
        self.spellings += 1;
        let scale = scale::by_ucum(unit).map_err(|refused| match refused {
            Refused::Unknown => QuantityFault::UnknownUnit { unit: unit.to_owned() },
            Refused::Extreme => QuantityFault::OutOfRange,
        })?;
        self.met.insert(unit.to_owned(), scale);
        Ok(scale)
    }
}

/// The unit of measure behind the number of a text, as written: empty where there is none, `None` where there is no number.
#[must_use]
pub fn unit_of(text: &str) -> Option<&str> {
    split(text.trim()).ok().map(|(_, unit)| unit)
}

/// The number of a text that is a number and a unit of measure, as it is written.
#[must_use]
pub fn number_of(text: &str) -> Option<f64> {
    split(text.trim()).ok().and_then(|(number, _)| number)
}

/// A temperature as it is typed where there is no sign for degrees: nobody means coulombs or farads by "350 C" and "662 F".
fn with_degree(text: &str) -> Cow<'_, str> {
    for (letter, degree) in [('C', "°C"), ('F', "°F")] {
        if let Some(number) = text.trim_end().strip_suffix(letter)
            && matches!(split(number.trim()), Ok((_, "")))
        {
            return Cow::Owned(format!("{number}{degree}"));
        }
    }
    Cow::Borrowed(text)
}

/// Cuts a text into its number (`None`: too large or too small for any use) and the unit of measure behind it.
fn split(text: &str) -> Result<(Option<f64>, &str), Unreadable> {
    let (negative, digits) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let bytes = digits.as_bytes();
    let run = |from: usize| bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let whole = run(0);
    let mut end = whole;
    let mut fraction = 0;
    if bytes.get(end) == Some(&b'.') {
        fraction = run(end + 1);
        // "5.kg" is five kilograms with a stray point; "5 ." has none of either.
        end += 1 + fraction;
    }
    if whole + fraction == 0 {
        return Err(Unreadable::NoNumber);
    }
    let mantissa = end;
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let power = if end + 1 + sign <= bytes.len() { run(end + 1 + sign) } else { 0 };
        if power > 0 {
            end += 1 + sign + power;
        }
    }
    let value: f64 = digits[..end].parse().map_err(|_| Unreadable::NoNumber)?;
    let vanished = value == 0.0 && bytes[..mantissa].iter().any(|byte| matches!(byte, b'1'..=b'9'));
    let unit = digits[end..].trim_start();
    match unit.as_bytes().first() {
        Some(b',') => return Err(Unreadable::Comma),
        Some(b'0'..=b'9' | b'+' | b'-') => return Err(Unreadable::SecondNumber),
        _ => {}
    }
    if !value.is_finite() || vanished {
        return Ok((None, unit));
    }
    // Adding nothing turns -0 into 0.
    Ok((Some(if negative { -value + 0.0 } else { value }), unit))
}
