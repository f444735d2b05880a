//! Counts, shares and ratios in words.

use std::borrow::Cow;

use super::answer::Refusal;
use super::parameter::Parameter;
use crate::plan::FaultCode;
use crate::quantity::{Number, ROUNDING_TOLERANCE, Time, dimension, number, print_si, push_number, push_si, whole_up};
use crate::questions::answer::span;

/// A flow held against what one of something takes: how many, rounded, and how they run.
#[derive(Clone, Copy, Debug)]
pub(super) struct Headcount {
    /// At full duty, before rounding.
    pub needed: f64,
    /// Whole ones.
    pub count: f64,
    /// Share at which the last one runs when the others run in full; 1 where it comes out even, 0 where none is needed.
    pub last: f64,
    /// Mean share of all.
    pub utilisation: f64,
}

impl Headcount {
    /// `needed` rounded up; refused at `parameter` past what is worth counting.
    pub fn of(needed: f64, parameter: &'static str) -> Result<Self, Refusal> {
        // Written so that what cannot be compared is refused too.
        if !(0.0..=Parameter::MOST_COUNT).contains(&needed) {
            return Err(Refusal {
                parameter,
                code: FaultCode::OutOfRange,
                found: format!("so little that {} would be needed", number(needed)),
                expected: format!("so much that at most {} are needed", number(Parameter::MOST_COUNT)),
            });
        }
        let count = whole_up(needed) as f64;
        let whole = count <= needed || (count - needed) <= ROUNDING_TOLERANCE * count;
        let last = if count == 0.0 {
            0.0
        } else if whole {
            1.0
        } else {
            (needed - (count - 1.0)).clamp(0.0, 1.0)
        };
        let utilisation = if count == 0.0 { 0.0 } else { (needed / count).min(1.0) };
        Ok(Self { needed, count, last, utilisation })
    }

    /// Whether the last one runs in full like the others.
    pub fn even(&self) -> bool {
        self.last >= 1.0
    }

    /// How they run: "the ninth runs at 33 %", "all run in full", "it runs at 40 %".
    pub fn how(&self) -> String {
        let (mut how, one) = (String::with_capacity(32), self.count <= 1.0);
        if self.even() {
            how.push_str(if one { "it runs in full" } else { "all run in full" });
            return how;
        }
        if one {
            how.push_str("it");
        } else {
            how.extend(["the ", &*ordinal(self.count)]);
        }
        how.push_str(" runs at ");
        push_percent(&mut how, self.last);
        how
    }
}

/// A count of things: "1 unit", "9 units", "no lines".
pub(super) fn counted(count: f64, singular: &str) -> String {
    let mut text = String::with_capacity(16);
    if count == 0.0 {
        text.push_str("no");
    } else {
        push_number(&mut text, count);
    }
    text.extend([" ", singular]);
    if !is_one(count) {
        text.push('s');
    }
    text
}

/// Whether a number of things takes the singular.
pub(super) fn is_one(count: f64) -> bool {
    (count - 1.0).abs() < f64::EPSILON
}

/// "first" to "twelfth", then "13th", "21st".
pub(super) fn ordinal(place: f64) -> Cow<'static, str> {
    const WORDS: [&str; 12] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
        "twelfth",
    ];
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number of 1 to MOST_COUNT + 1")]
    let place = place.max(0.0) as u64;
    if let Some(word) = usize::try_from(place).ok().and_then(|place| WORDS.get(place.checked_sub(1)?)) {
        return Cow::Borrowed(word);
    }
    let ending = match (place % 10, place % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    Cow::Owned(format!("{place}{ending}"))
}

/// A share in whole percent where that tells it well, finer where it is small or all but 1.
pub(super) fn percent(share: f64) -> String {
    let mut text = String::with_capacity(8);
    push_percent(&mut text, share);
    text
}

/// Adds what [`percent`] says.
fn push_percent(text: &mut String, share: f64) {
    let percent = share * 100.0;
    if (10.0..99.5).contains(&percent) {
        push_number(text, percent.round_ties_even());
        text.push_str(" %");
    } else {
        push_si::<dimension::Share>(text, share);
    }
}

/// A number of machines before rounding. Unlike [`number`] it never shows a whole number for one that is rounded up:
/// 5.0004 is not shown as 5.
pub(super) fn ratio(count: &Headcount) -> String {
    let short = number(count.needed).to_string();
    if count.even() || count.count == 0.0 || short.contains('.') || short.contains('e') {
        return short;
    }
    [2_usize, 4, 7]
        .iter()
        .map(|decimals| format!("{:.*}", *decimals, count.needed))
        .map(|text| text.trim_end_matches('0').to_owned())
        .find(|text| !text.ends_with('.'))
        .unwrap_or(short)
}

/// A time: in days of that length where it is at least one, otherwise in seconds, minutes or hours.
pub(super) fn time(seconds: f64, day: f64) -> String {
    if seconds >= day && day > 0.0 {
        format!("{} day", number(seconds / day))
    } else {
        print_si::<dimension::Time>(seconds).to_string()
    }
}

/// A length of time in its two greatest parts, by the local day: "3 min 20 s".
pub(super) fn lasting(seconds: f64, day: f64) -> String {
    Time::from_si(day).map_or_else(|| print_si::<dimension::Time>(seconds).to_string(), |day| span(seconds, day))
}

/// What scales of temperature leave of nothing is nothing: 32 °F is 0 °C.
fn near_zero(kelvins: f64) -> Number {
    number(if kelvins.abs() < 1e-9 { 0.0 } else { kelvins })
}

/// A temperature on the scale: "14 °C".
pub(super) fn celsius(temperature: f64) -> String {
    format!("{} °C", near_zero(temperature))
}

/// A difference of temperatures: "14 K".
pub(super) fn kelvin(difference: f64) -> String {
    format!("{} K", near_zero(difference))
}

/// The text with its first letter large.
pub(super) fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
