//! What the question looks at: the plan, the counts it takes, the rehearsal, and the sizes that were searched for.

use crate::balance::Balance;
use crate::budget::{Budget, Halt};
use crate::heat::Running;
use crate::plan::{Carried, Count, Gated, HeaderId, Plan, StoreId, Supply, UnitId, When};
use crate::quantity::Mass;
use crate::questions::Detail;
use crate::questions::answer::{limited, round_up};
use crate::questions::coupled::Coupled;
use crate::rehearsal::sizing::{Sizer, Sizing};
use crate::rehearsal::{Fleet, IslandRecord, Rehearsal, Settled, rehearse};

/// Looks at the budget's hook that the searches for sizes may take together: one at the beginning of each rehearsal, and then
/// by the work done. One search has at least [`LEAST_LOOKS`], enough for the halvings of a case that settles soon.
const SEARCH_LOOKS: u64 = 4_000;
const LEAST_LOOKS: u64 = 250;
/// Rehearsals as long as the first that one search may take.
const REHEARSALS: u64 = 150;
/// The most stores whose sizes are searched for.
const MOST_SIZED: usize = 50;
/// The most headers for which a make-up is tried out.
const MOST_MAKE_UPS: usize = 3;
/// What is short by less than this share of what was wanted is rounding.
pub const SHORT: f64 = 1e-9;

/// The case.
pub struct Case<'p> {
    pub plan: &'p Plan,
    pub counts: Vec<u32>,
    /// What runs in zones, where there are any.
    pub warm: Option<Running<'p>>,
    pub run: Rehearsal,
    /// By store.
    pub sizes: Vec<Sizes>,
    /// By loop.
    pub windows: Vec<Window>,
    /// Rates that leave nothing short on a header, tried out.
    pub make_ups: Vec<(HeaderId, f64)>,
}

/// Whether to look for the sizes that would leave nothing short, which takes many rehearsals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Search {
    /// Sizes of all stores, and make-ups.
    Sizes,
    /// Those of stores in whose part of the plant something is short, and make-ups: what remedies are made of.
    WhereShort,
    /// Only what happens is wanted.
    Nothing,
}

/// How big a store must be. `None` where it was not searched for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sizes {
    pub capacity: Option<Sizing>,
    pub level: Option<Sizing>,
}

/// The charge of a loop against its window, in kg.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    pub charge: f64,
    pub least: f64,
    /// (holds − kept free) ÷ (1 + expansion).
    pub most: f64,
}

impl Window {
    /// What is in it above the most; nothing where that is rounding.
    pub fn over(&self) -> f64 {
        short_of(self.charge, self.most).max(0.0)
    }

    /// What lacks to the least; nothing where that is rounding.
    pub fn short(&self) -> f64 {
        short_of(self.least, self.charge).max(0.0)
    }

    /// Whether no charge will do.
    pub fn is_empty(&self) -> bool {
        short_of(self.least, self.most) > 0.0
    }
}

impl<'p> Case<'p> {
    /// Rehearses; and searches, where sizes are wanted. The balance is asked for nothing where no unit is sized.
    ///
    /// # Errors
    /// [`Halt`] when the hook says stop, or when a balance takes more steps than the budget has.
    pub fn of(
        plan: &'p Plan,
        coupled: Option<&'p Coupled>,
        search: Search,
        detail: Detail,
        budget: &Budget<'_>,
    ) -> Result<Self, Halt> {
        let counts = counts(plan, coupled.map(|coupled| &coupled.balance));
        let warm = coupled.and_then(Coupled::running);
        let run = rehearse(plan, Fleet { units: &counts, warm, curves: detail == Detail::Pictures }, budget)?;
        let windows = plan.loops.iter().map(|closed| Window {
            charge: closed.charge.si(),
            least: closed.least.map_or(0.0, Mass::si),
            most: (closed.holds.si() - closed.keep_free.si()).max(0.0) / (1.0 + closed.expands.si()),
        });
        let mut case =
            Self { plan, counts, warm, run, sizes: Vec::new(), windows: windows.collect(), make_ups: Vec::new() };
        match search {
            Search::Sizes | Search::WhereShort => case.search(search, budget)?,
            Search::Nothing => case.sizes.resize(plan.stores.len(), Sizes::default()),
        }
        Ok(case)
    }

