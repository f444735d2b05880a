//! A chat bot over IRC (RFC 2812) that answers from a Hotwell service.
//!
//! What is asked ([`command`]), how a sum is asked by position ([`sums`]) and what may be said in a channel ([`line`]) are
//! functions of their input alone; [`api`] asks the service, [`session`] talks to the network.

pub mod api;
pub mod command;
pub mod line;
pub mod session;
pub mod settings;
pub mod sums;
