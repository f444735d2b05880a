//! What stands around every request: its id, its deadline, panics, problems, headers, metrics, the log.
//!
//! One hand-written layer instead of a stack of them: each generic layer costs a boxed future or a header pass, and
//! together they cost more than a small calculation. It is also the only place that turns a problem into bytes.

use std::any::Any;
use std::net::IpAddr;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::Poll;
use std::time::Instant;

use axum::Router;
use axum::body::{Body, HttpBody};
use axum::http::header::{
    ALLOW, CACHE_CONTROL, CONNECTION, CONTENT_LENGTH, CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue,
};
use axum::http::uri::PathAndQuery;
use axum::http::{Method, Request, StatusCode, Version};
use axum::response::Response;
use tracing::Level;

use crate::http::body::Room;
use crate::http::carried::Carried;
use crate::http::conditional::{IF_NONE_MATCH_BYTES, if_none_match_bytes};
use crate::http::cors;
use crate::http::endpoint::Answered;
use crate::http::ids::{Ids, REQUEST_ID};
use crate::http::negotiate;
use crate::http::pool::Pool;
use crate::http::problem::{Kind, Pending, Problem};
use crate::http::rate::{Rate, Standing};
use crate::http::router;
use crate::http::settings::Settings;
use crate::http::telemetry::{Meters, Rejection};

const HONEST_STATUS: HeaderName = HeaderName::from_static("hotwell-status");

/// What watches over the service, and is not counted against what a client may send.
const UNCOUNTED: [&str; 3] = ["/healthz", "/readyz", "/metrics"];

/// What all requests share. A clone is a reference.
#[derive(Clone)]
pub struct App(Arc<Shared>);

/// What answers requests: the routes, and what they share.
pub struct Service {
    /// What all requests share.
    pub app: App,
    /// All paths but those of single sums.
    pub router: Router,
}

/// The parts of an [`App`].
pub struct Shared {
    /// What the operator set.
    pub settings: Settings,
    /// Where large calculations run.
    pub pool: Pool,
    /// What is measured.
    pub meters: Meters,
    /// Room for bodies.
    pub bodies: Room,
    /// The headers that answers have in common.
    pub carried: Carried,
    rate: Option<Rate>,
    ready: AtomicBool,
    ids: Ids,
}

impl std::ops::Deref for App {
    type Target = Shared;

    fn deref(&self) -> &Shared {
        &self.0
    }
}