    fn fleet(&self) -> Fleet<'_> {
        Fleet { units: &self.counts, warm: self.warm, curves: false }
    }

    /// Searches for sizes and make-ups, for as long as the allowance lasts.
    fn search(&mut self, search: Search, budget: &Budget<'_>) -> Result<(), Halt> {
        let plan = self.plan;
        // A search is some tens of rehearsals; one that takes much more than this one did each time is one that chatters.
        let whole = REHEARSALS * (1 + self.run.simulated / 64);
        let each = (SEARCH_LOOKS / 2 / (plan.stores.len().max(1) as u64)).clamp(LEAST_LOOKS, whole.max(LEAST_LOOKS));
        let sizer = Sizer::new(plan, self.fleet());
        for at in 0..plan.stores.len().min(MOST_SIZED) {
            let of = StoreId(at);
            if search == Search::WhereShort && !self.is_short_around(of) {
                self.sizes.push(Sizes::default());
                continue;
            }
            let capacity = limited(budget, each, |budget| sizer.least_capacity(of, budget))?;
            let level = limited(budget, each, |budget| sizer.least_level(of, budget))?;
            self.sizes.push(Sizes { capacity: capacity.flatten(), level: level.flatten() });
        }
        self.sizes.resize(plan.stores.len(), Sizes::default());
        let mut tried = 0;
        for at in 0..plan.headers.len() {
            let header = HeaderId(at);
            if tried == MOST_MAKE_UPS || self.unserved(header) <= 0.0 {
                continue;
            }
            tried += 1;
            if let Some(rate) = self.make_up(header, budget)? {
                self.make_ups.push((header, rate));
            }
        }
        Ok(())
    }

    /// Whether anything is short in the part of the plant that a store is in.
    fn is_short_around(&self, store: StoreId) -> bool {
        let demands = self.island(store).map_or(&[][..], |(island, _)| &island.demands);
        demands.iter().any(|demand| {
            let record = &self.run.demands[demand.0];
            short_of(record.wanted, record.served) > 0.0
        })
    }

    /// The rate of a tap on the header, as a last reserve, that leaves nothing short on it: what lacks on average, or else
    /// what is asked for at most.
    fn make_up(&self, header: HeaderId, budget: &Budget<'_>) -> Result<Option<f64>, Halt> {
        let on = || self.plan.demands.iter().filter(|demand| demand.header == header);
        let peak = |demand: &crate::plan::Demand| demand.rate * peak_share(demand.pattern.as_ref());
        let average = self.unserved(header) / self.run.reached_s;
        for rate in [average, on().map(peak).sum()] {
            let rate = round_up(rate);
            let mut plan = self.plan.clone();
            plan.supplies.push(Supply {
                name: format!("make-up of {}", plan.header(header).name),
                header,
                rate: Some(rate),
                rank: 1,
                when: When::Wanted,
                pattern: None,
                at_c: None,
            });
            let looks = SEARCH_LOOKS / 4;
            let Some(run) = limited(budget, looks, |budget| rehearse(&plan, self.fleet(), budget))? else {
                return Ok(None);
            };
            let wanted_here = |at: &usize| plan.demands[*at].header == header;
            let served = (0..plan.demands.len()).filter(wanted_here).all(|at| {
                let demand = &run.demands[at];
                demand.wanted - demand.served <= SHORT * demand.wanted
            });
            if served && run.reached_s >= run.horizon_s {
                return Ok(Some(rate));
            }
        }
        Ok(None)
    }

    /// What demands on a header do not get.
    pub fn unserved(&self, header: HeaderId) -> f64 {
        let here = self.plan.demands.iter().zip(&self.run.demands).filter(|(demand, _)| demand.header == header);
        here.map(|(_, record)| short_of(record.wanted, record.served)).fold(0.0, |sum, short| sum + short)
    }

    /// What is lost at a header: by supplies that push, and on `power` the surplus that nothing takes.
    pub fn lost(&self, header: HeaderId) -> f64 {
        let here = self.plan.supplies.iter().zip(&self.run.supplies).filter(|(supply, _)| supply.header == header);
        // A sum of nothing would be −0.
        let lost = here.map(|(_, record)| record.lost).fold(0.0, |sum, lost| sum + lost);
        match self.plan.header(header).carries {
            Carried::Matter => lost,
            Carried::Power => lost + self.run.headers[header.0].let_out,
        }
    }

    /// The part of the plant that a store is in.
    pub fn island(&self, store: StoreId) -> Option<(&IslandRecord, usize)> {
        self.run
            .islands
            .iter()
            .find_map(|island| Some((island, island.stores.iter().position(|&other| other == store)?)))
    }

    /// The cycle that a switch settles in, and its starts in it.
    pub fn settled_switch(&self, switch: usize) -> Option<(&Settled, u64)> {
        self.run.islands.iter().find_map(|island| {
            let at = island.switches.iter().position(|other| other.0 == switch)?;
            let settled = island.settled.as_ref()?;
            Some((settled, *settled.starts.get(at)?))
        })
    }

    /// Starts each hour in the long run: of the settled cycle, or of all that was rehearsed.
    pub fn starts_per_h(&self, switch: usize) -> f64 {
        match self.settled_switch(switch) {
            Some((settled, starts)) if settled.period_s > 0.0 => starts as f64 / settled.period_s * 3600.0,
            Some(_) => 0.0,
            None => per(self.run.switches[switch].starts as f64, self.run.reached_s) * 3600.0,
        }
    }

    /// What a target of a switch gives to a header at most, less what it takes there.
    pub fn gives(&self, target: Gated, header: HeaderId) -> f64 {
        match target {
            Gated::Supply(id) => {
                let supply = &self.plan.supplies[id.0];
                let rate = supply.rate.unwrap_or(f64::INFINITY) * peak_share(supply.pattern.as_ref());
                if supply.header == header { rate } else { 0.0 }
            }
            Gated::Demand(id) => {
                let demand = &self.plan.demands[id.0];
                let rate = demand.rate * peak_share(demand.pattern.as_ref());
                if demand.header == header { -rate } else { 0.0 }
            }
            Gated::Unit(id) => self.unit_gives(id, header) * f64::from(self.counts[id.0]),
            Gated::Cooler(id) if self.plan.power() == Some(header) => {
                -self.plan.coolers[id.0].draws.si() * self.warm.map_or(0.0, |warm| warm.coolers[id.0])
            }
            Gated::Turbine(id) if self.plan.power() == Some(header) => {
                self.plan.turbines[id.0].generates.si() * self.warm.map_or(0.0, |warm| warm.turbines[id.0])
            }
            // They act on zones alone.
            Gated::Cooler(_) | Gated::Turbine(_) | Gated::HotSource(_) => 0.0,
        }
    }

    /// What one machine gives to a header at full duty, less what it takes there.
    pub fn unit_gives(&self, unit: UnitId, header: HeaderId) -> f64 {
        let machine = &self.plan.units[unit.0];
        let on = |flows: &[crate::plan::Flow]| -> f64 {
            flows.iter().filter(|flow| flow.header == header).map(|flow| flow.rate).sum()
        };
        let electric = if self.plan.header(header).carries == Carried::Power {
            machine.generates.si() - machine.draws.si()
        } else {
            0.0
        };
        on(&machine.gives) - on(&machine.takes) + electric
    }
}

