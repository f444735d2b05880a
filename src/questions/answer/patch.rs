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

/// The document with the patch applied, as RFC 7396, section 2 says: objects are merged name by name, `null` takes a name
/// away, everything else is put in place of what was there.
pub fn apply(document: &mut Value, patch: &Value) {
    let Value::Object(patch) = patch else {
        document.clone_from(patch);
        return;
    };
    if !document.is_object() {
        *document = Value::Object(Map::new());
    }
    let Some(object) = document.as_object_mut() else { return };
    for (name, value) in patch {
        if value.is_null() {
            object.shift_remove(name);
        } else {
            apply(object.entry(name.clone()).or_insert(Value::Null), value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::apply;
    use serde_json::{Value, json};

    /// RFC 7396, appendix A: all of its examples.
    #[test]
    fn patches_are_applied_as_the_standard_shows() {
        let rows: [(Value, Value, Value); 15] = [
            (json!({"a":"b"}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"b"}), json!({"b":"c"}), json!({"a":"b","b":"c"})),
            (json!({"a":"b"}), json!({"a":null}), json!({})),
            (json!({"a":"b","b":"c"}), json!({"a":null}), json!({"b":"c"})),
            (json!({"a":["b"]}), json!({"a":"c"}), json!({"a":"c"})),
            (json!({"a":"c"}), json!({"a":["b"]}), json!({"a":["b"]})),
            (json!({"a":{"b":"c"}}), json!({"a":{"b":"d","c":null}}), json!({"a":{"b":"d"}})),
            (json!({"a":[{"b":"c"}]}), json!({"a":[1]}), json!({"a":[1]})),
            (json!(["a", "b"]), json!(["c", "d"]), json!(["c", "d"])),
            (json!({"a":"b"}), json!(["c"]), json!(["c"])),
            (json!({"a":"foo"}), json!(null), json!(null)),
            (json!({"a":"foo"}), json!("bar"), json!("bar")),
            (json!({"e":null}), json!({"a":1}), json!({"e":null,"a":1})),
            (json!([1, 2]), json!({"a":"b","c":null}), json!({"a":"b"})),
            (json!({}), json!({"a":{"bb":{"ccc":null}}}), json!({"a":{"bb":{}}})),
        ];
        for (mut document, patch, expected) in rows {
            apply(&mut document, &patch);
            assert_eq!(document, expected, "{patch}");
        }
    }
}
