//! The API description: as documents for programs and as pages for people. Nothing of it comes from another host.

use std::borrow::Cow;
use std::sync::{Arc, LazyLock};

use axum::body::{Body, Bytes};
use axum::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, LOCATION};
use axum::http::{Request, StatusCode};
use axum::response::{IntoResponse, Response};
use utoipa_swagger_ui::Config;

use crate::http::app::App;
use crate::http::openapi;
use crate::http::problem::Problem;

/// The pages run their own scripts and styles and read the description from this service, nothing else.
const PAGES_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
    connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

static LATEST: LazyLock<Bytes> = LazyLock::new(|| openapi::print(openapi::document()).into());
static OLDER: LazyLock<Bytes> = LazyLock::new(|| openapi::print(&openapi::document_3_0()).into());
static NEWER: LazyLock<Bytes> = LazyLock::new(|| openapi::print(&openapi::document_3_2()).into());
static CONFIG: LazyLock<Arc<Config<'static>>> =
    LazyLock::new(|| Arc::new(Config::from("/openapi.json").use_base_layout()));

fn description(document: &'static LazyLock<Bytes>) -> Response {
    ([(CONTENT_TYPE, "application/json"), (CACHE_CONTROL, "max-age=300")], Bytes::clone(document)).into_response()
}

/// `/openapi.json`: OpenAPI 3.1.
///
/// # Errors
/// None.
pub async fn latest(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    Ok(description(&LATEST))
}

/// `/openapi-3.0.json`: the same in OpenAPI 3.0.3.
///
/// # Errors
/// None.
pub async fn older(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    Ok(description(&OLDER))
}

/// `/openapi-3.2.json`: the same in OpenAPI 3.2, with QUERY.
///
/// # Errors
/// None.
pub async fn newer(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    Ok(description(&NEWER))
}

/// `/docs`: the pages name their parts relative to a folder.
///
/// # Errors
/// None.
pub async fn enter(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    Ok((StatusCode::PERMANENT_REDIRECT, [(LOCATION, "/docs/")]).into_response())
}

/// `/docs/…`: a page or a part of one.
///
/// # Errors
/// 404 where there is no such part.
pub async fn page(_app: App, request: Request<Body>) -> Result<Response, Problem> {
    let path = request.uri().path().trim_start_matches("/docs/");
    let file = utoipa_swagger_ui::serve(path, Arc::clone(&CONFIG))
        .map_err(|error| Problem::internal(format!("the pages of /docs: {error}")))?
        .ok_or_else(Problem::not_found)?;
    let bytes = match file.bytes {
        Cow::Borrowed(bytes) => Bytes::from_static(bytes),
        Cow::Owned(bytes) => bytes.into(),
    };
    let headers = [
        (CONTENT_TYPE, file.content_type.as_str()),
        (CACHE_CONTROL, "max-age=300"),
        (CONTENT_SECURITY_POLICY, PAGES_POLICY),
    ];
    Ok((headers, bytes).into_response())
}
