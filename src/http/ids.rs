//! Request ids: what a line of the log and what a client shows are found together by.

use std::hash::{BuildHasher, RandomState};
use std::sync::atomic::{AtomicU64, Ordering};

use axum::http::header::{HeaderMap, HeaderName, HeaderValue};

/// The header that carries one, there and back.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

const HEX: &[u8; 16] = b"0123456789abcdef";

/// The longest request id taken over from a client.
const ID_BYTES: usize = 64;

/// Request ids: unique in this process, and most likely among processes.
pub struct Ids {
    seed: u64,
    next: AtomicU64,
}

impl Default for Ids {
    fn default() -> Self {
        Self { seed: RandomState::new().hash_one("request ids"), next: AtomicU64::new(0) }
    }
}

impl Ids {
    /// The client's own id where it is short and plain, else a new one.
    pub fn of(&self, headers: &HeaderMap) -> HeaderValue {
        if let Some(id) = headers.get(REQUEST_ID) {
            let bytes = id.as_bytes();
            if !bytes.is_empty()
                && bytes.len() <= ID_BYTES
                && bytes.iter().all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(byte))
            {
                return id.clone();
            }
        }
        // An odd multiplier is a bijection on u64, so ids do not repeat.
        let number = self.next.fetch_add(1, Ordering::Relaxed).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ self.seed;
        let bytes = number.to_be_bytes();
        let digit = |place: usize| {
            HEX[usize::from(if place.is_multiple_of(2) { bytes[place / 2] >> 4 } else { bytes[place / 2] & 15 })]
        };
        // Hexadecimal digits are valid in a header.
        HeaderValue::from_bytes(&std::array::from_fn::<u8, 16, _>(digit))
            .unwrap_or_else(|_| HeaderValue::from_static("none"))
    }
}
