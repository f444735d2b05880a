//! Everything that knows HTTP: from a connection to bytes out.
//!
//! A request takes this way: [`serve`] accepts the connection, [`app`] stands around every request (id, deadline,
//! panic, metrics, headers, problems), [`router`] picks the route, [`endpoint`] checks the method, [`question`] or
//! [`sums`] reads, reckons and shows. Small work runs where it is, large work on the bounded [`pool`].
//! Whatever goes wrong anywhere is a [`problem::Problem`], and becomes bytes in one place, at the way out.

pub mod app;
pub mod body;
pub mod built_in;
pub mod compress;
pub mod conditional;
pub mod cors;
pub mod docs;
pub mod endpoint;
pub mod inquiries;
pub mod negotiate;
pub mod openapi;
pub mod packed;
pub mod page;
pub mod pages;
pub mod pixels;
pub mod pool;
pub mod problem;
pub mod question;
pub mod reply;
pub mod router;
pub mod serve;
pub mod settings;
pub mod sums;
pub mod telemetry;
pub mod workers;
