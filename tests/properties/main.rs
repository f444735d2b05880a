//! What holds for every plan: over random plants and random parameters.

mod balance;
#[path = "../support/mod.rs"]
mod support;
