//! Entity tags and `If-None-Match` (RFC 9110, sections 8.8.3 and 13.1.2).
//!
//! An answer is a pure function of the document's bytes, the question, the form and the engine: their hash is a strong
//! validator. It is taken over the bytes as sent, so GET with a packed link, POST and QUERY of one document agree, and
//! a client that shows a tag can be told "unchanged" without reckoning: it can only have the tag from a 200.

use axum::http::header::IF_NONE_MATCH;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::response::{IntoResponse, Response};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use smallvec::SmallVec;

use crate::forms::{Form, Picture};
use crate::http::problem::{Kind, Problem};

/// The most bytes of `If-None-Match`: some two hundred tags, where one answer has eight.
pub const IF_NONE_MATCH_BYTES: usize = 8 << 10;

/// How long `If-None-Match` is. Several lines of it are one list, joined by a comma and a space (RFC 9110, section 5.3).
#[must_use]
pub fn if_none_match_bytes(headers: &HeaderMap) -> usize {
    headers.get_all(IF_NONE_MATCH).iter().map(|value| value.len() + 2).sum::<usize>().saturating_sub(2)
}

/// A strong entity tag without its quotes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tag([u8; TAG_BYTES]);

/// What is called short: the whole of most sums.
const SHORT: usize = 256;

/// Half of a hash as base64url.
const TAG_BYTES: usize = 22;

/// What `If-None-Match` means for this request.
#[derive(Debug, PartialEq, Eq)]
pub enum Precondition {
    /// Answer as usual.
    None,
    /// The client holds this very answer: the tag as it gave it.
    Held(HeaderValue),
    /// `*`: whatever there is, the client holds it; so the request must be seen to have an answer first.
    HeldIfAny,
}

impl Tag {
    /// The tag of the answer to `question` on `document` in `form`.
    #[must_use]
    pub fn of(question: &str, document: &[u8], form: Form) -> Self {
        let form: &[u8] = match form {
            Form::Json => b"\0json\0",
            Form::Line => b"\0line\0",
            Form::Svg(Picture::ByWidth) => b"\0svg\0",
            Form::Svg(Picture::Sheet) => b"\0svg sheet\0",
            Form::Svg(Picture::Card) => b"\0svg card\0",
            Form::Png(Picture::ByWidth | Picture::Sheet) => b"\0png\0",
            Form::Png(Picture::Card) => b"\0png card\0",
        };
        let version = concat!("hotwell ", env!("CARGO_PKG_VERSION"), "\0").as_bytes();
        Self::of_parts([version, question.as_bytes(), form, document])
    }

    /// The tag of one text in these parts.
    fn of_parts<const PARTS: usize>(parts: [&[u8]; PARTS]) -> Self {
        // What is short is hashed in one piece, without a hasher that holds room for what is long.
        let hash = if parts.iter().map(|part| part.len()).sum::<usize>() <= SHORT {
            let mut whole = SmallVec::<[u8; SHORT]>::new();
            for part in parts {
                whole.extend_from_slice(part);
            }
            blake3::hash(&whole)
        } else {
            let mut hasher = blake3::Hasher::new();
            for part in parts {
                hasher.update(part);
            }
            hasher.finalize()
        };
        let mut tag = [b'A'; TAG_BYTES];
        // 16 bytes are 22 letters.
        let written = URL_SAFE_NO_PAD.encode_slice(&hash.as_bytes()[..16], &mut tag);
        debug_assert_eq!(written, Ok(TAG_BYTES));
        Self(tag)
    }

    /// The tag of a text that is built in.
    #[must_use]
    pub fn of_text(media_type: &str, text: &[u8]) -> Self {
        Self::of_parts([media_type.as_bytes(), b"\0", text])
    }

    /// The header's value. A compressed answer is other bytes, so it has another tag.
    #[must_use]
    pub fn header(&self, compressed: bool) -> HeaderValue {
        let suffix: &[u8] = if compressed { b"-gzip\"" } else { b"\"" };
        let mut text = [b'"'; 1 + TAG_BYTES + b"-gzip\"".len()];
        text[1..=TAG_BYTES].copy_from_slice(&self.0);
        let end = 1 + TAG_BYTES + suffix.len();
        text[1 + TAG_BYTES..end].copy_from_slice(suffix);
        // Base64url and a plain suffix are valid in a header.
        HeaderValue::from_bytes(&text[..end]).unwrap_or_else(|_| HeaderValue::from_static("\"\""))
    }

    /// Holds the request's `If-None-Match` against this tag, by the weak comparison.
    #[must_use]
    pub fn precondition(&self, headers: &HeaderMap, gzip: bool) -> Precondition {
        for value in headers.get_all(IF_NONE_MATCH) {
            let Ok(text) = value.to_str() else { continue };
            if text.trim() == "*" {
                return Precondition::HeldIfAny;
            }
            for item in text.split(',').map(str::trim) {
                let opaque = item.strip_prefix("W/").unwrap_or(item);
                let Some(opaque) = opaque.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')) else { continue };
                if let Some(compressed) = self.matches(opaque)
                    && (gzip || !compressed)
                {
                    return Precondition::Held(self.header(compressed));
                }
            }
        }
        Precondition::None
    }

