//! What thermostats do in the long run.

use super::super::celsius;
use super::super::fill::zone_name;
use super::{HeatCode, Search};
use crate::plan::pointer;
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{finding, listed, quoted, span};

/// Figures of a rate that are read out.
const READ: f64 = 1e3;

impl Search<'_> {
    pub(super) fn thermostats(&mut self) {
        let (plan, cycling) = (self.plan, &self.reckoned.cycling);
        for (at, thermostat) in plan.thermostats.iter().enumerate() {
            let Some(cycle) = cycling.thermostats.get(at).copied().flatten() else { continue };
            let (Some(period_s), Some(zone)) = (cycle.period_s, cycling.zone(thermostat.watch.0)) else { continue };
            if cycle.starts == 0 {
                continue;
            }
            let an_hour = cycle.starts as f64 * 3600.0 / period_s;
            let rounded = if an_hour >= 1.0 { (an_hour * READ).round() / READ } else { an_hour };
            let say = format!(
                "{} keeps {} between {} and {} in a cycle of {}, on {} of the time: {} starts an hour",
                quoted(&thermostat.name),
                quoted(zone_name(plan, thermostat.watch)),
                celsius(zone.least_c),
                celsius(zone.greatest_c),
                span(period_s, plan.day),
                print_si::<dimension::Share>(cycle.on_share),
                number(rounded)
            );
            let place = pointer(&["thermostats", &thermostat.name]);
            self.found.push(finding(HeatCode::ThermostatCycles, place, say));
        }
        if let Some(&first) = cycling.unsettled.first() {
            let names: Vec<String> = cycling.unsettled.iter().map(|&at| quoted(&plan.thermostats[at].name)).collect();
            let say = format!(
                "{} keep no cycle that repeats: at rest each is counted at the middle of its deadband",
                listed(&names)
            );
            let place = pointer(&["thermostats", &plan.thermostats[first].name]);
            self.found.push(finding(HeatCode::ThermostatUnsettled, place, say));
        }
    }
}
