//! Everything that knows HTTP: from a connection to bytes out.
//!
//! A request takes this way: [`serve`] accepts the connection, [`app`] stands around every request (id, deadline,
//! panic, metrics, headers, problems), [`router`] picks the route, [`endpoint`] checks the method,
//! [`question`] or [`sums`] reads, reckons and shows. What it is likely to take is told by [`cost`]; [`pool`] lets it in: [`quick`] work
//! runs where it is, all other waits in a [`line`] for one of so many threads, or is refused.
//! Whatever goes wrong anywhere is a [`problem::Problem`], and becomes bytes in one place, at the way out.

pub mod app;
pub mod bare;
pub mod body;
pub mod built_in;
pub mod carried;
pub mod compress;
pub mod conditional;
pub mod cors;
pub mod cost;
pub mod docs;
pub mod endpoint;
pub mod ids;
pub mod inquiries;
pub mod line;
pub mod negotiate;
pub mod openapi;
pub mod packed;
pub mod page;
pub mod pages;
pub mod patience;
pub mod pixels;
pub mod pool;
pub mod problem;
pub mod question;
pub mod quick;
pub mod rate;
pub mod reply;
pub mod router;
pub mod serve;
pub mod settings;
pub mod sums;
pub mod telemetry;
pub mod workers;
