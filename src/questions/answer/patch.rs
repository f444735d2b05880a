//! Merge patches (RFC 7396) and the amounts in them.

use serde_json::{Map, Value};

/// The rate rounded up to the digits that are printed, so that what is said is what suffices.
#[must_use]
pub fn round_up(rate: f64) -> f64 {
    if !(1e-12..1e15).contains(&rate) {
        return rate;
    }
    let exponent = rate.log10().floor();
    let digits = if rate / 10_f64.powf(exponent) < 2.0 { 3.0 } else { 2.0 };
    // Division by a whole power of ten gives the double nearest to the decimal number; multiplication would not.
    let places = digits - exponent;
    let scaled = (rate * 10_f64.powf(places) * (1.0 - 1e-9)).ceil();
    if places >= 0.0 { scaled / 10_f64.powf(places) } else { scaled * 10_f64.powf(-places) }
}

/// `value` at the end of a path of names.
#[must_use]
pub fn nest(names: &[&str], value: Value) -> Value {
    names.iter().rev().fold(value, |inner, name| Value::Object(Map::from_iter([((*name).to_owned(), inner)])))
}

/// Puts one patch into another; on the same place the later one stands.
pub fn merge(into: &mut Value, other: Value) {
    match (into, other) {
        (Value::Object(into), Value::Object(other)) => {
            for (name, value) in other {
                merge(into.entry(name).or_insert(Value::Null), value);
            }
        }
        (into, other) => *into = other,
    }
}