impl App {
    /// What the settings say, ready to serve.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        let meters = Meters::default();
        Self(Arc::new(Shared {
            pool: Pool::new(&settings, meters.clone()),
            meters,
            bodies: Room::new(settings.body_memory),
            carried: Carried::new(&settings),
            rate: Rate::new(settings.rate_limit, settings.trusted_proxies.clone()),
            ready: AtomicBool::new(true),
            ids: Ids::default(),
            settings,
        }))
    }

    /// False from the stop signal on.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.ready.load(Ordering::Relaxed)
    }

    pub(super) fn stop_being_ready(&self) {
        self.ready.store(false, Ordering::Relaxed);
    }

    /// 503: the request's time is up.
    #[must_use]
    pub fn out_of_time(&self) -> Problem {
        self.meters.reject(Rejection::TimeLimit);
        let limit = self.settings.request_timeout.as_secs_f64();
        Problem::limit(Kind::TimeLimit, "request-timeout", limit, "seconds", "the answer was not ready in time")
            .retry_after(5.0)
    }

    /// Headers and body of a refusal of what was never read far enough to be a request. Counted and logged as any other.
    pub(super) fn unasked(&self, problem: &Problem) -> (HeaderMap, Vec<u8>) {
        let asked = Asked::of(self, &Request::new(Body::empty()));
        let body = problem.json(asked.id.to_str().unwrap_or_default());
        let answer = Answered::from(asked.show(problem, &HeaderMap::new()));
        let response = self.finish(asked, answer, Some(problem), Instant::now());
        (response.into_parts().0.headers, body)
    }

    /// Holds a request against what its client may send, and its head against its limits. Whoever watches over the service is not
    /// counted.
    fn refuse(&self, request: &Request<Body>, peer: IpAddr) -> (Option<Standing>, Result<(), Problem>) {
        let refused = self.head_refused(request).map_or(Ok(()), Err);
        let Some(rate) = self.rate.as_ref().filter(|_| !UNCOUNTED.contains(&request.uri().path())) else {
            return (None, refused);
        };
        let (standing, allowed) = rate.check(peer, request.headers());
        if allowed.is_err() {
            self.meters.reject(Rejection::RateLimit);
        }
        (Some(standing), allowed.and(refused))
    }

    /// Holds the head of a request against its limits.
    fn head_refused(&self, request: &Request<Body>) -> Option<Problem> {
        let uri = request.uri();
        let uri_bytes = uri.path().len() + uri.query().map_or(0, |query| query.len() + 1);
        if uri_bytes > self.settings.uri_bytes {
            let limit = self.settings.uri_bytes as f64;
            let detail = "the path and query are longer than the limit; send the document as a body";
            return Some(Problem::limit(Kind::UriTooLong, "uri-bytes", limit, "bytes", detail));
        }
        if request.headers().len() > self.settings.header_lines {
            let limit = self.settings.header_lines as f64;
            let detail = "there are more header lines than the limit";
            return Some(Problem::limit(Kind::HeadersTooLarge, "header-lines", limit, "lines", detail));
        }
        // A line is a name, a colon, a space, a value and a line end.
        let header_bytes: usize =
            request.headers().iter().map(|(name, value)| name.as_str().len() + value.len() + 4).sum();
        if header_bytes > self.settings.header_bytes {
            let limit = self.settings.header_bytes as f64;
            let detail = "the headers are larger than the limit";
            return Some(Problem::limit(Kind::HeadersTooLarge, "header-bytes", limit, "bytes", detail));
        }
        if if_none_match_bytes(request.headers()) > IF_NONE_MATCH_BYTES {
            let limit = IF_NONE_MATCH_BYTES as f64;
            let detail = "If-None-Match is longer than the limit; name only the tags of this answer, or leave it out";
            return Some(Problem::limit(Kind::HeadersTooLarge, "if-none-match-bytes", limit, "bytes", detail));
        }
        None
    }

    /// Adds what every response carries, counts it and writes it to the log.
    fn finish(&self, asked: Asked, answer: Answered, told: Option<&Problem>, started: Instant) -> Response {
        let Answered { name: route, mut response } = answer;
        let status = told.map_or(response.status(), |problem| problem.kind.status());
        let outcome = told.map_or_else(|| outcome(status), |problem| problem.kind.code());
        let seconds = started.elapsed().as_secs_f64();
        self.meters.served(route, outcome, seconds);
        log(&asked, status, told, seconds);

        let headers = response.headers_mut();
        self.carried.add_to(headers);
        asked.reading.add_headers(headers);
        if asked.closes && !self.is_ready() {
            // A client that keeps its connection would otherwise find it closed at the end of the grace, perhaps while it asks.
            headers.insert(CONNECTION, HeaderValue::from_static("close"));
        }
        headers.insert(REQUEST_ID, asked.id);
        if asked.method == Method::HEAD {
            without_body(&mut response);
        }
        response
    }
}

impl Service {
    /// Answers one request of a peer, whatever happens.
    pub async fn serve(&self, request: Request<Body>, peer: IpAddr) -> Response {
        let app = &self.app;
        let started = Instant::now();
        let asked = Asked::of(app, &request);
        app.meters.in_flight.inc();
        let in_flight = CountDown(&app.meters);
        let (standing, refused) = app.refuse(&request, peer);
        let answered = match refused {
            Err(problem) => Err(problem),
            Ok(()) => match cors::preflight(&request) {
                Some(response) => Ok(Answered::from(response)),
                None => self.route(request, started).await,
            },
        };
        drop(in_flight);
        let (answer, told) = match answered {
            Ok(mut answer) => match answer.response.extensions_mut().remove::<Pending>() {
                None => (answer, None),
                Some(Pending(problem)) => {
                    answer.response = asked.show(&problem, answer.response.headers());
                    (answer, Some(problem))
                }
            },
            Err(problem) => (Answered::from(asked.show(&problem, &HeaderMap::new())), Some(Arc::new(problem))),
        };
        let mut response = app.finish(asked, answer, told.as_deref(), started);
        if let Some(standing) = standing {
            standing.add_headers(response.headers_mut());
        }
        response
    }