/// What is short, or nothing where it is only rounding.
pub fn short_of(wanted: f64, served: f64) -> f64 {
    let short = wanted - served;
    if short > SHORT * wanted { short } else { 0.0 }
}

/// a/b, nothing where b is nothing.
pub fn per(a: f64, b: f64) -> f64 {
    if b > 0.0 { a / b } else { 0.0 }
}

fn peak_share(pattern: Option<&crate::plan::Pattern>) -> f64 {
    match pattern.map(|pattern| &pattern.course) {
        Some(crate::plan::Course::Steps(steps)) => steps.iter().map(|step| step.share).fold(0.0, f64::max),
        Some(crate::plan::Course::Pulse { .. }) | None => 1.0,
    }
}

/// Machines of each unit: as the plan fixes them, or as the balance sizes them; at least one of what a switch runs.
fn counts(plan: &Plan, balance: Option<&Balance>) -> Vec<u32> {
    let is_sized = |count: Count| matches!(count, Count::Sized { .. });
    let mut counts: Vec<u32> =
        balance.map_or_else(Vec::new, |balance| balance.units.iter().map(|unit| unit.count).collect());
    counts.resize(plan.units.len(), 0);
    for (count, unit) in counts.iter_mut().zip(&plan.units) {
        if let Count::Fixed(fixed) = unit.count {
            *count = fixed;
        }
    }
    for target in plan.switches.iter().flat_map(|switch| &switch.runs) {
        if let Gated::Unit(UnitId(at)) = *target
            && is_sized(plan.units[at].count)
        {
            counts[at] = counts[at].max(1);
        }
    }
    counts
}
