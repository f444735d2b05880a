//! Heat: temperatures of zones over time and at rest.
//!
//! A zone is a lump: one temperature, a heat capacity that depends on the phase of what is in it, and changes of phase that
//! take heat at one temperature. Heat comes through walls (conductance times difference), from machines and streams, and leaves
//! by coolers and turbines, some of which turn themselves on and off by the zone's temperature.
//!
//! Between two events dT/dt = A·T + b with A and b fixed, so temperatures are sums of exponentials (`linear`, `ladder`), the
//! next event is the first crossing of one of them (`curve`), and nothing is stepped. `block` is the state with what it does
//! next; `rehearse` drives it over time, `steady` to where it comes to rest, `periodic` to the cycle it settles in under patterns, `cycling`
//! to the one in which switches keep it; `accounts` says
//! what flowed. `assemble` makes the network of a plan, `streams` says how warm what flows through headers is.

#![allow(
    clippy::float_cmp,
    clippy::needless_range_loop,
    clippy::needless_for_each,
    clippy::single_match_else,
    reason = "a temperature that was set to a step is compared with that step; rows of several lists go by zone; the rest is taste"
)]

mod accounts;
mod affine;
mod assemble;
mod block;
mod curve;
mod cycling;
mod ladder;
mod linear;
mod mark;
pub mod network;
mod periodic;
mod reading;
mod rehearse;
mod row;
mod steady;
pub mod streams;
#[cfg(test)]
mod tests;
mod trace;

pub use accounts::{Accounts, Extreme, FlowAccount, ThermostatAccount};
pub use assemble::{Assembly, LimitOf, Running, assemble};
pub use block::{HeatBlock, HeatEvent, Phase};
pub use cycling::{Cycling, MeanFlow, ThermostatCycle, ZoneCycle, cycling};
pub use mark::{HeatMark, has_settled};
pub use periodic::{Cycle, CycleSearch, bare};
pub use reading::{Leaves, Reading};
pub use rehearse::{
    Happening, HeatCycle, HeatRehearsal, MOST_EVENTS, Pulsed, rehearse, rehearse_to_limit, rehearse_untraced,
};
pub use steady::{AtRest, Steady, steady};
pub use trace::{Curve, thinned};
