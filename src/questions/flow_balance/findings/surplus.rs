//! What finds no way out, and what has too little room to leave.

use serde_json::json;

use super::{FindingCode, Search, finding, remedy};
use crate::plan::{HeaderId, pointer};
use crate::quantity::number;
use crate::questions::answer::{Remedy, Weight, merge, nest, quoted, round_up};
use crate::questions::flow_balance::change::Change;
use crate::questions::flow_balance::fill::lost;

impl Search<'_> {
    pub(super) fn surpluses(&mut self) {
        self.trapped();
        self.held_back();
        self.lost();
    }

    fn trapped(&mut self) {
        let plan = self.plan;
        for (at, flow) in self.balance.headers.iter().enumerate() {
            if flow.trapped == 0.0 {
                continue;
            }
            let header = plan.header(HeaderId(at));
            let carries = header.carries;
            let say = format!("{} of {} finds no way out", carries.print(flow.trapped), quoted(&header.name));
            let place = match self.network.at(HeaderId(at)).outlet {
                Some(_) => pointer(&["outlets", &header.name, "limit"]),
                None => self.network.first_source(plan, self.balance, HeaderId(at)),
            };
            let vent = self.vent(HeaderId(at), flow.let_out + flow.trapped, flow.trapped);
            let mended = if self.mending.freed.contains(&HeaderId(at)) {
                let more = remedy(plan, &self.mending.trapped);
                more.map(|more| Remedy { say: format!("{}, or {}", more.say, vent.say), ..more })
            } else {
                Some(vent)
            };
            let found = finding(FindingCode::SurplusTrapped, place, say).at_most(flow.trapped, 0.0, carries.si_unit());
            self.found.push(found.mended(mended));
        }
    }

    /// An outlet for `rate` in all.
    fn vent(&self, header: HeaderId, rate: f64, more: f64) -> Remedy {
        let entry = self.plan.header(header);
        let rate = round_up(rate);
        let patch = nest(&["outlets", &entry.name, "limit"], json!(rate));
        let name = quoted(&entry.name);
        let say = match self.network.at(header).outlet {
            Some(_) => format!(
                "let the outlet of {name} let out {} more ({} in all)",
                entry.carries.print(more),
                entry.carries.print(rate)
            ),
            None => format!("add an outlet of {} for {name}", entry.carries.print(rate)),
        };
        Remedy { say, patch: Some(patch) }
    }

    /// Surplus that would find no way out if there were more of what is valued.
    fn held_back(&mut self) {
        let (plan, Some(held)) = (self.plan, &self.mending.held) else { return };
        let Some(&(first, _)) = held.outlets.first() else { return };
        let mut patch = json!({});
        let (mut names, mut sizes) = (Vec::new(), Vec::new());
        for &(header, rate) in &held.outlets {
            let (entry, rate) = (plan.header(header), round_up(rate));
            merge(&mut patch, nest(&["outlets", &entry.name, "limit"], json!(rate)));
            names.push(quoted(&entry.name));
            sizes.push(format!("{} for {}", entry.carries.print(rate), quoted(&entry.name)));
        }
        let value = self.balance.value.unwrap_or(0.0);
        let say = format!(
            "surplus of {} would find no way out, which holds value back: {} of {} a second",
            names.join(" and "),
            number(value),
            number(held.value)
        );
        // A plant that stands still for it is not what its author meant.
        let stands = self.balance.units.iter().all(|unit| unit.needed == 0.0);
        let weight = if stands { Weight::Caution } else { Weight::Note };
        let place = self.network.first_source(plan, self.balance, first);
        let remedy = Remedy { say: format!("add an outlet of {}", sizes.join(", and one of ")), patch: Some(patch) };
        let found = finding(FindingCode::OutletMissing, place, say).weighing(weight);
        self.found.push(found.at_least(value, held.value, "1/s").mended(Some(remedy)));
    }

    /// Supplies that push and back up.
    fn lost(&mut self) {
        let plan = self.plan;
        for (at, supply) in plan.supplies.iter().enumerate() {
            let lost = lost(plan, self.balance, at);
            if lost == 0.0 {
                continue;
            }
            let header = plan.header(supply.header);
            let carries = header.carries;
            let flow = &self.balance.headers[supply.header.0];
            let say = format!(
                "supply {} backs up: {} of its {} of {} is lost",
                quoted(&supply.name),
                carries.print(lost),
                carries.print(supply.average_rate().unwrap_or(0.0)),
                quoted(&header.name),
            );
            let all_lost: f64 =
                self.network.at(supply.header).supplies.iter().map(|id| self::lost(plan, self.balance, id.0)).sum();
            let full = flow.line_utilisation.is_some_and(|share| share >= 1.0 - 1e-9);
            let mended = match (header.line, header.lines) {
                (Some(line), Some(lines)) if full => {
                    let through = (flow.made + flow.supplied + all_lost) / line;
                    let to = u32::try_from(crate::quantity::whole_up(through)).unwrap_or(u32::MAX).max(lines);
                    remedy(plan, &[Change::Lines { header: supply.header, to }])
                }
                _ => Some(self.vent(supply.header, flow.let_out + all_lost, all_lost)),
            };
            let place = pointer(&["supplies", &supply.name]);
            let found = finding(FindingCode::SupplyLost, place, say).at_most(lost, 0.0, carries.si_unit());
            self.found.push(found.mended(mended));
        }
    }
}
