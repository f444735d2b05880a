//! Why one part of an answer is missing, where the other parts are there.

use serde::Serialize;

use crate::budget::Halt;
use crate::plan::{At, Fault, Faults};

/// Why there is no answer here.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Unanswered {
    /// A stable code: `unreadable`, `step-limit` or `beyond-range`.
    pub code: &'static str,
    /// One sentence.
    pub say: String,
    /// What is wrong with the document, in its order and up to a cap; absent where nothing is.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<FaultFigures>,
    /// How many faults there are in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub faults_total: Option<usize>,
}

/// One fault.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FaultFigures {
    /// Where in the document that was sent, as a JSON pointer (RFC 6901).
    pub pointer: String,
    /// A stable code, such as `unknown-field`.
    pub code: &'static str,
    /// What stood there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// The nearest known name, where one was mistyped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near: Option<String>,
}

impl From<Fault> for FaultFigures {
    fn from(fault: Fault) -> Self {
        let (At::Pointer(pointer) | At::Parameter(pointer)) = fault.at;
        Self { pointer, code: fault.code.as_str(), found: fault.found, expected: fault.expected, near: fault.near }
    }
}

impl From<Faults> for Unanswered {
    fn from(faults: Faults) -> Self {
        Self {
            code: "unreadable",
            say: faults.say(),
            faults_total: Some(faults.total),
            faults: faults.listed.into_iter().map(FaultFigures::from).collect(),
        }
    }
}

impl Unanswered {
    /// A calculation that ended by itself; one that was told to stop is none of these and passes.
    ///
    /// # Errors
    /// [`Halt::Stopped`].
    pub fn halted(halt: Halt) -> Result<Self, Halt> {
        let code = match halt {
            Halt::Stopped => return Err(halt),
            Halt::StepsSpent { .. } => "step-limit",
            Halt::BeyondRange { .. } => "beyond-range",
        };
        Ok(Self { code, say: halt.to_string(), faults: Vec::new(), faults_total: None })
    }
}
