//! Problems: every way a request can fail.
//!
//! A handler returns a [`Problem`]; it becomes bytes only at the way out ([`super::app`]), which knows what form the
//! client reads. What a client is told and what the log is told are kept apart: `detail` goes out, `private` never.

mod kind;
mod told;

use std::borrow::Cow;
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

use crate::plan::{Fault, Faults};
use axum::http::header::{ACCEPT, ACCEPT_ENCODING, ALLOW, HeaderMap, HeaderName, HeaderValue, RETRY_AFTER};
use axum::response::{IntoResponse, Response};

pub use kind::Kind;
pub use told::{Limit, ProblemBody};

/// What a problem carries beside its detail.
#[derive(Clone, Debug, Default)]
pub enum Members {
    /// Nothing.
    #[default]
    None,
    /// A place in a text, both from 1.
    Place {
        /// The line.
        line: usize,
        /// The column.
        column: usize,
    },
    /// The faults of a document or of parameters.
    Faults(Box<Faults>),
    /// The limit that was hit.
    Limit(Limit),
}

/// One occurrence of a problem. Boxed, since a result carries it everywhere and it is rare.
#[derive(Clone, Debug)]
pub struct Problem(Box<Occurrence>);

/// What is known of a [`Problem`].
#[derive(Clone, Debug)]
pub struct Occurrence {
    /// The kind.
    pub kind: Kind,
    /// What is wrong this time: one sentence for the client.
    pub detail: Cow<'static, str>,
    /// Figures and places for programs.
    pub members: Members,
    /// For the log alone.
    pub private: Option<String>,
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl Deref for Problem {
    type Target = Occurrence;

    fn deref(&self) -> &Occurrence {
        &self.0
    }
}

impl DerefMut for Problem {
    fn deref_mut(&mut self) -> &mut Occurrence {
        &mut self.0
    }
}

impl Problem {
    /// A problem with its detail.
    pub fn new(kind: Kind, detail: impl Into<Cow<'static, str>>) -> Self {
        let detail = detail.into();
        Self(Box::new(Occurrence { kind, detail, members: Members::None, private: None, headers: Vec::new() }))
    }

    /// 500, with what the log shall know.
    pub fn internal(private: impl Into<String>) -> Self {
        let mut problem =
            Self::new(Kind::Internal, "something is wrong in the service; the request id finds it in the log");
        problem.private = Some(private.into());
        problem
    }

    /// 503 while shutting down.
    #[must_use]
    pub fn not_ready() -> Self {
        Self::new(Kind::NotReady, "the service is shutting down").retry_after(5.0)
    }

    /// 404.
    #[must_use]
    pub fn not_found() -> Self {
        Self::new(Kind::NotFound, "there is nothing at this path; / says what there is")
    }

    /// 405, with the methods that work.
    #[must_use]
    pub fn method_not_allowed(allow: &'static str) -> Self {
        Self::new(Kind::MethodNotAllowed, format!("this path takes {allow}")).with(ALLOW, allow)
    }

    /// 415, with what would be taken.
    pub fn unsupported_media_type(detail: impl Into<Cow<'static, str>>) -> Self {
        Self::new(Kind::UnsupportedMediaType, detail)
            .with(ACCEPT, "application/json")
            .with(ACCEPT_ENCODING, "identity")
            .with(super::endpoint::ACCEPT_QUERY, "application/json")
    }

    /// A limit was hit: `counts` says what the value counts.
    pub fn limit(
        kind: Kind,
        name: &'static str,
        value: f64,
        counts: &'static str,
        detail: impl Into<Cow<'static, str>>,
    ) -> Self {
        let mut problem = Self::new(kind, detail);
        problem.members = Members::Limit(Limit { name, value, counts });
        problem
    }

    /// 422 with every fault.
    #[must_use]
    pub fn faults(faults: Faults) -> Self {
        let mut problem = Self::new(Kind::Unreadable, faults.say());
        problem.members = Members::Faults(Box::new(faults));
        problem
    }

    /// 422 for a single fault.
    #[must_use]
    pub fn fault(fault: Fault) -> Self {
        Self::faults(Faults { listed: vec![fault], total: 1 })
    }

    /// Adds when to ask again: in whole seconds, at least one, at most a minute.
    #[must_use]
    pub fn retry_after(mut self, seconds: f64) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within bounds")]
        let seconds = seconds.ceil().clamp(1.0, 60.0) as u32;
        self.headers.push((RETRY_AFTER, seconds.into()));
        self
    }

    fn with(mut self, name: HeaderName, value: &'static str) -> Self {
        self.headers.push((name, HeaderValue::from_static(value)));
        self
    }

    /// Writes the headers this problem brings along.
    pub fn add_headers(&self, headers: &mut HeaderMap) {
        for (name, value) in &self.headers {
            headers.insert(name.clone(), value.clone());
        }
    }
}

/// A problem on its way to [`super::app`], which writes the body.
#[derive(Clone)]
pub(super) struct Pending(pub(super) Arc<Problem>);

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.kind.status().into_response();
        response.extensions_mut().insert(Pending(Arc::new(self)));
        response
    }
}
