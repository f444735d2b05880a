//! What all fuzz targets hold an answer to.

use std::time::{Duration, Instant};

use hotwell::budget::Budget;
use hotwell::forms::{Drawn, Shown};
use hotwell::plan::{At, Limits, Plan, ReadError};
use hotwell::questions::{Detail, Document, Json, OfPlan};

/// Steps of one calculation: few, so that many are tried.
const STEPS: u64 = 200_000;
/// When the hook says stop. What goes on for long after that is found by libFuzzer's own timeout.
const TIME: Duration = Duration::from_millis(500);

/// Limits under which one document cannot keep the fuzzer busy.
pub fn limits() -> Limits {
    Limits { things: 200, values: 20, items: 5, variants: 4, ..Limits::DEFAULT }
}

/// Calls `calculate` with a budget.
pub fn within<T>(calculate: impl FnOnce(&Budget<'_>) -> T) -> T {
    let until = Instant::now() + TIME;
    calculate(&Budget::new(STEPS, &|| Instant::now() >= until))
}

/// Asks a question of bytes and holds the answer.
pub fn ask<F: OfPlan + Drawn>(bytes: &[u8]) {
    let limits = limits();
    let plan = match Plan::from_json(bytes, &limits) {
        Ok(plan) => plan,
        Err(error) => return refused(&error),
    };
    let document = Document { plan: &plan, json: Json::Bytes(bytes), limits: &limits, detail: Detail::Pictures };
    if let Ok(answer) = within(|budget| F::ask_of(&document, budget)) {
        holds(&answer);
    }
}

/// An answer is JSON whose numbers are numbers, a line fit for any chat, and a picture.
pub fn holds(answer: &impl Shown) {
    let json = answer.json();
    assert!(serde_json::from_slice::<serde_json::Value>(&json).is_ok_and(|value| value.is_object()));
    let line = answer.line();
    assert!(!line.is_empty() && line.len() <= 400 && !line.chars().any(char::is_control), "{line:?}");
    let picture = answer.svg();
    assert!(picture.starts_with("<svg") && picture.ends_with("</svg>") && !picture.contains("NaN"), "{picture}");
}

/// A refusal says what is wrong and where.
pub fn refused(error: &ReadError) {
    if let ReadError::Faults(faults) = error {
        assert!(!faults.listed.is_empty() && faults.total >= faults.listed.len());
        for fault in &faults.listed {
            assert!(!fault.found.is_empty() && !fault.expected.is_empty(), "{fault:?}");
            if let At::Pointer(pointer) = &fault.at {
                assert!(pointer.is_empty() || pointer.starts_with('/'), "{fault:?}");
            }
        }
    }
}
