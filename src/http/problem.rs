//! Problem details (RFC 9457): every way a request can fail, each declared once with status, title and help.
//!
//! A handler returns a [`Problem`]; it becomes bytes only at the way out ([`super::app`]), which knows what form the
//! client reads. What a client is told and what the log is told are kept apart: `detail` goes out, `private` never.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

use axum::http::StatusCode;
use axum::http::header::{ACCEPT, ACCEPT_ENCODING, ALLOW, HeaderMap, HeaderName, HeaderValue, RETRY_AFTER};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

use crate::plan::{At, Fault, Faults};

/// The longest line a text client is sent, in bytes.
pub const LINE_BYTES: usize = 400;

/// Declares the kinds of problem: one entry holds all that is fixed about it.
macro_rules! kinds {
    ($($(#[doc = $doc:literal])+ $name:ident: $status:literal $code:literal $title:literal;)+) => {
        /// The kinds of problem. Their codes are stable: programs may act on them.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Kind { $($(#[doc = $doc])+ $name,)+ }

        impl Kind {
            /// All kinds, in the order of their statuses.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// The stable code, the last part of the type URI.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)+ }
            }

            /// The type URI, relative to the service: a page there tells more.
            #[must_use]
            pub const fn type_uri(self) -> &'static str {
                match self { $(Self::$name => concat!("/problems/", $code),)+ }
            }

            /// The title: the same for every occurrence.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)+ }
            }

            /// The HTTP status.
            #[must_use]
            pub fn status(self) -> StatusCode {
                let number: u16 = match self { $(Self::$name => $status,)+ };
                StatusCode::from_u16(number).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
            }

            /// What its page at `/problems/{code}` says.
            #[must_use]
            pub const fn help(self) -> &'static str {
                match self { $(Self::$name => concat!($($doc, "\n",)+),)+ }
            }
        }
    };
}

kinds! {
    /// The body, or what the link packs, is not JSON (RFC 8259). `line` and `column` count from 1 and point at the
    /// first character that cannot be read.
    NotJson: 400 "not-json" "Not JSON";
    /// The parameter `z` is not a packed document. Pack it so: the JSON bytes through zlib (RFC 1950), then base64url
    /// (RFC 4648, section 5) without padding.
    BadPacking: 400 "bad-packing" "The link does not unpack";
    /// The connection broke, or the body's framing was wrong, before the whole body was there.
    BrokenBody: 400 "broken-body" "The body ended too early";
    /// There is nothing at this path. `/` says what there is.
    NotFound: 404 "not-found" "Not found";
    /// The path is right and the method is not. The header `Allow` lists the methods that work.
    MethodNotAllowed: 405 "method-not-allowed" "Method not allowed";
    /// None of the forms named by the header `Accept` can be given. Questions and sums come as `application/json`,
    /// `text/plain` and `image/svg+xml`; a suffix (`.json`, `.txt`, `.svg`) chooses without any header.
    NotAcceptable: 406 "not-acceptable" "No such form";
    /// The body did not arrive within its time.
    SlowBody: 408 "slow-body" "The body took too long";
    /// The client already holds this answer and asked with POST, which may not be answered 304 (RFC 9110,
    /// section 13.1.2). Use GET or QUERY with `If-None-Match`, or leave the header out.
    PreconditionFailed: 412 "precondition-failed" "Precondition failed";
    /// The document is larger than the limit named in `limit`, as sent or as unpacked.
    TooLarge: 413 "too-large" "Too large";
    /// The request line is longer than the limit named in `limit`. Send the document as a body instead.
    UriTooLong: 414 "uri-too-long" "Address too long";
    /// The body must be `application/json`, without a content encoding.
    UnsupportedMediaType: 415 "unsupported-media-type" "Unsupported media type";
    /// The document or the parameters cannot be read as what was asked. `faults` lists each fault with its place (a
    /// JSON pointer, RFC 6901, or a parameter), what was found, what was expected, and a near name.
    Unreadable: 422 "unreadable" "Cannot be read";
    /// The document nests deeper than the limit named in `limit`.
    TooDeep: 422 "too-deep" "Nested too deep";
    /// The calculation needs more steps than the limit named in `limit`. Asking again will not help: make the plan
    /// smaller, or raise the limit where you run the service.
    StepLimit: 422 "step-limit" "Too much to reckon";
    /// Some number of the reckoning lies beyond what can be reckoned with, because the plan mixes very large and very small
    /// ones. Asking again will not help.
    BeyondRange: 422 "beyond-range" "Beyond what can be reckoned with";
    /// This client sent more requests than one may. `RateLimit-Policy` says how many may be sent in how many seconds, `RateLimit` what
    /// is left; ask again after `Retry-After` seconds.
    RateLimited: 429 "rate-limited" "Too many requests";
    /// The header section, or the one header named in `limit`, is larger than the limit.
    HeadersTooLarge: 431 "headers-too-large" "Headers too large";
    /// Something is wrong in the service, not in the request. The request id finds it in the log.
    Internal: 500 "internal" "Internal error";
    /// All calculators are busy, and the calculation would have to wait for longer than is of use: `limit` says which wait is too
    /// long. Ask again after `Retry-After` seconds.
    Busy: 503 "busy" "Busy";
    /// The answer was not ready within the limit named in `limit`.
    TimeLimit: 503 "time-limit" "Out of time";
    /// The service is shutting down: traffic should go elsewhere.
    NotReady: 503 "not-ready" "Not ready";
}

