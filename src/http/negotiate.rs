//! Choosing a form by `Accept` (RFC 9110, section 12.5.1) and a coding by `Accept-Encoding` (12.5.3).

use axum::http::HeaderMap;
use axum::http::header::{ACCEPT, ACCEPT_ENCODING, HeaderName};

use crate::forms::{Form, Picture};
use crate::http::problem::{Kind, Problem};
use crate::plan::{At, Fault, FaultCode};
use crate::questions::answer::quoted;

/// What each form is called on the wire.
#[must_use]
pub const fn media_type(form: Form) -> &'static str {
    match form {
        Form::Json => "application/json",
        Form::Line => "text/plain; charset=utf-8",
        Form::Svg(_) => "image/svg+xml",
        Form::Png(_) => "image/png",
    }
}

/// The forms in the service's own order of preference, with type and subtype.
const FORMS: [(Form, &str, &str); 4] = [
    (Form::Json, "application", "json"),
    (Form::Line, "text", "plain"),
    (Form::SVG, "image", "svg+xml"),
    (Form::PNG, "image", "png"),
];

/// The form the client likes best; JSON when it does not say.
///
/// # Errors
/// 406 when none of the forms is acceptable.
pub fn form(headers: &HeaderMap) -> Result<Form, Problem> {
    if takes_anything(headers) {
        return Ok(Form::Json);
    }
    let mut best: Option<(u16, Form)> = None;
    for (form, kind, subtype) in FORMS {
        let quality = quality(headers, kind, subtype);
        if quality > best.map_or(0, |(best, _)| best) {
            best = Some((quality, form));
        }
    }
    best.map(|(_, form)| form).ok_or_else(|| {
        Problem::new(
            Kind::NotAcceptable,
            "answers come as application/json, text/plain, image/svg+xml or image/png, or by the suffix .json, .txt, .svg or .png",
        )
    })
}

/// The parameter that says what a picture shows.
pub const PICTURE: &str = "picture";

/// The form of an answer: that of the path, or else the one that the headers prefer.
///
/// # Errors
/// As [`form`], and 422 where a picture is to show something else than there is.
pub fn wanted(fixed: Option<Form>, headers: &HeaderMap, query: Option<&str>) -> Result<Form, Problem> {
    match fixed {
        // No picture can come of it.
        Some(form @ (Form::Json | Form::Line)) => Ok(form),
        Some(form) => showing(form, query),
        None => showing(self::form(headers)?, query),
    }
}

/// The form with what the query wants a picture to show: by the parameter `picture`, `sheet` or `card`. Any other word is a fault,
/// whichever form is then preferred.
fn showing(form: Form, query: Option<&str>) -> Result<Form, Problem> {
    let Some(query) = query.filter(|query| query.contains(PICTURE)) else { return Ok(form) };
    let Some((_, word)) = form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == PICTURE) else {
        return Ok(form);
    };
    match &*word {
        "sheet" => Ok(form.showing(Picture::Sheet)),
        "card" => Ok(form.showing(Picture::Card)),
        _ => Err(Problem::fault(Fault {
            at: At::Parameter(PICTURE.into()),
            code: FaultCode::UnknownChoice,
            found: quoted(&word),
            expected: "sheet or card".into(),
            near: None,
        })),
    }
}

/// True when the client would rather read an error as a line than as problem details.
#[must_use]
pub fn prefers_line(headers: &HeaderMap) -> bool {
    if takes_anything(headers) {
        return false;
    }
    let line = quality(headers, "text", "plain");
    line > 0 && line > quality(headers, "application", "problem+json").max(quality(headers, "application", "json"))
}

/// True when the client names pages and would not rather have anything else, as browsers do and programs do not.
#[must_use]
pub fn prefers_page(headers: &HeaderMap) -> bool {
    let (named, page) = decided(headers, "text", "html");
    let other = quality(headers, "text", "plain").max(quality(headers, "application", "json"));
    named == EXACT && page > 0 && page >= other
}

/// True when the client does not choose, as most do not.
fn takes_anything(headers: &HeaderMap) -> bool {
    let mut values = headers.get_all(ACCEPT).iter();
    match (values.next(), values.next()) {
        (None, _) => true,
        (Some(only), None) => only.as_bytes() == b"*/*",
        _ => false,
    }
}

/// True when the client takes gzip.
#[must_use]
pub fn accepts_gzip(headers: &HeaderMap) -> bool {
    let mut any = false;
    for (name, weight) in items(headers, &ACCEPT_ENCODING) {
        if name.eq_ignore_ascii_case("gzip") || name.eq_ignore_ascii_case("x-gzip") {
            return weight > 0;
        }
        any |= name == "*" && weight > 0;
    }
    any
}

/// How much a client wants a media type, 0 to 1000. The most specific range that matches decides; parameters other
/// than `q` are not looked at, since no form here has any that matter.
fn quality(headers: &HeaderMap, kind: &str, subtype: &str) -> u16 {
    decided(headers, kind, subtype).1
}

/// How specific a range that names the type itself is.
const EXACT: u8 = 3;

/// The range that decides on a media type: how specific it is, and its weight.
fn decided(headers: &HeaderMap, kind: &str, subtype: &str) -> (u8, u16) {
    let mut decided = (0, 0);
    for (range, weight) in items(headers, &ACCEPT) {
        let Some((range_kind, range_subtype)) = range.split_once('/') else { continue };
        let specificity = match (range_kind, range_subtype) {
            ("*", "*") => 1,
            (k, "*") if k.eq_ignore_ascii_case(kind) => 2,
            (k, s) if k.eq_ignore_ascii_case(kind) && s.eq_ignore_ascii_case(subtype) => EXACT,
            _ => continue,
        };
        if specificity > decided.0 || (specificity == decided.0 && weight > decided.1) {
            decided = (specificity, weight);
        }
    }
    decided
}

