//! What amount of what would mend a plan that falls short or that traps a surplus: the limits in the way are lifted, the
//! balance is asked again, and what it then uses beyond the limit is the amount.

use super::change::Change;
use super::network::Network;
use crate::balance::{Balance, Limit, Outcome, balance_with};
use crate::budget::{Budget, Halt};
use crate::plan::{Aim, Carried, Count, HeaderId, Outlet, Plan, Supply, SupplyId, UnitId, When};
use crate::questions::answer::round_up;

/// Times the limits that newly bind are lifted; the last time every header gets a make-up besides.
const ROUNDS: usize = 4;
/// Plans with more units than this get no mending: it costs as much as some more balances.
pub(super) const MOST_UNITS: usize = 2_000;
/// Steps that mending may take for each step of the balance itself, and at least.
const STEPS_EACH: u64 = 8;
const STEPS_LEAST: u64 = 20_000;
/// Rates smaller than this beside the flow through their header are rounding.
const NOISE: f64 = 1e-9;

/// What would mend a plan.
#[derive(Debug, Default)]
pub(super) struct Mending {
    /// For what is short: together these leave nothing short. Empty where nothing is short or no way was found.
    pub short: Vec<Change>,
    /// For what is trapped: more machines of fixed count that take it; together these leave none of `freed` trapped.
    pub trapped: Vec<Change>,
    /// The headers that `trapped` frees.
    pub freed: Vec<HeaderId>,
    /// For value that is held back because nothing may be left over.
    pub held: Option<Held>,
}

/// Outlets that let a `most` aim reach more.
#[derive(Debug)]
pub(super) struct Held {
    /// Headers without one, and what would leave there, SI unit of each.
    pub outlets: Vec<(HeaderId, f64)>,
    /// The value there would then be.
    pub value: f64,
}

/// Finds out.
///
/// # Errors
/// [`Halt::Stopped`] when the hook says stop. Steps spent are not an error here: then there is only no mending.
pub(super) fn mend(plan: &Plan, found: &Balance, network: &Network, budget: &Budget<'_>) -> Result<Mending, Halt> {
    let mut mending = Mending::default();
    if plan.units.len() > MOST_UNITS {
        return Ok(mending);
    }
    // A fixed share of the work already done, so that the same plan always gets the same mending.
    let steps = (found.steps * STEPS_EACH).max(STEPS_LEAST).min(budget.steps);
    let mut within_steps = *budget;
    within_steps.steps = steps;
    let budget = within_steps;
    if found.outcome == Outcome::Short {
        mending.short = within(shortage(plan, found, network, &budget))?.unwrap_or_default();
    }
    mending.held = within(held_back(plan, found, network, &budget))?;
    if let Some((changes, freed)) = within(surplus(plan, found, network, &budget))? {
        mending.trapped = changes;
        mending.freed = freed;
    }
    Ok(mending)
}

/// No mending where the steps for it are spent.
fn within<T>(result: Result<Option<T>, Halt>) -> Result<Option<T>, Halt> {
    match result {
        Err(Halt::StepsSpent { .. }) => Ok(None),
        other => other,
    }
}

/// The plan with limits lifted.
struct Lifted<'p> {
    plan: &'p Plan,
    wider: Plan,
    /// Supplies beyond the plan's own: one entry per added supply.
    added: Vec<HeaderId>,
    /// Limits already lifted.
    done: Vec<Limit>,
}

impl<'p> Lifted<'p> {
    fn of(plan: &'p Plan) -> Self {
        let mut wider = plan.clone();
        wider.wants_worth = false;
        if let Aim::Most(values) = &plan.aim {
            // What is short are demands that stand before any value.
            for demand in &mut wider.demands {
                if values.iter().any(|value| value.header == demand.header) {
                    demand.rate = 0.0;
                }
            }
            wider.aim = Aim::Unsaid;
        }
        Self { plan, wider, added: Vec::new(), done: Vec::new() }
    }

    /// True where the limit was there to be lifted.
    fn lift(&mut self, limit: Limit) -> bool {
        if self.done.contains(&limit) {
            return false;
        }
        self.done.push(limit);
        match limit {
            Limit::Supply(id) => {
                let supply = &mut self.wider.supplies[id.0];
                if average_share(supply) > 0.0 {
                    supply.rate = None;
                } else {
                    let header = supply.header;
                    self.add(header);
                }
            }
            Limit::Count(id) => {
                let count = &mut self.wider.units[id.0].count;
                *count = match *count {
                    Count::Fixed(fixed) => Count::Sized { at_least: fixed, at_most: None },
                    Count::Sized { at_least, .. } => Count::Sized { at_least, at_most: None },
                };
            }
            Limit::Lines(id) => self.wider.headers[id.0].lines = None,
            Limit::Outlet(_) | Limit::Demand(_) => return false,
        }
        true
    }

