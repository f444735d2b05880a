//! The values of flags, as people write them.

use std::time::Duration;

use hotwell::http::rate::networks;
use hotwell::http::settings::Origins;
use ipnet::IpNet;

/// Networks as one value of a flag.
#[derive(Clone, Debug)]
pub struct Trusted(pub Vec<IpNet>);

/// `none`, or addresses and networks separated by commas.
pub fn trusted(text: &str) -> Result<Trusted, String> {
    networks(text).map(Trusted)
}

/// Web pages that may read answers: `*`, `none`, or origins separated by commas.
pub fn origins(text: &str) -> Origins {
    match text.trim() {
        "*" => Origins::Any,
        "none" | "" => Origins::Listed(Vec::new()),
        list => Origins::Listed(list.split(',').map(|origin| origin.trim().trim_end_matches('/').to_owned()).collect()),
    }
}

/// Splits `250ms` into its number and its suffix.
fn number_and_suffix(text: &str) -> Result<(f64, &str), String> {
    let text = text.trim();
    let end = text.find(|character: char| !character.is_ascii_digit() && character != '.').unwrap_or(text.len());
    let (number, suffix) = text.split_at(end);
    let number = number.parse().map_err(|_| format!("{text:?} does not begin with a number"))?;
    Ok((number, suffix.trim()))
}

/// A time such as `250ms` or `2min`; a bare number is in seconds.
pub fn duration(text: &str) -> Result<Duration, String> {
    let (number, suffix) = number_and_suffix(text)?;
    let seconds = match suffix {
        "ms" => number / 1e3,
        "s" | "" => number,
        "min" => number * 60.0,
        "h" => number * 3600.0,
        other => return Err(format!("{other:?} is none of ms, s, min, h")),
    };
    if seconds > 86_400.0 {
        return Err("the longest time is a day".to_owned());
    }
    Duration::try_from_secs_f64(seconds).map_err(|error| error.to_string())
}

/// A size such as `2MiB`; a bare number is in bytes.
pub fn bytes(text: &str) -> Result<usize, String> {
    let (number, suffix) = number_and_suffix(text)?;
    let factor = match suffix {
        "" | "B" => 1.0,
        "KiB" => 1024.0,
        "MiB" => 1024.0 * 1024.0,
        "GiB" => 1024.0 * 1024.0 * 1024.0,
        other => return Err(format!("{other:?} is none of B, KiB, MiB, GiB")),
    };
    let size = number * factor;
    if size > 1024.0 * 1024.0 * 1024.0 {
        return Err("the largest size is 1GiB".to_owned());
    }
    // Non-negative, since the number has no sign, and bounded just now.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    Ok(size as usize)
}

/// A number of something that must be there.
pub fn at_least_one(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) | Err(_) => Err("a whole number, at least 1".to_owned()),
        Ok(number) => Ok(number),
    }
}

/// How often something is taken.
pub fn multiple(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(number) if (0.0..=1000.0).contains(&number) => Ok(number),
        _ => Err("a number, 0 to 1000".to_owned()),
    }
}

/// Two ends make a range.
pub fn at_least_two(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0 | 1) | Err(_) => Err("a whole number, at least 2".to_owned()),
        Ok(number) => Ok(number),
    }
}

/// A depth that fits the stack of every thread.
pub fn depth(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(number @ 1..=500) => Ok(number),
        _ => Err("a whole number, 1 to 500".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_sizes_are_read() {
        assert_eq!(duration("250ms"), Ok(Duration::from_millis(250)));
        assert_eq!(duration(" 2 min "), Ok(Duration::from_secs(120)));
        assert_eq!(duration("0.5"), Ok(Duration::from_millis(500)));
        for text in ["", "s", "-1s", "1 day", "1e9s", "99999999h", "1..2s"] {
            assert!(duration(text).is_err(), "{text}");
        }
        assert_eq!(bytes("2MiB"), Ok(2 << 20));
        assert_eq!(bytes("1000"), Ok(1000));
        for text in ["", "MiB", "2MB", "-1", "9GiB"] {
            assert!(bytes(text).is_err(), "{text}");
        }
    }
}
