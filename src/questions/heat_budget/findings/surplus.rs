//! How much heat a zone has too much or too little of, and machines of the plainest kind that would take or give it.

use serde_json::{Value, json};

use super::super::celsius;
use super::Search;
use crate::heat::network::Side;
use crate::plan::{Plan, Zone};
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{Remedy, merge, nest, quoted, round_up};

/// How far inside its limit a zone is to be held, K.
pub(super) const INSIDE_K: f64 = 1.0;

impl Search<'_> {
    /// Heat into a zone that stands at a temperature, W, with its coolers as they are set or all of them at work, when intermittent sources bring all they have and other zones are as they
    /// are at rest, or at the end of the horizon where there is no rest:
    /// Σ running·(constant + slope·T) over flows + Σ conductance·(T of the other side − T) over walls.
    fn heat_at(&self, zone: usize, at_c: f64, coolers_run: bool) -> f64 {
        let reckoned = self.reckoned;
        let network = &reckoned.assembly.network;
        let others = reckoned.at_rest().map_or(&reckoned.rehearsal.end_c, |rest| &rest.temperatures_c);
        let t = |of: usize| if of == zone { at_c } else { others[of] };
        let cools = |flow: usize| {
            let coolers = reckoned.assembly.coolers.iter().zip(&self.plan.coolers);
            coolers.into_iter().any(|(&of, cooler)| of == flow && cooler.cools.0 == zone)
        };
        let flows = network.flows.iter().enumerate().map(|(at, flow)| {
            let runs = flow.relay.is_none_or(|relay| (t(relay.zone) >= relay.at_c) == relay.above)
                || (coolers_run && cools(at));
            let into = flow.parts.iter().filter(|part| runs && part.into == zone);
            let heat = into.map(|part| part.constant + part.per_kelvin.map_or(0.0, |(from, slope)| slope * t(from)));
            flow.running * heat.sum::<f64>()
        });
        let walls = network.walls.iter().map(|wall| {
            let to = match wall.to {
                Side::Zone(other) => t(other),
                Side::Fixed(at_c) => at_c,
            };
            let out = wall.conductance * (t(wall.zone) - to);
            if wall.zone == zone {
                -out
            } else if wall.to == Side::Zone(zone) {
                out
            } else {
                0.0
            }
        });
        flows.sum::<f64>() + walls.sum::<f64>()
    }

    /// A cooler that holds a zone just under a temperature; without draw and without a place for its heat, which no one but the
    /// author knows. A zone that begins above it begins there. Coolers that are set higher count as at work: that they are is a finding
    /// of its own, which sets them lower.
    pub(super) fn heat_taken(&self, zone: usize, limit_c: f64) -> Option<Remedy> {
        let held_c = limit_c - INSIDE_K;
        let (of, surplus_w) = (&self.plan.zones[zone], self.heat_at(zone, held_c, true));
        let (mut said, mut patch) = begin(of, held_c, of.at_c > limit_c);
        if surplus_w > 0.0 {
            let (duty, name) = (round_up(surplus_w), fresh(self.plan, &of.name, "cooler"));
            let cooler =
                json!({ "cools": of.name, "duty": duty, "set_point": held_c, "rejects_draw": false, "count": 1 });
            merge(&mut patch, nest(&["coolers", &name], cooler));
            said.push(format!("take {} out of {}", print_si::<dimension::Power>(duty), quoted(&of.name)));
        }
        (!said.is_empty()).then(|| Remedy { say: said.join(", and "), patch: Some(patch) })
    }

    /// Heat from outside that holds a zone just above a temperature. A zone that begins below it begins there.
    pub(super) fn heat_given(&self, zone: usize, least_c: f64) -> Option<Remedy> {
        let held_c = least_c + INSIDE_K;
        let (of, lack_w) = (&self.plan.zones[zone], -self.heat_at(zone, held_c, false));
        let (mut said, mut patch) = begin(of, held_c, of.at_c < least_c);
        if lack_w > 0.0 {
            let (heat, name) = (round_up(lack_w), fresh(self.plan, &of.name, "heater"));
            merge(&mut patch, nest(&["hot_sources", &name], json!({ "zone": of.name, "heat": heat })));
            said.push(format!("bring {} into {}", print_si::<dimension::Power>(heat), quoted(&of.name)));
        }
        (!said.is_empty()).then(|| Remedy { say: said.join(", and "), patch: Some(patch) })
    }
}

/// The first part of a remedy: where a zone that is out of bounds begins.
fn begin(zone: &Zone, at_c: f64, is_out: bool) -> (Vec<String>, Value) {
    if !is_out {
        return (Vec::new(), json!({}));
    }
    let say = format!("begin with {} at {}", quoted(&zone.name), celsius(at_c));
    (vec![say], nest(&["zones", &zone.name, "at"], json!(at_c)))
}

/// A name that nothing in the plan has that a switch could run.
fn fresh(plan: &Plan, zone: &str, what: &str) -> String {
    let units = plan.units.iter().map(|unit| &unit.name);
    let flows = plan.supplies.iter().map(|supply| &supply.name).chain(plan.demands.iter().map(|demand| &demand.name));
    let warm = plan.coolers.iter().map(|cooler| &cooler.name).chain(plan.turbines.iter().map(|turbine| &turbine.name));
    let sources = plan.hot_sources.iter().map(|source| &source.name);
    let taken: Vec<&String> = units.chain(flows).chain(warm).chain(sources).collect();
    let mut name = format!("{zone} {what}");
    while taken.contains(&&name) {
        name.push_str(" 2");
    }
    name
}
