//! Stores that run dry or full, levels past their limits, and who goes short.

use serde_json::json;

use super::{FindingCode, Search};
use crate::plan::{Carried, DemandId, HeaderId, StoreId, UnitId, When, pointer};
use crate::quantity::{dimension, print_si};
use crate::questions::answer::{Remedy, Weight, finding, listed, nest, quoted, round_up};
use crate::questions::fill_level::case::short_of;
use crate::rehearsal::sizing::Sizing;

impl Search<'_, '_> {
    pub(super) fn stores(&mut self) {
        for at in 0..self.case.plan.stores.len() {
            self.dry(at);
            self.full(at);
            self.limits(at);
        }
        let plan = self.case.plan;
        for (at, supply) in plan.supplies.iter().enumerate() {
            let record = &self.case.run.supplies[at];
            if supply.when != When::Always || record.lost <= 0.0 || self.has_store(supply.header) {
                continue;
            }
            let carries = plan.header(supply.header).carries;
            let since = record.first_lost_s.unwrap_or(0.0);
            let say = format!(
                "supply {} loses {} of the {} it gives, first {}",
                quoted(&supply.name),
                carries.print_amount(record.lost),
                carries.print_amount(record.offered),
                self.after(since),
            );
            let found = finding(FindingCode::SupplyLost, pointer(&["supplies", &supply.name]), say)
                .at_most(record.lost, 0.0, carries.amount_unit())
                .mended(Some(self.outlet(supply.header)));
            self.add(since, found);
        }
    }

    fn has_store(&self, header: HeaderId) -> bool {
        self.case.plan.stores.iter().any(|store| store.header == header)
    }

    /// Demands on a header that go short, and by how much in all.
    fn short_on(&self, header: HeaderId) -> (Vec<String>, f64) {
        let plan = self.case.plan;
        let mut names = Vec::new();
        let mut sum = 0.0;
        for (demand, record) in plan.demands.iter().zip(&self.case.run.demands) {
            let short = short_of(record.wanted, record.served);
            if demand.header == header && short > 0.0 {
                names.push(format!("demand {}", quoted(&demand.name)));
                sum += short;
            }
        }
        (names, sum)
    }

    /// Machines that take from a header and were held back.
    fn held_on(&self, header: HeaderId) -> Vec<String> {
        let plan = self.case.plan;
        let held = |at: &usize| {
            let unit = &self.case.run.units[*at];
            unit.held_s > 1e-9 * (unit.duty_s + unit.held_s) && self.case.unit_gives(UnitId(*at), header) < 0.0
        };
        (0..plan.units.len()).filter(held).map(|at| format!("unit {}", quoted(&plan.units[at].name))).collect()
    }

    fn dry(&mut self, at: usize) {
        let (plan, record) = (self.case.plan, &self.case.run.stores[at]);
        let store = &plan.stores[at];
        let Some(since) = record.first_empty_s else { return };
        let carries = plan.header(store.header).carries;
        let ((names, short), held) = (self.short_on(store.header), self.held_on(store.header));
        let (weight, then) = if short > 0.0 {
            let by = carries.print_amount(short);
            (Weight::Failure, format!(", and {} {} short by {by} in all", listed(&names), go(&names)))
        } else if !held.is_empty() {
            (Weight::Caution, format!(", and {} {} held back", listed(&held), are(&held)))
        } else if since > 0.0 {
            (Weight::Note, ", but nothing is short for it".to_owned())
        } else {
            return;
        };
        let how = if since > 0.0 { "runs dry" } else { "is empty" };
        let say = format!("store {} {how} {}{then}", quoted(&store.name), self.after(since));
        let found = finding(FindingCode::RunsDry, pointer(&["stores", &store.name]), say)
            .weighing(weight)
            .at_least(record.least, 0.0, carries.amount_unit())
            .mended(if short > 0.0 { self.bigger(at) } else { self.more(store.header, &held) });
        self.add(since, found);
    }

    /// The size that leaves nothing short, or what must come in besides.
    fn bigger(&self, at: usize) -> Option<Remedy> {
        let (plan, sizes) = (self.case.plan, self.case.sizes[at]);
        let store = &plan.stores[at];
        let carries = plan.header(store.header).carries;
        if let Some(Sizing::Least(level) | Sizing::UntilHorizon(level)) = sizes.level
            && level > store.level
        {
            let level = round_up(level).min(store.capacity);
            let patch = nest(&["stores", &store.name, "level"], json!(level));
            let say = format!("begin with {} in {}", carries.print_amount(level), quoted(&store.name));
            return Some(Remedy { say, patch: Some(patch) });
        }
        let make_up = self.make_up(store.header);
        if let Some(Sizing::Least(capacity) | Sizing::UntilHorizon(capacity)) = sizes.capacity
            && capacity > store.capacity
        {
            let capacity = round_up(capacity);
            let patch = nest(&["stores", &store.name], json!({ "capacity": capacity, "level": "100 %" }));
            let (size, name) = (carries.print_amount(capacity), quoted(&store.name));
            let or = make_up.map_or_else(String::new, |make_up| format!(", or {}", make_up.say));
            let so_far =
                if matches!(sizes.capacity, Some(Sizing::UntilHorizon(_))) { ", for this horizon" } else { "" };
            let say = format!("make {name} {size} and begin with it full{so_far}{or}");
            return Some(Remedy { say, patch: Some(patch) });
        }
        make_up
    }

