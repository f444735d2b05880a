//! The values of a sweep as numbers, for a curve.

use serde_json::Value;

use crate::plan::inquiry::Values;
use crate::quantity::{Exponents, QuantityReader, Time, number_of, unit_of};

/// The values as numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    /// The unit of measure of the numbers, where they have one; otherwise quantities are in SI units.
    pub unit: Option<String>,
    /// One for each value, or none where the values are no numbers of one kind.
    pub numbers: Vec<f64>,
}

/// Numbers, or quantities of one dimension; anything else has no place on an axis.
pub(super) fn of(values: &Values, all: &[Value], day: Time) -> Axis {
    let mut quantities = QuantityReader::new(day);
    let read: Option<Vec<(f64, f64, &str, Exponents)>> = all
        .iter()
        .map(|value| match value {
            Value::Number(number) => number.as_f64().map(|number| (number, number, "", [0; 7])),
            Value::String(text) => {
                let reading = quantities.read_any(text).ok()?;
                Some((number_of(text)?, reading.si, unit_of(text)?, reading.exponents))
            }
            _ => None,
        })
        .collect();
    let Some(read) = read else { return Axis::default() };
    let Some(&(_, _, unit, exponents)) = read.first() else { return Axis::default() };
    let unit_said = match values {
        Values::Even(span, _) => span.scale.unit.as_str(),
        Values::Listed(_) => unit,
    };
    let said = (!unit_said.is_empty()).then(|| unit_said.to_owned());
    if read.iter().all(|(_, _, other, _)| *other == unit) {
        return Axis { unit: said, numbers: read.iter().map(|(number, ..)| *number).collect() };
    }
    if read.iter().all(|(_, _, _, other)| *other == exponents) {
        return Axis { unit: None, numbers: read.iter().map(|(_, si, ..)| *si).collect() };
    }
    Axis::default()
}
