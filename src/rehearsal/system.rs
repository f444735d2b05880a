//! The plant as the time engine sees it: what flows, what stores, what switches, and which of them act on each other.

use super::Fleet;
use super::endless;
use super::warm::Warm;
use crate::course::Course;
use crate::plan::{
    Carried, CoolerId, Demand, DemandId, Gated, HeaderId, HotSourceId, LevelLimits, OutletId, Plan, Runs, StandingLoss,
    StoreId, Supply, SupplyId, SwitchId, ThermostatId, TurbineId, UnitId, Watched, When,
};

/// Something that flows: one column of the balance of a moment.
#[derive(Clone, Debug)]
pub struct Flow {
    /// What it is.
    pub what: Source,
    /// First rank first.
    pub rank: u32,
    /// How it decides how much.
    pub drive: Drive,
    /// What one of it gives to each header (negative: takes), per machine, kg/s or W. Sorted by header, each once.
    pub on: Vec<(usize, f64)>,
    /// The most of it, its gate open and its pattern at its full rate; infinite for a tap without a rate.
    pub most: f64,
    /// The pattern that scales it, by index into [`System::courses`].
    pub course: Option<usize>,
    /// The reading of a temperature that scales it, by index into [`Warm::dials`].
    pub dial: Option<usize>,
    /// Switches that must all be on.
    pub gates: Vec<usize>,
    /// Thermostats that must all be on.
    pub thermostats: Vec<usize>,
    /// What it takes where it can have whatever it asks for; it is not among [`Self::on`].
    pub endless: Vec<Endless>,
}

/// What a flow takes of a supply that gives whatever is asked of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Endless {
    /// The plan's supply.
    pub supply: usize,
    /// The plan's header that it is on.
    pub header: usize,
    /// The supply's rank.
    pub rank: u32,
    /// What one of the flow takes, kg/s or W.
    pub takes: f64,
}

/// What a [`Flow`] stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Machines of a unit, in full-duty machines.
    Run(UnitId),
    /// The power that machines draw standing still.
    Idle(UnitId),
    /// What a supply gives.
    Draw(SupplyId),
    /// What a demand gets.
    Serve(DemandId),
    /// What leaves by an outlet.
    LetOut(OutletId),
    /// Power that is spilled on a header.
    Spill(HeaderId),
    /// Power that coolers draw, in coolers at full running.
    Cool(CoolerId),
    /// Power that turbines give, in turbines at their rating.
    Generate(TurbineId),
}

/// What decides how much of a flow there is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drive {
    /// As much as can be: demands, fed units, idle draw.
    Asked,
    /// Pushed in: what finds no place is lost.
    Pushed,
    /// Only what is wanted.
    Tapped,
    /// What is left over.
    Surplus,
}

/// A store.
#[derive(Clone, Copy, Debug)]
pub struct Tank {
    /// On which header.
    pub header: usize,
    /// kg or J.
    pub capacity: f64,
    /// At time zero.
    pub level: f64,
    /// Standing loss: a rate, kg/s or W.
    pub loses: f64,
    /// Standing loss: a share of its contents each second.
    pub decays: f64,
    /// Rank among the supplies of its header.
    pub rank: u32,
    /// Low-low, low, high, high-high.
    pub limits: [Option<f64>; 4],
}

/// A switch with two levels.
#[derive(Clone, Copy, Debug)]
pub struct Contact {
    /// The store it watches.
    pub store: usize,
    /// Starts there.
    pub start_at: f64,
    /// Stops there.
    pub stop_at: f64,
    /// At time zero.
    pub on: bool,
}

impl Contact {
    /// Whether a level makes it act, given that it is on or off: touching is enough.
    #[must_use]
    pub fn acts(&self, on: bool, level: f64) -> bool {
        let (bound, upward) = self.bound(on);
        if upward { level >= bound } else { level <= bound }
    }

    /// The level at which it acts next, and whether the level must rise to it.
    #[must_use]
    pub fn bound(&self, on: bool) -> (f64, bool) {
        let draining = self.start_at > self.stop_at;
        if on { (self.stop_at, !draining) } else { (self.start_at, draining) }
    }
}

