//! What is close to its limit, and what has none.

use super::{FindingCode, Search, finding};
use crate::balance::{Grower, Limit, Outcome};
use crate::plan::{Aim, Count, HeaderId, When, pointer};
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{Remedy, quoted, round_up};
use crate::questions::flow_balance::change::Change;
use crate::questions::flow_balance::fill::ratio;

/// A limit used beyond this share is tight.
const TIGHT: f64 = 0.95;

impl Search<'_> {
    pub(super) fn limits(&mut self) {
        self.endless();
        // What a `most` aim uses up is what it was given to use up.
        if !matches!(self.plan.aim, Aim::Most(_)) {
            self.tight_supplies();
            self.tight_lines();
            self.full_outlets();
        }
    }

    fn endless(&mut self) {
        let Outcome::Unbounded { through } = self.balance.outcome else { return };
        let plan = self.plan;
        let (place, name, hold) = match through {
            Grower::Unit(id) => {
                let name = &plan.units[id.0].name;
                (
                    pointer(&["units", name]),
                    format!("unit {}", quoted(name)),
                    "give it a count, or a limit to what it takes",
                )
            }
            Grower::Supply(id) => {
                let name = &plan.supplies[id.0].name;
                (pointer(&["supplies", name]), format!("supply {}", quoted(name)), "give it a rate")
            }
            Grower::Header(id) => {
                let name = &plan.header(id).name;
                (pointer(&["aim", "most", name]), format!("delivery of {}", quoted(name)), "give it a demand")
            }
        };
        let say = format!("the most has no limit: {name} can grow without end");
        let mended = Some(Remedy { say: format!("{name}: {hold}"), patch: None });
        self.found.push(finding(FindingCode::NoLimit, place, say).mended(mended));
    }

    fn binds(&self, limit: Limit) -> bool {
        self.balance.binding.iter().any(|binding| binding.limit == limit)
    }

    fn tight_supplies(&mut self) {
        let plan = self.plan;
        for (at, supply) in plan.supplies.iter().enumerate() {
            let Some(average) = supply.average_rate() else { continue };
            let drawn = self.balance.drawn[at];
            let share = ratio(drawn, average).unwrap_or(0.0);
            let id = crate::plan::SupplyId(at);
            let reserve = self.network.at(supply.header).supplies.iter().any(|&other| {
                let rate = plan.supplies[other.0].average_rate();
                other != id && rate.is_none_or(|rate| self.balance.drawn[other.0] < rate * TIGHT)
            });
            if share <= TIGHT || reserve || supply.when == When::Always || self.binds(Limit::Supply(id)) {
                continue;
            }
            let carries = plan.header(supply.header).carries;
            let say = format!(
                "supply {} is used to {}: {} of {}",
                quoted(&supply.name),
                print_si::<dimension::Share>(share),
                carries.print(drawn),
                carries.print(average),
            );
            let to = round_up(drawn / TIGHT * supply.rate.unwrap_or(average) / average);
            let mended = super::remedy(plan, &[Change::Rate { supply: id, to }]);
            let place = pointer(&["supplies", &supply.name, "rate"]);
            let found = finding(FindingCode::SupplyTight, place, say).at_most(drawn, average, carries.si_unit());
            self.found.push(found.mended(mended));
        }
    }

    fn tight_lines(&mut self) {
        let plan = self.plan;
        for (at, header) in plan.headers.iter().enumerate() {
            let (Some(line), Some(lines)) = (header.line, header.lines) else { continue };
            let flow = &self.balance.headers[at];
            let share = flow.line_utilisation.unwrap_or(0.0);
            if share <= TIGHT || self.binds(Limit::Lines(HeaderId(at))) {
                continue;
            }
            let through = flow.made + flow.supplied;
            let room = line * f64::from(lines);
            let say = format!(
                "the lines of {} are used to {}: {} of {}",
                quoted(&header.name),
                print_si::<dimension::Share>(share),
                header.carries.print(through),
                header.carries.print(room),
            );
            let to = u32::try_from(crate::quantity::whole_up(through / TIGHT / line)).unwrap_or(u32::MAX);
            let mended = super::remedy(plan, &[Change::Lines { header: HeaderId(at), to: to.max(lines + 1) }]);
            let place = pointer(&["headers", &header.name, "lines"]);
            let found = finding(FindingCode::LinesTight, place, say).at_most(through, room, header.carries.si_unit());
            self.found.push(found.mended(mended));
        }
    }

    fn full_outlets(&mut self) {
        let plan = self.plan;
        for (outlet, &let_out) in plan.outlets.iter().zip(&self.balance.let_out) {
            let header = plan.header(outlet.header);
            let Some(limit) = outlet.limit.filter(|&limit| let_out > limit * TIGHT) else { continue };
            let carries = header.carries;
            let say = format!(
                "the outlet of {} lets out {} of {}",
                quoted(&header.name),
                carries.print(let_out),
                carries.print(limit),
            );
            let place = pointer(&["outlets", &header.name, "limit"]);
            let trapped = self.balance.headers[outlet.header.0].trapped;
            let to = round_up((let_out + trapped) / TIGHT);
            let patch = crate::questions::answer::nest(&["outlets", &header.name, "limit"], to.into());
            let say_more = format!("let the outlet of {} let out {}", quoted(&header.name), carries.print(to));
            let found = finding(FindingCode::OutletFull, place, say).at_most(let_out, limit, carries.si_unit());
            self.found.push(found.mended(Some(Remedy { say: say_more, patch: Some(patch) })));
        }
    }

    /// Machines of fixed count that are never needed.
    pub(super) fn idle_machines(&mut self) {
        let plan = self.plan;
        for (at, unit) in plan.units.iter().enumerate() {
            let Count::Fixed(count) = unit.count else { continue };
            let needed = crate::quantity::whole_up(self.balance.units[at].needed);
            let spare = u64::from(count).saturating_sub(needed);
            if spare == 0 {
                continue;
            }
            let say = format!("{spare} of {count} × {} are not needed", quoted(&unit.name));
            let place = pointer(&["units", &unit.name, "count"]);
            let found = finding(FindingCode::IdleMachines, place, say);
            self.found.push(found.at_most(self.balance.units[at].needed, f64::from(count), "1"));
        }
    }
}
