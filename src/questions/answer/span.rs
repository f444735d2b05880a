//! Lengths of time as people say them.

use crate::quantity::{Time, dimension, push_number, push_si};

/// A length of time in its two greatest parts, by the local day: "3 min 20 s", "2 day 5 h". Less than a minute is one number.
#[must_use]
pub fn span(seconds: f64, day: Time) -> String {
    let mut text = String::new();
    if !seconds.is_finite() || seconds < 60.0 {
        push_si::<dimension::Time>(&mut text, seconds);
        return text;
    }
    let all = [(day.si(), "day"), (3600.0, "h"), (60.0, "min"), (1.0, "s")];
    // A local day of less than an hour, or of a few seconds, still stands before what is shorter.
    let mut parts: Vec<(f64, &str)> = all.into_iter().filter(|(length, _)| *length >= 1.0).collect();
    parts.sort_by(|one, other| other.0.total_cmp(&one.0));
    // Where a local day is an hour, it is a day, and what is shorter is told in minutes.
    parts.dedup_by(|next, kept| next.0 >= kept.0);
    // "1 h 60 min" is 2 h: what is shown last is rounded before the parts are told apart.
    let first = parts.iter().position(|(length, _)| seconds >= *length).unwrap_or(parts.len() - 1);
    let last = (first + 1).min(parts.len() - 1);
    let (greater, lesser) = (parts[first], parts[last]);
    let rounded = (seconds / lesser.0).round() * lesser.0;
    let whole = (rounded / greater.0 + 1e-9).floor();
    let rest = ((rounded - whole * greater.0) / lesser.0).round();
    // Past a thousand days no one asks for hours.
    if first == last || rest <= 0.0 || whole >= 1000.0 {
        push_number(&mut text, if first == last { (seconds / greater.0).round() } else { whole });
        text.push(' ');
        text.push_str(greater.1);
        return text;
    }
    push_number(&mut text, whole);
    text.push(' ');
    text.push_str(greater.1);
    text.push(' ');
    push_number(&mut text, rest);
    text.push(' ');
    text.push_str(lesser.1);
    text
}

#[cfg(test)]
mod tests {
    use super::span;
    use crate::quantity::Time;

    #[test]
    fn two_parts_are_told() {
        let day = Time::from_si(86_400.0).expect("finite");
        for (seconds, expected) in [
            (0.0, "0 s"),
            (0.0025, "2.5 ms"),
            (23.46, "23.5 s"),
            (59.7, "59.7 s"),
            (59.98, "1 min"),
            (200.0, "3 min 20 s"),
            (119.6, "2 min"),
            (3600.0, "1 h"),
            (7199.0, "2 h"),
            (7380.0, "2 h 3 min"),
            (86_400.0, "1 day"),
            (90_061.0, "1 day 1 h"),
            (1e9, "11574 day"),
        ] {
            assert_eq!(span(seconds, day), expected, "{seconds}");
        }
    }

    #[test]
    fn days_are_local() {
        let day = Time::from_si(600.0).expect("finite");
        assert_eq!(span(1500.0, day), "2 day 5 min");
        assert_eq!(span(4200.0, day), "1 h 1 day");
        let hour = Time::from_si(3600.0).expect("finite");
        for (seconds, expected) in [(1200.0, "20 min"), (3600.0, "1 day"), (4800.0, "1 day 20 min"), (7200.0, "2 day")]
        {
            assert_eq!(span(seconds, hour), expected, "{seconds}");
        }
    }
}
