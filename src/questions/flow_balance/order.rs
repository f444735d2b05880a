//! In which order to tell of units and headers.

use std::collections::VecDeque;

use super::fill::run_targets;
use super::network::Network;
use crate::balance::Balance;
use crate::plan::{Aim, HeaderId, Plan, UnitId};

/// Which way one looks at a header.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// What comes in.
    In,
    /// What goes out.
    Out,
}

/// One step of the telling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// How many of a unit; `via`: the header that it was reached by, and so is sized by.
    Unit { unit: UnitId, via: Option<HeaderId> },
    /// One side of a header. `closing`: the other side was told before.
    Header { header: HeaderId, side: Side, closing: bool },
    /// Its lines.
    Lines { header: HeaderId },
}

struct Walk<'a> {
    plan: &'a Plan,
    balance: &'a Balance,
    network: &'a Network,
    unit_seen: Vec<bool>,
    /// Told at all, and followed to what comes in and to what goes out.
    header_seen: Vec<[bool; 3]>,
    queue: VecDeque<Step>,
    steps: Vec<Step>,
}

/// The order in which to tell: breadth first from what is asked, then what is not connected to it.
pub(super) fn outward(plan: &Plan, balance: &Balance, network: &Network) -> Vec<Step> {
    let mut walk = Walk {
        plan,
        balance,
        network,
        unit_seen: vec![false; plan.units.len()],
        header_seen: vec![[false; 3]; plan.headers.len()],
        queue: VecDeque::new(),
        steps: Vec::new(),
    };
    for unit in run_targets(plan) {
        walk.unit(unit, None);
    }
    let aimed: Vec<HeaderId> = match &plan.aim {
        Aim::Make(targets) => targets.iter().map(|target| target.header).collect(),
        Aim::Most(values) => values.iter().map(|value| value.header).collect(),
        Aim::Unsaid | Aim::Run(_) => Vec::new(),
    };
    for header in aimed.into_iter().chain(plan.demands.iter().map(|demand| demand.header)) {
        walk.header(header, Side::Out);
    }
    walk.run();
    for at in 0..plan.units.len() {
        if balance.units[at].needed > 0.0 {
            walk.unit(UnitId(at), None);
            walk.run();
        }
    }
    for at in 0..plan.headers.len() {
        let flow = &balance.headers[at];
        if flow.supplied > 0.0 || flow.demanded > 0.0 {
            walk.header(HeaderId(at), Side::In);
            walk.run();
        }
    }
    walk.steps
}

impl Walk<'_> {
    fn unit(&mut self, unit: UnitId, via: Option<HeaderId>) {
        if !std::mem::replace(&mut self.unit_seen[unit.0], true) {
            self.queue.push_back(Step::Unit { unit, via });
        }
    }

    fn header(&mut self, header: HeaderId, side: Side) {
        let [told, followed_in, followed_out] = &mut self.header_seen[header.0];
        let followed = if side == Side::In { followed_in } else { followed_out };
        if !std::mem::replace(told, true) {
            *followed = true;
            self.queue.push_back(Step::Header { header, side, closing: false });
        } else if !std::mem::replace(followed, true) {
            self.follow(header, side);
        }
    }

    /// What goes out has to be given by someone; what comes in is taken by someone. What else takes or gives is sized by
    /// something else.
    fn follow(&mut self, header: HeaderId, side: Side) {
        let near = self.network.at(header);
        let units = if side == Side::Out { &near.givers } else { &near.takers };
        if side == Side::In && Some(header) == self.network.power {
            return;
        }
        for &unit in units {
            if self.balance.units[unit.0].needed > 0.0 {
                self.unit(unit, Some(header));
            }
        }
    }

    fn run(&mut self) {
        while let Some(step) = self.queue.pop_front() {
            self.steps.push(step);
            match step {
                Step::Unit { unit, .. } => {
                    let entry = &self.plan.units[unit.0];
                    // Power touches nearly everything, so it shows no way: it is summed up at the end.
                    for flow in entry.takes.iter().filter(|flow| Some(flow.header) != self.network.power) {
                        self.header(flow.header, Side::Out);
                    }
                    for flow in entry.gives.iter().filter(|flow| Some(flow.header) != self.network.power) {
                        self.header(flow.header, Side::In);
                    }
                }
                Step::Header { header, side, closing: false } => {
                    self.follow(header, side);
                    let other = if side == Side::In { Side::Out } else { Side::In };
                    self.queue.push_back(Step::Header { header, side: other, closing: true });
                    self.queue.push_back(Step::Lines { header });
                }
                Step::Header { .. } | Step::Lines { .. } => {}
            }
        }
    }
}
