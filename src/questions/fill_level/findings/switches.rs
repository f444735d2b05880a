//! Switches that chatter, never act, watch what nothing fills, or fight.

use serde_json::json;

use super::{FindingCode, Search};
use crate::plan::{HeaderId, StoreId, Switch, pointer};
use crate::quantity::number;
use crate::questions::answer::{Remedy, finding, nest, quoted, round_up};
use crate::questions::fill_level::case::Case;
use crate::questions::fill_level::fill::watches;

/// The shortest time from one start to the next that a small motor bears: 15 starts an hour. Common practice, no source.
pub const LEAST_CYCLE_S: f64 = 240.0;

impl Switch {
    /// Whether it starts low and stops high.
    fn fills(&self) -> bool {
        self.start_at < self.stop_at
    }
}

/// What all that a switch runs gives to the header of its store at most, less what it takes there.
pub fn effect(case: &Case<'_>, switch: usize, header: HeaderId) -> f64 {
    case.plan.switches[switch].runs.iter().map(|&target| case.gives(target, header)).sum()
}

impl Search<'_, '_> {
    pub(super) fn switches(&mut self) {
        let plan = self.case.plan;
        for (at, switch) in plan.switches.iter().enumerate() {
            let store = watches(self.case, at);
            self.chatters(at, store);
            self.idle(at);
            if !self.is_filled(plan.stores[store.0].header) {
                let say = format!(
                    "switch {} watches store {}, to which nothing gives",
                    quoted(&switch.name),
                    quoted(&plan.stores[store.0].name),
                );
                let place = pointer(&["switches", &switch.name, "watch"]);
                let header = quoted(&plan.header(plan.stores[store.0].header).name);
                let remedy =
                    Remedy { say: format!("let something give to {header}, or watch another store"), patch: None };
                self.add_lasting(finding(FindingCode::SwitchStoreNothingFills, place, say).mended(Some(remedy)));
            }
            for other in 0..at {
                if watches(self.case, other) == store {
                    self.fights(other, at, store);
                }
            }
        }
    }

    fn is_filled(&self, header: HeaderId) -> bool {
        let plan = self.case.plan;
        let is_power = plan.power() == Some(header);
        plan.supplies.iter().any(|supply| supply.header == header && supply.rate != Some(0.0))
            || plan.units.iter().any(|unit| {
                unit.gives.iter().any(|flow| flow.header == header && flow.rate > 0.0)
                    || (is_power && unit.generates.si() > 0.0)
            })
    }

    fn chatters(&mut self, at: usize, store: StoreId) {
        let (plan, record) = (self.case.plan, &self.case.run.switches[at]);
        let (switch, store) = (&plan.switches[at], &plan.stores[store.0]);
        let carries = plan.header(store.header).carries;
        let band = (switch.start_at - switch.stop_at).abs();
        let place = pointer(&["switches", &switch.name]);
        if let Some(cycle) = record.least_cycle_s.filter(|&cycle| cycle < LEAST_CYCLE_S) {
            let starts = self.case.starts_per_h(at);
            let say = format!(
                "switch {} starts again within {} ({} starts an hour, where 15 are common practice)",
                quoted(&switch.name),
                self.span(cycle),
                number(starts),
            );
            let wanted = round_up(band * LEAST_CYCLE_S / cycle);
            let found = finding(FindingCode::SwitchChatters, place, say)
                .at_least(cycle, LEAST_CYCLE_S, "s")
                .mended(Some(self.wider(at, wanted)));
            self.add(record.first_start_s.unwrap_or(0.0), found);
            return;
        }
        // V = T·Q/4: of all that may flow against it, half of what it moves is the worst.
        let moved = effect(self.case, at, store.header).abs();
        let against = self.against(at, store.header, switch.fills()).min(moved / 2.0);
        if !(moved.is_finite() && moved > 0.0 && against > 0.0) {
            return;
        }
        let cycle = band / against + band / (moved - against);
        if cycle < LEAST_CYCLE_S {
            let wanted = round_up(band * LEAST_CYCLE_S / cycle);
            let say = format!(
                "switch {} could start every {}: {} against {} across {}",
                quoted(&switch.name),
                self.span(cycle),
                carries.print(against),
                carries.print(moved),
                carries.print_amount(band),
            );
            let found = finding(FindingCode::DeadbandNarrow, place, say)
                .at_least(cycle, LEAST_CYCLE_S, "s")
                .mended(Some(self.wider(at, wanted)));
            self.add_lasting(found);
        }
    }

    /// What may flow at most against what a switch does: into a store that it drains, out of one that it fills.
    fn against(&self, at: usize, header: HeaderId, fills: bool) -> f64 {
        let plan = self.case.plan;
        let sign = if fills { -1.0 } else { 1.0 };
        let supplies = (0..plan.supplies.len()).map(|at| crate::plan::Gated::Supply(crate::plan::SupplyId(at)));
        let demands = (0..plan.demands.len()).map(|at| crate::plan::Gated::Demand(crate::plan::DemandId(at)));
        let units = (0..plan.units.len()).map(|at| crate::plan::Gated::Unit(crate::plan::UnitId(at)));
        let all = supplies.chain(demands).chain(units);
        let others = all.filter(|target| !plan.switches[at].runs.contains(target));
        others.map(|target| (sign * self.case.gives(target, header)).max(0.0)).sum()
    }

