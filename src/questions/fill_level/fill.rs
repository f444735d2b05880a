//! From the rehearsal to the figures.

mod events;
mod stores;

pub use events::MOST_EVENTS;
use stores::view;

use super::case::{Case, Window, per, short_of};
use super::figures::{DutyFigures, IntakeFigures, LoopFigures, Moment, ServiceFigures, Size, SwitchFigures};
use crate::course::outlook;
use crate::plan::{Carried, Flow, StoreId, Watched, When, in_order};
use crate::questions::answer::{Name, Named};
use crate::rehearsal::sizing::Sizing;

/// (kg, J): the one that the header's amounts are in.
type Pair = (Option<f64>, Option<f64>);

fn split(carries: Carried, amount: f64) -> Pair {
    match carries {
        Carried::Matter => (Some(amount), None),
        Carried::Power => (None, Some(amount)),
    }
}

fn split_maybe(carries: Carried, amount: Option<f64>) -> Pair {
    amount.map_or((None, None), |amount| split(carries, amount))
}

fn split_size(carries: Carried, found: Option<Sizing>) -> (Option<Size>, Option<Size>) {
    let size = match found {
        Some(Sizing::Least(size) | Sizing::UntilHorizon(size)) => Size(Some(size)),
        Some(Sizing::NoneIsEnough) => Size(None),
        Some(Sizing::NotFound) | None => return (None, None),
    };
    match carries {
        Carried::Matter => (Some(size), None),
        Carried::Power => (None, Some(size)),
    }
}

/// Where the figures come from.
pub struct Source<'c, 'p> {
    case: &'c Case<'p>,
    /// Of headers.
    names: Vec<Name>,
    /// Until when courses are shown.
    view_s: f64,
}

impl<'c, 'p> Source<'c, 'p> {
    pub fn new(case: &'c Case<'p>) -> Self {
        let names = case.plan.headers.iter().map(|header| header.name.as_str().into()).collect();
        Self { case, names, view_s: view(case) }
    }

    pub fn switches(&self) -> Named<SwitchFigures> {
        let case = self.case;
        let of = |(at, switch): (usize, &crate::plan::Switch)| {
            let record = &case.run.switches[at];
            let store = &case.plan.stores[watches(case, at).0];
            let figures = SwitchFigures {
                watches: store.name.as_str().into(),
                start_at_share: switch.start_at / store.capacity,
                stop_at_share: switch.stop_at / store.capacity,
                starts: record.starts,
                stops: record.stops,
                starts_per_h: case.starts_per_h(at),
                first_start_s: Moment(record.first_start_s),
                on_s: record.on_s,
                duty_share: per(record.on_s, case.run.reached_s),
                least_cycle_s: record.least_cycle_s,
            };
            (switch.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.switches, &case.plan.switches).map(of).collect()
    }

    pub fn supplies(&self) -> Named<IntakeFigures> {
        let case = self.case;
        let of = |(at, supply): (usize, &crate::plan::Supply)| {
            let record = &case.run.supplies[at];
            let carries = case.plan.header(supply.header).carries;
            let offered = supply.rate.map(|_| record.offered);
            let pushes = supply.when == When::Always && supply.rate.is_some();
            let (offered_kg, offered_j) = split_maybe(carries, offered);
            let (drawn_kg, drawn_j) = split(carries, record.drawn);
            let (lost_kg, lost_j) = split_maybe(carries, pushes.then_some(record.lost));
            let ahead = supply.pattern.as_ref().map(outlook);
            let figures = IntakeFigures {
                header: self.names[supply.header.0].clone(),
                offered_kg,
                offered_j,
                drawn_kg,
                drawn_j,
                spared_share: offered
                    .filter(|&offered| !pushes && offered > 0.0)
                    .map(|offered| (1.0 - record.drawn / offered).clamp(0.0, 1.0)),
                lost_kg,
                lost_j,
                first_lost_s: pushes.then_some(Moment(record.first_lost_s)),
                on_s: record.on_s,
                on_now: ahead.map(|ahead| ahead.share > 0.0),
                next_change_s: ahead.map(|ahead| Moment(ahead.changes_s)),
                next_return_s: ahead.map(|ahead| Moment(ahead.returns_s)),
            };
            (supply.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.supplies, &case.plan.supplies).map(of).collect()
    }

    pub fn demands(&self) -> Named<ServiceFigures> {
        let case = self.case;
        let of = |(at, demand): (usize, &crate::plan::Demand)| {
            let record = &case.run.demands[at];
            let carries = case.plan.header(demand.header).carries;
            let (wanted_kg, wanted_j) = split(carries, record.wanted);
            let (served_kg, served_j) = split(carries, record.served);
            let (unserved_kg, unserved_j) = split(carries, short_of(record.wanted, record.served));
            let figures = ServiceFigures {
                header: self.names[demand.header.0].clone(),
                wanted_kg,
                wanted_j,
                served_kg,
                served_j,
                unserved_kg,
                unserved_j,
                first_short_s: Moment(record.first_short_s),
                short_s: record.short_s,
                cuts: record.cuts,
            };
            (demand.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.demands, &case.plan.demands).map(of).collect()
    }

    pub fn units(&self) -> Named<DutyFigures> {
        let case = self.case;
        let day = case.plan.day.si();
        let of = |(at, unit): (usize, &crate::plan::Unit)| {
            let record = &case.run.units[at];
            let all = |flows: &[Flow]| {
                let matter = flows.iter().filter(|flow| case.plan.header(flow.header).carries == Carried::Matter);
                matter.map(|flow| (self.names[flow.header.0].clone(), flow.rate * record.duty_s)).collect()
            };
            let generates = unit.generates.si();
            let figures = DutyFigures {
                count: record.count,
                running_s: record.running_s,
                duty_s: record.duty_s,
                duty_share: (record.count > 0)
                    .then(|| per(record.duty_s, f64::from(record.count) * case.run.reached_s)),
                starts: record.starts,
                starts_per_day: per(record.starts as f64, case.run.reached_s) * day,
                held_s: record.held_s,
                first_held_s: Moment(record.first_held_s),
                takes_kg: all(&unit.takes),
                gives_kg: all(&unit.gives),
                generates_j: (generates > 0.0).then_some(generates * record.duty_s),
            };
            (unit.name.as_str().into(), figures)
        };
        in_order(&case.plan.listed.units, &case.plan.units).map(of).collect()
    }

    pub fn loops(&self) -> Named<LoopFigures> {
        let of = |(at, closed): (usize, &crate::plan::Loop)| {
            let window = &self.case.windows[at];
            let Window { charge, least, most } = *window;
            let figures = LoopFigures {
                charge_kg: charge,
                least_kg: least,
                most_kg: most,
                over_kg: window.over(),
                short_kg: window.short(),
            };
            (closed.name.as_str().into(), figures)
        };
        in_order(&self.case.plan.listed.loops, &self.case.plan.loops).map(of).collect()
    }
}

/// The store that a switch watches.
pub fn watches(case: &Case<'_>, switch: usize) -> StoreId {
    let Watched::Store(store) = case.plan.switches[switch].watch;
    store
}