/// A header.
#[derive(Clone, Debug, Default)]
pub struct Main {
    /// Its stores.
    pub stores: Vec<usize>,
    /// What its fixed lines carry at most.
    pub lines: Option<f64>,
    /// Whether a tap without a rate is on it.
    pub endless: bool,
}

/// The whole plant.
#[derive(Clone, Debug)]
pub struct System {
    /// What flows.
    pub flows: Vec<Flow>,
    /// Stores in the plan's order.
    pub tanks: Vec<Tank>,
    /// Switches in the plan's order.
    pub contacts: Vec<Contact>,
    /// Headers in the plan's order.
    pub mains: Vec<Main>,
    /// Patterns: of supplies, of demands, then of hot sources, in the plan's order; and whose they are.
    pub courses: Vec<(Timed, Course)>,
    /// Temperatures, where the plan has zones.
    pub warm: Option<Warm>,
}

/// Whose pattern it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Timed {
    /// A supply's.
    Supply(SupplyId),
    /// A demand's.
    Demand(DemandId),
    /// A hot source's.
    HotSource(HotSourceId),
}

impl System {
    /// The plant of a plan, with so many machines of each unit; with its zones, where it says what runs in them.
    #[must_use]
    pub fn new(plan: &Plan, fleet: Fleet<'_>) -> Self {
        let mut system = Self {
            flows: Vec::new(),
            tanks: plan.stores.iter().map(tank).collect(),
            contacts: plan
                .switches
                .iter()
                .map(|switch| {
                    let Watched::Store(StoreId(store)) = switch.watch;
                    Contact { store, start_at: switch.start_at, stop_at: switch.stop_at, on: switch.on }
                })
                .collect(),
            mains: plan
                .headers
                .iter()
                .map(|header| Main {
                    lines: header.line.zip(header.lines).map(|(line, lines)| line * f64::from(lines)),
                    ..Main::default()
                })
                .collect(),
            courses: Vec::new(),
            warm: None,
        };
        for (at, tank) in system.tanks.iter().enumerate() {
            system.mains[tank.header].stores.push(at);
        }
        system.supplies(plan);
        system.demands(plan);
        system.units(plan, fleet.units);
        system.ways_out(plan);
        if let Some(running) = fleet.warm.filter(|_| !plan.zones.is_empty()) {
            system.warm = Some(Warm::new(plan, running, fleet.curves, &mut system));
        }
        endless::take_off(&mut system);
        system
    }

    fn supplies(&mut self, plan: &Plan) {
        for (at, supply) in plan.supplies.iter().enumerate() {
            let Supply { header, rate, rank, when, ref pattern, .. } = *supply;
            let course = pattern.as_ref().map(|pattern| self.time(Timed::Supply(SupplyId(at)), pattern));
            if rate.is_none() {
                self.mains[header.0].endless = true;
            }
            self.flows.push(Flow {
                what: Source::Draw(SupplyId(at)),
                rank,
                // A spring without a rate could only push without end: it gives what is wanted.
                drive: if when == When::Always && rate.is_some() { Drive::Pushed } else { Drive::Tapped },
                on: vec![(header.0, 1.0)],
                most: rate.unwrap_or(f64::INFINITY),
                course,
                dial: None,
                gates: gates(plan, Gated::Supply(SupplyId(at))),
                thermostats: thermostats(plan, Gated::Supply(SupplyId(at))),
                endless: Vec::new(),
            });
        }
    }

    fn demands(&mut self, plan: &Plan) {
        for (at, demand) in plan.demands.iter().enumerate() {
            let Demand { header, rate, rank, ref pattern, .. } = *demand;
            let course = pattern.as_ref().map(|pattern| self.time(Timed::Demand(DemandId(at)), pattern));
            self.flows.push(Flow {
                what: Source::Serve(DemandId(at)),
                rank,
                drive: Drive::Asked,
                on: vec![(header.0, -1.0)],
                most: rate,
                course,
                dial: None,
                gates: gates(plan, Gated::Demand(DemandId(at))),
                thermostats: thermostats(plan, Gated::Demand(DemandId(at))),
                endless: Vec::new(),
            });
        }
    }

