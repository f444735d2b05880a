//! Cross-origin reading (the Fetch standard): which pages may read answers, and what they may send.

use axum::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD, ORIGIN, VARY,
};
use axum::http::{HeaderMap, HeaderValue, Method, Request, StatusCode};
use axum::response::{IntoResponse, Response};

use crate::http::settings::Origins;

const EXPOSED: HeaderValue =
    HeaderValue::from_static("ETag, Hotwell-Status, Retry-After, RateLimit, RateLimit-Policy, Allow, X-Request-Id");
const METHODS: HeaderValue = HeaderValue::from_static("GET, HEAD, POST, QUERY, OPTIONS");
const HEADERS: HeaderValue = HeaderValue::from_static("Accept, Content-Type, If-None-Match, X-Request-Id");

/// What a request's origin is told.
pub enum Reading {
    /// Any page may read: what all answers carry says so.
    Any,
    /// This page may read, others are told otherwise.
    Page(HeaderValue),
    /// This page may not read, others may.
    Refused,
}

impl Reading {
    /// Holds the request's `Origin` against the settings.
    #[must_use]
    pub fn of(origins: &Origins, headers: &HeaderMap) -> Self {
        match origins {
            Origins::Any => Self::Any,
            Origins::Listed(listed) => match headers.get(ORIGIN) {
                Some(origin) if listed.iter().any(|one| one.as_bytes() == origin.as_bytes()) => {
                    Self::Page(origin.clone())
                }
                _ => Self::Refused,
            },
        }
    }

    /// Writes what is told this origin and not any.
    pub fn add_headers(self, headers: &mut HeaderMap) {
        if matches!(self, Self::Any) {
            return;
        }
        headers.append(VARY, HeaderValue::from_static("Origin"));
        if let Self::Page(origin) = self {
            let_read(headers, origin);
        }
    }
}

/// Lets any page read.
pub fn let_any_read(headers: &mut HeaderMap) {
    let_read(headers, HeaderValue::from_static("*"));
}

fn let_read(headers: &mut HeaderMap, origin: HeaderValue) {
    headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, origin);
    headers.insert(ACCESS_CONTROL_EXPOSE_HEADERS, EXPOSED);
}

/// The answer to a preflight; nothing when the request is none.
#[must_use]
pub fn preflight<B>(request: &Request<B>) -> Option<Response> {
    let headers = request.headers();
    if *request.method() != Method::OPTIONS
        || !headers.contains_key(ORIGIN)
        || !headers.contains_key(ACCESS_CONTROL_REQUEST_METHOD)
    {
        return None;
    }
    let mut response = StatusCode::NO_CONTENT.into_response();
    let out = response.headers_mut();
    out.insert(ACCESS_CONTROL_ALLOW_METHODS, METHODS);
    out.insert(ACCESS_CONTROL_ALLOW_HEADERS, HEADERS);
    out.insert(ACCESS_CONTROL_MAX_AGE, HeaderValue::from_static("7200"));
    Some(response)
}
