//! Hotwell reckons flow, heat and level of self-contained utility plants in simulations.
//!
//! Data flows one way: bytes → [`plan`] → [`questions`] → engine ([`balance`]) → answer → [`forms`] → bytes.
//! A layer imports only what lies below it; `tests/layering.rs` holds that.
//!
//! **Caution.** The calculations are lumped and simplified, for simulated plants. Real boilers, pressure vessels,
//! refrigeration and electrical work are for licensed practice under local codes.

pub mod balance;
pub mod budget;
pub mod course;
pub mod floor;
pub mod heat;
pub mod plan;
pub mod quantity;
pub mod questions;
pub mod rehearsal;
pub mod sums;

pub mod forms;
#[cfg(feature = "server")]
pub mod http;
