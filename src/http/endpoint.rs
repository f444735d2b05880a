//! A path with its methods: a 405 that lists them, OPTIONS, HEAD, and the route's name for the metrics.
//!
//! axum's method routing knows no QUERY, so a path takes any method and this file tells them apart.

use std::future::Future;

use axum::body::Body;
use axum::extract::State;
use axum::http::header::{ALLOW, HeaderName, HeaderValue};
use axum::http::{Method, Request, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodRouter, any};

use crate::http::app::App;
use crate::http::problem::Problem;

/// Which media types a QUERY may send (RFC 10008).
pub const ACCEPT_QUERY: HeaderName = HeaderName::from_static("accept-query");

/// The methods of a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Methods {
    /// Something to look at.
    Read,
    /// A question: a document in the body, or packed into the link.
    Ask,
}

impl Methods {
    const fn allow(self) -> &'static str {
        match self {
            Self::Read => "GET, HEAD, OPTIONS",
            Self::Ask => "GET, HEAD, POST, QUERY, OPTIONS",
        }
    }

    fn takes(self, method: &Method) -> bool {
        *method == Method::GET
            || *method == Method::HEAD
            || (self == Self::Ask && (*method == Method::POST || is_query(method)))
    }
}

/// True for the QUERY method (RFC 10008): safe like GET, with a body like POST.
#[must_use]
pub fn is_query(method: &Method) -> bool {
    method.as_str() == "QUERY"
}

/// The name of a route in the metrics, carried by responses through the router.
#[derive(Clone, Copy)]
struct RouteName(&'static str);

/// A response and the name in the metrics of what gave it.
pub struct Answered {
    /// "none" where nothing answers to the path.
    pub name: &'static str,
    /// The response.
    pub response: Response,
}

impl From<Response> for Answered {
    fn from(response: Response) -> Self {
        let name = response.extensions().get::<RouteName>().map_or("none", |name| name.0);
        Self { name, response }
    }
}

/// A path: its name in the metrics, its methods and what answers it.
pub fn endpoint<F, R>(name: &'static str, methods: Methods, answer: F) -> MethodRouter<App>
where
    F: Fn(App, Request<Body>) -> R + Clone + Send + Sync + 'static,
    R: Future<Output = Result<Response, Problem>> + Send + 'static,
{
    any(move |State(app): State<App>, request: Request<Body>| async move {
        let mut response = by_method(methods, request, |request| answer(app, request)).await;
        response.extensions_mut().insert(RouteName(name));
        response
    })
}

/// Answers a request of a method that is taken; another is told which are.
pub async fn by_method<R>(methods: Methods, request: Request<Body>, answer: impl FnOnce(Request<Body>) -> R) -> Response
where
    R: Future<Output = Result<Response, Problem>>,
{
    if methods.takes(request.method()) {
        answer(request).await.into_response()
    } else if *request.method() == Method::OPTIONS {
        options(methods)
    } else {
        Problem::method_not_allowed(methods.allow()).into_response()
    }
}

fn options(methods: Methods) -> Response {
    let mut response = StatusCode::NO_CONTENT.into_response();
    let headers = response.headers_mut();
    headers.insert(ALLOW, HeaderValue::from_static(methods.allow()));
    if methods == Methods::Ask {
        headers.insert(ACCEPT_QUERY, HeaderValue::from_static("application/json"));
    }
    response
}