/// The items of a list header, each with its weight in thousandths.
fn items<'a>(headers: &'a HeaderMap, name: &HeaderName) -> impl Iterator<Item = (&'a str, u16)> {
    headers.get_all(name).iter().filter_map(|value| value.to_str().ok()).flat_map(|value| value.split(',')).filter_map(
        |item| {
            let mut parts = item.split(';').map(str::trim);
            let name = parts.next().filter(|name| !name.is_empty())?;
            let weight = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
            Some((name, weight.map_or(1000, thousandths)))
        },
    )
}

/// A qvalue (`0`, `0.5`, `1.000`) in thousandths; what is none counts as 0, so that it is never served by mistake.
fn thousandths(text: &str) -> u16 {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if fraction.len() > 3 || !fraction.bytes().all(|byte| byte.is_ascii_digit()) {
        return 0;
    }
    let fraction =
        fraction.bytes().fold((0, 100), |(sum, place), byte| (sum + u16::from(byte - b'0') * place, place / 10));
    match whole {
        "0" => fraction.0,
        "1" if fraction.0 == 0 => 1000,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn accept(values: &[&'static str]) -> HeaderMap {
        let mut headers = HeaderMap::new();
        for value in values {
            headers.append(ACCEPT, HeaderValue::from_static(value));
        }
        headers
    }

    #[test]
    fn the_form_follows_accept() {
        for (value, expected) in [
            ("*/*", Form::Json),
            ("application/json", Form::Json),
            ("APPLICATION/JSON;charset=utf-8", Form::Json),
            ("application/*", Form::Json),
            ("text/plain", Form::Line),
            ("text/*;q=0.5", Form::Line),
            ("text/plain; q=0.9, application/json;q=0.8", Form::Line),
            ("text/plain;q=0.8, application/json;q=0.9", Form::Json),
            ("text/plain, application/json", Form::Json),
            ("image/svg+xml", Form::SVG),
            ("image/png", Form::PNG),
            ("image/*", Form::SVG),
            ("image/png, image/svg+xml;q=0.5", Form::PNG),
            ("image/png, */*;q=0", Form::PNG),
            ("image/avif,image/webp,image/apng,image/svg+xml,image/*,*/*;q=0.8", Form::SVG),
            ("text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,*/*;q=0.8", Form::Json),
            ("*/*, application/json;q=0, text/plain;q=0.1", Form::SVG),
            ("*/*;q=0.1, text/*;q=0.2, text/plain;q=0", Form::Json),
            (" , ,image/svg+xml ; q=1.000", Form::SVG),
        ] {
            assert_eq!(form(&accept(&[value])).ok(), Some(expected), "{value}");
        }
        assert_eq!(form(&HeaderMap::new()).ok(), Some(Form::Json));
        assert_eq!(form(&accept(&["text/html", "text/plain"])).ok(), Some(Form::Line), "several header lines");
    }

    #[test]
    fn nothing_acceptable_is_406() {
        for value in [
            "text/html",
            "application/json;q=0",
            "image/jpeg, */*;q=0",
            "json",
            "",
            "application/json;q=1.5",
            "text/plain;q=x",
        ] {
            assert_eq!(form(&accept(&[value])).expect_err(value).kind, Kind::NotAcceptable, "{value}");
        }
    }

    #[test]
    fn errors_are_lines_only_for_those_who_prefer_lines() {
        assert!(prefers_line(&accept(&["text/plain"])));
        assert!(prefers_line(&accept(&["text/plain, */*;q=0.1"])));
        for value in ["*/*", "application/json", "image/svg+xml", "text/html", "text/plain, application/problem+json"] {
            assert!(!prefers_line(&accept(&[value])), "{value}");
        }
        assert!(!prefers_line(&HeaderMap::new()));
    }

    #[test]
    fn pages_are_for_those_who_name_them() {
        for (value, expected) in [
            ("text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,*/*;q=0.8", true),
            ("text/html", true),
            ("text/html, */*", true),
            ("text/html;q=0.5, application/json;q=0.4", true),
            ("text/html;q=0.4, application/json;q=0.5", false),
            ("text/html;q=0", false),
            ("text/plain, text/html;q=0.9", false),
            ("text/*", false),
            ("*/*", false),
            ("application/json", false),
        ] {
            assert_eq!(prefers_page(&accept(&[value])), expected, "{value}");
        }
        assert!(!prefers_page(&HeaderMap::new()));
    }

    #[test]
    fn gzip_is_given_only_when_asked() {
        for (value, expected) in [
            ("gzip", true),
            ("deflate, gzip;q=0.5", true),
            ("GZIP", true),
            ("*", true),
            ("gzip;q=0, *", false),
            ("br", false),
            ("identity", false),
            ("*;q=0", false),
            ("", false),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(ACCEPT_ENCODING, HeaderValue::from_static(value));
            assert_eq!(accepts_gzip(&headers), expected, "{value}");
        }
        assert!(!accepts_gzip(&HeaderMap::new()));
    }

    #[test]
    fn weights_are_read_strictly() {
        for (text, expected) in [
            ("1", 1000),
            ("1.000", 1000),
            ("0.001", 1),
            ("0.5", 500),
            ("0", 0),
            ("0.", 0),
            ("1.1", 0),
            ("0.1234", 0),
            ("-1", 0),
            ("", 0),
        ] {
            assert_eq!(thousandths(text), expected, "{text}");
        }
    }
}
