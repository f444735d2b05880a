//! Every route, on one screen.

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use tower::Service as _;

use crate::budget::Budget;
use crate::forms::Form::{self, Json, Line};
use crate::http::app::App;
use crate::http::endpoint::{Answered, Methods::Read, by_method, endpoint};
use crate::http::inquiries::BatchAnswer;
use crate::http::question::{Question, Refused, question, show};
use crate::http::{docs, page, pages, sums};
use crate::plan::Limits;
use crate::questions::answer::Verdict;
use crate::questions::compare::CompareAnswer;
use crate::questions::fill_level::FillLevel;
use crate::questions::flow_balance::FlowBalance;
use crate::questions::heat_budget::HeatBudget;
use crate::questions::seek::SeekAnswer;
use crate::questions::sweep::SweepAnswer;
use crate::questions::whole_plan::WholePlan;
use crate::sums::{Sum, find};

/// All routes of the service.
pub fn routes() -> Router<App> {
    Router::new()
        .route("/", endpoint("root", Read, pages::root))
        .route("/page/{part}", endpoint("page", Read, page::part))
        .route("/examples", endpoint("examples", Read, page::examples))
        .route("/examples/{plan}", endpoint("examples", Read, page::example))
        .route("/problems", endpoint("problems", Read, pages::problems))
        .route("/problems/{code}", endpoint("problems", Read, pages::problem))
        .route("/docs", endpoint("docs", Read, docs::enter))
        .route("/docs/", endpoint("docs", Read, docs::page))
        .route("/docs/{*part}", endpoint("docs", Read, docs::page))
        .route("/openapi.json", endpoint("openapi", Read, docs::latest))
        .route("/openapi-3.0.json", endpoint("openapi", Read, docs::older))
        .route("/openapi-3.2.json", endpoint("openapi", Read, docs::newer))
        .route("/healthz", endpoint("healthz", Read, pages::health))
        .route("/readyz", endpoint("readyz", Read, pages::ready))
        .route("/metrics", endpoint("metrics", Read, pages::metrics))
        .merge(questions())
        .route("/v1/sums", endpoint("sums", Read, |app, request| sums::list(None, app, request)))
        .route("/v1/sums.json", endpoint("sums", Read, |app, request| sums::list(Some(Json), app, request)))
        .route("/v1/sums.txt", endpoint("sums", Read, |app, request| sums::list(Some(Line), app, request)))
        // Those that are known never come here: `answer` finds them.
        .route("/v1/sums/{sum}", endpoint("sum", Read, sums::unknown))
        .fallback(pages::nowhere)
}

/// What a path may end with, and the form that this asks for; without an end `Accept` says.
const FORMS: [(&str, Option<Form>); 5] =
    [("", None), (".json", Some(Json)), (".txt", Some(Line)), (".svg", Some(Form::SVG)), (".png", Some(Form::PNG))];

/// The answer of what its path leads to.
pub(super) async fn answer(router: &Router, app: &App, request: Request<Body>) -> Answered {
    // A sum takes less time than the way through the router.
    if let Some((sum, form)) = single_sum(request.uri().path()) {
        let answer = |request| sums::one(sum, form, app, request);
        return Answered { name: "sum", response: by_method(Read, request, answer).await };
    }
    match router.clone().call(request).await {
        Ok(response) => Answered::from(response),
        Err(never) => match never {},
    }
}

/// The sum at a path, and the form that its end asks for.
fn single_sum(path: &str) -> Option<(&'static Sum, Option<Form>)> {
    let last = path.strip_prefix("/v1/sums/")?;
    let (name, end) = last.split_at(last.find('.').unwrap_or(last.len()));
    let (_, form) = FORMS.into_iter().find(|(known, _)| *known == end)?;
    Some((find(name)?, form))
}

/// From a document to the bytes of the answer in a form, and how it turns out.
pub type Show = fn(&[u8], Form, &Limits, &Budget<'_>) -> Result<(Vec<u8>, Verdict), Refused>;

/// A question by its name.
#[derive(Clone, Copy)]
pub struct Door {
    /// As in the path.
    pub name: &'static str,
    /// Its paths.
    routes: fn() -> Router<App>,
    /// The bytes of its answer in a form, and how it turns out.
    pub show: Show,
}

/// Every question: one line each.
pub const QUESTIONS: &[Door] = &[
    door::<FlowBalance>(),
    door::<FillLevel>(),
    door::<HeatBudget>(),
    door::<WholePlan>(),
    door::<CompareAnswer>(),
    door::<SweepAnswer>(),
    door::<SeekAnswer>(),
    door::<BatchAnswer>(),
];

const fn door<Q: Question>() -> Door {
    Door { name: Q::NAME, routes: ask::<Q>, show: show::<Q> }
}

fn questions() -> Router<App> {
    QUESTIONS.iter().fold(Router::new(), |router, door| router.merge((door.routes)()))
}

/// The paths of a question: negotiated, and one per form.
pub fn ask<Q: Question>() -> Router<App> {
    FORMS
        .iter()
        .fold(Router::new(), |router, (end, form)| router.route(&format!("/v1/{}{end}", Q::NAME), question::<Q>(*form)))
}
