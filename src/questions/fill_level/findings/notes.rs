//! What is worth knowing of the rehearsal itself, and of what was drawn and held back.

use serde_json::json;

use super::{FindingCode, Search};
use crate::plan::{HeaderId, When, pointer};
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{Remedy, finding, listed, quoted};

impl Search<'_, '_> {
    pub(super) fn notes(&mut self) {
        let plan = self.case.plan;
        let run = &self.case.run;
        if plan.stores.is_empty() && plan.loops.is_empty() {
            let say = "the plan has no store and no loop, so there is nothing to fill".to_owned();
            self.add_lasting(finding(FindingCode::NothingToRehearse, String::new(), say));
        }
        if run.reached_s < run.horizon_s {
            let say = format!(
                "the rehearsal got to {} of {}: {} events were simulated, which is all that may be; what is said holds up to there",
                self.span(run.reached_s),
                self.span(run.horizon_s),
                run.simulated,
            );
            let remedy = (run.reached_s > 0.0).then(|| Remedy {
                say: format!("ask for {}", self.span(run.reached_s)),
                patch: Some(json!({ "horizon": run.reached_s })),
            });
            let found = finding(FindingCode::BudgetSpent, "/horizon".to_owned(), say)
                .at_least(run.reached_s, run.horizon_s, "s")
                .mended(remedy);
            self.add(run.reached_s, found);
        }
        self.patterns();
        self.reserves();
        self.held();
    }

    fn patterns(&mut self) {
        let plan = self.case.plan;
        for island in &self.case.run.islands {
            if island.commensurate || island.settled.is_some() || island.stores.is_empty() {
                continue;
            }
            let supplies = island.supplies.iter().map(|id| &plan.supplies[id.0]);
            let demands = island.demands.iter().map(|id| &plan.demands[id.0]);
            let of_supplies = supplies.filter(|supply| supply.pattern.is_some()).map(|supply| quoted(&supply.name));
            let of_demands = demands.filter(|demand| demand.pattern.is_some()).map(|demand| quoted(&demand.name));
            let names: Vec<String> = of_supplies.chain(of_demands).collect();
            if names.is_empty() {
                continue;
            }
            let what = if names.len() == 1 { "the pattern of" } else { "the patterns of" };
            let verb = if names.len() == 1 { "does not come round" } else { "do not repeat together" };
            let say = format!(
                "{what} {} {verb} within {}, so no cycle settles and the figures are those of this horizon alone",
                listed(&names),
                self.span(self.case.run.horizon_s),
            );
            self.add_lasting(finding(FindingCode::PatternsNeverRepeat, "/horizon".to_owned(), say));
        }
    }

    /// Whether a supply is behind another of its header, or behind its stores.
    fn is_reserve(&self, header: HeaderId, rank: u32) -> bool {
        let plan = self.case.plan;
        plan.supplies.iter().any(|other| other.header == header && other.rank < rank)
            || plan.stores.iter().any(|store| store.header == header && store.rank < rank)
    }

    fn reserves(&mut self) {
        let plan = self.case.plan;
        for (at, supply) in plan.supplies.iter().enumerate() {
            let record = &self.case.run.supplies[at];
            if record.drawn <= 0.0 || supply.when == When::Always || !self.is_reserve(supply.header, supply.rank) {
                continue;
            }
            let carries = plan.header(supply.header).carries;
            let spared = if supply.rate.is_some() && record.offered > 0.0 {
                format!(
                    "; {} of it is spared",
                    print_si::<dimension::Share>((1.0 - record.drawn / record.offered).max(0.0))
                )
            } else {
                String::new()
            };
            let say = format!(
                "reserve {} is drawn on for {}{spared}",
                quoted(&supply.name),
                carries.print_amount(record.drawn),
            );
            let found = finding(FindingCode::ReserveDrawn, pointer(&["supplies", &supply.name]), say);
            let found = if supply.rate.is_some() {
                found.at_most(record.drawn, record.offered, carries.amount_unit())
            } else {
                found
            };
            self.add_lasting(found);
        }
    }

    fn held(&mut self) {
        let plan = self.case.plan;
        for (at, unit) in plan.units.iter().enumerate() {
            let record = &self.case.run.units[at];
            if let Some(since) = record.first_held_s
                && record.held_s > 1e-9 * (record.duty_s + record.held_s)
            {
                let say = format!(
                    "unit {} is held back {}, by {} of what it could run",
                    quoted(&unit.name),
                    self.after(since),
                    print_si::<dimension::Share>(record.held_s / (record.duty_s + record.held_s)),
                );
                let found = finding(FindingCode::UnitHeld, pointer(&["units", &unit.name]), say).at_most(
                    record.held_s,
                    0.0,
                    "s",
                );
                self.add(since, found);
            }
            let least = unit.turndown.si();
            let running = record.running_s * f64::from(record.count);
            // On average over the time that any of them runs: a machine alone would have to run at that share.
            if least > 0.0 && record.count == 1 && record.duty_s < least * running * (1.0 - 1e-9) {
                let share = record.duty_s / running;
                let say = format!(
                    "unit {} runs at {} of full duty on average, below the {} that it can be turned down to",
                    quoted(&unit.name),
                    print_si::<dimension::Share>(share),
                    print_si::<dimension::Share>(least),
                );
                let found = finding(FindingCode::BelowTurndown, pointer(&["units", &unit.name, "turndown"]), say)
                    .at_least(share, least, "1");
                self.add_lasting(found);
            }
        }
    }
}
