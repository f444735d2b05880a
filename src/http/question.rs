//! One question over HTTP: read the document, reckon, show, in the form that was asked for.

use std::time::Instant;

use axum::body::{Body, Bytes};
use axum::http::{Method, Request, Uri};
use axum::response::Response;
use axum::routing::MethodRouter;

use crate::budget::{Budget, Halt};
use crate::forms::{Drawn, Form, Shown};
use crate::http::app::App;
use crate::http::conditional::{Precondition, Tag};
use crate::http::endpoint::{Methods, endpoint};
use crate::http::problem::{Kind, Members, Problem};
use crate::http::reply::Reply;
use crate::http::telemetry::Rejection;
use crate::http::{body, negotiate, packed, pixels};
use crate::plan::{Limits, Plan, ReadError};
use crate::questions::answer::{Answer, Verdict};
use crate::questions::{Detail, Document, Json, OfPlan};

pub use crate::questions::Refused;

/// A question as HTTP sees it: bytes in, something to show out.
pub trait Question: 'static {
    /// Its name in the path.
    const NAME: &'static str;
    /// What it answers.
    type Answer: Shown;

    /// Reads the document and reckons.
    ///
    /// # Errors
    /// When the document cannot be read, or the budget is spent.
    fn answer(document: &[u8], detail: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self::Answer, Refused>;
}

impl<F: OfPlan + Drawn + 'static> Question for Answer<F> {
    const NAME: &'static str = F::QUESTION;
    type Answer = Self;

    fn answer(document: &[u8], detail: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self, Refused> {
        let plan = Plan::from_json(document, limits)?;
        Ok(F::ask_of(&Document { plan: &plan, json: Json::Bytes(document), limits, detail }, budget)?)
    }
}

/// The path of a question whose form is negotiated, or fixed by the path's suffix.
pub fn question<Q: Question>(form: Option<Form>) -> MethodRouter<App> {
    endpoint(Q::NAME, Methods::Ask, move |app, request| answer::<Q>(app, request, form))
}

async fn answer<Q: Question>(app: App, request: Request<Body>, fixed: Option<Form>) -> Result<Response, Problem> {
    let deadline = Instant::now() + app.settings.request_timeout;
    let form = negotiate::wanted(fixed, request.headers(), request.uri().query())?;
    let gzip = form.is_text() && negotiate::accepts_gzip(request.headers());
    let method = request.method().clone();
    let mut held = app.bodies.hold();
    let (headers, document) = if method == Method::GET || method == Method::HEAD {
        let document = unpack(&app, request.uri(), deadline).await?;
        (request.into_parts().0.headers, document)
    } else {
        let read = body::json(request, app.settings.body_bytes, app.settings.body_timeout, &mut held).await;
        read.inspect_err(|problem| {
            if problem.kind == Kind::Busy {
                app.meters.reject(Rejection::BodyMemory);
            }
        })?
    };
    let tag = Tag::of(Q::NAME, &document, form);
    let precondition = tag.precondition(&headers, gzip);
    let reply = Reply { tag, form, negotiated: fixed.is_none(), gzip };
    if let Precondition::Held(held) = precondition {
        return reply.unchanged(&method, held, &app);
    }
    let shown = compute::<Q>(&app, document, form, deadline).await?;
    if precondition == Precondition::HeldIfAny {
        return reply.unchanged(&method, reply.tag.header(false), &app);
    }
    Ok(reply.with(shown, &app))
}

/// Unpacks a link: what is small here and now, what turns out to be large on the pool.
async fn unpack(app: &App, uri: &Uri, deadline: Instant) -> Result<Bytes, Problem> {
    let most = app.settings.body_bytes;
    let small = most.min(app.settings.inline_bytes);
    match packed::document(uri.query(), small) {
        Err(problem) if problem.kind == Kind::TooLarge && small < most => {
            let uri = uri.clone();
            let estimate = app.pool.costs.estimate("unpack", uri.query().unwrap_or_default().as_bytes(), false);
            app.pool.run(deadline, estimate, move |_| packed::document(uri.query(), most)).await?
        }
        unpacked => unpacked,
    }
}