    /// Routes the request within its time, catching panics.
    async fn route(&self, request: Request<Body>, started: Instant) -> Result<Answered, Problem> {
        let mut answering = pin!(router::answer(&self.router, &self.app, request));
        let caught =
            std::future::poll_fn(|context| match catch_unwind(AssertUnwindSafe(|| answering.as_mut().poll(context))) {
                Ok(Poll::Pending) => Poll::Pending,
                Ok(Poll::Ready(answer)) => Poll::Ready(Ok(answer)),
                Err(panic) => Poll::Ready(Err(Problem::internal(panic_text(panic.as_ref())))),
            });
        let deadline = started + self.app.settings.request_timeout;
        match tokio::time::timeout_at(deadline.into(), caught).await {
            Ok(answered) => answered,
            Err(_) => Err(self.app.out_of_time()),
        }
    }
}

/// What the way out must know of a request.
struct Asked {
    id: HeaderValue,
    method: Method,
    path: Option<PathAndQuery>,
    /// Errors as a line.
    line: bool,
    /// Errors with status 200.
    always_200: bool,
    /// Whether a connection of this version of HTTP ends by a header.
    closes: bool,
    reading: cors::Reading,
}

impl Asked {
    fn of(app: &App, request: &Request<Body>) -> Self {
        let headers = request.headers();
        let uri = request.uri();
        let always_200 = uri.query().is_some_and(|query| query.split('&').any(|pair| pair == "errors=200"));
        let by_suffix = uri.path().rsplit_once('.').map(|(_, suffix)| suffix);
        Self {
            id: app.ids.of(headers),
            method: request.method().clone(),
            // Whoever asks for it prints what comes, and what comes is a line.
            line: always_200
                || match by_suffix {
                    Some("txt") => true,
                    Some("json" | "svg" | "png") => false,
                    _ => negotiate::prefers_line(headers),
                },
            always_200,
            closes: request.version() <= Version::HTTP_11,
            path: uri.path_and_query().cloned(),
            reading: cors::Reading::of(&app.settings.origins, headers),
        }
    }

    /// A problem as bytes, in the form this client reads.
    fn show(&self, problem: &Problem, carried: &HeaderMap) -> Response {
        let id = self.id.to_str().unwrap_or_default();
        let (media_type, body) = if self.line {
            ("text/plain; charset=utf-8", Body::from(problem.line(id)))
        } else {
            ("application/problem+json", Body::from(problem.json(id)))
        };
        let mut response = Response::new(body);
        let status = problem.kind.status();
        *response.status_mut() = if self.always_200 { StatusCode::OK } else { status };
        let headers = response.headers_mut();
        if let Some(allow) = carried.get(ALLOW) {
            headers.insert(ALLOW, allow.clone());
        }
        problem.add_headers(headers);
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(media_type));
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
        if self.always_200
            && let Ok(value) = HeaderValue::from_str(status.as_str())
        {
            headers.insert(HONEST_STATUS, value);
        }
        response
    }
}

fn outcome(status: StatusCode) -> &'static str {
    match status.as_u16() {
        304 => "not-modified",
        200..300 => "answered",
        300..400 => "elsewhere",
        400..500 => "client-error",
        _ => "server-error",
    }
}

/// One event per request, without its contents: the path, never the query or the body.
fn log(asked: &Asked, status: StatusCode, told: Option<&Problem>, seconds: f64) {
    let (id, method) = (asked.id.to_str().unwrap_or_default(), &asked.method);
    let path = asked.path.as_ref().map_or("", PathAndQuery::path);
    let (status, problem) = (status.as_u16(), told.map(|problem| problem.kind.code()));
    let private = told.and_then(|problem| problem.private.as_deref());
    match status {
        500 => tracing::error!(id, %method, path, status, problem, private, seconds, "request failed"),
        501.. => tracing::warn!(id, %method, path, status, problem, seconds, "request turned away"),
        _ if tracing::enabled!(Level::DEBUG) => {
            tracing::debug!(id, %method, path, status, problem, seconds, "request");
        }
        _ => {}
    }
}

/// HEAD: the headers as for GET, the length included, and no body.
fn without_body(response: &mut Response) {
    if let Some(length) = response.body().size_hint().exact()
        && !response.headers().contains_key(CONTENT_LENGTH)
        && response.status() != StatusCode::NOT_MODIFIED
        && response.status() != StatusCode::NO_CONTENT
    {
        response.headers_mut().insert(CONTENT_LENGTH, HeaderValue::from(length));
    }
    *response.body_mut() = Body::empty();
}

/// What a panic said.
pub(super) fn panic_text(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied().or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    format!("panic: {}", text.unwrap_or("without a text"))
}

/// Counts a request out again, also when its client goes away.
struct CountDown<'a>(&'a Meters);

impl Drop for CountDown<'_> {
    fn drop(&mut self) {
        self.0.in_flight.dec();
    }
}