    /// A tap that leaves nothing short on a header, where one was tried out.
    fn make_up(&self, header: HeaderId) -> Option<Remedy> {
        let &(_, rate) = self.case.make_ups.iter().find(|(on, _)| *on == header)?;
        Some(self.tap(header, rate))
    }

    /// A tap besides.
    pub(super) fn tap(&self, header: HeaderId, rate: f64) -> Remedy {
        let plan = self.case.plan;
        let entry = plan.header(header);
        let fresh = free_name(&entry.name, |name| plan.supplies.iter().any(|supply| supply.name == name));
        let patch = nest(&["supplies", &fresh], json!({ "header": entry.name, "rate": rate }));
        let say = format!("add {} to {}", entry.carries.print(rate), quoted(&entry.name));
        Remedy { say, patch: Some(patch) }
    }

    /// What lets machines run that stand still for want of it.
    fn more(&self, header: HeaderId, held: &[String]) -> Option<Remedy> {
        let name = quoted(&self.case.plan.header(header).name);
        (!held.is_empty()).then(|| Remedy { say: format!("give more to {name}, or run fewer of them"), patch: None })
    }

    fn full(&mut self, at: usize) {
        let (plan, record) = (self.case.plan, &self.case.run.stores[at]);
        let store = &plan.stores[at];
        let carries = plan.header(store.header).carries;
        // Surplus power is spilled freely.
        let (Some(_), Carried::Matter) = (record.first_full_s, carries) else { return };
        let here =
            || plan.supplies.iter().zip(&self.case.run.supplies).filter(|(supply, _)| supply.header == store.header);
        let losing: Vec<_> = here().filter(|(_, record)| record.lost > 0.0).collect();
        if losing.is_empty() {
            return;
        }
        let since = losing.iter().filter_map(|(_, record)| record.first_lost_s).fold(f64::INFINITY, f64::min);
        let lost: f64 = losing.iter().map(|(_, record)| record.lost).sum();
        let names: Vec<String> = losing.iter().map(|(supply, _)| format!("supply {}", quoted(&supply.name))).collect();
        let verb = if names.len() == 1 { "loses" } else { "lose" };
        let say = format!(
            "store {} overflows {}, and {} {verb} {} in all",
            quoted(&store.name),
            self.after(since),
            listed(&names),
            carries.print_amount(lost),
        );
        let found = finding(FindingCode::Overflows, pointer(&["stores", &store.name]), say)
            .at_most(record.greatest, store.capacity, carries.amount_unit())
            .mended(Some(self.outlet(store.header)));
        self.add(since, found);
    }

    /// A way out for what is lost on a header.
    fn outlet(&self, header: HeaderId) -> Remedy {
        let plan = self.case.plan;
        let entry = plan.header(header);
        let name = &entry.name;
        let lost = self.case.lost(header);
        // What is pushed in at most is what must be able to leave at most.
        let pushed = plan
            .supplies
            .iter()
            .enumerate()
            .filter(|(_, supply)| supply.header == header && supply.when == When::Always);
        let peak: f64 =
            pushed.map(|(at, _)| self.case.gives(crate::plan::Gated::Supply(crate::plan::SupplyId(at)), header)).sum();
        let limit = round_up(if peak.is_finite() { peak } else { lost / self.case.run.reached_s });
        let patch = nest(&["outlets", name, "limit"], json!(limit));
        let (rate, amount) = (entry.carries.print(limit), entry.carries.print_amount(lost));
        let say = if plan.outlets.iter().any(|outlet| outlet.header == header) {
            format!("raise the outlet of {} to {rate}: {amount} more would leave there", quoted(name))
        } else {
            format!("give {} an outlet of {rate}: {amount} in all would leave there", quoted(name))
        };
        Remedy { say, patch: Some(patch) }
    }

