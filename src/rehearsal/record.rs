//! What the parts went through, put back into the plan's lists.

use super::MOST_EVENTS;
use super::island::{Island, ONE_MOMENT, Sums};
use super::result::{
    CoolerRecord, DemandRecord, Event, HeaderRecord, Island as IslandRecord, Rehearsal, Settled, StoreRecord,
    SupplyRecord, SwitchRecord, UnitRecord, WarmRecord, What,
};
use super::system::{Drive, Source, System};
use crate::heat::LimitOf;
use crate::plan::{
    CoolerId, DemandId, HotSourceId, OutletId, Plan, StoreId, SupplyId, SwitchId, ThermostatId, TurbineId, UnitId,
    ZoneId,
};

/// A result in the making.
pub struct Records<'p> {
    plan: &'p Plan,
    result: Rehearsal,
}

impl<'p> Records<'p> {
    /// Nothing yet; what is in no part stays as it is at time zero.
    #[must_use]
    pub fn new(plan: &'p Plan, system: &System, counts: &[u32], horizon_s: f64) -> Self {
        let stores = system.tanks.iter().map(|tank| StoreRecord {
            start: tank.level,
            end: tank.level,
            least: tank.level,
            greatest: tank.level,
            ..StoreRecord::default()
        });
        let result = Rehearsal {
            horizon_s,
            reached_s: horizon_s,
            events: Vec::new(),
            event_count: 0,
            simulated: 0,
            modes: 0,
            stores: stores.collect(),
            supplies: vec![SupplyRecord::default(); plan.supplies.len()],
            demands: vec![DemandRecord::default(); plan.demands.len()],
            units: counts.iter().map(|&count| UnitRecord { count, ..UnitRecord::default() }).collect(),
            switches: vec![SwitchRecord::default(); plan.switches.len()],
            headers: vec![HeaderRecord::default(); plan.headers.len()],
            let_out: vec![0.0; plan.outlets.len()],
            warm: None,
            islands: Vec::new(),
        };
        Self { plan, result }
    }

    /// Adds a part that has been rehearsed.
    pub fn add(&mut self, mut island: Island<'_>) {
        island.add_up();
        self.result.reached_s = self.result.reached_s.min(island.reached_s);
        self.result.event_count += island.event_count;
        self.result.simulated += island.simulated;
        self.result.modes += island.rates.solved;
        self.result.events.append(&mut island.events);
        self.stores(&mut island);
        self.switches(&island);
        self.warm(&mut island);
        self.flows(&island);
        let of = |timed: &dyn Fn(&Source) -> Option<usize>| -> Vec<usize> {
            island.part.system.flows.iter().filter_map(|flow| timed(&flow.what)).collect()
        };
        let supply = |what: &Source| if let Source::Draw(SupplyId(at)) = *what { Some(at) } else { None };
        let demand = |what: &Source| if let Source::Serve(DemandId(at)) = *what { Some(at) } else { None };
        self.result.islands.push(IslandRecord {
            stores: island.part.tanks.iter().copied().map(StoreId).collect(),
            switches: island.part.contacts.iter().copied().map(SwitchId).collect(),
            supplies: of(&supply).into_iter().map(SupplyId).collect(),
            demands: of(&demand).into_iter().map(DemandId).collect(),
            settled: island.settled.map(|cycle| Settled {
                from_s: cycle.from_s,
                period_s: cycle.period_s,
                counted: cycle.counted,
                starts: cycle.starts,
                span: cycle.span,
                span_c: cycle.span_c,
            }),
            commensurate: island.commensurate,
            reached_s: island.reached_s,
        });
    }

    fn stores(&mut self, island: &mut Island<'_>) {
        for (at, &store) in island.part.tanks.iter().enumerate() {
            let Sums { filled, drained, empty_s, full_s } = island.tracks[at].sums;
            let (track, tank) = (&mut island.tracks[at], &island.part.system.tanks[at]);
            let end = island.levels[at].at;
            let loses = tank.loses > 0.0 || tank.decays > 0.0;
            let record = &mut self.result.stores[store];
            *record = StoreRecord {
                start: tank.level,
                end,
                least: track.least.0,
                least_at_s: track.least.1,
                greatest: track.greatest.0,
                greatest_at_s: track.greatest.1,
                first_empty_s: track.first_empty_s,
                first_full_s: track.first_full_s,
                empty_s,
                full_s,
                filled,
                drained,
                stood_lost: if loses { (tank.level + filled - drained - end).max(0.0) } else { 0.0 },
                first_past_s: track.first_past_s,
                course: std::mem::take(&mut track.course),
            };
            let header = &mut self.result.headers[self.plan.stores[store].header.0];
            header.filled += filled;
            header.drained += drained;
        }
    }

    fn switches(&mut self, island: &Island<'_>) {
        for (at, &switch) in island.part.contacts.iter().enumerate() {
            let tally = &island.tallies[at];
            self.result.switches[switch] = SwitchRecord {
                starts: tally.starts,
                stops: tally.stops,
                on_s: tally.on_s,
                first_start_s: tally.first_s,
                least_cycle_s: tally.least_cycle_s,
            };
        }
    }

    fn warm(&mut self, island: &mut Island<'_>) {
        let (Some(heat), Some(warm)) = (island.heat.take(), &island.part.system.warm) else { return };
        let block = heat.block;
        for (zone, passed) in block.accounts.passed.iter().enumerate() {
            for (of, at_s) in warm.limits[zone].iter().zip(passed) {
                let Some(at_s) = *at_s else { continue };
                self.result.events.push(Event { at_s, what: What::Past(ZoneId(zone), *of) });
                self.result.event_count += 1;
            }
        }
        self.result.warm = Some(WarmRecord {
            end_c: block.temperatures().to_vec(),
            curves: block.curves().to_vec(),
            hunts: heat.hunts,
            accounts: block.accounts,
            coolers: vec![CoolerRecord::default(); self.plan.coolers.len()],
            generated_j: vec![0.0; self.plan.turbines.len()],
        });
    }

