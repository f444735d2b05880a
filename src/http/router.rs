//! Every route, on one screen.

use axum::Router;

use crate::forms::Form::{Json, Line, Svg};
use crate::http::app::App;
use crate::http::endpoint::{Methods::Read, endpoint};
use crate::http::question::{Question, question};
use crate::http::{docs, pages, sums};
use crate::questions::fill_level::FillLevel;
use crate::questions::flow_balance::FlowBalance;
use crate::questions::heat_budget::HeatBudget;
use crate::questions::whole_plan::WholePlan;

/// All routes of the service.
pub fn routes() -> Router<App> {
    Router::new()
        .route("/", endpoint("root", Read, pages::root))
        .route("/problems", endpoint("problems", Read, pages::problems))
        .route("/problems/{code}", endpoint("problems", Read, pages::problem))
        .route("/docs", endpoint("docs", Read, docs::enter))
        .route("/docs/", endpoint("docs", Read, docs::page))
        .route("/docs/{*part}", endpoint("docs", Read, docs::page))
        .route("/openapi.json", endpoint("openapi", Read, docs::latest))
        .route("/openapi-3.0.json", endpoint("openapi", Read, docs::older))
        .route("/healthz", endpoint("healthz", Read, pages::health))
        .route("/readyz", endpoint("readyz", Read, pages::ready))
        .route("/metrics", endpoint("metrics", Read, pages::metrics))
        .merge(ask::<FlowBalance>())
        .merge(ask::<FillLevel>())
        .merge(ask::<HeatBudget>())
        .merge(ask::<WholePlan>())
        .route("/v1/sums", endpoint("sums", Read, sums::list))
        .route("/v1/sums.json", endpoint("sums", Read, sums::list))
        .route("/v1/sums.txt", endpoint("sums", Read, sums::list))
        .route("/v1/sums/{sum}", endpoint("sum", Read, sums::one))
        .fallback(pages::nowhere)
}

/// The four paths of a question: negotiated, and one per form.
pub fn ask<Q: Question>() -> Router<App> {
    let path = |suffix: &str| format!("/v1/{}{suffix}", Q::NAME);
    Router::new()
        .route(&path(""), question::<Q>(None))
        .route(&path(".json"), question::<Q>(Some(Json)))
        .route(&path(".txt"), question::<Q>(Some(Line)))
        .route(&path(".svg"), question::<Q>(Some(Svg)))
}
