//! What the balance found, in the terms of the plan.

use super::HeatPower;
use crate::plan::{DemandId, HeaderId, OutletId, SupplyId, UnitId};

/// A solved balance. Every list is indexed as the plan's own.
#[derive(Clone, Debug)]
pub struct Balance {
    /// How it went.
    pub outcome: Outcome,
    /// By [`UnitId`].
    pub units: Vec<UnitRun>,
    /// By [`HeaderId`].
    pub headers: Vec<HeaderFlow>,
    /// By [`SupplyId`]: what is drawn, SI unit of its header.
    pub drawn: Vec<f64>,
    /// By [`DemandId`]: what is served.
    pub served: Vec<f64>,
    /// By [`OutletId`]: what is let out.
    pub let_out: Vec<f64>,
    /// What of each target of the aim is reached, in the order of the aim's list: machines for `run`, SI rate for `make`.
    /// For [`crate::plan::Aim::Unsaid`] without demands: one entry per unit of fixed count, in unit order.
    pub aims: Vec<Reached>,
    /// Value less running cost, for `most`.
    pub value: Option<f64>,
    /// What holds the plant back: limits that are met exactly and would change the outcome if they gave way.
    pub binding: Vec<Binding>,
    /// Steps taken (pivots and nodes).
    pub steps: u64,
    /// The worst imbalance of a header as a share of what passes through it: rounding, unless rates of one plan lie so far
    /// apart that double precision cannot hold them together.
    pub imbalance: f64,
    /// False where a search for whole numbers met its limit before the proof: counts serve, but others might do better.
    pub proven: bool,
    /// What coolers draw and turbines give, as it was put in.
    pub heat: HeatPower,
    /// Power that coolers want and get, W; nothing where they were left out.
    pub cooling: Reached,
    /// Power that turbines give and that finds a place, W.
    pub turbines: f64,
}

/// How the balance went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// All that was asked is met.
    Met,
    /// Something is short; the least shortfall is in the lists.
    Short,
    /// `most` has no limit: the lists hold a balance without the endless part.
    Unbounded {
        /// A unit whose run, or a supply whose draw, can grow without end.
        through: Grower,
    },
}

/// What can grow without end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grower {
    /// A unit that is not held to a count.
    Unit(UnitId),
    /// A supply without a rate.
    Supply(SupplyId),
    /// A delivery.
    Header(HeaderId),
}

/// How one type of machine runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitRun {
    /// Full-duty machines that the flows need: the sum of the run shares.
    pub needed: f64,
    /// How many machines: the plan's count, or `needed` rounded up (with tolerance) where it is sized, and at least what must stand.
    pub count: u32,
}

/// What passes through a header, SI unit of what it carries:
/// made + supplied = taken + served + delivered + let out + trapped, and demanded = served + unserved.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct HeaderFlow {
    /// Given by units (and generated).
    pub made: f64,
    /// Taken by units (and drawn, idle draw included).
    pub taken: f64,
    /// Drawn from supplies.
    pub supplied: f64,
    /// Asked for by demands and by a `make` aim.
    pub demanded: f64,
    /// Of what is demanded, served.
    pub served: f64,
    /// Delivered for value by a `most` aim (to demands on the header, where there are any; those are then not `demanded`).
    pub delivered: f64,
    /// Left by the outlet; on `power`, spilled.
    pub let_out: f64,
    /// Of what is demanded, not served.
    pub unserved: f64,
    /// Surplus that finds no way out.
    pub trapped: f64,
    /// Lines: fixed, or as many as carry made + supplied; `None` where a line's capacity is not given.
    pub lines: Option<u32>,
    /// made + supplied over what the lines carry.
    pub line_utilisation: Option<f64>,
}

/// A target of the aim and how far it is reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reached {
    /// Wanted: full-duty machines, or SI rate.
    pub wanted: f64,
    /// Got.
    pub got: f64,
}

/// A limit that binds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binding {
    /// Which.
    pub limit: Limit,
    /// With `wants_worth`: what one more of it (kg/s, W, or one machine) adds: to the value of a `most` aim; otherwise to the
    /// sum of what is reached and served, in full-duty machines for `run` targets and SI rates for the rest. One-sided: by
    /// solving again with a little more.
    pub worth: Option<f64>,
}

/// A limit of the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Limit {
    /// A supply gives all it can.
    Supply(SupplyId),
    /// All machines run at full duty.
    Count(UnitId),
    /// The fixed lines of a header are full.
    Lines(HeaderId),
    /// An outlet is full.
    Outlet(OutletId),
    /// Delivery of a valued header is all that its demand takes.
    Demand(DemandId),
}
