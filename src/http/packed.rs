//! A document packed into a link: JSON, through zlib (RFC 1950), then base64url (RFC 4648, section 5) without padding.

use std::io::Read;

use axum::body::Bytes;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use flate2::read::ZlibDecoder;

use crate::http::problem::{Kind, Problem};
use crate::plan::{At, Fault, FaultCode};

/// Unpacks the parameter `z` of a query, stopping at `limit` bytes.
///
/// # Errors
/// 422 without `z`, 400 when it is not base64url of a whole zlib stream, 413 past the limit.
pub fn document(query: Option<&str>, limit: usize) -> Result<Bytes, Problem> {
    let packed = form_urlencoded::parse(query.unwrap_or_default().as_bytes())
        .find_map(|(name, value)| (name == "z").then_some(value))
        .ok_or_else(|| {
            Problem::fault(Fault {
                at: At::Parameter("z".into()),
                code: FaultCode::MissingField,
                found: "nothing".into(),
                expected: "a packed plan (zlib, then base64url without padding); or send the plan with POST".into(),
                near: None,
            })
        })?;
    let compressed = URL_SAFE_NO_PAD.decode(packed.as_bytes()).map_err(|error| {
        Problem::new(Kind::BadPacking, format!("the parameter z is not base64url without padding: {error}"))
    })?;
    inflate(&compressed, limit)
}

fn inflate(compressed: &[u8], limit: usize) -> Result<Bytes, Problem> {
    let mut decoder = ZlibDecoder::new(compressed);
    let mut document = Vec::with_capacity(compressed.len().saturating_mul(4).min(limit));
    // One byte past the limit tells "just fits" from "too large" without unpacking the rest.
    let allowed = u64::try_from(limit).unwrap_or(u64::MAX).saturating_add(1);
    decoder.by_ref().take(allowed).read_to_end(&mut document).map_err(|error| {
        Problem::new(Kind::BadPacking, format!("the parameter z is not a whole zlib stream: {error}"))
    })?;
    if document.len() > limit {
        return Err(super::body::too_large(limit, "the plan in the link unpacks to more than the limit"));
    }
    if usize::try_from(decoder.total_in()) != Ok(compressed.len()) {
        return Err(Problem::new(Kind::BadPacking, "the parameter z goes on after the end of its zlib stream"));
    }
    Ok(document.into())
}

/// Packs a document: what [`document`] unpacks.
#[must_use]
pub fn pack(document: &[u8]) -> String {
    let mut compressed = Vec::new();
    // Reading from memory into memory does not fail.
    let _ = flate2::read::ZlibEncoder::new(document, flate2::Compression::best()).read_to_end(&mut compressed);
    URL_SAFE_NO_PAD.encode(compressed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unpack(z: &str, limit: usize) -> Result<Bytes, Kind> {
        document(Some(&format!("errors=200&z={z}")), limit).map_err(|problem| problem.kind)
    }

    #[test]
    fn what_is_packed_unpacks_to_the_same_bytes() {
        for text in ["", "{}", "{\"title\": \"Kestrel Deep\"}\n", &"x".repeat(100_000)] {
            assert_eq!(unpack(&pack(text.as_bytes()), 100_000).expect("unpacks"), text);
        }
    }

    #[test]
    fn the_limit_holds_to_the_byte() {
        let z = pack(&[b' '; 1000]);
        assert!(unpack(&z, 1000).is_ok());
        assert_eq!(unpack(&z, 999), Err(Kind::TooLarge));
    }

    #[test]
    fn damage_is_told_apart() {
        let whole = pack(b"{\"title\": \"a longer text, so that there is something to cut off\"}");
        let bytes = URL_SAFE_NO_PAD.decode(&whole).expect("base64");
        for cut in 0..bytes.len() {
            assert_eq!(unpack(&URL_SAFE_NO_PAD.encode(&bytes[..cut]), 1000), Err(Kind::BadPacking), "cut at {cut}");
        }
        let mut longer = bytes.clone();
        longer.push(0);
        assert_eq!(unpack(&URL_SAFE_NO_PAD.encode(longer), 1000), Err(Kind::BadPacking));
        assert_eq!(unpack("%7B%7D", 1000), Err(Kind::BadPacking));
        assert_eq!(unpack(&format!("{whole}==="), 1000), Err(Kind::BadPacking));
        assert_eq!(document(Some("y=1"), 10).expect_err("no z").kind, Kind::Unreadable);
        assert_eq!(document(None, 10).expect_err("no query").kind, Kind::Unreadable);
    }
}