    fn limits(&mut self, at: usize) {
        let (plan, record) = (self.case.plan, &self.case.run.stores[at]);
        let store = &plan.stores[at];
        let carries = plan.header(store.header).carries;
        let limits = &store.limits;
        let all = [
            ("low_low", "LL", limits.low_low),
            ("low", "L", limits.low),
            ("high", "H", limits.high),
            ("high_high", "HH", limits.high_high),
        ];
        for (which, (field, letters, limit)) in all.into_iter().enumerate() {
            let (Some(limit), Some(since)) = (limit, record.first_past_s[which]) else { continue };
            let is_low = which < 2;
            let outer = letters.len() == 2;
            let code = if is_low { FindingCode::BelowLowLimit } else { FindingCode::AboveHighLimit };
            let reached = if is_low { record.least } else { record.greatest };
            let say = format!(
                "store {} goes {} its limit {letters} of {} {}, to {}",
                quoted(&store.name),
                if is_low { "below" } else { "above" },
                carries.print_amount(limit),
                self.after(since),
                carries.print_amount(reached),
            );
            let remedy = self.back_within(at, limit, since, is_low);
            let found = finding(code, pointer(&["stores", &store.name, field]), say).mended(Some(remedy));
            let found = if is_low {
                found.at_least(reached, limit, carries.amount_unit())
            } else {
                found.at_most(reached, limit, carries.amount_unit())
            };
            self.add(since, if outer { found.weighing(Weight::Failure) } else { found });
        }
    }

    /// What keeps a level within a limit that it passes at `since`: so much more or less from the beginning, as far as the store
    /// goes; else as much besides as it falls by.
    fn back_within(&self, at: usize, limit: f64, since: f64, is_low: bool) -> Remedy {
        let (plan, record) = (self.case.plan, &self.case.run.stores[at]);
        let (store, carries) = (&plan.stores[at], plan.header(plan.stores[at].header).carries);
        let level =
            store.level + if is_low { round_up(limit - record.least) } else { -round_up(record.greatest - limit) };
        if (0.0..=store.capacity).contains(&level) {
            let say = format!("begin with {} in {}", carries.print_amount(level), quoted(&store.name));
            return Remedy { say, patch: Some(nest(&["stores", &store.name, "level"], json!(level))) };
        }
        if is_low && record.least_at_s > since {
            return self.tap(store.header, round_up((limit - record.least) / (record.least_at_s - since)));
        }
        let reached = if is_low { record.least } else { record.greatest };
        let say = format!("move the limit past {}, or change what comes and goes", carries.print_amount(reached));
        Remedy { say, patch: None }
    }

    pub(super) fn demands(&mut self) {
        let plan = self.case.plan;
        for (at, demand) in plan.demands.iter().enumerate() {
            let record = &self.case.run.demands[at];
            let short = short_of(record.wanted, record.served);
            let (Some(since), true) = (record.first_short_s, short > 0.0) else { continue };
            let carries = plan.header(demand.header).carries;
            let times = match record.cuts {
                0 | 1 => "once".to_owned(),
                times => format!("{times} times"),
            };
            let verb = if carries == Carried::Power { "browns out" } else { "is cut" };
            let say = format!(
                "demand {} {verb} {}, {times} and for {} in all, short by {} ({})",
                quoted(&demand.name),
                self.after(since),
                self.span(record.short_s),
                carries.print_amount(short),
                print_si::<dimension::Share>(short / record.wanted),
            );
            let found = finding(FindingCode::DemandCut, pointer(&["demands", &demand.name]), say)
                .at_least(record.served, record.wanted, carries.amount_unit())
                .mended(self.mend_demand(DemandId(at)));
            self.add(since, found);
        }
    }

    /// What helps a demand: where its header has a store, the store's size; else what must come in besides.
    fn mend_demand(&self, demand: DemandId) -> Option<Remedy> {
        let plan = self.case.plan;
        let header = plan.demands[demand.0].header;
        let store = (0..plan.stores.len()).find(|&at| plan.stores[at].header == header);
        if let Some(store) = store {
            return self.bigger(store);
        }
        let near = self.case.run.islands.iter().find(|island| island.demands.contains(&demand));
        let sized = near.and_then(|island| {
            island.stores.iter().find_map(|&StoreId(at)| {
                let has_size =
                    matches!(self.case.sizes[at].level, Some(Sizing::Least(level)) if level > plan.stores[at].level);
                has_size.then(|| self.bigger(at)).flatten()
            })
        });
        if sized.is_some() {
            return sized;
        }
        self.make_up(header)
    }
}

/// A name for a make-up that nothing has yet.
fn free_name(header: &str, taken: impl Fn(&str) -> bool) -> String {
    let first = format!("make-up of {header}");
    let named = |name: &str| name.len() <= 200 && !taken(name);
    if named(&first) {
        return first;
    }
    // A plan has fewer supplies than that.
    (2..1_000_000).map(|number| format!("make-up {number}")).find(|name| named(name)).unwrap_or(first)
}

fn go(names: &[String]) -> &'static str {
    if names.len() == 1 { "goes" } else { "go" }
}

fn are(names: &[String]) -> &'static str {
    if names.len() == 1 { "is" } else { "are" }
}
