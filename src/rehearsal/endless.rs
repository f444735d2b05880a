//! Headers that have whatever is asked of them.
//!
//! Where a supply without a rate that is always open stands alone on a header, and nothing else gives to it, whatever is taken
//! there is there: nobody can be short of it, and nobody feels what another takes. So such a header joins nothing: what takes
//! from it and stands on other headers too is taken off it, and keeps in [`Flow::endless`] what it takes, for the records and for
//! the objective of least draw. The sum of a draw over parts that do not act on each other is least where it is least in each.

use super::system::{Endless, Flow, Source, System};
use crate::plan::SupplyId;

/// Takes flows off the headers on which they can have whatever they ask for.
pub fn take_off(system: &mut System) {
    let sources: Vec<Option<Endless>> = (0..system.mains.len()).map(|header| source(system, header)).collect();
    for flow in system.flows.iter_mut().filter(|flow| flow.on.len() > 1) {
        // It stays on the last of them where it would stand on none.
        let mut stays = flow.on.len();
        flow.endless.extend(flow.on.iter().filter_map(|&(header, rate)| {
            let source = sources[header].filter(|_| stays > 1)?;
            stays -= 1;
            Some(Endless { takes: -rate, ..source })
        }));
        let mut leaves = flow.endless.len();
        flow.on.retain(|&(header, _)| {
            let goes = leaves > 0 && sources[header].is_some();
            leaves -= usize::from(goes);
            !goes
        });
    }
}

/// The supply that gives whatever is asked of a header, where there is one.
fn source(system: &System, header: usize) -> Option<Endless> {
    let main = &system.mains[header];
    if !main.endless || !main.stores.is_empty() || main.lines.is_some() {
        return None;
    }
    let rate = |flow: &Flow| flow.on.iter().find(|on| on.0 == header).map(|on| on.1);
    let mut gives = system.flows.iter().filter(|flow| rate(flow).is_some_and(|rate| rate > 0.0));
    let (Some(flow), None) = (gives.next(), gives.next()) else { return None };
    // As it is alone, it is the one without a rate.
    let Source::Draw(SupplyId(supply)) = flow.what else { return None };
    let is_open = flow.course.is_none() && flow.gates.is_empty() && flow.thermostats.is_empty();
    is_open.then_some(Endless { supply, header, rank: flow.rank, takes: 0.0 })
}
