//! The typed number itself.

use std::cmp::Ordering;
use std::marker::PhantomData;
use std::ops::{Add, Div, Mul, Sub};

/// What a [`Measure`] measures.
pub trait Dimension: Copy + PartialEq + 'static {
    /// The name a person would use: "mass flow".
    const LABEL: &'static str;
    /// The SI unit as printed: "kg/s".
    const SI: &'static str;
    /// The ending of a field that holds it in an answer: `_kg_s`.
    const SUFFIX: &'static str;
    /// How one may be written in a plan: "300 g/s".
    const EXAMPLE: &'static str;
    /// Exponents of the base measures, to hold a written unit of measure against.
    const EXPONENTS: Exponents;
    /// Units of measure to print in, from small to large: how many SI units one is, and how it is spelt.
    const LADDER: &'static [(f64, &'static str)];
}

/// Exponents of metre, second, kilogram, radian, kelvin, coulomb and candela, in the order that UCUM lists its base units.
pub type Exponents = [i8; 7];

/// A finite number in the SI unit of its dimension. Construction refuses NaN and infinities, so none can travel inward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure<D> {
    si: f64,
    dimension: PhantomData<D>,
}

impl<D: Dimension> Measure<D> {
    /// Nothing of it.
    pub const ZERO: Self = Self { si: 0.0, dimension: PhantomData };

    /// The measure of `si` SI units, or `None` where `si` is not finite.
    #[must_use]
    pub fn from_si(si: f64) -> Option<Self> {
        si.is_finite().then_some(Self { si, dimension: PhantomData })
    }

    /// The number in SI units.
    #[must_use]
    pub fn si(self) -> f64 {
        self.si
    }
}

impl<D: Dimension> PartialOrd for Measure<D> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        self.si.partial_cmp(&other.si)
    }
}

impl<D: Dimension> Add for Measure<D> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { si: self.si + other.si, dimension: PhantomData }
    }
}

impl<D: Dimension> Sub for Measure<D> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { si: self.si - other.si, dimension: PhantomData }
    }
}

impl<D: Dimension> Mul<f64> for Measure<D> {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self { si: self.si * factor, dimension: PhantomData }
    }
}

impl<D: Dimension> Div for Measure<D> {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.si / other.si
    }
}
