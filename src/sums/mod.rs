//! Single sums: one figure from a few parameters, answered without a plan.
//!
//! The [`registry`] holds one entry per sum; to add a sum is to write one and list it there. Everything a caller needs
//! to ask it (parameters, bounds, formula, an example) is in the entry, and everything that can be wrong with the
//! asking is found by [`answer`], all at once.

mod answer;
mod arguments;
mod battery;
mod by_product;
mod cleaner_chain;
mod cooling;
mod exchanger;
mod heat;
mod lines;
mod listing;
mod loop_charge;
mod make_up;
mod medium;
mod mixing;
mod outage_storage;
mod parameter;
mod phases;
mod pump_starts;
mod reader;
mod row_fit;
mod sensible;
mod sequent_peak;
mod stage_bands;
mod steam;
mod stock_cycle;
mod store_time;
mod supply_average;
mod supply_lasts;
mod turbines;
mod units_needed;
mod vessels;
mod walls;
mod warm_up;
mod wording;

use std::borrow::Cow;

use crate::plan::Faults;
use crate::questions::answer::{LINE_BYTES, made_one_line};
pub use answer::{Figures, SumAnswer};
use answer::{Outcome, Refusal};
use arguments::Arguments;
pub use listing::{SumEntry, SumList, SumParameter, listing};
pub use parameter::{Kind, Parameter};

/// A single sum.
#[derive(Clone, Copy, Debug)]
pub struct Sum {
    /// Its name in a link: `units-needed`.
    pub name: &'static str,
    /// Its name for people.
    pub title: &'static str,
    /// What it answers, in one sentence.
    pub says: &'static str,
    /// How it is reckoned, as text.
    pub formula: &'static str,
    /// What it is asked with, in the order of the listing.
    pub parameters: &'static [Parameter],
    /// A query string that it answers.
    pub example: &'static str,
    evaluate: fn(&Arguments<'_>) -> Result<Outcome, Refusal>,
}

static REGISTRY: &[Sum] = &[
    units_needed::SUM,
    lines::UNITS_FED,
    lines::LINES_NEEDED,
    by_product::SUM,
    cleaner_chain::SUM,
    supply_average::SUM,
    make_up::SUM,
    row_fit::SUM,
    store_time::SUM,
    outage_storage::SUM,
    supply_lasts::SUM,
    pump_starts::STARTS,
    pump_starts::VOLUME,
    battery::RUN_TIME,
    battery::FOR_OUTAGE,
    stage_bands::SUM,
    loop_charge::SUM,
    sequent_peak::SEQUENT_PEAK,
    sequent_peak::LOAD_LEVELLING,
    stock_cycle::SUM,
    vessels::GRAVITY_DRAIN,
    vessels::EXPANSION,
    sensible::STREAM,
    sensible::BODIES,
    sensible::STORE,
    warm_up::WARM_UP,
    warm_up::COOL_DOWN,
    warm_up::SPHERE,
    mixing::SUM,
    phases::LATENT,
    phases::FREEZE_CHECK,
    cooling::SET_POINT,
    cooling::COOLERS,
    cooling::CHILLER,
    cooling::CARNOT,
    cooling::CYCLE,
    turbines::TURBINES,
    turbines::BALLAST,
    turbines::PULSED,
    walls::SUM,
    exchanger::EXCHANGER,
    exchanger::LOG_MEAN,
    steam::STATE,
    steam::CYCLE,
];

/// Every sum there is.
#[must_use]
pub fn registry() -> &'static [Sum] {
    REGISTRY
}

/// The sum of that name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Sum> {
    REGISTRY.iter().find(|sum| sum.name == name)
}

/// The name of a sum that is spelt most like one that nobody knows.
#[must_use]
pub fn near(name: &str) -> Option<&'static str> {
    arguments::near(name, REGISTRY.iter().map(|sum| sum.name))
}

/// Answers a sum from the decoded pairs of a query string.
///
/// # Errors
/// [`Faults`], each at a parameter: missing, unknown, twice there, unreadable, of the wrong dimension, out of range, or
/// at odds with another.
pub fn answer(sum: &Sum, pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> Result<SumAnswer, Faults> {
    let arguments = Arguments::read(sum.parameters, pairs)?;
    evaluate(sum, &arguments).map(|outcome| SumAnswer::new(sum, outcome))
}

/// The one line of [`answer`], without reckoning what only the whole answer tells.
///
/// # Errors
/// As [`answer`].
pub fn line(sum: &Sum, pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> Result<String, Faults> {
    let arguments = Arguments::read(sum.parameters, pairs)?.in_brief();
    evaluate(sum, &arguments).map(|outcome| made_one_line(outcome.say, LINE_BYTES))
}

fn evaluate(sum: &Sum, arguments: &Arguments<'_>) -> Result<Outcome, Faults> {
    (sum.evaluate)(arguments).map_err(|refusal| Faults { listed: vec![refusal.into()], total: 1 })
}
