//! Reading a request's body within a size and a time.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::http::header::{CONTENT_ENCODING, CONTENT_TYPE, EXPECT};
use axum::http::{HeaderMap, Request};
use http_body_util::BodyExt;

use crate::http::problem::{Kind, Problem};

/// What is read and thrown away of a body that is too large, in multiples of the limit: a client that is still
/// sending would otherwise see a broken connection instead of the reason.
const LINGER: usize = 8;

/// Room for so many bytes of bodies together.
pub struct Room {
    used: AtomicUsize,
    most: usize,
}

/// Room that is held; given back when it is dropped.
pub struct Held<'r> {
    room: &'r Room,
    bytes: usize,
}

impl Room {
    /// Room for `most` bytes.
    #[must_use]
    pub fn new(most: usize) -> Self {
        Self { used: AtomicUsize::new(0), most }
    }

    /// How much is held.
    #[must_use]
    pub fn used(&self) -> usize {
        self.used.load(Ordering::Relaxed)
    }

    /// Nothing yet.
    #[must_use]
    pub fn hold(&self) -> Held<'_> {
        Held { room: self, bytes: 0 }
    }
}

impl Held<'_> {
    /// Holds so many bytes more. What has been announced is not held, only what has come: a client that announces and does not send
    /// takes no room from others.
    ///
    /// # Errors
    /// 503 when there is no room.
    pub fn add(&mut self, bytes: usize) -> Result<(), Problem> {
        self.bytes += bytes;
        if self.room.used.fetch_add(bytes, Ordering::Relaxed) + bytes <= self.room.most {
            return Ok(());
        }
        let detail = "the documents that are being read take all the memory they may; ask again in a second";
        let limit = self.room.most as f64;
        Err(Problem::limit(Kind::Busy, "body-memory", limit, "bytes", detail).retry_after(1.0))
    }
}

impl Drop for Held<'_> {
    fn drop(&mut self) {
        self.room.used.fetch_sub(self.bytes, Ordering::Relaxed);
    }
}

/// Reads a JSON body into the room that is held; gives the headers back with it.
///
/// # Errors
/// 415 when it is not JSON without a content encoding, 413 past `limit`, 408 past `timeout`, 400 when it breaks off, 503 without
/// room.
pub async fn json(
    request: Request<Body>,
    limit: usize,
    timeout: Duration,
    room: &mut Held<'_>,
) -> Result<(HeaderMap, Bytes), Problem> {
    let (head, body) = request.into_parts();
    check_type(&head.headers)?;
    let waits = head.headers.contains_key(EXPECT);
    let read = async {
        if body.size_hint().lower() > limit as u64 {
            // A client that waits for leave to send has sent nothing yet.
            if !waits {
                discard(body, limit).await;
            }
            return Err(too_large(limit, "the body is larger than the limit"));
        }
        collect(body, limit, room).await
    };
    match tokio::time::timeout(timeout, read).await {
        Ok(read) => read.map(|bytes| (head.headers, bytes)),
        Err(_) => Err(Problem::limit(
            Kind::SlowBody,
            "body-timeout",
            timeout.as_secs_f64(),
            "seconds",
            "the body did not arrive in time",
        )),
    }
}

/// 413 for a document of more than `limit` bytes.
#[must_use]
pub fn too_large(limit: usize, detail: &'static str) -> Problem {
    Problem::limit(Kind::TooLarge, "body-bytes", limit as f64, "bytes", detail)
}

async fn collect(mut body: Body, limit: usize, room: &mut Held<'_>) -> Result<Bytes, Problem> {
    let mut first = Bytes::new();
    let mut all = Vec::new();
    while let Some(frame) = body.frame().await {
        let Ok(frame) = frame else {
            return Err(Problem::new(Kind::BrokenBody, "the body ended before it was whole"));
        };
        let Ok(data) = frame.into_data() else { continue };
        if first.len().max(all.len()) + data.len() > limit {
            discard(body, limit).await;
            return Err(too_large(limit, "the body is larger than the limit"));
        }
        room.add(data.len())?;
        // Most bodies come in one piece and need no copy.
        if first.is_empty() && all.is_empty() {
            first = data;
        } else {
            if all.is_empty() {
                all.reserve(first.len() + data.len());
                all.extend_from_slice(&first);
            }
            all.extend_from_slice(&data);
        }
    }
    Ok(if all.is_empty() { first } else { all.into() })
}

async fn discard(mut body: Body, limit: usize) {
    let mut left = limit.saturating_mul(LINGER);
    while let Some(Ok(frame)) = body.frame().await {
        let length = frame.data_ref().map_or(0, Bytes::len);
        if length > left {
            return;
        }
        left -= length;
    }
}

fn check_type(headers: &HeaderMap) -> Result<(), Problem> {
    if let Some(coding) = headers.get(CONTENT_ENCODING)
        && !coding.as_bytes().eq_ignore_ascii_case(b"identity")
    {
        return Err(Problem::unsupported_media_type("send the body as it is, without a Content-Encoding"));
    }
    let Some(value) = headers.get(CONTENT_TYPE) else {
        return Err(Problem::unsupported_media_type("say what the body is: Content-Type: application/json"));
    };
    let essence = value.as_bytes().split(|byte| *byte == b';').next().unwrap_or_default().trim_ascii();
    let is_json = essence.eq_ignore_ascii_case(b"application/json")
        || (essence.len() > 17
            && essence[..12].eq_ignore_ascii_case(b"application/")
            && essence[essence.len() - 5..].eq_ignore_ascii_case(b"+json"));
    if is_json {
        return Ok(());
    }
    Err(Problem::unsupported_media_type("a plan is sent as Content-Type: application/json"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    #[test]
    fn only_json_is_taken() {
        let check = |name, value| {
            let mut headers = HeaderMap::new();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/json"));
            headers.insert(name, HeaderValue::from_static(value));
            check_type(&headers).is_ok()
        };
        for value in ["application/json", "Application/JSON ; charset=utf-8", "application/plan+json"] {
            assert!(check(CONTENT_TYPE, value), "{value}");
        }
        for value in ["text/plain", "application/x-www-form-urlencoded", "application/+json", "json", "", "text/a+json"]
        {
            assert!(!check(CONTENT_TYPE, value), "{value}");
        }
        assert!(check(CONTENT_ENCODING, "identity"));
        assert!(!check(CONTENT_ENCODING, "gzip"));
        assert!(check_type(&HeaderMap::new()).is_err());
    }
}
