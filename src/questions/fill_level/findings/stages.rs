//! Stages: several switches that fill one store, each with a band of its own.

use serde_json::json;

use super::switches::effect;
use super::{FindingCode, Search};
use crate::plan::{Gated, StoreId, pointer};
use crate::questions::answer::{Remedy, Weight, finding, nest, quoted};
use crate::questions::fill_level::fill::watches;

/// A gain that is less than what is asked by this share is less.
const LESS: f64 = 1e-9;

impl Search<'_, '_> {
    pub(super) fn stages(&mut self) {
        for at in 0..self.case.plan.stores.len() {
            let stages = self.stages_of(StoreId(at));
            for pair in stages.windows(2) {
                self.bands(pair[0], pair[1], StoreId(at));
            }
            if stages.len() > 1 {
                self.load(&stages, StoreId(at));
            }
        }
    }

    /// Switches that fill a store, by the rank of what they run, then as in the document.
    fn stages_of(&self, store: StoreId) -> Vec<usize> {
        let plan = self.case.plan;
        let header = plan.stores[store.0].header;
        let mut stages: Vec<usize> = (0..plan.switches.len())
            .filter(|&at| {
                let switch = &plan.switches[at];
                watches(self.case, at) == store
                    && switch.start_at < switch.stop_at
                    && effect(self.case, at, header) > 0.0
            })
            .collect();
        let rank = |at: usize| plan.switches[at].runs.iter().map(|target| self.rank(*target)).min();
        stages.sort_by_key(|&at| rank(at));
        stages
    }

    fn rank(&self, target: Gated) -> u32 {
        let plan = self.case.plan;
        match target {
            Gated::Unit(id) => plan.units[id.0].rank,
            Gated::Supply(id) => plan.supplies[id.0].rank,
            Gated::Demand(id) => plan.demands[id.0].rank,
            // They give to no store, so they are no stage.
            Gated::Cooler(_) | Gated::Turbine(_) | Gated::HotSource(_) => u32::MAX,
        }
    }

    /// The bands of two stages that follow each other.
    fn bands(&mut self, one: usize, other: usize, store: StoreId) {
        let plan = self.case.plan;
        let carries = plan.header(plan.stores[store.0].header).carries;
        let (first, second) = (&plan.switches[one], &plan.switches[other]);
        let print = |level| carries.print_amount(level);
        let place = pointer(&["switches", &second.name]);
        if second.start_at > first.start_at {
            let say = format!(
                "stage {} starts at {}, before {}, which starts at {}",
                quoted(&second.name),
                print(second.start_at),
                quoted(&first.name),
                print(first.start_at),
            );
            let patch = json!({ "switches": {
                &first.name: { "start_at": second.start_at, "stop_at": second.stop_at },
                &second.name: { "start_at": first.start_at, "stop_at": first.stop_at },
            } });
            let remedy = Remedy { say: "change their bands for each other".to_owned(), patch: Some(patch) };
            let found = finding(FindingCode::StageOrder, place, say)
                .at_most(second.start_at, first.start_at, carries.amount_unit())
                .mended(Some(remedy));
            self.add_lasting(found);
        } else if second.stop_at > first.start_at {
            let say = format!(
                "stage {} runs on to {}, above {}, where {} starts",
                quoted(&second.name),
                print(second.stop_at),
                print(first.start_at),
                quoted(&first.name),
            );
            let fits = first.start_at > second.start_at;
            let remedy = fits.then(|| Remedy {
                say: format!("stop {} at {}", quoted(&second.name), print(first.start_at)),
                patch: Some(nest(&["switches", &second.name, "stop_at"], json!(first.start_at))),
            });
            let found = finding(FindingCode::StagesOverlap, place, say)
                .at_most(second.stop_at, first.start_at, carries.amount_unit())
                .mended(remedy);
            self.add_lasting(found);
        }
    }

    /// What the stages give against what is asked on average of the store's header beside what else comes in there.
    fn load(&mut self, stages: &[usize], store: StoreId) {
        let plan = self.case.plan;
        let store = &plan.stores[store.0];
        let carries = plan.header(store.header).carries;
        let reached = self.case.run.reached_s;
        let is_staged = |target: Gated| stages.iter().any(|&at| plan.switches[at].runs.contains(&target));
        let on = &self.case.run.headers[store.header.0];
        let asked = on.taken + on.served + self.case.unserved(store.header);
        let supplied: f64 = (0..plan.supplies.len())
            .filter(|&at| {
                plan.supplies[at].header == store.header && !is_staged(Gated::Supply(crate::plan::SupplyId(at)))
            })
            .map(|at| self.case.run.supplies[at].drawn)
            .sum();
        let made: f64 = (0..plan.units.len())
            .map(crate::plan::UnitId)
            .filter(|&unit| !is_staged(Gated::Unit(unit)))
            .map(|unit| self.case.unit_gives(unit, store.header).max(0.0) * self.case.run.units[unit.0].duty_s)
            .sum();
        let load = (asked - supplied - made) / reached;
        if !(load.is_finite() && load > 0.0) {
            return;
        }
        let gain = |of: &[usize]| -> f64 { of.iter().map(|&at| effect(self.case, at, store.header)).sum() };
        let (first, all) = (gain(&stages[..1]), gain(stages));
        let name = |at: usize| quoted(&plan.switches[at].name);
        if all < load * (1.0 - LESS) {
            let say = format!(
                "all {} stages of store {} together give {}, less than the {} asked on average",
                stages.len(),
                quoted(&store.name),
                carries.print(all),
                carries.print(load),
            );
            let found = finding(FindingCode::StageCannotHold, pointer(&["stores", &store.name]), say).at_least(
                all,
                load,
                carries.si_unit(),
            );
            self.add_lasting(found);
        } else if first < load * (1.0 - LESS) {
            let say = format!(
                "stage {} alone gives {}, less than the {} asked on average, so {} comes in again and again",
                name(stages[0]),
                carries.print(first),
                carries.print(load),
                name(stages[1]),
            );
            let place = pointer(&["switches", &plan.switches[stages[0]].name]);
            let found = finding(FindingCode::StageCannotHold, place, say)
                .at_least(first, load, carries.si_unit())
                .weighing(Weight::Note);
            self.add_lasting(found);
        }
    }
}
