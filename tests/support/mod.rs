//! What the integration tests share: a plan solved, its figures by name, and the check that every balance closes.

#![allow(dead_code, reason = "every test crate uses its own part of this")]

pub mod halls;
pub mod plant;
pub mod threads;
pub mod works;

use hotwell::balance::{Balance, HeaderFlow, Limit, UnitRun, balance};
use hotwell::budget::Budget;
use hotwell::heat::Running;
use hotwell::heat::streams::Rates;
use hotwell::plan::{Carried, HeaderId, Limits, Plan};
use hotwell::rehearsal::{Fleet, Rehearsal};
use serde_json::Value;

/// A plan and its balance, read by name.
pub struct Solved {
    /// The plan.
    pub plan: Plan,
    /// Its balance.
    pub balance: Balance,
}

/// Reads a plan from JSON.
pub fn plan(document: &Value) -> Plan {
    let bytes = document.to_string();
    Plan::from_json(bytes.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// Reads and solves a plan, and holds that every balance of it closes.
pub fn solve(document: &Value) -> Solved {
    let solved = solve_unchecked(document);
    assert_closed(&solved.plan, &solved.balance);
    solved
}

/// Reads and solves a plan.
pub fn solve_unchecked(document: &Value) -> Solved {
    let plan = plan(document);
    let balance = balance(&plan, &Budget::unhurried()).unwrap_or_else(|halt| panic!("{halt}"));
    Solved { plan, balance }
}

impl Solved {
    /// What passes through a header.
    pub fn header(&self, name: &str) -> HeaderFlow {
        self.balance.headers[self.header_id(name).0]
    }

    /// The id of a header.
    pub fn header_id(&self, name: &str) -> HeaderId {
        self.plan.header_named(name).unwrap_or_else(|| panic!("no header {name}"))
    }

    /// How a unit runs.
    pub fn unit(&self, name: &str) -> UnitRun {
        self.balance.units[self.plan.unit_named(name).unwrap_or_else(|| panic!("no unit {name}")).0]
    }

    /// Full-duty machines of a unit.
    pub fn run(&self, name: &str) -> f64 {
        self.unit(name).needed
    }

    /// What a supply gives.
    pub fn drawn(&self, name: &str) -> f64 {
        let at = self.plan.supplies.iter().position(|supply| supply.name == name);
        self.balance.drawn[at.unwrap_or_else(|| panic!("no supply {name}"))]
    }

    /// What a demand is served.
    pub fn served(&self, name: &str) -> f64 {
        let at = self.plan.demands.iter().position(|demand| demand.name == name);
        self.balance.served[at.unwrap_or_else(|| panic!("no demand {name}"))]
    }

    /// The value of a `most` aim.
    pub fn value(&self) -> f64 {
        self.balance.value.expect("the aim is `most`")
    }

    /// What one more of a binding supply is worth; nothing where it does not bind.
    pub fn worth_of_supply(&self, name: &str) -> f64 {
        let at = self.plan.supplies.iter().position(|supply| supply.name == name).expect("a supply of that name");
        let limit =
            self.balance.binding.iter().find(|binding| matches!(binding.limit, Limit::Supply(id) if id.0 == at));
        limit.map_or(0.0, |binding| binding.worth.expect("the plan wants worth"))
    }
}

/// Every header closes to 1e-9 of its throughput: once by the figures of the answer, and once reckoned anew from the runs.
///
/// Where next to nothing passes, what is left of the arithmetic of the whole plant (1e-13 of its greatest flow) is nothing.
pub fn assert_closed(plan: &Plan, balance: &Balance) {
    let mut made = vec![0.0; plan.headers.len()];
    let mut taken = vec![0.0; plan.headers.len()];
    let mut idle = false;
    for (unit, run) in plan.units.iter().zip(&balance.units) {
        for flow in &unit.takes {
            taken[flow.header.0] += flow.rate * run.needed;
        }
        for flow in &unit.gives {
            made[flow.header.0] += flow.rate * run.needed;
        }
        if let Some(power) = plan.power() {
            made[power.0] += unit.generates.si() * run.needed;
            taken[power.0] += unit.draws.si() * run.needed;
            idle |= unit.idle_draw.si() > 0.0;
        }
    }
    let matter = |at: usize| plan.headers[at].carries == Carried::Matter;
    let greatest = |of: bool| {
        let alike = balance.headers.iter().enumerate().filter(|&(at, _)| matter(at) == of);
        alike.map(|(_, flow)| flow.made + flow.supplied).fold(0.0, f64::max)
    };
    let rounding = [greatest(false), greatest(true)].map(|greatest| 1e-13 * greatest);
    for (at, flow) in balance.headers.iter().enumerate() {
        let name = &plan.headers[at].name;
        let enters = flow.made + flow.supplied;
        let leaves = flow.taken + flow.demanded - flow.unserved + flow.delivered + flow.let_out + flow.trapped;
        let room = 1e-9 * enters.max(leaves) + rounding[usize::from(matter(at))];
        assert!((enters - leaves).abs() <= room, "{name}: {enters} enters, {leaves} leaves");
        assert!((flow.made - made[at]).abs() <= room, "{name}: made {} told, {} by the runs", flow.made, made[at]);
        if !(idle && plan.power() == Some(HeaderId(at))) {
            assert!((flow.taken - taken[at]).abs() <= room, "{name}: taken {} told, {} by runs", flow.taken, taken[at]);
        }
        let mut supplied = 0.0;
        for (supply, drawn) in plan.supplies.iter().zip(&balance.drawn).filter(|(supply, _)| supply.header.0 == at) {
            supplied += drawn;
            let most = supply.average_rate().unwrap_or(f64::INFINITY);
            assert!(*drawn >= -room && *drawn <= most + room, "supply {}: {drawn} of {most}", supply.name);
        }
        assert!((flow.supplied - supplied).abs() <= room, "{name}: supplied {} told, {supplied} drawn", flow.supplied);
        for figure in [flow.made, flow.taken, flow.supplied, flow.let_out, flow.unserved, flow.trapped, flow.delivered]
        {
            assert!(figure >= 0.0 && figure.is_finite(), "{name}: {flow:?}");
        }
    }
}

/// A plan and its rehearsal.
pub struct Rehearsed {
    /// The plan.
    pub plan: Plan,
    /// What happened.
    pub rehearsal: Rehearsal,
}

/// How many machines of each unit its balance has.
pub fn counts(plan: &Plan) -> Vec<u32> {
    let balance = balance(plan, &Budget::unhurried()).unwrap_or_else(|halt| panic!("{halt}"));
    balance.units.iter().map(|unit| unit.count).collect()
}

/// Reads and rehearses a plan, and holds that every header closes.
pub fn rehearse(document: &Value) -> Rehearsed {
    let plan = plan(document);
    let counts = counts(&plan);
    let rehearsal = hotwell::rehearsal::rehearse(&plan, Fleet::of(&counts), &Budget::unhurried())
        .unwrap_or_else(|halt| panic!("{halt}"));
    assert_passes_on(&plan, &rehearsal);
    Rehearsed { plan, rehearsal }
}

/// Reads a plan and rehearses it with its zones, each cooler and turbine as often as the plan says or once; holds that every
/// header closes, and heat in every zone.
pub fn rehearse_warm(document: &Value) -> Rehearsed {
    let plan = plan(document);
    let balance = balance(&plan, &Budget::unhurried()).unwrap_or_else(|halt| panic!("{halt}"));
    let units: Vec<u32> = balance.units.iter().map(|unit| unit.count).collect();
    let runs: Vec<f64> = balance.units.iter().map(|unit| unit.needed).collect();
    let count = |count: Option<u32>| f64::from(count.unwrap_or(1));
    let coolers: Vec<f64> = plan.coolers.iter().map(|cooler| count(cooler.count)).collect();
    let turbines: Vec<f64> = plan.turbines.iter().map(|turbine| count(turbine.count)).collect();
    let rates = Rates { runs: &runs, drawn: &balance.drawn };
    let warm = Some(Running { rates, coolers: &coolers, turbines: &turbines });
    let rehearsal =
        hotwell::rehearsal::rehearse(&plan, Fleet { units: &units, warm, curves: true }, &Budget::unhurried())
            .unwrap_or_else(|halt| panic!("{halt}"));
    assert_passes_on(&plan, &rehearsal);
    if let Some(warm) = &rehearsal.warm {
        assert!(warm.accounts.worst_gap_share <= 1e-9, "heat: {}", warm.accounts.worst_gap_share);
    }
    Rehearsed { plan, rehearsal }
}

/// Holds that what comes onto each header goes off it, and that each store's change is what went in less what went out.
pub fn assert_passes_on(plan: &Plan, rehearsal: &Rehearsal) {
    for (header, record) in plan.headers.iter().zip(&rehearsal.headers) {
        let onto = record.made + record.supplied + record.drained;
        let off = record.taken + record.served + record.let_out + record.filled;
        assert!((onto - off).abs() <= 1e-9 * onto.max(off), "{}: {onto} onto it, {off} off it", header.name);
    }
    for (store, record) in plan.stores.iter().zip(&rehearsal.stores) {
        let change = record.end - record.start;
        let net = record.filled - record.drained - record.stood_lost;
        let size = record.filled.max(record.drained).max(store.capacity);
        assert!((change - net).abs() <= 1e-9 * size, "{}: changed by {change}, {net} went in", store.name);
    }
}
