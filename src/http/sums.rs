//! Single sums over HTTP: the list, and one sum from the query's parameters.

use std::borrow::Cow;
use std::time::Instant;

use axum::body::Body;
use axum::http::Request;
use axum::response::Response;
use smallvec::SmallVec;

use crate::forms::{Form, Shown};
use crate::http::app::App;
use crate::http::conditional::{Precondition, Tag};
use crate::http::problem::{Kind, Problem};
use crate::http::reply::Reply;
use crate::http::{negotiate, pixels};
use crate::questions::answer::{LINE_BYTES, one_line};
use crate::sums::{self, Sum};

/// What the service itself reads from a query: a sum never sees it.
const FOR_THE_SERVICE: [&str; 2] = ["errors", negotiate::PICTURE];

/// `/v1/sums`, in a form that its path fixes or that is negotiated: every sum with its parameters, formula and an example.
///
/// # Errors
/// 406 for a form the list has not.
pub async fn list(fixed: Option<Form>, app: App, request: Request<Body>) -> Result<Response, Problem> {
    let asked = Asked::of(&request, fixed)?;
    let tag = Tag::of("sums", b"", asked.form);
    let reckoned = asked.answer(&app, &request, tag, || match asked.form {
        Form::Json => serde_json::to_vec(&sums::listing()).map_err(|error| Problem::internal(error.to_string())),
        Form::Line => {
            let names: Vec<_> = sums::registry().iter().map(|sum| sum.name).collect();
            Ok(one_line(&format!("{} sums: {}", names.len(), names.join(", ")), LINE_BYTES).into_bytes())
        }
        Form::Svg(_) | Form::Png(_) => {
            Err(Problem::new(Kind::NotAcceptable, "the list of sums comes as application/json or text/plain"))
        }
    })?;
    reckoned.shown(&app).await
}

/// `/v1/sums/{sum}`, in a form that its path fixes or that is negotiated.
///
/// # Errors
/// 406 for a form, 422 with every fault of the parameters.
pub async fn one(
    sum: &'static Sum,
    fixed: Option<Form>,
    app: &App,
    request: Request<Body>,
) -> Result<Response, Problem> {
    let reckoned = reckon(sum, fixed, app, &request)?;
    drop(request);
    reckoned.shown(app).await
}

fn reckon(sum: &Sum, fixed: Option<Form>, app: &App, request: &Request<Body>) -> Result<Reckoned, Problem> {
    let asked = Asked::of(request, fixed)?;
    let query = request.uri().query().unwrap_or_default();
    let pairs: SmallVec<[(Cow<'_, str>, Cow<'_, str>); 4]> =
        form_urlencoded::parse(query.as_bytes()).filter(|(name, _)| !FOR_THE_SERVICE.contains(&&**name)).collect();
    let tag = Tag::of(sum.name, &document(&pairs), asked.form);
    asked.answer(app, request, tag, || {
        if asked.form == Form::Line {
            return Ok(sums::line(sum, &pairs).map_err(Problem::faults)?.into_bytes());
        }
        let answer = sums::answer(sum, &pairs).map_err(Problem::faults)?;
        Ok(match asked.form {
            Form::Svg(picture) | Form::Png(picture) => answer.picture(picture).into_bytes(),
            Form::Json | Form::Line => answer.json(),
        })
    })
}

/// The form of a request, and whether it takes gzip.
struct Asked {
    form: Form,
    negotiated: bool,
    gzip: bool,
}

impl Asked {
    fn of(request: &Request<Body>, fixed: Option<Form>) -> Result<Self, Problem> {
        let headers = request.headers();
        let form = negotiate::wanted(fixed, headers, request.uri().query())?;
        Ok(Self { form, negotiated: fixed.is_none(), gzip: form.is_text() && negotiate::accepts_gzip(headers) })
    }

    /// What these bytes come to, unless the client holds the answer.
    fn answer(
        &self,
        app: &App,
        request: &Request<Body>,
        tag: Tag,
        bytes: impl FnOnce() -> Result<Vec<u8>, Problem>,
    ) -> Result<Reckoned, Problem> {
        let precondition = tag.precondition(request.headers(), self.gzip);
        let reply = Reply { tag, form: self.form, negotiated: self.negotiated, gzip: self.gzip };
        let held = match precondition {
            Precondition::None => {
                let bytes = bytes()?;
                return Ok(match self.form {
                    Form::Png(_) => Reckoned::Picture(reply, bytes),
                    _ => Reckoned::Response(reply.with(bytes, app)),
                });
            }
            Precondition::Held(held) => held,
            Precondition::HeldIfAny => {
                bytes()?;
                reply.tag.header(false)
            }
        };
        Ok(Reckoned::Response(reply.unchanged(request.method(), held, app)?))
    }
}

/// What a request has come to. A sum takes less time than handing it to the pool; drawing it in pixels does not.
enum Reckoned {
    Response(Response),
    /// To be drawn in pixels.
    Picture(Reply, Vec<u8>),
}

impl Reckoned {
    async fn shown(self, app: &App) -> Result<Response, Problem> {
        match self {
            Self::Response(response) => Ok(response),
            Self::Picture(reply, picture) => {
                let deadline = Instant::now() + app.settings.request_timeout;
                let estimate = app.pool.costs.estimate("sum", &picture, true);
                let pixels = app.pool.run(deadline, estimate, move |_| pixels::png(&picture)).await??;
                Ok(reply.with(pixels, app))
            }
        }
    }
}

/// The parameters as bytes to take a tag of: the same for every spelling of one query.
fn document(pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> SmallVec<[u8; 128]> {
    let mut bytes = SmallVec::new();
    for (name, value) in pairs {
        bytes.extend_from_slice(name.as_bytes());
        bytes.push(0);
        bytes.extend_from_slice(value.as_bytes());
        bytes.push(0);
    }
    bytes
}

/// `/v1/sums/{sum}` for a sum that is none, or an end that is no form.
///
/// # Errors
/// Always 404.
pub async fn unknown(_: App, request: Request<Body>) -> Result<Response, Problem> {
    let name = request.uri().path().rsplit('/').next().unwrap_or_default();
    let name = name.rsplit_once('.').map_or(name, |(name, _)| name);
    if sums::find(name).is_some() {
        let detail = "a sum comes as .json, .txt, .svg or .png, or without an end by Accept";
        return Err(Problem::new(Kind::NotFound, detail));
    }
    let detail = sums::near(name).map_or_else(
        || "there is no such sum; /v1/sums lists them".to_owned(),
        |near| format!("there is no such sum; did you mean {near}? /v1/sums lists them"),
    );
    Err(Problem::new(Kind::NotFound, detail))
}
