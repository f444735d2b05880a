//! What is short, and for want of what.

use super::{FindingCode, Search, finding, remedy};
use crate::balance::{Limit, Outcome};
use crate::plan::{Aim, Carried, Count, Demand, HeaderId, UnitId, pointer};
use crate::quantity::{likeness, number, percent};
use crate::questions::answer::{Code, Finding, Remedy, Weight, merge, nest, quoted};
use crate::questions::flow_balance::change::Change;
use crate::questions::flow_balance::fill::run_targets;
use crate::questions::flow_balance::mend;
use crate::questions::flow_balance::network::rate_on;

/// Names this like each other are one mistyped for the other (Jaro-Winkler likeness).
const LIKE: f64 = 0.88;
/// A remedy of more changes than this is not repeated.
const REPEATED: usize = 4;
/// The most pairs of names that are compared.
const MOST_PAIRS: usize = 100_000;
/// What is wanted and not had, as a share, below which it is rounding.
const SHORT: f64 = 1e-9;

/// "stream 9" is not "stream 19" mistyped.
fn differs_in_digits_only(a: &str, b: &str) -> bool {
    let letters = |text: &'_ str| text.chars().filter(|c| !c.is_ascii_digit()).collect::<String>();
    letters(a) == letters(b)
}

/// A header that nothing feeds.
struct Unfed {
    finding: Finding,
    /// Whether another name is near.
    mistyped: bool,
}