    /// The same switch with a band so wide, where its store has the room, or else in a greater store.
    fn wider(&self, at: usize, band: f64) -> Remedy {
        let plan = self.case.plan;
        let switch = &plan.switches[at];
        let store = &plan.stores[watches(self.case, at).0];
        let carries = plan.header(store.header).carries;
        let sense = if switch.fills() { -1.0 } else { 1.0 };
        let (start, stop) = (switch.stop_at + sense * band, switch.start_at - sense * band);
        let within = |level: f64| (0.0..=store.capacity).contains(&level);
        let moved = if within(start) {
            Some(("start_at", start, "start"))
        } else if within(stop) {
            Some(("stop_at", stop, "stop"))
        } else {
            None
        };
        let (name, band_said) = (quoted(&switch.name), carries.print_amount(band));
        if let Some((field, level, verb)) = moved {
            return Remedy {
                say: format!("let {name} {verb} at {}: a deadband of {band_said}", carries.print_amount(level)),
                patch: Some(nest(&["switches", &switch.name, field], json!(level))),
            };
        }
        let (start, stop) = if switch.fills() { (0.0, band) } else { (band, 0.0) };
        let patch = json!({
            "stores": { &store.name: { "capacity": band.max(store.capacity) } },
            "switches": { &switch.name: { "start_at": start, "stop_at": stop } },
        });
        let store = quoted(&store.name);
        Remedy { say: format!("make {store} {band_said} and use all of it as the deadband"), patch: Some(patch) }
    }

    fn idle(&mut self, at: usize) {
        let record = &self.case.run.switches[at];
        if record.starts + record.stops > 0 {
            return;
        }
        let switch = &self.case.plan.switches[at];
        let state = if switch.on { "stays on" } else { "never starts" };
        let say = format!("switch {} {state} within {}", quoted(&switch.name), self.span(self.case.run.reached_s));
        self.add_lasting(finding(FindingCode::SwitchNeverActs, pointer(&["switches", &switch.name]), say));
    }

    /// Two switches on one store: one that fills and one that drains within its band, or with a target that both must run.
    fn fights(&mut self, one: usize, other: usize, store: StoreId) {
        let plan = self.case.plan;
        let header = plan.stores[store.0].header;
        let carries = plan.header(header).carries;
        let (a, b) = (&plan.switches[one], &plan.switches[other]);
        if a.fills() == b.fills() {
            return;
        }
        let (filling, draining) = if a.fills() { (one, other) } else { (other, one) };
        let (fill, drain) = (&plan.switches[filling], &plan.switches[draining]);
        let place = pointer(&["switches", &b.name]);
        let print = |level| carries.print_amount(level);
        if let Some(target) = fill.runs.iter().find(|target| drain.runs.contains(target)) {
            // It runs only while both are on: above where the one stops and below where the other does.
            if drain.stop_at >= fill.stop_at {
                let say = format!(
                    "switches {} and {} both run {}, and are never on together: the one stops at {} rising, the other at {} \
                     falling",
                    quoted(&fill.name),
                    quoted(&drain.name),
                    quoted(target_name(self.case, *target)),
                    print(fill.stop_at),
                    print(drain.stop_at),
                );
                self.add_lasting(finding(FindingCode::SwitchesFight, place, say));
            }
            return;
        }
        let opposed = effect(self.case, filling, header) > 0.0 && effect(self.case, draining, header) < 0.0;
        if !opposed {
            return;
        }
        let (clash, remedy) = if drain.start_at < fill.stop_at {
            let clash = format!(
                "drains from {} while {} fills to {}",
                print(drain.start_at),
                quoted(&fill.name),
                print(fill.stop_at)
            );
            let fits = drain.start_at > fill.start_at;
            (clash, fits.then_some((fill, drain.start_at)))
        } else if drain.stop_at < fill.start_at {
            let clash = format!(
                "drains to {} while {} fills from {}",
                print(drain.stop_at),
                quoted(&fill.name),
                print(fill.start_at)
            );
            let fits = fill.start_at < drain.start_at;
            (clash, fits.then_some((drain, fill.start_at)))
        } else {
            return;
        };
        let remedy = remedy.map(|(switch, level)| Remedy {
            say: format!("stop {} at {}", quoted(&switch.name), print(level)),
            patch: Some(nest(&["switches", &switch.name, "stop_at"], json!(level))),
        });
        let say = format!("switch {} {clash}: each undoes the other", quoted(&drain.name));
        self.add_lasting(finding(FindingCode::SwitchesFight, place, say).mended(remedy));
    }
}

/// The name of what a switch runs.
pub fn target_name<'p>(case: &Case<'p>, target: crate::plan::Gated) -> &'p str {
    use crate::plan::Gated;
    match target {
        Gated::Unit(id) => &case.plan.units[id.0].name,
        Gated::Supply(id) => &case.plan.supplies[id.0].name,
        Gated::Demand(id) => &case.plan.demands[id.0].name,
        Gated::Cooler(id) => &case.plan.coolers[id.0].name,
        Gated::Turbine(id) => &case.plan.turbines[id.0].name,
        Gated::HotSource(id) => &case.plan.hot_sources[id.0].name,
    }
}
