//! The page for people at `/`, its parts, and the example plans that it opens.
//!
//! The page asks this service and no other host. Its forms are made from `/v1/sums`, so a new sum has one by being listed.

use std::sync::LazyLock;

use axum::body::Body;
use axum::http::Request;
use axum::http::header::{CACHE_CONTROL, HeaderValue};
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};

use crate::http::app::App;
use crate::http::built_in::BuiltIn;
use crate::http::openapi::PLANS;
use crate::http::problem::Problem;

/// Scripts and styles come as files of this service, pictures from it or made in the page; nothing is written into the page by
/// a script but text, and no other page holds it in a frame.
pub const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
    connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; \
    require-trusted-types-for 'script'; trusted-types 'none'";

const HTML: &str = "text/html; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";
const PICTURE: &str = "image/svg+xml";
const JSON: &str = "application/json";

type Named = Vec<(&'static str, BuiltIn)>;

static HOME: LazyLock<BuiltIn> =
    LazyLock::new(|| BuiltIn::new(HTML, include_str!("page/index.html")).with_policy(POLICY).negotiated());

static PARTS: LazyLock<Named> = LazyLock::new(|| {
    vec![
        ("page.css", BuiltIn::new(STYLE, include_str!("page/page.css"))),
        ("page.js", BuiltIn::new(SCRIPT, include_str!("page/page.js"))),
        ("sums.js", BuiltIn::new(SCRIPT, include_str!("page/sums.js"))),
        ("plan.js", BuiltIn::new(SCRIPT, include_str!("page/plan.js"))),
        ("editor.js", BuiltIn::new(SCRIPT, include_str!("page/editor.js"))),
        ("show.js", BuiltIn::new(SCRIPT, include_str!("page/show.js"))),
        ("document.js", BuiltIn::new(SCRIPT, include_str!("page/document.js"))),
        ("links.js", BuiltIn::new(SCRIPT, include_str!("page/links.js"))),
        // For pages of others: the elements of `examples/embed`.
        ("hotwell.js", BuiltIn::new(SCRIPT, include_str!("../../examples/embed/hotwell.js"))),
        ("icon.svg", BuiltIn::new(PICTURE, include_str!("page/icon.svg"))),
    ]
});

static EXAMPLES: LazyLock<Named> =
    LazyLock::new(|| PLANS.iter().map(|&(name, text)| (name, BuiltIn::new(JSON, text))).collect());

/// The page itself.
///
/// # Errors
/// None.
pub fn home(request: &Request<Body>) -> Result<Response, Problem> {
    HOME.answer(request)
}

/// `/page/{part}`: its scripts, styles and icon.
///
/// # Errors
/// 404 where there is no such part.
pub async fn part(_app: App, request: Request<Body>) -> Result<Response, Problem> {
    find(&PARTS, request.uri().path().strip_prefix("/page/"), &request)
}

/// `/examples/{name}.json`: one example plan, as its author wrote it.
///
/// # Errors
/// 404 where there is no such plan.
pub async fn example(_app: App, request: Request<Body>) -> Result<Response, Problem> {
    let name = request.uri().path().strip_prefix("/examples/").and_then(|name| name.strip_suffix(".json"));
    find(&EXAMPLES, name, &request)
}

/// `/examples`: name, title and link of each example plan.
///
/// # Errors
/// None.
pub async fn examples(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    let listed: Vec<Value> = PLANS
        .iter()
        .map(|(name, text)| {
            // That each is JSON is held by a test; one that is none is listed by its name.
            let plan: Value = serde_json::from_str(text).unwrap_or_default();
            let title = plan["title"].as_str().unwrap_or(name);
            json!({ "name": name, "title": title, "link": format!("/examples/{name}.json") })
        })
        .collect();
    Ok(([(CACHE_CONTROL, HeaderValue::from_static("no-cache"))], axum::Json(json!({ "examples": listed })))
        .into_response())
}

fn find(named: &Named, name: Option<&str>, request: &Request<Body>) -> Result<Response, Problem> {
    let found = named.iter().find(|(known, _)| Some(*known) == name);
    found.ok_or_else(Problem::not_found)?.1.answer(request)
}
