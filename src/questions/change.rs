//! A plan with something changed in it: read anew, with every fault told by a pointer into the document that was sent.

use serde_json::Value;

use super::answer::apply;
use crate::plan::inquiry::{Held, fault};
use crate::plan::{At, Blocked, FaultCode, Faults, Limits, Plan, Pointer, ReadError, pointer};

/// The plan with a value at a pointer.
///
/// # Errors
/// The faults of what comes of it: below `place` where the value is at fault, at `/at` where the pointer leads to nothing
/// that a plan has, and otherwise below `/plan`.
pub fn with_value(held: &Held, at: &Pointer, value: Value, place: &str, limits: &Limits) -> Result<Plan, Faults> {
    let mut changed = held.written.clone();
    at.put(&mut changed, value).map_err(|blocked| one(blocked_fault(held, at, blocked)))?;
    read(&changed, limits, |found| {
        if let Some(rest) = below(found, at.as_str()) {
            return format!("{place}{rest}");
        }
        let leads_through = below(at.as_str(), found).is_some();
        if leads_through && held.written.pointer(found).is_none() { "/at".to_owned() } else { format!("/plan{found}") }
    })
}

/// The plan with a merge patch applied.
///
/// # Errors
/// The faults of what comes of it: below the variant where the patch has what is at fault, and otherwise below `/plan`.
pub fn with_patch(held: &Held, patch: &Value, variant: &str, limits: &Limits) -> Result<Plan, Faults> {
    let mut changed = held.written.clone();
    apply(&mut changed, patch);
    let place = pointer(&["variants", variant]);
    read(&changed, limits, |found| {
        let parent = found.rsplit_once('/').map_or("", |(parent, _)| parent);
        let patched = touches(patch, found)
            || held.written.pointer(found).is_none() && !parent.is_empty() && patch.pointer(parent).is_some();
        if patched { format!("{place}{found}") } else { format!("/plan{found}") }
    })
}

/// Whether a patch says something of the place: has it, or puts something in place of what it lies in.
fn touches(patch: &Value, at: &str) -> bool {
    if patch.pointer(at).is_some() {
        return true;
    }
    let mut cut = at;
    while let Some((above, _)) = cut.rsplit_once('/') {
        if let Some(there) = patch.pointer(above) {
            return !there.is_object();
        }
        cut = above;
    }
    false
}

/// What of `text` lies below `above`: nothing where the two are the same place.
fn below<'t>(text: &'t str, above: &str) -> Option<&'t str> {
    text.strip_prefix(above).filter(|rest| rest.is_empty() || rest.starts_with('/'))
}

fn one(fault: crate::plan::Fault) -> Faults {
    Faults { listed: vec![fault], total: 1 }
}

/// That a pointer leads through something that has no members.
fn blocked_fault(held: &Held, at: &Pointer, blocked: Blocked) -> crate::plan::Fault {
    let (Blocked::NoMembers(taken) | Blocked::NoPlace(taken)) = blocked;
    let through = at.first(taken);
    let found = match held.written.pointer(&through) {
        Some(Value::Array(items)) => format!("a list of {} at {through}", items.len()),
        _ => format!("a value without members at {through}"),
    };
    let expected = match blocked {
        Blocked::NoMembers(_) => "a pointer to a member of an object of the plan".to_owned(),
        Blocked::NoPlace(_) => "the number of a place in the list, from 0".to_owned(),
    };
    fault("/at".to_owned(), FaultCode::WrongType, found, expected, None)
}

fn read(changed: &Value, limits: &Limits, place: impl Fn(&str) -> String) -> Result<Plan, Faults> {
    Plan::from_value(changed, limits).map_err(|refused| match refused {
        ReadError::Faults(mut faults) => {
            for fault in &mut faults.listed {
                if let At::Pointer(at) = &mut fault.at {
                    *at = place(at);
                }
            }
            faults
        }
        other => {
            let expected = format!("a plan no deeper than the limit of {} levels", limits.depth);
            one(fault("/plan".to_owned(), FaultCode::TooMany, other.to_string(), expected, None))
        }
    })
}