    /// A make-up without a limit, drawn on last of all.
    fn add(&mut self, header: HeaderId) {
        if self.added.contains(&header) {
            return;
        }
        self.added.push(header);
        self.wider.supplies.push(Supply {
            name: format!("make-up of {}", self.plan.header(header).name),
            header,
            rate: None,
            rank: u32::MAX,
            when: When::Wanted,
            pattern: None,
            at_c: None,
        });
    }

    /// What `mended` uses beyond the limits of the plan.
    fn changes(&self, mended: &Balance) -> Vec<Change> {
        let plan = self.plan;
        let mut changes = Vec::new();
        let extra = |header: HeaderId| -> f64 {
            let at = self.added.iter().position(|&added| added == header);
            at.map_or(0.0, |at| mended.drawn[plan.supplies.len() + at])
        };
        let is_noise = |header: HeaderId, rate: f64| {
            let flow = &mended.headers[header.0];
            rate <= NOISE * (flow.made + flow.supplied)
        };
        let mut folded = Vec::new();
        for (at, supply) in plan.supplies.iter().enumerate() {
            let Some(average) = supply.average_rate() else { continue };
            let share = average_share(supply);
            let mut to = mended.drawn[at];
            // A make-up on a header that has a supply is more of that supply.
            if share > 0.0 && !folded.contains(&supply.header) && !is_noise(supply.header, extra(supply.header)) {
                folded.push(supply.header);
                to = to.max(average) + extra(supply.header);
            }
            if share > 0.0 && to > average * (1.0 + NOISE) && !is_noise(supply.header, to - average) {
                changes.push(Change::Rate { supply: SupplyId(at), to: round_up(to / share) });
            }
        }
        for (at, unit) in plan.units.iter().enumerate() {
            let most = match unit.count {
                Count::Fixed(count) => Some(count),
                Count::Sized { at_most, .. } => at_most,
            };
            let to = mended.units[at].count;
            if most.is_some_and(|most| to > most) {
                changes.push(Change::Count { unit: UnitId(at), to });
            }
        }
        for (at, header) in plan.headers.iter().enumerate() {
            if let (Some(fixed), Some(to)) = (header.lines, mended.headers[at].lines)
                && to > fixed
            {
                changes.push(Change::Lines { header: HeaderId(at), to });
            }
        }
        for &header in &self.added {
            if !folded.contains(&header) && !is_noise(header, extra(header)) {
                changes.push(Change::Supply { header, rate: round_up(extra(header)) });
            }
        }
        changes
    }
}

fn average_share(supply: &Supply) -> f64 {
    supply.pattern.as_ref().map_or(1.0, crate::plan::Pattern::average_share)
}

fn shortage(plan: &Plan, found: &Balance, network: &Network, budget: &Budget<'_>) -> Result<Option<Vec<Change>>, Halt> {
    let mut lifted = Lifted::of(plan);
    for header in unfed(plan, network) {
        lifted.add(header);
    }
    let is_bare = |&power: &HeaderId| {
        let near = network.at(power);
        found.heat.generates.si() <= 0.0 && near.supplies.is_empty() && near.givers.is_empty()
    };
    if let Some(power) = plan.power().filter(|_| found.heat.draws.si() > 0.0).filter(is_bare) {
        lifted.add(power);
    }
    let mut binding: Vec<Limit> = found.binding.iter().map(|binding| binding.limit).collect();
    let mut last = false;
    for round in 0..ROUNDS {
        let mut more = round == 0 && !lifted.added.is_empty();
        for limit in binding.drain(..) {
            more |= lifted.lift(limit);
        }
        if !more || round + 1 == ROUNDS {
            last = true;
            for at in 0..plan.headers.len() {
                lifted.add(HeaderId(at));
            }
        }
        let mended = balance_with(&lifted.wider, found.heat, budget)?;
        if mended.outcome == Outcome::Met {
            return Ok(Some(lifted.changes(&mended)));
        }
        if last {
            break;
        }
        binding = mended.binding.iter().map(|binding| binding.limit).collect();
    }
    Ok(None)
}

