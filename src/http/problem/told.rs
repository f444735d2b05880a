//! A problem as a client is told of it: problem details (RFC 9457), or one line.

use std::fmt::Write as _;

use serde::Serialize;

use super::{Kind, Members, Problem};
use crate::plan::{At, Fault};
use crate::questions::answer::{LINE_BYTES, one_line};

/// A limit that was hit, by the name of the flag that sets it; the one of `If-None-Match` is fixed.
#[derive(Clone, Debug, PartialEq, Serialize, utoipa::ToSchema)]
#[schema(as = ProblemLimit)]
pub struct Limit {
    /// The name: the flag of the service without its dashes, or `if-none-match-bytes`.
    pub name: &'static str,
    /// The value in force.
    pub value: f64,
    /// What `value` counts.
    pub counts: &'static str,
}

/// Problem details (RFC 9457): why a request was not answered.
#[derive(Serialize, utoipa::ToSchema)]
#[schema(as = Problem)]
pub struct ProblemBody<'a> {
    /// A page about this kind of problem, relative to the service. Its last part is a stable code.
    #[serde(rename = "type")]
    #[schema(rename = "type", value_type = String, example = "/problems/unreadable")]
    type_: &'static str,
    /// The kind in words.
    #[schema(value_type = String)]
    title: &'static str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong this time.
    detail: &'a str,
    /// The line of the document at which reading stopped, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<usize>,
    /// The column of the document at which reading stopped, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    column: Option<usize>,
    /// The limit that was hit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Limit>)]
    limit: Option<&'a Limit>,
    /// The faults, in document order, up to a cap.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_items = 1000)]
    faults: Option<Vec<ProblemFault<'a>>>,
    /// How many faults there are in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    faults_total: Option<usize>,
    /// The id of the request in the log; only for internal errors.
    #[serde(skip_serializing_if = "Option::is_none")]
    request_id: Option<&'a str>,
}

/// One fault of a document or of the parameters. It has either a `pointer` or a `parameter`.
#[derive(Serialize, utoipa::ToSchema)]
#[schema(as = ProblemFault)]
pub struct ProblemFault<'a> {
    /// Where in the document, as a JSON pointer (RFC 6901).
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<&'a str>,
    /// Which query parameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    parameter: Option<&'a str>,
    /// A stable code, such as `unknown-field`.
    #[schema(value_type = String)]
    code: &'static str,
    /// What stood there.
    found: &'a str,
    /// What should stand there.
    expected: &'a str,
    /// The nearest known name, where one was mistyped.
    #[serde(skip_serializing_if = "Option::is_none")]
    near: Option<&'a str>,
}

impl<'a> From<&'a Fault> for ProblemFault<'a> {
    fn from(fault: &'a Fault) -> Self {
        let (pointer, parameter) = match &fault.at {
            At::Pointer(pointer) => (Some(pointer.as_str()), None),
            At::Parameter(name) => (None, Some(name.as_str())),
        };
        Self {
            pointer,
            parameter,
            code: fault.code.as_str(),
            found: &fault.found,
            expected: &fault.expected,
            near: fault.near.as_deref(),
        }
    }
}

impl Problem {
    /// The body as `application/problem+json`.
    #[must_use]
    pub fn json(&self, request_id: &str) -> Vec<u8> {
        let (line, column) = match self.members {
            Members::Place { line, column } => (Some(line), Some(column)),
            _ => (None, None),
        };
        let (faults, faults_total) = match &self.members {
            Members::Faults(faults) => {
                (Some(faults.listed.iter().map(ProblemFault::from).collect()), Some(faults.total))
            }
            _ => (None, None),
        };
        let limit = if let Members::Limit(limit) = &self.members { Some(limit) } else { None };
        let body = ProblemBody {
            type_: self.kind.type_uri(),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            line,
            column,
            limit,
            faults,
            faults_total,
            request_id: (self.kind == Kind::Internal).then_some(request_id),
        };
        // Strings and finite numbers always serialise.
        serde_json::to_vec(&body).unwrap_or_default()
    }

    /// The body as one line: at most [`LINE_BYTES`] bytes, no control characters.
    #[must_use]
    pub fn line(&self, request_id: &str) -> String {
        let mut text = format!("{} ({}): ", self.kind.title(), self.kind.status().as_u16());
        match &self.members {
            Members::Faults(faults) if faults.total > 1 => {
                let _ = write!(text, "{} faults: {faults}", faults.total);
            }
            Members::Place { line, column } => {
                let _ = write!(text, "{}, line {line}, column {column}", self.detail);
            }
            Members::Limit(limit) => {
                let _ = write!(text, "{} (limit {}: {} {})", self.detail, limit.name, limit.value, limit.counts);
            }
            _ => text.push_str(&self.detail),
        }
        if self.kind == Kind::Internal {
            let _ = write!(text, ", request {request_id}");
        }
        one_line(&text, LINE_BYTES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{FaultCode, Faults};

    #[test]
    fn every_fault_is_in_the_json_and_as_many_as_fit_in_the_line() {
        let fault = |at: At, near: Option<&str>| Fault {
            at,
            code: FaultCode::UnknownName,
            found: "\"burnr\"".into(),
            expected: "the name of a unit".into(),
            near: near.map(Into::into),
        };
        let problem = Problem::faults(Faults {
            listed: vec![
                fault(At::Pointer("/aim/run/burnr".into()), Some("burner")),
                fault(At::Parameter("flow".into()), None),
            ],
            total: 12,
        });
        let json: serde_json::Value = serde_json::from_slice(&problem.json("id")).expect("JSON");
        assert_eq!(json["faults"][0]["pointer"], "/aim/run/burnr");
        assert_eq!(json["faults"][0]["near"], "burner");
        assert_eq!(json["faults"][1]["parameter"], "flow");
        assert_eq!(json["faults_total"], 12);
        assert!(json.get("request_id").is_none());
        let line = problem.line("id");
        assert!(line.contains("did you mean") && line.contains("and 10 more"), "{line}");
    }
}
