//! What holds for every plan: over random plants and random parameters.

mod balance;
mod cycles;
mod fairness;
mod inquiries;
mod order;
mod rehearsal;
mod remedies;
mod sizes;
mod standing;
#[path = "../support/mod.rs"]
mod support;
mod turndown;
mod warm;
mod work;
