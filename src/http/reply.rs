//! An answer on its way out: its media type, tag, cache rules and coding.

use axum::body::Body;
use axum::http::Method;
use axum::http::header::{CONTENT_ENCODING, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, HeaderMap, HeaderValue, VARY};
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
        *headers = self.headers(self.tag.header(is_compressed), app);
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(negotiate::media_type(self.form)));
        if is_compressed {
            headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip"));
        }
        response
    }

    /// The response to a client that holds this answer, by the tag it named.
    ///
    /// # Errors
    /// 412 for POST.
    pub fn unchanged(&self, method: &Method, held: HeaderValue, app: &App) -> Result<Response, Problem> {
        let mut response = conditional::held(method)?;
        let headers = response.headers_mut();
        *headers = self.headers(held, app);
        headers.remove(CONTENT_TYPE);
        Ok(response)
    }

    /// What an answer and its 304 have in common.
    fn headers(&self, tag: HeaderValue, app: &App) -> HeaderMap {
        let mut headers = app.carried.to_a_question();
        headers.insert(ETAG, tag);
        if self.negotiated {
            headers.insert(VARY, HeaderValue::from_static("Accept, Accept-Encoding"));
        }
        if matches!(self.form, Form::Svg(_)) {
            // A picture opened by itself is a document: it may style itself and do nothing else.
            let closed = HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'; sandbox");
            headers.insert(CONTENT_SECURITY_POLICY, closed);
        }
        headers
    }
}