/// Headers that something takes from and nothing gives to.
pub(super) fn unfed(plan: &Plan, network: &Network) -> Vec<HeaderId> {
    let wanted = |header: HeaderId| match &plan.aim {
        Aim::Make(targets) => targets.iter().any(|target| target.header == header && target.rate > 0.0),
        Aim::Unsaid | Aim::Run(_) | Aim::Most(_) => false,
    };
    let is_unfed = |&header: &HeaderId| {
        let near = network.at(header);
        let fed = !near.supplies.is_empty() || !near.givers.is_empty();
        !fed && (!near.takers.is_empty() || !near.demands.is_empty() || wanted(header))
    };
    (0..plan.headers.len()).map(HeaderId).filter(is_unfed).collect()
}

/// The same with an outlet wherever matter is given and there is none: what is let out then holds value back.
fn held_back(plan: &Plan, found: &Balance, network: &Network, budget: &Budget<'_>) -> Result<Option<Held>, Halt> {
    let (Some(value), Outcome::Met) = (found.value, found.outcome) else { return Ok(None) };
    let is_closed = |&header: &HeaderId| {
        let near = network.at(header);
        near.outlet.is_none() && !near.givers.is_empty() && plan.header(header).carries == Carried::Matter
    };
    let closed: Vec<HeaderId> = (0..plan.headers.len()).map(HeaderId).filter(is_closed).collect();
    if closed.is_empty() {
        return Ok(None);
    }
    let mut wider = plan.clone();
    wider.wants_worth = false;
    wider.outlets.extend(closed.iter().map(|&header| Outlet { header, limit: None }));
    let open = balance_with(&wider, found.heat, budget)?;
    let more = open.value.filter(|more| open.outcome == Outcome::Met && more - value > NOISE * more.abs());
    let out = closed.iter().zip(&open.let_out[plan.outlets.len()..]);
    let is_some = |header: HeaderId, rate: f64| rate > NOISE * open.headers[header.0].made;
    let outlets =
        out.filter(|(header, rate)| is_some(**header, **rate)).map(|(header, rate)| (*header, *rate)).collect();
    Ok(more.map(|value| Held { outlets, value }))
}

/// Changes, and the headers on which they leave nothing trapped.
type Freed = (Vec<Change>, Vec<HeaderId>);

/// More machines of those that take a trapped surplus and all run already.
fn surplus(plan: &Plan, found: &Balance, network: &Network, budget: &Budget<'_>) -> Result<Option<Freed>, Halt> {
    // Where every unit of fixed count is itself the aim, more of them are more to be run.
    if matches!(plan.aim, Aim::Most(_)) || (matches!(plan.aim, Aim::Unsaid) && plan.demands.is_empty()) {
        return Ok(None);
    }
    let is_trapped = |(header, flow): (&crate::plan::Header, &crate::balance::HeaderFlow)| {
        flow.trapped > 0.0 && header.carries == Carried::Matter
    };
    if !plan.headers.iter().zip(&found.headers).any(is_trapped) {
        return Ok(None);
    }
    let mut lifted = Lifted::of(plan);
    let mut hopeful = Vec::new();
    for (at, flow) in found.headers.iter().enumerate() {
        let header = HeaderId(at);
        if flow.trapped == 0.0 || plan.header(header).carries == Carried::Power {
            continue;
        }
        let mut any = false;
        for &unit in &network.at(header).takers {
            let most = match plan.units[unit.0].count {
                Count::Fixed(count) | Count::Sized { at_most: Some(count), .. } => f64::from(count),
                Count::Sized { at_most: None, .. } => continue,
            };
            let is_aim = matches!(&plan.aim, Aim::Run(runs) if runs.iter().any(|&(run, _)| run == unit));
            if !is_aim && found.units[unit.0].needed >= most * (1.0 - NOISE) {
                any |= lifted.lift(Limit::Count(unit));
            }
        }
        if any {
            hopeful.push(header);
        }
    }
    if hopeful.is_empty() {
        return Ok(None);
    }
    let mended = balance_with(&lifted.wider, found.heat, budget)?;
    hopeful.retain(|header| mended.headers[header.0].trapped == 0.0);
    let changes = lifted.changes(&mended);
    Ok((!hopeful.is_empty() && !changes.is_empty()).then_some((changes, hopeful)))
}