/// A limit that was hit, by the name of the flag that sets it; the one of `If-None-Match` is fixed.
#[derive(Clone, Debug, PartialEq, Serialize, utoipa::ToSchema)]
#[schema(as = ProblemLimit)]
pub struct Limit {
    /// The name: the flag of the service without its dashes, or `if-none-match-bytes`.
    pub name: &'static str,
    /// The value in force.
    pub value: f64,
    /// What `value` counts.
    pub counts: &'static str,
}

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
        let detail = match (faults.total, faults.listed.first()) {
            (1, Some(fault)) => fault.say(),
            (total, Some(fault)) => format!("{total} faults, the first: {}", fault.say()),
            (_, None) => "it cannot be read".to_owned(),
        };
        let mut problem = Self::new(Kind::Unreadable, detail);
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

    /// The body as `application/problem+json`.
    #[must_use]
    pub fn json(&self, request_id: &str) -> Vec<u8> {
        let (line, column) = match self.members {
            Members::Place { line, column } => (Some(line), Some(column)),
            _ => (None, None),
        };
        let (faults, faults_total) = match &self.members {
            Members::Faults(faults) => {
                (Some(faults.listed.iter().map(ProblemFault::from).collect()), Some(faults.total))
            }
            _ => (None, None),
        };
        let limit = if let Members::Limit(limit) = &self.members { Some(limit) } else { None };
        let body = ProblemBody {
            type_: self.kind.type_uri(),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            line,
            column,
            limit,
            faults,
            faults_total,
            request_id: (self.kind == Kind::Internal).then_some(request_id),
        };
        // Strings and finite numbers always serialise.
        serde_json::to_vec(&body).unwrap_or_default()
    }

    /// The body as one line: at most [`LINE_BYTES`] bytes, no control characters.
    #[must_use]
    pub fn line(&self, request_id: &str) -> String {
        let mut text = format!("{} ({}): ", self.kind.title(), self.kind.status().as_u16());
        match &self.members {
            Members::Faults(faults) if faults.total > 1 => {
                let _ = write!(text, "{} faults: {faults}", faults.total);
            }
            Members::Place { line, column } => {
                let _ = write!(text, "{}, line {line}, column {column}", self.detail);
            }
            Members::Limit(limit) => {
                let _ = write!(text, "{} (limit {}: {} {})", self.detail, limit.name, limit.value, limit.counts);
            }
            _ => text.push_str(&self.detail),
        }
        if self.kind == Kind::Internal {
            let _ = write!(text, ", request {request_id}");
        }
        one_line(&text)
    }
}

/// Cuts a text to [`LINE_BYTES`] bytes at a character's edge and turns control characters into spaces.
#[must_use]
pub fn one_line(text: &str) -> String {
    const MORE: &str = "…";
    let mut line = String::with_capacity(text.len().min(LINE_BYTES));
    for character in text.chars() {
        let character = if character.is_control() || is_line_separator(character) { ' ' } else { character };
        if line.len() + character.len_utf8() > LINE_BYTES {
            while line.len() + MORE.len() > LINE_BYTES {
                line.pop();
            }
            line.push_str(MORE);
            break;
        }
        line.push(character);
    }
    line
}