/// Reckons where it is quickest: what is likely to be quick here and now for a short while, everything else on the pool.
async fn compute<Q: Question>(app: &App, document: Bytes, form: Form, deadline: Instant) -> Result<Vec<u8>, Problem> {
    let steps = app.settings.steps;
    let drawn = matches!(form, Form::Png(_));
    let mut estimate = app.pool.costs.estimate(Q::NAME, &document, drawn);
    let inline = app.settings.inline_time.as_secs_f64();
    let mut result = None;
    if !drawn && document.len() <= app.settings.inline_bytes && estimate.seconds <= inline {
        let turn = app.pool.turn(estimate.seconds).await?;
        let began = Instant::now();
        let until = began + app.settings.inline_time;
        let tried = show::<Q>(&document, form, &app.settings.limits, &Budget::new(steps, &|| Instant::now() >= until));
        let took = began.elapsed().as_secs_f64();
        drop(turn);
        app.meters.computed(Q::NAME, took);
        if matches!(tried, Err(Refused::Halt(Halt::Stopped))) {
            // It takes longer than it was thought to, who knows how much.
            estimate.seconds = estimate.seconds.max(2.0 * inline);
            app.pool.costs.learn(&estimate, estimate.seconds);
            app.meters.moved_to_pool.inc();
        } else {
            app.pool.costs.learn(&estimate, took);
            result = Some(tried.map(|(shown, _)| Ok(shown)));
        }
    }
    let result = if let Some(result) = result {
        result
    } else {
        let shared = app.clone();
        let work = move |cancel: &super::pool::Cancel| {
            let (stop, workers) = (|| cancel.is_set(), shared.pool.workers());
            let budget = Budget::new(steps, &stop).with_workers(&workers);
            let shown = show::<Q>(&document, form, &shared.settings.limits, &budget);
            shown.map(|(shown, _)| if drawn { pixels::png(&shown) } else { Ok(shown) })
        };
        app.pool.run(deadline, estimate, work).await?
    };
    match result {
        Ok(shown) => shown,
        Err(Refused::Halt(Halt::Stopped)) => Err(app.out_of_time()),
        Err(refused) => Err(problem(refused)),
    }
}

/// The bytes of an answer in a form (of [`Form::Png`], the picture to draw), and how it turns out.
///
/// # Errors
/// [`Refused`].
pub fn show<Q: Question>(
    document: &[u8],
    form: Form,
    limits: &Limits,
    budget: &Budget<'_>,
) -> Result<(Vec<u8>, Verdict), Refused> {
    let detail = match form {
        Form::Json | Form::Line => Detail::Figures,
        Form::Svg(_) | Form::Png(_) => Detail::Pictures,
    };
    let answer = Q::answer(document, detail, limits, budget)?;
    let shown = match form {
        Form::Json => answer.json(),
        Form::Line => answer.line().into_bytes(),
        // Pixels are drawn from it, in `pixels`.
        Form::Svg(picture) | Form::Png(picture) => answer.picture(picture).into_bytes(),
    };
    Ok((shown, answer.verdict()))
}

/// Why there is no answer, as problem details.
#[must_use]
pub fn problem(refused: Refused) -> Problem {
    match refused {
        Refused::Read(ReadError::NotJson { line, column, say }) => {
            let mut problem = Problem::new(Kind::NotJson, say);
            problem.members = Members::Place { line, column };
            problem
        }
        Refused::Read(ReadError::TooDeep { limit }) => {
            let detail = "objects and lists lie within one another deeper than the limit";
            Problem::limit(Kind::TooDeep, "depth", limit as f64, "levels", detail)
        }
        Refused::Read(ReadError::Faults(faults)) => Problem::faults(faults),
        Refused::Halt(halt @ Halt::Stopped) => Problem::new(Kind::TimeLimit, halt.to_string()),
        Refused::Halt(Halt::StepsSpent { limit }) => {
            let detail = "the calculation needs more steps than the limit";
            Problem::limit(Kind::StepLimit, "steps", limit as f64, "steps", detail)
        }
        Refused::Halt(halt @ Halt::BeyondRange { .. }) => Problem::new(Kind::BeyondRange, halt.to_string()),
    }
}