    fn flows(&mut self, island: &Island<'_>) {
        let result = &mut self.result;
        let overflow = |header: usize| island.rates.overflow[header].total;
        for (at, flow) in island.part.system.flows.iter().enumerate() {
            let sum = &island.sums[at];
            // What full stores let go past them leaves by the way out that has no limit.
            for taken in &flow.endless {
                result.supplies[taken.supply].drawn += taken.takes * sum.amount;
                result.headers[taken.header].supplied += taken.takes * sum.amount;
            }
            let surplus = sum.amount + if flow.most == f64::INFINITY { overflow(flow.on[0].0) } else { 0.0 };
            match flow.what {
                Source::Draw(SupplyId(supply)) => {
                    let record = &mut result.supplies[supply];
                    record.offered = sum.upper;
                    record.drawn += sum.amount;
                    if flow.drive == Drive::Pushed {
                        record.lost = (sum.upper - sum.amount).max(0.0);
                        record.first_lost_s = sum.first_less_s;
                    }
                    record.on_s = sum.open_s;
                    result.headers[self.plan.supplies[supply].header.0].supplied += sum.amount;
                }
                Source::Serve(DemandId(demand)) => {
                    let record = &mut result.demands[demand];
                    record.wanted = sum.upper;
                    record.served = sum.amount;
                    record.first_short_s = sum.first_cut_s;
                    record.short_s = sum.cut_s;
                    record.cuts = island.rates.cuts[at];
                    result.headers[self.plan.demands[demand].header.0].served += sum.amount;
                }
                Source::LetOut(OutletId(outlet)) => {
                    result.let_out[outlet] = surplus;
                    result.headers[self.plan.outlets[outlet].header.0].let_out += surplus;
                }
                Source::Spill(header) => result.headers[header.0].let_out += surplus,
                Source::Idle(_) => {
                    if let Some(power) = self.plan.power() {
                        result.headers[power.0].taken += sum.amount;
                    }
                }
                Source::Cool(CoolerId(cooler)) => {
                    let drawn = sum.amount * self.plan.coolers[cooler].draws.si();
                    if let Some(warm) = &mut result.warm {
                        let (first_cut_s, cut_s) = (sum.first_cut_s, sum.cut_s);
                        warm.coolers[cooler] = CoolerRecord { drawn_j: drawn, first_cut_s, cut_s };
                    }
                    if let Some(power) = self.plan.power() {
                        result.headers[power.0].taken += drawn;
                    }
                }
                Source::Generate(TurbineId(turbine)) => {
                    let given = sum.amount * self.plan.turbines[turbine].generates.si();
                    if let Some(warm) = &mut result.warm {
                        warm.generated_j[turbine] = given;
                    }
                    if let Some(power) = self.plan.power() {
                        result.headers[power.0].made += given;
                    }
                }
                Source::Run(UnitId(unit)) => {
                    let record = &mut result.units[unit];
                    record.duty_s = sum.amount;
                    record.running_s = sum.lasted_s;
                    record.starts = island.rates.starts[at];
                    if flow.drive == Drive::Asked {
                        record.first_held_s = sum.first_cut_s;
                        record.held_s = (sum.upper - sum.amount).max(0.0);
                    }
                    let machine = &self.plan.units[unit];
                    for taken in &machine.takes {
                        result.headers[taken.header.0].taken += taken.rate * sum.amount;
                    }
                    for given in &machine.gives {
                        result.headers[given.header.0].made += given.rate * sum.amount;
                    }
                    if let Some(power) = self.plan.power() {
                        let header = &mut result.headers[power.0];
                        header.made += machine.generates.si() * sum.amount;
                        // Machines that run do not idle: the idle draw is booked for all of them.
                        header.taken += (machine.draws.si() - machine.idle_draw.si()) * sum.amount;
                    }
                }
            }
        }
    }

    /// The result, with all events in order.
    #[must_use]
    pub fn finish(mut self) -> Rehearsal {
        order(&mut self.result.events);
        self.result.events.truncate(MOST_EVENTS);
        self.result
    }
}

/// In order of time; those of one moment of different parts in the order of their kind and of the plan.
fn order(events: &mut [Event]) {
    events.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    let mut from = 0;
    while from < events.len() {
        let last = events[from].at_s * (1.0 + ONE_MOMENT);
        let to = from + events[from..].iter().take_while(|event| event.at_s <= last).count();
        events[from..to].sort_by_key(|event| rank(event.what));
        from = to;
    }
}

fn rank(what: What) -> (u8, usize) {
    match what {
        What::Supply(SupplyId(at), _) => (0, at),
        What::Demand(DemandId(at), _) => (1, at),
        What::Empty(StoreId(at)) | What::Full(StoreId(at)) => (2, at),
        What::Start(SwitchId(at)) | What::Stop(SwitchId(at)) => (3, at),
        What::HotSource(HotSourceId(at), _) => (4, at),
        What::CutIn(ThermostatId(at)) | What::CutOut(ThermostatId(at)) => (5, at),
        What::Past(ZoneId(at), LimitOf::Zone | LimitOf::ZoneLeast) => (6, at),
        What::Past(_, LimitOf::Unit(UnitId(at))) => (7, at),
    }
}
