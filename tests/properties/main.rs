//! What holds for every plan: over random plants and random parameters.

mod balance;
mod fairness;
#[path = "../support/mod.rs"]
mod support;
mod turndown;
