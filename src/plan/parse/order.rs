//! From the order of the document to that of names.
//!
//! Everything is reckoned in the order of names, so that the order in which an author wrote them decides nothing, not even which
//! number is added to which first. Where things stood in the document is kept for those who list them.

use crate::plan::document::PlanDocument;
use crate::plan::map::Section;
use crate::plan::model::{Aim, Flow, Header, HeaderId, Listed, Plan};

/// Puts all sections into the order of names. Headers are put in order once the plan stands ([`headers`]).
pub(super) fn sections(document: &mut PlanDocument) -> Listed {
    sort(&mut document.substances);
    sort(&mut document.hot_sources);
    Listed {
        headers: Vec::new(),
        outlets: Vec::new(),
        units: sort(&mut document.units),
        supplies: sort(&mut document.supplies),
        demands: sort(&mut document.demands),
        stores: sort(&mut document.stores),
        switches: sort(&mut document.switches),
        loops: sort(&mut document.loops),
        zones: sort(&mut document.zones),
        coolers: sort(&mut document.coolers),
        turbines: sort(&mut document.turbines),
        thermostats: sort(&mut document.thermostats),
    }
}

fn sort<T>(section: &mut Option<Section<T>>) -> Vec<usize> {
    section.as_mut().map_or_else(Vec::new, |section| by(&mut section.0, |(name, _)| name.as_str()))
}

/// Puts the headers of a plan into the order of names, and what refers to them too.
pub(super) fn headers(plan: &mut Plan) {
    let places = by(&mut plan.headers, |header: &Header| header.name.as_str());
    if !places.is_sorted() {
        let anew = |header: &mut HeaderId| header.0 = places[header.0];
        for unit in &mut plan.units {
            unit.takes.iter_mut().chain(&mut unit.gives).for_each(|flow| anew(&mut flow.header));
        }
        plan.supplies.iter_mut().for_each(|supply| anew(&mut supply.header));
        plan.demands.iter_mut().for_each(|demand| anew(&mut demand.header));
        plan.outlets.iter_mut().for_each(|outlet| anew(&mut outlet.header));
        plan.stores.iter_mut().for_each(|store| anew(&mut store.header));
        match &mut plan.aim {
            Aim::Make(targets) => targets.iter_mut().for_each(|target| anew(&mut target.header)),
            Aim::Most(values) => values.iter_mut().for_each(|value| anew(&mut value.header)),
            Aim::Run(_) | Aim::Unsaid => {}
        }
    }
    plan.listed.headers = places;
    plan.listed.outlets = by(&mut plan.outlets, |outlet| &outlet.header);
    within(plan);
}

/// What stands within one thing by names goes in their order too.
fn within(plan: &mut Plan) {
    for unit in &mut plan.units {
        let by_header = |flows: &mut Vec<Flow>| flows.sort_unstable_by_key(|flow| flow.header);
        by_header(&mut unit.takes);
        by_header(&mut unit.gives);
        unit.build.sort_unstable_by(|one, other| one.0.cmp(&other.0));
    }
    plan.zones.iter_mut().for_each(|zone| zone.contents.sort_unstable_by_key(|(substance, _)| *substance));
    plan.rows.iter_mut().for_each(|row| row.place.sort_unstable_by_key(|placing| placing.unit));
    match &mut plan.aim {
        Aim::Run(runs) => runs.sort_unstable_by_key(|(unit, _)| *unit),
        Aim::Make(targets) => targets.sort_unstable_by_key(|target| target.header),
        Aim::Most(values) => values.sort_unstable_by_key(|value| value.header),
        Aim::Unsaid => {}
    }
}

/// Sorts things and says of each, as they stood, where it stands now. What they are sorted by is different for all of them.
fn by<T, K: Ord + ?Sized>(things: &mut Vec<T>, key: impl Fn(&T) -> &K) -> Vec<usize> {
    let mut order: Vec<usize> = (0..things.len()).collect();
    if things.is_sorted_by(|one, other| key(one) <= key(other)) {
        return order;
    }
    order.sort_unstable_by(|&one, &other| key(&things[one]).cmp(key(&things[other])));
    let mut places = vec![0; things.len()];
    order.iter().enumerate().for_each(|(place, &at)| places[at] = place);
    let mut moved: Vec<Option<T>> = std::mem::take(things).into_iter().map(Some).collect();
    things.extend(order.into_iter().filter_map(|at| moved[at].take()));
    places
}
