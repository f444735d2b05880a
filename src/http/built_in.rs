//! Texts that are built into the program, with what it takes to serve them: reckoned once, at the first request.

use axum::body::{Body, Bytes};
use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, HeaderMap,
    HeaderValue, VARY,
};
use axum::http::{Method, Request};
use axum::response::Response;

use crate::http::conditional::{self, Precondition, Tag};
use crate::http::problem::Problem;
use crate::http::{compress, negotiate};

/// A text that is built into the program.
pub struct BuiltIn {
    media_type: &'static str,
    plain: Bytes,
    zipped: Option<Bytes>,
    tag: Tag,
    /// What it may load; without one, what everything may: nothing.
    policy: Option<&'static str>,
    /// Whether `Accept` chose it among others at its path.
    negotiated: bool,
}

impl BuiltIn {
    /// A text that stands at its path alone and loads nothing.
    #[must_use]
    pub fn new(media_type: &'static str, text: &'static str) -> Self {
        Self {
            media_type,
            plain: Bytes::from_static(text.as_bytes()),
            zipped: compress::gzip(text.as_bytes()).map(Bytes::from),
            tag: Tag::of_text(media_type, text.as_bytes()),
            policy: None,
            negotiated: false,
        }
    }

    /// The same with a `Content-Security-Policy` of its own.
    #[must_use]
    pub fn with_policy(self, policy: &'static str) -> Self {
        Self { policy: Some(policy), ..self }
    }

    /// The same, chosen by `Accept`.
    #[must_use]
    pub fn negotiated(self) -> Self {
        Self { negotiated: true, ..self }
    }

    /// The response to a request for it: 304 where the client holds it.
    ///
    /// # Errors
    /// None for the methods that read.
    pub fn answer(&self, request: &Request<Body>) -> Result<Response, Problem> {
        let gzip = negotiate::accepts_gzip(request.headers());
        match self.tag.precondition(request.headers(), gzip) {
            Precondition::None => Ok(self.whole(gzip)),
            Precondition::Held(held) => self.unchanged(request.method(), held),
            Precondition::HeldIfAny => self.unchanged(request.method(), self.tag.header(false)),
        }
    }

    fn whole(&self, gzip: bool) -> Response {
        let zipped = self.zipped.as_ref().filter(|_| gzip);
        let mut response = Response::new(Body::from(zipped.unwrap_or(&self.plain).clone()));
        let headers = response.headers_mut();
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(self.media_type));
        if zipped.is_some() {
            headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        }
        headers.insert(ETAG, self.tag.header(zipped.is_some()));
        self.add_headers(headers);
        response
    }

    fn unchanged(&self, method: &Method, held: HeaderValue) -> Result<Response, Problem> {
        let mut response = conditional::held(method)?;
        response.headers_mut().insert(ETAG, held);
        self.add_headers(response.headers_mut());
        Ok(response)
    }

    /// What the text and its 304 have in common. The parts of a page belong together, so each is asked for again: another
    /// version of the service changes all of them at once.
    fn add_headers(&self, headers: &mut HeaderMap) {
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-cache"));
        let vary =
            if self.negotiated { HeaderValue::from_static("Accept, Accept-Encoding") } else { ACCEPT_ENCODING.into() };
        headers.insert(VARY, vary);
        if let Some(policy) = self.policy {
            headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
        }
    }
}
