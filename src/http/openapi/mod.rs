//! The API description, made from the code: OpenAPI 3.1; derived from it 3.0.3 for generators that need that, and 3.2, which
//! knows the method QUERY.
//!
//! Schemas come from the types that read and write the documents, parameters of sums from their registry, problems from
//! their declarations, examples from `examples/plans`. `openapi/` holds the generated documents; a test holds them to this.

mod components;
mod examples;
mod paths;
mod questions;
mod v3_0;
mod v3_2;

pub use examples::PLANS;

use serde_json::{Value, json};
use std::sync::LazyLock;

/// The caution that every description carries.
const CAUTION: &str = "**Caution.** The calculations are lumped and simplified, for simulated plants. Real boilers, \
    pressure vessels, refrigeration and electrical work are for licensed practice under local codes.";

const ABOUT: &str = "Hotwell reckons flow, heat and level of self-contained utility plants in simulations. A *plan* is one \
    JSON document; every question is asked of the same document and reads only the sections it needs. Nothing is stored: \
    the same document gives the same bytes.\n\n\
    **Forms.** Every answer comes as `application/json`, as one line of `text/plain` of at most 400 bytes, as \
    `image/svg+xml` and as `image/png`, chosen by `Accept` or by the suffix `.json`, `.txt`, `.svg` or `.png` on the path. \
    A picture shown small turns into a card with what tells most in large letters; `picture=card` asks for that alone.\n\n\
    **Asking.** `POST` the document, or send it with `QUERY` (RFC 10008; described by `/openapi-3.2.json`, since \
    older versions of OpenAPI have no word for it: same body, same answer as `POST`), or `GET` it packed into the link as `z`: the JSON bytes through zlib (RFC 1950), \
    then base64url without padding. All three give the same bytes and the same `ETag`.\n\n\
    **Quantities.** A number is in the SI unit of its field; a string is a number and a unit: `\"300 g/s\"`, \
    `\"4.18 kJ/(kg·K)\"`. Numbers in answers are SI, and the name of a field ends in its unit.\n\n\
    **Faults** are problem details (RFC 9457) that list every fault of the document with its JSON pointer. Chat bots that say \
    nothing but a 200 add `errors=200` to any link: what is wrong then comes as one line with status 200, the honest status in \
    the header `Hotwell-Status`. Programs have no use for it, so it is no parameter of the operations below.";

/// The OpenAPI 3.1 document.
#[must_use]
pub fn document() -> &'static Value {
    static DOCUMENT: LazyLock<Value> = LazyLock::new(|| {
        json!({
            "openapi": "3.1.0",
            "info": {
                "title": "Hotwell",
                "summary": "Flow, heat and level of utility plants in simulations.",
                "description": format!("{ABOUT}\n\n{CAUTION}"),
                "version": env!("CARGO_PKG_VERSION"),
                "license": {"name": "MIT", "identifier": "MIT"},
                "contact": {"name": "Hotwell contributors"},
            },
            "servers": [{"url": "/", "description": "The service that serves this document."}],
            "security": [],
            "tags": [
                {"name": "questions", "description": "Questions asked of a plan."},
                {"name": "sums", "description": "Single sums from query parameters."},
                {"name": "service", "description": "What operators and readers need."},
            ],
            "paths": paths::all(),
            "components": components::all(),
        })
    });
    &DOCUMENT
}

/// The same as OpenAPI 3.0.3.
#[must_use]
pub fn document_3_0() -> Value {
    v3_0::derive(document())
}

/// The same as OpenAPI 3.2, which can describe QUERY.
#[must_use]
pub fn document_3_2() -> Value {
    v3_2::derive(document())
}

/// A document as it is committed and printed: two spaces of indent and a line feed at the end.
#[must_use]
pub fn print(document: &Value) -> String {
    format!("{document:#}\n")
}