    /// Whether the tag is this one's, and if so, of the compressed bytes.
    fn matches(&self, opaque: &str) -> Option<bool> {
        match opaque.as_bytes().strip_prefix(&self.0)? {
            b"" => Some(false),
            b"-gzip" => Some(true),
            _ => None,
        }
    }
}

/// The answer to a client that holds the answer: 304 for safe methods (QUERY is one, RFC 10008), 412 for POST. Its headers are
/// still to be added, the tag among them.
///
/// # Errors
/// 412 for POST.
pub fn held(method: &Method) -> Result<Response, Problem> {
    if *method == Method::POST {
        return Err(Problem::new(Kind::PreconditionFailed, "If-None-Match names the answer this POST would be given"));
    }
    Ok(StatusCode::NOT_MODIFIED.into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn if_none_match(value: &str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(IF_NONE_MATCH, HeaderValue::try_from(value).expect("a header value"));
        headers
    }

    #[test]
    fn a_tag_tells_question_document_and_form_apart() {
        let tags = [
            Tag::of("flow-balance", b"{}", Form::Json),
            Tag::of("flow-balance", b"{}", Form::Line),
            Tag::of("flow-balance", b"{}", Form::SVG),
            Tag::of("flow-balance", b"{}", Form::PNG),
            Tag::of("flow-balance", b"{}", Form::Svg(Picture::Sheet)),
            Tag::of("flow-balance", b"{}", Form::Svg(Picture::Card)),
            Tag::of("flow-balance", b"{}", Form::Png(Picture::Card)),
            Tag::of("flow-balance", b"{ }", Form::Json),
            Tag::of("fill-level", b"{}", Form::Json),
        ];
        for (index, tag) in tags.iter().enumerate() {
            assert!(!tags[..index].contains(tag));
        }
        assert_eq!(tags[0], Tag::of("flow-balance", b"{}", Form::Json));
        assert_ne!(tags[0].header(false), tags[0].header(true));
    }

    #[test]
    fn a_tag_is_the_same_in_one_piece_and_in_parts() {
        for length in [SHORT - 1, SHORT, SHORT + 1, 4 * SHORT] {
            let text: Vec<u8> = (0..length).map(|place| place.to_le_bytes()[0]).collect();
            let (begin, end) = text.split_at(length / 3);
            let mut hasher = blake3::Hasher::new();
            hasher.update(&text);
            let hash = URL_SAFE_NO_PAD.encode(&hasher.finalize().as_bytes()[..16]);
            assert_eq!(Tag::of_parts([begin, end]).0, hash.as_bytes(), "{length}");
        }
    }

    #[test]
    fn if_none_match_is_a_list_compared_weakly() {
        let tag = Tag::of("flow-balance", b"{}", Form::Json);
        let plain = tag.header(false);
        let text = plain.to_str().expect("text");
        for value in [text.to_owned(), format!("W/{text}"), format!("\"other\", {text}"), format!("W/\"x\" ,W/{text}")]
        {
            assert_eq!(tag.precondition(&if_none_match(&value), false), Precondition::Held(plain.clone()), "{value}");
        }
        for value in ["\"other\"".to_owned(), text.trim_matches('"').to_owned(), format!("{text}x"), String::new()] {
            assert_eq!(tag.precondition(&if_none_match(&value), true), Precondition::None, "{value}");
        }
        let zipped = tag.header(true);
        let headers = if_none_match(zipped.to_str().expect("text"));
        assert_eq!(tag.precondition(&headers, true), Precondition::Held(zipped));
        assert_eq!(tag.precondition(&headers, false), Precondition::None, "the client cannot read what it names");
        assert_eq!(tag.precondition(&if_none_match(" * "), false), Precondition::HeldIfAny);
        assert_eq!(tag.precondition(&HeaderMap::new(), false), Precondition::None);
    }

    #[test]
    fn lines_of_if_none_match_are_measured_as_one_list() {
        let mut headers = HeaderMap::new();
        assert_eq!(if_none_match_bytes(&headers), 0);
        headers.append(IF_NONE_MATCH, HeaderValue::from_static("\"a\""));
        assert_eq!(if_none_match_bytes(&headers), 3);
        headers.append(IF_NONE_MATCH, HeaderValue::from_static("\"b\""));
        assert_eq!(if_none_match_bytes(&headers), "\"a\", \"b\"".len());
    }

    #[test]
    fn only_safe_methods_are_told_304() {
        let query = Method::from_bytes(b"QUERY").expect("a method");
        assert_eq!(held(&query).expect("304").status(), StatusCode::NOT_MODIFIED);
        assert_eq!(held(&Method::POST).expect_err("412").kind, Kind::PreconditionFailed);
    }
}