/// Characters that break or reorder a line although they are not control characters by category.
fn is_line_separator(character: char) -> bool {
    matches!(character, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Problem details (RFC 9457): why a request was not answered.
#[derive(Serialize, utoipa::ToSchema)]
#[schema(as = Problem)]
pub struct ProblemBody<'a> {
    /// A page about this kind of problem, relative to the service. Its last part is a stable code.
    #[serde(rename = "type")]
    #[schema(rename = "type", value_type = String, example = "/problems/unreadable")]
    type_: &'static str,
    /// The kind in words.
    #[schema(value_type = String)]
    title: &'static str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong this time.
    detail: &'a str,
    /// The line of the document at which reading stopped, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<usize>,
    /// The column of the document at which reading stopped, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    column: Option<usize>,
    /// The limit that was hit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Limit>)]
    limit: Option<&'a Limit>,
    /// The faults, in document order, up to a cap.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_items = 1000)]
    faults: Option<Vec<ProblemFault<'a>>>,
    /// How many faults there are in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    faults_total: Option<usize>,
    /// The id of the request in the log; only for internal errors.
    #[serde(skip_serializing_if = "Option::is_none")]
    request_id: Option<&'a str>,
}

/// One fault of a document or of the parameters. It has either a `pointer` or a `parameter`.
#[derive(Serialize, utoipa::ToSchema)]
#[schema(as = ProblemFault)]
pub struct ProblemFault<'a> {
    /// Where in the document, as a JSON pointer (RFC 6901).
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<&'a str>,
    /// Which query parameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    parameter: Option<&'a str>,
    /// A stable code, such as `unknown-field`.
    #[schema(value_type = String)]
    code: &'static str,
    /// What stood there.
    found: &'a str,
    /// What should stand there.
    expected: &'a str,
    /// The nearest known name, where one was mistyped.
    #[serde(skip_serializing_if = "Option::is_none")]
    near: Option<&'a str>,
}

impl<'a> From<&'a Fault> for ProblemFault<'a> {
    fn from(fault: &'a Fault) -> Self {
        let (pointer, parameter) = match &fault.at {
            At::Pointer(pointer) => (Some(pointer.as_str()), None),
            At::Parameter(name) => (None, Some(name.as_str())),
        };
        Self {
            pointer,
            parameter,
            code: fault.code.as_str(),
            found: &fault.found,
            expected: &fault.expected,
            near: fault.near.as_deref(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::FaultCode;

    #[test]
    fn codes_and_statuses_are_each_declared_once() {
        let mut codes: Vec<_> = Kind::ALL.iter().map(|kind| kind.code()).collect();
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), Kind::ALL.len());
        for kind in Kind::ALL {
            assert!(kind.type_uri().ends_with(kind.code()));
            assert!(kind.status().is_client_error() || kind.status().is_server_error());
            assert_eq!(kind.status() == StatusCode::INTERNAL_SERVER_ERROR, *kind == Kind::Internal);
            assert!(kind.help().trim().ends_with('.'), "{kind:?}");
        }
    }

    #[test]
    fn a_line_is_cut_at_a_character_and_holds_no_control_characters() {
        assert_eq!(one_line("a\nb\u{7}c\u{85}d\u{2028}e\u{202e}f"), "a b c d e f");
        let exact = "é".repeat(LINE_BYTES / 2);
        assert_eq!(one_line(&exact), exact);
        let long = one_line(&"é".repeat(LINE_BYTES));
        assert!(long.len() <= LINE_BYTES && long.ends_with('…'), "{}", long.len());
        assert_eq!(one_line(""), "");
    }

    #[test]
    fn every_fault_is_in_the_json_and_as_many_as_fit_in_the_line() {
        let fault = |at: At, near: Option<&str>| Fault {
            at,
            code: FaultCode::UnknownName,
            found: "\"burnr\"".into(),
            expected: "the name of a unit".into(),
            near: near.map(Into::into),
        };
        let problem = Problem::faults(Faults {
            listed: vec![
                fault(At::Pointer("/aim/run/burnr".into()), Some("burner")),
                fault(At::Parameter("flow".into()), None),
            ],
            total: 12,
        });
        let json: serde_json::Value = serde_json::from_slice(&problem.json("id")).expect("JSON");
        assert_eq!(json["faults"][0]["pointer"], "/aim/run/burnr");
        assert_eq!(json["faults"][0]["near"], "burner");
        assert_eq!(json["faults"][1]["parameter"], "flow");
        assert_eq!(json["faults_total"], 12);
        assert!(json.get("request_id").is_none());
        let line = problem.line("id");
        assert!(line.contains("did you mean") && line.contains("and 10 more"), "{line}");
    }
}
