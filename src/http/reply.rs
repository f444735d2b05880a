//! An answer on its way out: its media type, tag, cache rules and coding.

use std::time::Duration;

use axum::body::Body;
use axum::http::Method;
use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, HeaderMap,
    HeaderValue, VARY,
};
use axum::response::Response;

use crate::forms::Form;
use crate::http::app::App;
use crate::http::conditional::{self, Tag};
use crate::http::problem::Problem;
use crate::http::{compress, negotiate};

/// An answer on its way out.
pub struct Reply {
    /// Its tag.
    pub tag: Tag,
    /// Its form.
    pub form: Form,
    /// Whether `Accept` chose the form.
    pub negotiated: bool,
    /// Whether the client takes gzip.
    pub gzip: bool,
}

impl Reply {
    /// The response with these bytes, compressed when that is wanted and worth it.
    #[must_use]
    pub fn with(&self, bytes: Vec<u8>, app: &App) -> Response {
        let compressed =
            if self.gzip && bytes.len() >= app.settings.compress_bytes { compress::gzip(&bytes) } else { None };
        let is_compressed = compressed.is_some();
        let mut response = Response::new(Body::from(compressed.unwrap_or(bytes)));
        let headers = response.headers_mut();
        headers.reserve(super::app::HEADERS);
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(negotiate::media_type(self.form)));
        if is_compressed {
            headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        }
        headers.insert(ETAG, self.tag.header(is_compressed));
        self.add_headers(headers, app);
        response
    }

    /// The response to a client that holds this answer, by the tag it named.
    ///
    /// # Errors
    /// 412 for POST.
    pub fn unchanged(&self, method: &Method, held: HeaderValue, app: &App) -> Result<Response, Problem> {
        let mut response = conditional::held(method, held)?;
        self.add_headers(response.headers_mut(), app);
        Ok(response)
    }

    /// What an answer and its 304 have in common.
    fn add_headers(&self, headers: &mut HeaderMap, app: &App) {
        headers.insert(CACHE_CONTROL, cache_control(app.settings.max_age));
        let vary =
            if self.negotiated { HeaderValue::from_static("Accept, Accept-Encoding") } else { ACCEPT_ENCODING.into() };
        headers.insert(VARY, vary);
        if matches!(self.form, Form::Svg(_)) {
            // A picture opened by itself is a document: it may style itself and do nothing else.
            let closed = HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'; sandbox");
            headers.insert(CONTENT_SECURITY_POLICY, closed);
        }
    }
}

fn cache_control(max_age: Duration) -> HeaderValue {
    if max_age.is_zero() {
        return HeaderValue::from_static("no-cache");
    }
    if max_age == Duration::from_secs(300) {
        return HeaderValue::from_static("public, max-age=300");
    }
    // Digits and plain words are valid in a header.
    HeaderValue::try_from(format!("public, max-age={}", max_age.as_secs()))
        .unwrap_or_else(|_| HeaderValue::from_static("no-cache"))
}