impl Search<'_> {
    pub(super) fn shortages(&mut self) {
        let short = self.balance.outcome == Outcome::Short;
        // A mistyped name is told before what it brings about.
        let unfed = self.unfed(short);
        let (mistyped, unfed): (Vec<Unfed>, Vec<Unfed>) = unfed.into_iter().partition(|unfed| unfed.mistyped);
        self.found.extend(mistyped.into_iter().map(|unfed| unfed.finding));
        if short {
            self.aims();
            self.demands();
            self.cooling();
            self.idle();
            self.causes();
        }
        self.found.extend(unfed.into_iter().map(|unfed| unfed.finding));
    }

    fn aims(&mut self) {
        let plan = self.plan;
        let runs = run_targets(plan);
        for (at, reached) in self.balance.aims.iter().enumerate() {
            if reached.got >= reached.wanted * (1.0 - SHORT) {
                continue;
            }
            let cut = percent(1.0 - reached.got / reached.wanted);
            let found = if let Aim::Make(targets) = &plan.aim {
                let header = plan.header(targets[at].header);
                let (name, carries) = (quoted(&header.name), header.carries);
                let (got, wanted) = (carries.print(reached.got), carries.print(reached.wanted));
                let missing = carries.print(reached.wanted - reached.got);
                let say = format!("short {missing} of {name}: {got} of {wanted} can be made ({cut} less)");
                finding(FindingCode::AimShort, pointer(&["aim", "make", &header.name]), say).at_least(
                    reached.got,
                    reached.wanted,
                    carries.si_unit(),
                )
            } else {
                let Some(unit) = runs.get(at).map(|unit| &plan.units[unit.0]) else { continue };
                let place = match plan.aim {
                    Aim::Run(_) => pointer(&["aim", "run", &unit.name]),
                    _ => pointer(&["units", &unit.name, "count"]),
                };
                let (got, wanted) = (number(reached.got), number(reached.wanted));
                let name = quoted(&unit.name);
                let say = if reached.got > 0.0 {
                    format!("only {got} of {wanted} × {name} can run ({cut} less)")
                } else {
                    format!("none of {wanted} × {name} can run")
                };
                finding(FindingCode::AimShort, place, say).at_least(reached.got, reached.wanted, "1")
            };
            let mended = self.mended();
            self.found.push(found.mended(mended));
        }
    }

    /// What mends all that is short. Where it is long, only the first finding carries it.
    fn mended(&self) -> Option<Remedy> {
        let short =
            [FindingCode::AimShort, FindingCode::DemandShort, FindingCode::CoolingShort, FindingCode::IdleShort]
                .map(Code::as_str);
        let is_first = self.found.iter().all(|finding| !short.contains(&finding.code));
        if is_first || self.mending.short.len() <= REPEATED { remedy(self.plan, &self.mending.short) } else { None }
    }

    fn demands(&mut self) {
        let plan = self.plan;
        let is_valued = |header: HeaderId| matches!(&plan.aim, Aim::Most(values) if values.iter().any(|value| value.header == header));
        let missing = |(demand, served): (&Demand, f64)| demand.average_rate() - served;
        let mut short: Vec<(&Demand, f64)> = plan.demands.iter().zip(self.balance.served.iter().copied()).collect();
        short.retain(|&of| missing(of) > SHORT * of.0.average_rate() && !is_valued(of.0.header));
        // The first rank first, and of one rank who lacks most.
        short.sort_by(|&one, &other| one.0.rank.cmp(&other.0.rank).then(missing(other).total_cmp(&missing(one))));
        for (demand, served) in short {
            let missing = demand.average_rate() - served;
            let header = plan.header(demand.header);
            let say = format!(
                "short {} of {}: demand {} of rank {} is cut by {}",
                header.carries.print(missing),
                quoted(&header.name),
                quoted(&demand.name),
                demand.rank,
                percent(missing / demand.average_rate()),
            );
            let place = pointer(&["demands", &demand.name, "rate"]);
            let found = finding(FindingCode::DemandShort, place, say);
            let mended = self.mended();
            self.found.push(found.at_least(served, demand.average_rate(), header.carries.si_unit()).mended(mended));
        }
    }

    fn cooling(&mut self) {
        let cooling = self.balance.cooling;
        if cooling.got >= cooling.wanted * (1.0 - SHORT) {
            return;
        }
        let say = format!(
            "coolers draw {} and get {} of it ({} less)",
            Carried::Power.print(cooling.wanted),
            Carried::Power.print(cooling.got),
            percent(1.0 - cooling.got / cooling.wanted),
        );
        let found = finding(FindingCode::CoolingShort, "/coolers".to_owned(), say);
        let mended = self.mended();
        self.found.push(found.at_least(cooling.got, cooling.wanted, "W").mended(mended));
    }

    /// Idle draw counts as demanded only as far as it is not served, and nothing else of the header is short before it.
    fn idle(&mut self) {
        let Some(power) = self.network.power else { return };
        let plan = self.plan;
        let asked: f64 =
            self.network.at(power).demands.iter().map(|demand| plan.demands[demand.0].average_rate()).sum();
        let served: f64 = self.network.at(power).demands.iter().map(|demand| self.balance.served[demand.0]).sum();
        let aimed: f64 = match &plan.aim {
            Aim::Make(targets) => {
                let reached = targets.iter().zip(&self.balance.aims).filter(|(target, _)| target.header == power);
                reached.map(|(_, reached)| reached.wanted - reached.got).sum()
            }
            _ => 0.0,
        };
        let flow = &self.balance.headers[power.0];
        let cooling = self.balance.cooling.wanted - self.balance.cooling.got;
        let missing = flow.unserved - (asked - served) - aimed - cooling;
        if matches!(plan.aim, Aim::Most(_)) || missing <= 1e-6 * flow.demanded {
            return;
        }
        let at = plan.units.iter().position(|unit| unit.idle_draw.si() > 0.0);
        let at = at.map_or_else(String::new, |at| pointer(&["units", &plan.units[at].name, "idle_draw"]));
        let say = format!("machines that stand still lack {} of idle draw", Carried::Power.print(missing));
        let found = finding(FindingCode::IdleShort, at, say).at_most(missing, 0.0, "W");
        let mended = self.mended();
        self.found.push(found.mended(mended));
    }

    /// The limits that hold back what is short.
    fn causes(&mut self) {
        let plan = self.plan;
        for binding in &self.balance.binding {
            let change = self.change_of(binding.limit);
            let mended = change.and_then(|change| remedy(plan, std::slice::from_ref(change)));
            let found = match binding.limit {
                Limit::Supply(id) => {
                    let supply = &plan.supplies[id.0];
                    let carries = plan.header(supply.header).carries;
                    let average = supply.average_rate().unwrap_or(0.0);
                    let say = format!(
                        "supply {} gives all of its {} of {}, and more is wanted",
                        quoted(&supply.name),
                        carries.print(average),
                        quoted(&plan.header(supply.header).name),
                    );
                    let place = pointer(&["supplies", &supply.name, "rate"]);
                    let found = finding(FindingCode::SupplyShort, place, say);
                    found.at_most(self.balance.drawn[id.0], average, carries.si_unit())
                }
                Limit::Count(id) => {
                    let unit = &plan.units[id.0];
                    let count = self.balance.units[id.0].count;
                    let say = format!("all {count} × {} run at full duty, and more are wanted", quoted(&unit.name));
                    let place = match unit.count {
                        Count::Fixed(_) => pointer(&["units", &unit.name, "count"]),
                        Count::Sized { .. } => pointer(&["units", &unit.name, "count", "at_most"]),
                    };
                    let needed = self.balance.units[id.0].needed;
                    finding(FindingCode::CountBound, place, say).at_most(needed, f64::from(count), "1")
                }
                Limit::Lines(id) => {
                    let header = plan.header(id);
                    let flow = &self.balance.headers[id.0];
                    let lines = header.lines.unwrap_or(0);
                    let room = header.line.unwrap_or(0.0) * f64::from(lines);
                    let (full, name) = (header.carries.print(room), quoted(&header.name));
                    let say = format!("all {lines} of {name}'s lines are full with {full}, and more is wanted");
                    let place = pointer(&["headers", &header.name, "lines"]);
                    let found = finding(FindingCode::LinesFull, place, say);
                    found.at_most(flow.made + flow.supplied, room, header.carries.si_unit())
                }
                Limit::Outlet(_) | Limit::Demand(_) => continue,
            };
            self.found.push(found.mended(mended));
        }
    }

    fn change_of(&self, limit: Limit) -> Option<&Change> {
        self.mending.short.iter().find(|change| match (limit, change) {
            (Limit::Supply(id), Change::Rate { supply, .. }) => id == *supply,
            (Limit::Count(id), Change::Count { unit, .. }) => id == *unit,
            (Limit::Lines(id), Change::Lines { header, .. }) => id == *header,
            _ => false,
        })
    }

    fn unfed(&self, short: bool) -> Vec<Unfed> {
        let plan = self.plan;
        let unfed = mend::unfed(plan, self.network);
        let mut found = Vec::with_capacity(unfed.len());
        let mut pairs = 0;
        for header in unfed {
            let name = &plan.header(header).name;
            let mut near: Option<(f64, HeaderId)> = None;
            for at in 0..plan.headers.len() {
                let other = HeaderId(at);
                let fed = !self.network.at(other).supplies.is_empty() || !self.network.at(other).givers.is_empty();
                if !fed || pairs >= MOST_PAIRS {
                    continue;
                }
                pairs += 1;
                if differs_in_digits_only(name, &plan.header(other).name) {
                    continue;
                }
                if let Some(like) = likeness(name, &plan.header(other).name)
                    && like >= LIKE
                    && near.is_none_or(|(best, _)| like > best)
                {
                    near = Some((like, other));
                }
            }
            let near = near.map(|(_, other)| other);
            let guess =
                near.map_or_else(String::new, |other| format!("; did you mean {}?", quoted(&plan.header(other).name)));
            let say = format!("nothing feeds {}{guess}", quoted(name));
            let mended = match near {
                Some(other) => self.rename(header, other),
                None => self.mending.short.iter().find_map(|change| match change {
                    Change::Supply { header: added, .. } if *added == header => {
                        remedy(plan, std::slice::from_ref(change))
                    }
                    _ => None,
                }),
            };
            let place = self.first_use(header);
            let weight = if short && self.starves(header) { Weight::Failure } else { Weight::Caution };
            let finding = finding(FindingCode::NothingFeeds, place, say).weighing(weight).mended(mended);
            found.push(Unfed { finding, mistyped: near.is_some() });
        }
        found
    }

    /// Whether what is short might want this header: a demand or an aim on it, or a unit that does not run for want of it.
    fn starves(&self, header: HeaderId) -> bool {
        self.balance.headers[header.0].unserved > 0.0
            || self
                .mending
                .short
                .iter()
                .any(|change| matches!(change, Change::Supply { header: added, .. } if *added == header))
            || self.mending.short.is_empty()
    }

    /// The first place in the plan that takes from a header.
    fn first_use(&self, header: HeaderId) -> String {
        let plan = self.plan;
        let name = &plan.header(header).name;
        let near = self.network.at(header);
        if let Some(&UnitId(at)) = near.takers.first() {
            let unit = &plan.units[at];
            let field = if rate_on(&unit.takes, header) > 0.0 {
                return pointer(&["units", &unit.name, "takes", name]);
            } else if unit.draws.si() > 0.0 {
                "draws"
            } else {
                "idle_draw"
            };
            return pointer(&["units", &unit.name, field]);
        }
        match near.demands.first() {
            Some(demand) => pointer(&["demands", &plan.demands[demand.0].name, "header"]),
            None => pointer(&["aim", "make", name]),
        }
    }

    /// Every use of a header written with another name instead; `None` where a place has both.
    fn rename(&self, from: HeaderId, to: HeaderId) -> Option<Remedy> {
        let plan = self.plan;
        let (old, new) = (&plan.header(from).name, &plan.header(to).name);
        if plan.header(from).carries != plan.header(to).carries {
            return None;
        }
        let mut patch = serde_json::Value::Object(serde_json::Map::new());
        for &UnitId(at) in &self.network.at(from).takers {
            let unit = &plan.units[at];
            if unit.takes.iter().any(|flow| flow.header == to) {
                return None;
            }
            let takes = [(old.clone(), serde_json::Value::Null), (new.clone(), rate_on(&unit.takes, from).into())];
            let takes = serde_json::Value::Object(takes.into_iter().collect());
            merge(&mut patch, nest(&["units", &unit.name, "takes"], takes));
        }
        for demand in &self.network.at(from).demands {
            let name = &plan.demands[demand.0].name;
            merge(&mut patch, nest(&["demands", name, "header"], new.as_str().into()));
        }
        if let Aim::Make(targets) = &plan.aim
            && let Some(target) = targets.iter().find(|target| target.header == from)
        {
            if targets.iter().any(|target| target.header == to) {
                return None;
            }
            let make = [(old.clone(), serde_json::Value::Null), (new.clone(), target.rate.into())];
            let make = serde_json::Value::Object(make.into_iter().collect());
            merge(&mut patch, nest(&["aim", "make"], make));
        }
        Some(Remedy { say: format!("write {} in place of {}", quoted(new), quoted(old)), patch: Some(patch) })
    }
}
