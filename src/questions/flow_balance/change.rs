//! One change to a plan that helps, in words and as a patch.

use serde_json::{Map, Value, json};

use crate::plan::{Count, HeaderId, Plan, SupplyId, UnitId};
use crate::questions::answer::{merge, nest, quoted};

/// One change to the plan that helps.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Change {
    /// A supply's rate while it is on.
    Rate { supply: SupplyId, to: f64 },
    /// A unit's count, or the most of it.
    Count { unit: UnitId, to: u32 },
    /// The fixed lines of a header.
    Lines { header: HeaderId, to: u32 },
    /// A new supply for a header.
    Supply { header: HeaderId, rate: f64 },
}

impl Change {
    /// What to do.
    pub fn say(&self, plan: &Plan) -> String {
        match *self {
            Self::Rate { supply, to } => {
                let entry = &plan.supplies[supply.0];
                let carries = plan.header(entry.header).carries;
                let from = entry.rate.unwrap_or(0.0);
                format!("raise supply {} from {} to {}", quoted(&entry.name), carries.print(from), carries.print(to))
            }
            Self::Count { unit, to } => {
                let entry = &plan.units[unit.0];
                let from = match entry.count {
                    Count::Fixed(count) => count,
                    Count::Sized { at_most, .. } => at_most.unwrap_or(0),
                };
                format!("add {} × {} ({to} in all)", to.saturating_sub(from), quoted(&entry.name))
            }
            Self::Lines { header, to } => {
                let entry = plan.header(header);
                let more = to.saturating_sub(entry.lines.unwrap_or(0));
                let lines = if more == 1 { "line" } else { "lines" };
                format!("add {more} {lines} of {} ({to} in all)", quoted(&entry.name))
            }
            Self::Supply { header, rate } => {
                let entry = plan.header(header);
                format!("add a supply of {} of {}", entry.carries.print(rate), quoted(&entry.name))
            }
        }
    }

    /// The same as a JSON merge patch.
    fn patch(&self, plan: &Plan) -> Value {
        match *self {
            Self::Rate { supply, to } => nest(&["supplies", &plan.supplies[supply.0].name, "rate"], json!(to)),
            Self::Count { unit, to } => {
                let entry = &plan.units[unit.0];
                match entry.count {
                    Count::Fixed(_) => nest(&["units", &entry.name, "count"], json!(to)),
                    Count::Sized { .. } => nest(&["units", &entry.name, "count", "at_most"], json!(to)),
                }
            }
            Self::Lines { header, to } => nest(&["headers", &plan.header(header).name, "lines"], json!(to)),
            Self::Supply { header, rate } => {
                let name = &plan.header(header).name;
                let free = |name: &str| plan.supplies.iter().all(|supply| supply.name != name);
                let mut fresh = name.clone();
                while !free(&fresh) {
                    fresh.push_str(" make-up");
                }
                nest(&["supplies", &fresh], json!({ "header": name, "rate": rate }))
            }
        }
    }
}

/// What to do, all of it.
pub(super) fn say_all(plan: &Plan, changes: &[Change]) -> String {
    const MOST: usize = 4;
    let mut said: Vec<String> = changes.iter().take(MOST).map(|change| change.say(plan)).collect();
    if changes.len() > MOST {
        said.push(format!("{} more changes", changes.len() - MOST));
    }
    said.join(" and ")
}

/// All changes as one merge patch.
pub(super) fn patch_all(plan: &Plan, changes: &[Change]) -> Value {
    let mut whole = Value::Object(Map::new());
    for change in changes {
        merge(&mut whole, change.patch(plan));
    }
    whole
}
