//! Patterns in words and as factors.

use std::fmt::Write as _;

use crate::plan::{Course, Pattern, Seasons};
use crate::quantity::{dimension, number, print, print_si};

/// The rhythm as people say it: "for 7 min of every 18 min, 40 h active and 25 h dormant".
#[must_use]
pub fn rhythm(pattern: &Pattern) -> String {
    let mut text = match &pattern.course {
        Course::Pulse { on, every } => format!("for {} of every {}", print(*on), print(*every)),
        Course::Steps(steps) if steps.len() == 1 => "throughout".to_owned(),
        Course::Steps(steps) => format!("in {} steps of every {}", steps.len(), print(pattern.cycle())),
    };
    if let Some(Seasons { active, dormant, .. }) = pattern.seasons {
        let _ = write!(text, ", {} active and {} dormant", print(active), print(dormant));
    }
    text
}

/// The long-run share as it is reckoned: "7 min ÷ 18 min × 40 h ÷ (40 h + 25 h)".
#[must_use]
pub fn factors(pattern: &Pattern) -> String {
    let mut text = match &pattern.course {
        Course::Pulse { on, every } => format!("{} ÷ {}", print(*on), print(*every)),
        Course::Steps(steps) => {
            const SPELT: usize = 4;
            let sum: Vec<String> = if steps.len() > SPELT {
                let all = steps.iter().map(|step| step.length.si() * step.share).sum();
                vec![print_si::<dimension::Time>(all).to_string()]
            } else {
                steps.iter().map(|step| format!("{} × {}", print(step.length), number(step.share))).collect()
            };
            format!("({}) ÷ {}", sum.join(" + "), print(pattern.cycle()))
        }
    };
    if let Some(Seasons { active, dormant, .. }) = pattern.seasons {
        let _ = write!(text, " × {} ÷ ({} + {})", print(active), print(active), print(dormant));
    }
    text
}