    fn units(&mut self, plan: &Plan, counts: &[u32]) {
        let power = plan.headers.iter().position(|header| header.carries == Carried::Power);
        for (at, (unit, &count)) in plan.units.iter().zip(counts).enumerate() {
            if count == 0 {
                continue;
            }
            let mut on: Vec<(usize, f64)> = Vec::new();
            on.extend(unit.takes.iter().map(|flow| (flow.header.0, -flow.rate)));
            on.extend(unit.gives.iter().map(|flow| (flow.header.0, flow.rate)));
            if let Some(power) = power {
                let idle = unit.idle_draw.si();
                on.push((power, unit.generates.si() - unit.draws.si() + idle));
                if idle > 0.0 {
                    self.flows.push(Flow {
                        what: Source::Idle(UnitId(at)),
                        rank: 0,
                        drive: Drive::Asked,
                        on: vec![(power, -1.0)],
                        most: idle * f64::from(count),
                        course: None,
                        dial: None,
                        gates: Vec::new(),
                        thermostats: Vec::new(),
                        endless: Vec::new(),
                    });
                }
            }
            on.sort_by_key(|&(header, _)| header);
            on.dedup_by(|next, kept| {
                let same = next.0 == kept.0;
                if same {
                    kept.1 += next.1;
                }
                same
            });
            on.retain(|&(_, rate)| rate != 0.0);
            self.flows.push(Flow {
                what: Source::Run(UnitId(at)),
                rank: unit.rank,
                drive: if unit.when == Runs::Fed { Drive::Asked } else { Drive::Tapped },
                on,
                most: f64::from(count),
                course: None,
                dial: None,
                gates: gates(plan, Gated::Unit(UnitId(at))),
                thermostats: thermostats(plan, Gated::Unit(UnitId(at))),
                endless: Vec::new(),
            });
        }
    }

    fn ways_out(&mut self, plan: &Plan) {
        let surplus = |what, header: usize, most| Flow {
            what,
            rank: 1,
            drive: Drive::Surplus,
            on: vec![(header, -1.0)],
            most,
            course: None,
            dial: None,
            gates: Vec::new(),
            thermostats: Vec::new(),
            endless: Vec::new(),
        };
        for (at, outlet) in plan.outlets.iter().enumerate() {
            let most = outlet.limit.unwrap_or(f64::INFINITY);
            self.flows.push(surplus(Source::LetOut(OutletId(at)), outlet.header.0, most));
        }
        for (at, header) in plan.headers.iter().enumerate() {
            let has_outlet = plan.outlets.iter().any(|outlet| outlet.header.0 == at);
            if header.carries == Carried::Power && !has_outlet {
                self.flows.push(surplus(Source::Spill(HeaderId(at)), at, f64::INFINITY));
            }
        }
    }

    /// Adds a pattern.
    pub(super) fn time(&mut self, whose: Timed, pattern: &crate::plan::Pattern) -> usize {
        self.courses.push((whose, Course::new(pattern)));
        self.courses.len() - 1
    }
}

fn tank(store: &crate::plan::Store) -> Tank {
    let (loses, decays) = match store.loses {
        StandingLoss::None => (0.0, 0.0),
        StandingLoss::Rate(rate) => (rate, 0.0),
        StandingLoss::Share(share) => (0.0, share),
    };
    let LevelLimits { low_low, low, high, high_high } = store.limits;
    let limits = [low_low, low, high, high_high];
    Tank {
        header: store.header.0,
        capacity: store.capacity,
        level: store.level,
        loses,
        decays,
        rank: store.rank,
        limits,
    }
}

/// The switches that gate something.
pub(super) fn gates(plan: &Plan, target: Gated) -> Vec<usize> {
    let runs = plan.switches.iter().enumerate().filter(|(_, switch)| switch.runs.contains(&target));
    runs.map(|(at, _)| SwitchId(at).0).collect()
}

/// The thermostats that gate something.
pub(super) fn thermostats(plan: &Plan, target: Gated) -> Vec<usize> {
    let runs = plan.thermostats.iter().enumerate().filter(|(_, thermostat)| thermostat.runs.contains(&target));
    runs.map(|(at, _)| ThermostatId(at).0).collect()
}
