//! What joins temperatures to what flows: machines that run shed heat; coolers and turbines run by temperature and draw or
//! give power; thermostats gate machines, and switches gate coolers, turbines and hot sources.
//!
//! Power that follows a temperature is an exponential, and levels are to stay straight lines between events. So it is read
//! like a dial with [`STEPS`] marks: the mark nearest to it is in force until it is further from it than [`LEAVES`] marks, and
//! that moment is an event like any other, solved for and not stepped to (a quantised state; E. Kofman and S. Junco,
//! *Quantized-state systems: a DEVS approach for continuous system simulation*, Transactions of SCS 18(3), 2001; from memory).
//! Only power is read so: temperatures and heat are exact, and so is the energy in the accounts of heat
//! ([`crate::heat::FlowAccount::generated_j`]).
//!
//! What is booked of such power, on its header and into stores, is exact to within an error whose bound follows from the dial. The
//! reading is never further from its mark than [`LEAVES`] marks, so over t seconds
//!
//! |booked − ∫ P dt| ≤ [`LEAVES`] / [`STEPS`] · P₁ · t = P₁ · t / 320,
//!
//! P₁ being full power (of all machines of its sort together) and t the time for which any of it runs: 0.31 % of full power at any time, not
//! of what is booked. A reading that goes one way comes to each mark 3/8 of a mark before it and leaves it 5/8 after it, so on the whole it is
//! booked as 1/8 of a mark more where it falls and less where it rises: 0.06 % of full power, which cancels where it comes back. The bound
//! does not hold while zones are left alone because what runs in them hunts ([`super::result::WarmRecord::hunts`] is how often).
//! To book the integral itself, levels would have to leave their straight lines at each mark, across thresholds of switches
//! and bounds of the store that were solved for on those lines.

use super::system::{Drive, Flow, Source, System, Timed, gates, thermostats};
use crate::heat::network::Network;
use crate::heat::{LimitOf, Running, assemble};
use crate::plan::{CoolerId, Gated, HotSourceId, Plan, TurbineId};

/// Marks of a dial from nothing to full power.
pub const STEPS: usize = 200;
/// How many marks a reading is off when the next mark is taken: more than half a mark, so that it does not come back at once.
pub const LEAVES: f64 = 0.625;

/// Zones, and what of the system acts on them.
#[derive(Clone, Debug)]
pub struct Warm {
    /// Zones, walls and flows of heat.
    pub network: Network,
    /// By zone: whose each of its limits is.
    pub limits: Vec<Vec<LimitOf>>,
    /// Machines: the flow, and the flows of heat that run as it does.
    pub machines: Vec<(usize, Vec<usize>)>,
    /// Coolers, turbines and hot sources.
    pub driven: Vec<Driven>,
    /// Power that follows temperatures.
    pub dials: Vec<Dial>,
    /// Whether temperatures over time are wanted.
    pub curves: bool,
}

/// A flow of heat that patterns and switches drive.
#[derive(Clone, Debug)]
pub struct Driven {
    /// The flow of heat.
    pub heat: usize,
    /// How much of it runs at most, in machines.
    pub count: f64,
    /// The pattern that scales it.
    pub course: Option<usize>,
    /// Switches on stores that must all be on.
    pub gates: Vec<usize>,
    /// The power it needs: where that is cut, it runs less.
    pub powered_by: Option<usize>,
}

/// Power that follows a temperature.
#[derive(Clone, Copy, Debug)]
pub struct Dial {
    /// Whose: an index into [`Warm::driven`].
    pub driven: usize,
    /// The flow of power.
    pub flow: usize,
}

impl Warm {
    /// The zones of a plan; adds the flows of power and the patterns of heat to the system.
    #[must_use]
    pub fn new(plan: &Plan, running: Running<'_>, curves: bool, system: &mut System) -> Self {
        let assembly = assemble(plan, running);
        let mut warm = Self {
            network: assembly.network,
            limits: assembly.limits,
            machines: Vec::new(),
            driven: Vec::new(),
            dials: Vec::new(),
            curves,
        };
        for (at, flow) in system.flows.iter().enumerate() {
            if let Source::Run(unit) = flow.what {
                let heats: Vec<usize> = assembly.units[unit.0].iter().flatten().copied().collect();
                if !heats.is_empty() {
                    warm.machines.push((at, heats));
                }
            }
        }
        // What no machine runs sheds nothing.
        for heat in assembly.units.iter().flatten().flatten() {
            warm.network.flows[*heat].running = 0.0;
        }
        let power = plan.power().map(|header| header.0);
        for (at, cooler) in plan.coolers.iter().enumerate() {
            let target = Gated::Cooler(CoolerId(at));
            let heat = assembly.coolers[at];
            let count = warm.network.flows[heat].running;
            let draws = cooler.draws.si();
            let flow = power.filter(|_| draws > 0.0 && count > 0.0).map(|power| {
                let on = vec![(power, -draws)];
                let dial = Some(warm.dials.len());
                warm.dials.push(Dial { driven: warm.driven.len(), flow: system.flows.len() });
                system.flows.push(follows(plan, Source::Cool(CoolerId(at)), Drive::Asked, on, count, dial, target));
                system.flows.len() - 1
            });
            warm.driven.push(Driven { heat, count, course: None, gates: gates(plan, target), powered_by: flow });
        }
        for (at, turbine) in plan.turbines.iter().enumerate() {
            let target = Gated::Turbine(TurbineId(at));
            let heat = assembly.turbines[at];
            let count = warm.network.flows[heat].running;
            let generates = turbine.generates.si();
            if let Some(power) = power.filter(|_| generates > 0.0 && count > 0.0) {
                let on = vec![(power, generates)];
                let dial = Some(warm.dials.len());
                warm.dials.push(Dial { driven: warm.driven.len(), flow: system.flows.len() });
                let what = Source::Generate(TurbineId(at));
                system.flows.push(follows(plan, what, Drive::Pushed, on, count, dial, target));
            }
            warm.driven.push(Driven { heat, count, course: None, gates: gates(plan, target), powered_by: None });
        }
        for (at, source) in plan.hot_sources.iter().enumerate() {
            let heat = assembly.hot_sources[at];
            let course = source.pattern.as_ref().map(|pattern| system.time(Timed::HotSource(HotSourceId(at)), pattern));
            let gates = gates(plan, Gated::HotSource(HotSourceId(at)));
            warm.driven.push(Driven { heat, count: 1.0, course, gates, powered_by: None });
        }
        warm
    }

    /// The flows of the system that zones act on or that act on zones.
    pub fn linked<'w>(&'w self, system: &'w System) -> impl Iterator<Item = &'w Flow> {
        let machines = self.machines.iter().map(|(flow, _)| &system.flows[*flow]);
        let gated = system.flows.iter().filter(|flow| flow.dial.is_some() || !flow.thermostats.is_empty());
        machines.chain(gated)
    }
}

fn follows(
    plan: &Plan,
    what: Source,
    drive: Drive,
    on: Vec<(usize, f64)>,
    most: f64,
    dial: Option<usize>,
    target: Gated,
) -> Flow {
    Flow {
        what,
        rank: 1,
        drive,
        on,
        most,
        course: None,
        dial,
        gates: gates(plan, target),
        thermostats: thermostats(plan, target),
        endless: Vec::new(),
    }
}
