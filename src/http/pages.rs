//! The pages that are not answers: where to look, health, metrics, and one page per kind of problem.

use std::sync::LazyLock;

use axum::body::Body;
use axum::http::Request;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use crate::http::app::App;
use crate::http::built_in::BuiltIn;
use crate::http::problem::{Kind, Problem};
use crate::http::{negotiate, page};

const WHERE_TO_LOOK: &str = concat!(
    "Hotwell ",
    env!("CARGO_PKG_VERSION"),
    "\nreckons flow, heat and level of utility plants in simulations. Send a plan, get an answer.\n\n",
    "POST /v1/flow-balance     counts, rates, lines, power; .json, .txt, .svg and .png choose the form\n",
    "POST /v1/heat-budget      temperatures: zones, coolers, turbines, set points, ballast\n",
    "POST /v1/fill-level       over time: stores, switches, outages, batteries, loop charge\n",
    "POST /v1/plan             all of it together, with the floor: one verdict, remedies tried out\n",
    "POST /v1/compare          a plan beside variants of it\n",
    "POST /v1/sweep            what becomes of figures while one place of a plan varies\n",
    "POST /v1/seek             the smallest or largest value with which a condition holds\n",
    "POST /v1/batch            many questions in one call\n",
    "GET  /v1/sums             single sums from query parameters\n",
    "GET  /examples            example plans to begin from\n",
    "GET  /                    in a browser: every sum as a form, and an editor for plans\n",
    "GET  /docs                documentation\n",
    "GET  /openapi.json        the same for programs\n",
    "GET  /problems            what can go wrong\n",
    "GET  /healthz /readyz /metrics\n\n",
    "The calculations are lumped and simplified, for simulated plants. Real boilers, pressure vessels,\n",
    "refrigeration and electrical work are for licensed practice under local codes.\n",
);

static LINES: LazyLock<BuiltIn> =
    LazyLock::new(|| BuiltIn::new("text/plain; charset=utf-8", WHERE_TO_LOOK).negotiated());

/// `/`: the page for who reads pages, where to look for everybody else.
///
/// # Errors
/// None.
pub async fn root(_app: App, request: Request<Body>) -> Result<Response, Problem> {
    if negotiate::prefers_page(request.headers()) { page::home(&request) } else { LINES.answer(&request) }
}

/// `/healthz`: the process answers.
///
/// # Errors
/// None.
pub async fn health(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    Ok(([(CACHE_CONTROL, "no-store")], "ok").into_response())
}

/// `/readyz`: traffic is welcome.
///
/// # Errors
/// 503 from the stop signal on.
pub async fn ready(app: App, _request: Request<Body>) -> Result<Response, Problem> {
    if !app.is_ready() {
        return Err(Problem::not_ready());
    }
    Ok(([(CACHE_CONTROL, "no-store")], "ready").into_response())
}

/// `/metrics`, in the `OpenMetrics` text format.
///
/// # Errors
/// None.
pub async fn metrics(app: App, _request: Request<Body>) -> Result<Response, Problem> {
    const OPEN_METRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
    Ok(([(CONTENT_TYPE, OPEN_METRICS), (CACHE_CONTROL, "no-store")], app.meters.text()).into_response())
}

/// `/problems`: all kinds, a line each.
///
/// # Errors
/// None.
pub async fn problems(_app: App, _request: Request<Body>) -> Result<Response, Problem> {
    let lines: Vec<_> = Kind::ALL
        .iter()
        .map(|kind| format!("{} {}: {}\n", kind.status().as_u16(), kind.type_uri(), kind.title()))
        .collect();
    Ok(lines.concat().into_response())
}

/// `/problems/{code}`: one kind.
///
/// # Errors
/// 404 for a code that is none.
pub async fn problem(_app: App, request: Request<Body>) -> Result<Response, Problem> {
    let path = request.uri().path();
    let kind = Kind::ALL.iter().find(|kind| kind.type_uri() == path).ok_or_else(Problem::not_found)?;
    let help: Vec<_> = kind.help().lines().map(str::trim).collect();
    Ok(format!("{} ({})\n\n{}\n", kind.title(), kind.status().as_u16(), help.join("\n")).into_response())
}

/// Everything else.
pub async fn nowhere() -> Problem {
    Problem::not_found()
}
