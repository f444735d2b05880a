//! A range of one number, or of one quantity in its unit of measure.

use serde_json::Value as Json;

use super::field::number_value;
use crate::plan::FaultCode;
use crate::plan::field::bare;
use crate::plan::node::{Node, Value};
use crate::plan::reader::{Detail, Place, Reader};
use crate::plan::wire::Wire;
use crate::quantity::{Exponents, number_of, unit_of};

/// A unit of measure as it is written: SI = `zero` + number × `step`.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// As written; empty for a bare number.
    pub unit: String,
    /// None of it in SI units, which is not nothing on a scale of temperature.
    zero: f64,
    /// By how much one more of it is more, in SI units.
    step: f64,
    exponents: Exponents,
}

/// One end of a range, or another number that has to do with it.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// In its unit of measure.
    pub number: f64,
    /// The unit of measure.
    pub scale: Scale,
}

/// From one number to another, both in one unit of measure.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// The first.
    pub from: f64,
    /// The last.
    pub to: f64,
    /// What both are in.
    pub scale: Scale,
}

impl Scale {
    /// Bare numbers.
    #[must_use]
    pub fn bare() -> Self {
        Self { unit: String::new(), zero: 0.0, step: 1.0, exponents: [0; 7] }
    }

    /// A number of it as a plan would have it: `350 g/s`, or a bare number.
    #[must_use]
    pub fn value(&self, number: f64) -> Json {
        if self.unit.is_empty() { number_value(number + 0.0) } else { Json::String(self.text(number)) }
    }

    /// The same as a text.
    #[must_use]
    pub fn text(&self, number: f64) -> String {
        // Adding nothing turns -0 into 0.
        let number = number + 0.0;
        let plain = number == 0.0 || (1e-5..1e15).contains(&number.abs());
        let digits = if plain { format!("{number}") } else { format!("{number:e}") };
        if self.unit.is_empty() { digits } else { format!("{digits} {}", self.unit) }
    }

    /// Whether both measure the same.
    #[must_use]
    pub fn measures_like(&self, other: &Self) -> bool {
        self.exponents == other.exponents
    }
}

impl End {
    /// In SI units.
    #[must_use]
    pub fn si(&self) -> f64 {
        self.scale.zero + self.number * self.scale.step
    }

    /// As a text.
    #[must_use]
    pub fn text(&self) -> String {
        self.scale.text(self.number)
    }

    /// The same in another unit of measure.
    fn number_in(&self, scale: &Scale) -> f64 {
        if self.scale.unit == scale.unit {
            return self.number;
        }
        (self.si() - scale.zero) / scale.step
    }

    /// The same as a difference in another unit of measure; a bare number is in SI units.
    #[must_use]
    pub fn difference_in(&self, scale: &Scale) -> f64 {
        if self.scale.unit == scale.unit { self.number } else { self.number * self.scale.step / scale.step }
    }

    /// Whether it can be a difference on that scale.
    #[must_use]
    pub fn is_difference_on(&self, scale: &Scale) -> bool {
        self.scale.unit.is_empty() || self.scale.measures_like(scale)
    }
}

impl Span {
    /// The number after `index` of `last` even steps: both ends are met exactly.
    #[must_use]
    pub fn number(&self, index: usize, last: usize) -> f64 {
        match index {
            0 => self.from,
            index if index >= last => self.to,
            index => {
                let share = index as f64 / last as f64;
                self.from * (1.0 - share) + self.to * share
            }
        }
    }

    /// Whether both ends are whole bare numbers.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.scale.unit.is_empty() && self.from.fract() == 0.0 && self.to.fract() == 0.0
    }

    /// Between two ends, where they measure the same and are not one.
    pub(super) fn between(from: &End, to: &End) -> Option<Self> {
        let last = to.number_in(&from.scale);
        // The comparison is exact on purpose: any two numbers that differ are a range.
        #[allow(clippy::float_cmp)]
        let differ = last != from.number;
        let sound = from.scale.measures_like(&to.scale) && last.is_finite() && differ;
        sound.then(|| Self { from: from.number, to: last, scale: from.scale.clone() })
    }

    /// As [`Self::between`], noting what is wrong with `to`.
    pub(super) fn check<'n>(
        from: &End,
        to: &End,
        node: &'n Node<'n>,
        place: &Place<'_>,
        reader: &mut Reader<'n>,
    ) -> Option<Self> {
        let span = Self::between(from, to);
        if span.is_none() {
            let child = reader.document.field(node, "to").unwrap_or(node);
            let to_place = place.below("to");
            if from.scale.measures_like(&to.scale) {
                reader.contradiction(child, &to_place, || child.found(), || "another number than from".to_owned());
            } else {
                reader.fault(child, &to_place, FaultCode::WrongDimension, |_| Detail {
                    found: child.found(),
                    expected: format!("a quantity like from, {}", from.text()),
                    near: None,
                });
            }
        }
        span
    }
}

/// A number or a quantity of any dimension.
#[derive(Clone, Debug)]
pub(in crate::plan) struct EndDoc(pub End);

impl Wire for EndDoc {
    fn read<'n>(node: &'n Node<'n>, place: &Place<'_>, reader: &mut Reader<'n>) -> Option<Self> {
        let expected = || "a number, or a text with a number and a unit of measure, such as \"300 g/s\"".to_owned();
        let read = match &node.value {
            Value::Number(number) => bare(*number).map(|number| End { number, scale: Scale::bare() }),
            Value::Text(text) => reader.quantities.read_any(text).and_then(|reading| {
                let (number, unit) = (number_of(text).unwrap_or(reading.si), unit_of(text).unwrap_or_default());
                let zero = reader.quantities.read_any(&format!("0 {unit}"))?.si;
                let one = reader.quantities.read_any(&format!("1 {unit}"))?.si;
                let scale = Scale { unit: unit.to_owned(), zero, step: one - zero, exponents: reading.exponents };
                Ok(End { number, scale })
            }),
            _ => {
                reader.fault_here(node, place, FaultCode::WrongType, expected);
                return None;
            }
        };
        read.map(Self).map_err(|fault| reader.quantity_fault(node, place, &fault, expected)).ok()
    }
}
