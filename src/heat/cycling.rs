//! What switches with a deadband make of zones in the long run, where no pattern drives them: they come to rest within the deadband,
//! or go through a cycle that repeats for good.
//!
//! Zones that act on each other are one part of a network, and each part has its own cycle. From one start of a switch to the same start
//! again temperatures x go to temperatures F(x); F(x) = x is the cycle, found by Newton's method from what the zones come to of
//! themselves, so that a zone that warms slowly is not waited for.

use nalgebra::{DMatrix, DVector};

use super::accounts::Accounts;
use super::block::{Attention, HeatBlock, HeatEvent, Phase};
use super::network::{HeatFlow, Network, Part, Side, Thermostat};
use super::rehearse::Pulsed;
use super::steady::AtRest;
use crate::budget::{Budget, Halt};

/// Acts of switches before a cycle is looked for, by when what a plan begins with has mostly died away.
const FIRST_ACTS: u64 = 8;
/// Events after which a part counts as settling in no cycle.
const MOST_EVENTS: u64 = 2_000;
/// Tries of Newton's method, and rounds of each.
const TRIES: u32 = 6;
const ROUNDS: u32 = 12;
/// The most acts of switches in one cycle.
const MOST_ACTS: u64 = 64;
/// A cycle is found when it changes no temperature by more, K.
const FOUND_K: f64 = 1e-9;
/// How far a temperature is moved to see what comes of it, K.
const MOVED_K: f64 = 1e-3;
/// So many events at one moment are chatter.
const MOST_AT_ONCE: u32 = 100;
/// Longer than any plant takes, s.
const LONG_S: f64 = 1e18;

/// What zones do in the long run where switches act on them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cycling {
    /// By zone: the cycle it is in.
    pub zones: Vec<Option<ZoneCycle>>,
    /// By thermostat; `None` where its part of the network was not seen to settle, or a pattern drives it.
    pub thermostats: Vec<Option<ThermostatCycle>>,
    /// Thermostats whose part of the network was not seen to settle.
    pub unsettled: Vec<usize>,
    /// By flow of a part that is in a cycle: its means.
    pub flows: Vec<Option<MeanFlow>>,
}

/// How far the temperature of a zone goes in a cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneCycle {
    /// °C.
    pub least_c: f64,
    /// °C.
    pub greatest_c: f64,
    /// How long the cycle takes, s.
    pub period_s: f64,
}

/// What a switch does in the long run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThermostatCycle {
    /// The share of the time that it is on.
    pub on_share: f64,
    /// How often it starts in one cycle.
    pub starts: u64,
    /// How long the cycle takes, s; `None` where the zones rest.
    pub period_s: Option<f64>,
}

/// The mean of a flow over a cycle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeanFlow {
    /// W into the zone of each of its parts.
    pub parts_w: Vec<f64>,
    /// W generated.
    pub generated_w: f64,
    /// By how much its temperature is above the one it is rated at, times how much of it runs, K.
    pub above_rating_k: f64,
}

impl Cycling {
    /// Whether any zone is in a cycle.
    #[must_use]
    pub fn is_any(&self) -> bool {
        self.zones.iter().any(Option::is_some)
    }

    /// The mean of a flow that takes part in a cycle.
    #[must_use]
    pub fn flow(&self, flow: usize) -> Option<&MeanFlow> {
        self.flows.get(flow)?.as_ref()
    }

    /// The cycle of a zone.
    #[must_use]
    pub fn zone(&self, zone: usize) -> Option<ZoneCycle> {
        self.zones.get(zone).copied().flatten()
    }
}

/// Finds what zones do in the long run where switches act on them and no pattern does. `rest` is where they would rest if each switch
/// held its zone at the middle of its deadband; temperatures and what runs become what is true: the means of cycles, and rests.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn cycling(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    rest: &mut AtRest,
    budget: &Budget<'_>,
) -> Result<Cycling, Halt> {
    let mut found = Cycling {
        zones: vec![None; network.zones.len()],
        thermostats: vec![None; network.thermostats.len()],
        flows: vec![None; network.flows.len()],
        unsettled: Vec::new(),
    };
    for part in parts(network) {
        if part.thermostats.is_empty() || pulsed.iter().any(|pulsed| part.flows.contains(&pulsed.flow)) {
            continue;
        }
        let own = part.network(network);
        match long_run(&own, budget)? {
            LongRun::Rests { at_c, running, on } => {
                part.zones.iter().zip(at_c).for_each(|(zone, t)| rest.temperatures_c[*zone] = t);
                part.flows.iter().zip(running).for_each(|(flow, runs)| rest.running[*flow] = runs);
                for (at, on) in part.thermostats.iter().zip(on) {
                    let on_share = f64::from(u8::from(on));
                    found.thermostats[*at] = Some(ThermostatCycle { on_share, starts: 0, period_s: None });
                }
            }
            LongRun::Cycles(round) => part.keep(&round, rest, &mut found),
            LongRun::Unsettled => found.unsettled.extend(part.thermostats),
        }
    }
    Ok(found)
}

/// Zones that act on each other, with all that acts on them; indices into the network.
struct Parted {
    zones: Vec<usize>,
    walls: Vec<usize>,
    flows: Vec<usize>,
    thermostats: Vec<usize>,
}

/// The zones that a flow touches.
fn touched(flow: &HeatFlow) -> impl Iterator<Item = usize> {
    let parts = flow.parts.iter().flat_map(|part| [Some(part.into), part.per_kelvin.map(|(zone, _)| zone)]);
    parts.chain([flow.relay.map(|relay| relay.zone), flow.rating.map(|rating| rating.zone)]).flatten()
}

fn parts(network: &Network) -> Vec<Parted> {
    let mut of: Vec<usize> = (0..network.zones.len()).collect();
    let mut join = |one: usize, other: usize| {
        let (keep, drop) = (of[one].min(of[other]), of[one].max(of[other]));
        of.iter_mut().filter(|part| **part == drop).for_each(|part| *part = keep);
    };
    for wall in &network.walls {
        if let Side::Zone(other) = wall.to {
            join(wall.zone, other);
        }
    }
    let first = |flow: usize| touched(&network.flows[flow]).next();
    for (at, flow) in network.flows.iter().enumerate() {
        let Some(one) = first(at) else { continue };
        touched(flow).for_each(|other| join(one, other));
    }
    for thermostat in &network.thermostats {
        thermostat.runs.iter().filter_map(|flow| first(*flow)).for_each(|zone| join(thermostat.zone, zone));
    }
    let mut parts: Vec<Parted> = Vec::new();
    for root in (0..of.len()).filter(|zone| of[*zone] == *zone) {
        let is_in = |zone: usize| of[zone] == root;
        let thermostats = network.thermostats.iter().enumerate();
        parts.push(Parted {
            zones: (0..of.len()).filter(|zone| is_in(*zone)).collect(),
            walls: (0..network.walls.len()).filter(|wall| is_in(network.walls[*wall].zone)).collect(),
            flows: (0..network.flows.len()).filter(|flow| first(*flow).is_some_and(is_in)).collect(),
            // One that runs no heat keeps nothing in a cycle.
            thermostats: thermostats
                .filter(|(_, of)| is_in(of.zone) && !of.runs.is_empty())
                .map(|(at, _)| at)
                .collect(),
        });
    }
    parts
}

impl Parted {
    /// The part by itself, and after its flows one for each zone that brings and takes the zone's temperature in W: it changes
    /// nothing, and what it has brought is the integral of the temperature.
    fn network(&self, whole: &Network) -> Network {
        let new = |zone: usize| self.zones.iter().position(|of| *of == zone).unwrap_or(0);
        let mut own = Network::default();
        for zone in &self.zones {
            let mut zone = whole.zones[*zone].clone();
            zone.limits.clear();
            own.zones.push(zone);
        }
        for wall in &self.walls {
            let mut wall = whole.walls[*wall];
            wall.zone = new(wall.zone);
            if let Side::Zone(other) = wall.to {
                wall.to = Side::Zone(new(other));
            }
            own.walls.push(wall);
        }
        for flow in &self.flows {
            let mut flow = whole.flows[*flow].clone();
            for part in &mut flow.parts {
                part.into = new(part.into);
                part.per_kelvin = part.per_kelvin.map(|(zone, slope)| (new(zone), slope));
            }
            flow.relay.iter_mut().for_each(|relay| relay.zone = new(relay.zone));
            flow.rating.iter_mut().for_each(|rating| rating.zone = new(rating.zone));
            own.flows.push(flow);
        }
        for zone in 0..self.zones.len() {
            let part = |slope| Part { into: zone, constant: 0.0, per_kelvin: Some((zone, slope)) };
            let parts = [part(1.0), part(-1.0)].into_iter().collect();
            own.flows.push(HeatFlow { parts, running: 1.0, ..HeatFlow::default() });
        }
        for thermostat in &self.thermostats {
            let of = &whole.thermostats[*thermostat];
            let runs = of.runs.iter().filter_map(|run| self.flows.iter().position(|flow| flow == run));
            own.thermostats.push(Thermostat { zone: new(of.zone), runs: runs.collect(), ..of.clone() });
        }
        own
    }

    /// Keeps the means of a cycle.
    fn keep(&self, round: &Round, rest: &mut AtRest, found: &mut Cycling) {
        let Round { accounts, period_s } = round;
        let period_s = *period_s;
        for (at, zone) in self.zones.iter().enumerate() {
            rest.temperatures_c[*zone] = accounts.flows[self.flows.len() + at].heat_j[0] / period_s;
            let (least_c, greatest_c) = (accounts.least[at].at_c, accounts.greatest[at].at_c);
            found.zones[*zone] = Some(ZoneCycle { least_c, greatest_c, period_s });
        }
        for (flow, account) in self.flows.iter().zip(&accounts.flows) {
            rest.running[*flow] = account.ran_s / period_s;
            let parts_w = account.heat_j.iter().map(|heat| heat / period_s).collect();
            found.flows[*flow] = Some(MeanFlow {
                parts_w,
                generated_w: account.generated_j / period_s,
                above_rating_k: account.above_rating_j / period_s,
            });
        }
        for (thermostat, account) in self.thermostats.iter().zip(&accounts.thermostats) {
            let (on_share, starts) = (account.on_s / period_s, account.starts);
            found.thermostats[*thermostat] = Some(ThermostatCycle { on_share, starts, period_s: Some(period_s) });
        }
    }
}

/// What one part does.
enum LongRun {
    /// It comes to rest.
    Rests { at_c: Vec<f64>, running: Vec<f64>, on: Vec<bool> },
    /// It is in a cycle.
    Cycles(Box<Round>),
    /// Neither within reach.
    Unsettled,
}

/// What flows in one cycle.
struct Round {
    accounts: Accounts,
    period_s: f64,
}

/// The state of a part at an act of a switch.
#[derive(Clone)]
struct Act {
    at_c: DVector<f64>,
    on: Vec<bool>,
    mode: Vec<u64>,
    phases: Vec<Phase>,
}

fn long_run(network: &Network, budget: &Budget<'_>) -> Result<LongRun, Halt> {
    let mut block = HeatBlock::new(network).attending(Attention::End);
    let mut way = Way { block: &mut block, acts: 0, events: 0, at_once: 0, budget };
    let (mut seen, mut tries): (Option<(u64, Act)>, u32) = (None, 0);
    let mut renew_at = FIRST_ACTS;
    while way.events < MOST_EVENTS {
        match way.until_next_act()? {
            Went::Acted => {}
            Went::Rested => {
                way.block.advance(LONG_S);
                let (at_c, on) = (way.block.temperatures().to_vec(), way.block.switches().to_vec());
                return Ok(LongRun::Rests { at_c, running: way.block.rates(), on });
            }
            Went::Lost => return Ok(LongRun::Unsettled),
        }
        let same = seen.as_ref().is_some_and(|(_, then)| is_same_mode(then, way.block));
        if let Some((then, _)) = seen.as_ref().filter(|_| same && tries < TRIES) {
            let (acts, now) = (way.acts - then, state(way.block));
            seen = None;
            tries += 1;
            if acts <= MOST_ACTS
                && let Some(round) = newton(network, &now, acts, budget)?
            {
                return Ok(LongRun::Cycles(Box::new(round)));
            }
        }
        // What is compared with is renewed at doubling distances, which finds a cycle of any length.
        if way.acts >= renew_at {
            seen = Some((way.acts, state(way.block)));
            renew_at = 2 * way.acts;
        }
    }
    Ok(LongRun::Unsettled)
}

fn state(block: &HeatBlock<'_>) -> Act {
    Act {
        at_c: DVector::from_column_slice(block.temperatures()),
        on: block.switches().to_vec(),
        mode: block.mode().to_vec(),
        phases: block.phases().to_vec(),
    }
}

/// Whether all stands as it stood but temperatures. Amid a change of phase nothing does.
fn is_same_mode(then: &Act, block: &HeatBlock<'_>) -> bool {
    let settled = |phases: &[Phase]| phases.iter().all(|phase| matches!(phase, Phase::Settled(_)));
    then.mode[..] == block.mode()[..] && settled(&then.phases) && settled(block.phases())
}

/// The cycle of so many acts that is near a state.
fn newton(network: &Network, from: &Act, acts: u64, budget: &Budget<'_>) -> Result<Option<Round>, Halt> {
    let mut network = network.clone();
    network.thermostats.iter_mut().zip(&from.on).for_each(|(thermostat, on)| thermostat.on = *on);
    let found = {
        let mut block = HeatBlock::new(&network).attending(Attention::End);
        fixed_point(&mut block, from, acts, budget)?
    };
    let Some(begin) = found else { return Ok(None) };
    network.zones.iter_mut().zip(begin.iter()).for_each(|(zone, t)| zone.start_c = *t);
    let mut block = HeatBlock::new(&network).untraced();
    let came = round(&mut block, from, acts, budget)?.is_some();
    Ok(came.then(|| Round { period_s: block.now(), accounts: block.accounts }))
}

/// Where a cycle of so many acts begins.
fn fixed_point(
    block: &mut HeatBlock<'_>,
    from: &Act,
    acts: u64,
    budget: &Budget<'_>,
) -> Result<Option<DVector<f64>>, Halt> {
    let mut begin = from.at_c.clone();
    let mut trial = |begin: &DVector<f64>| {
        block.again(begin.as_slice());
        round(block, from, acts, budget)
    };
    for _ in 0..ROUNDS {
        let Some(end) = trial(&begin)? else { return Ok(None) };
        let drift = &end - &begin;
        if drift.amax() <= FOUND_K {
            return Ok(Some(begin));
        }
        let mut response = DMatrix::identity(begin.len(), begin.len());
        for zone in 0..begin.len() {
            let mut moved = begin.clone();
            moved[zone] += MOVED_K;
            let Some(after) = trial(&moved)? else { return Ok(None) };
            response.column_mut(zone).axpy(-1.0 / MOVED_K, &(after - &end), 1.0);
        }
        let Some(step) = response.try_inverse() else { return Ok(None) };
        begin += step * drift;
        if begin.iter().any(|t| !t.is_finite() || t.abs() > 1e6) {
            return Ok(None);
        }
    }
    Ok(None)
}

/// Temperatures after so many acts, where all else stands as it stood then.
fn round(block: &mut HeatBlock<'_>, from: &Act, acts: u64, budget: &Budget<'_>) -> Result<Option<DVector<f64>>, Halt> {
    let mut way = Way { block, acts: 0, events: 0, at_once: 0, budget };
    while way.acts < acts {
        if way.events > MOST_EVENTS || !matches!(way.until_next_act()?, Went::Acted) {
            return Ok(None);
        }
    }
    let end = DVector::from_column_slice(way.block.temperatures());
    Ok(is_same_mode(from, way.block).then_some(end))
}

enum Went {
    /// A switch has acted.
    Acted,
    /// Nothing will happen any more.
    Rested,
    /// Temperatures have left the range of numbers, or what happens at one moment has no end.
    Lost,
}

struct Way<'b, 'n, 'h> {
    block: &'b mut HeatBlock<'n>,
    acts: u64,
    events: u64,
    at_once: u32,
    budget: &'b Budget<'h>,
}

impl Way<'_, '_, '_> {
    /// Goes on until a switch acts.
    fn until_next_act(&mut self) -> Result<Went, Halt> {
        loop {
            self.events += 1;
            self.budget.check(self.events)?;
            if let Some(due) = self.block.due() {
                self.at_once += 1;
                if self.at_once > MOST_AT_ONCE {
                    return Ok(Went::Lost);
                }
                self.block.happen(due);
                self.acts += 1;
                return Ok(Went::Acted);
            }
            let Some((after, event)) = self.block.next(LONG_S) else { return Ok(Went::Rested) };
            self.at_once = if after > 0.0 { 0 } else { self.at_once + 1 };
            if self.at_once > MOST_AT_ONCE || self.events > 4 * MOST_EVENTS {
                return Ok(Went::Lost);
            }
            self.block.advance(after);
            if self.block.temperatures().iter().any(|t| !t.is_finite() || t.abs() > 1e15) {
                return Ok(Went::Lost);
            }
            self.block.happen(event);
            if let HeatEvent::Thermostat { .. } = event {
                self.acts += 1;
                return Ok(Went::Acted);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    use super::*;
    use crate::heat::network::{Wall, Zone};
    use crate::heat::steady::{Steady, steady};

    /// A zone with a wall to what is at `outside_c`, a load, and what a thermostat runs.
    fn hall(load_w: f64, moved_w: f64, start_at_c: f64, stop_at_c: f64, at_c: f64) -> Network {
        let mut network = Network::default();
        let constant = |constant| [Part { into: 0, constant, per_kelvin: None }].into_iter().collect();
        network.zones.push(Zone {
            capacities: [2e6].into_iter().collect(),
            changes: std::iter::empty().collect(),
            start_c: at_c,
            limits: std::iter::empty().collect(),
        });
        network.walls.push(Wall { zone: 0, to: Side::Fixed(20.0), conductance: 100.0 });
        network.flows.push(HeatFlow { parts: constant(load_w), running: 1.0, ..HeatFlow::default() });
        network.flows.push(HeatFlow { parts: constant(moved_w), running: 1.0, ..HeatFlow::default() });
        network.thermostats.push(Thermostat { zone: 0, start_at_c, stop_at_c, runs: vec![1], on: false });
        network
    }

    /// A second zone beside the first, of its own capacity, behind a wall.
    fn beside(mut network: Network, capacity: f64, conductance: f64, outside: f64) -> Network {
        let start_c = network.zones[0].start_c;
        network.zones.push(Zone {
            capacities: [capacity].into_iter().collect(),
            changes: std::iter::empty().collect(),
            start_c,
            limits: std::iter::empty().collect(),
        });
        network.walls.push(Wall { zone: 0, to: Side::Zone(1), conductance });
        network.walls.push(Wall { zone: 1, to: Side::Fixed(20.0), conductance: outside });
        network
    }

    fn found(network: &Network) -> (Cycling, AtRest) {
        let budget = Budget::unhurried();
        let mut rest = match steady(network, &[], &budget).expect("within the budget") {
            Steady::One(rest) | Steady::Several { coldest: rest, .. } => rest,
            other => panic!("no rest: {other:?}"),
        };
        (cycling(network, &[], &mut rest, &budget).expect("within the budget"), rest)
    }

    /// By the closed form: with T∞ = 20 °C + heat ÷ 100 W/K, a way from a to b takes τ·ln((T∞ − a)/(T∞ − b)); on the mean heat in is
    /// heat out.
    #[test]
    fn one_zone_cycles_by_the_closed_form() {
        for (load_w, moved_w, start, stop) in
            [(20e3, -30e3, 32.0, 26.0), (1.25e3, -5e3, 32.0, 26.0), (-2e3, 9e3, 15.0, 21.0)]
        {
            let network = hall(load_w, moved_w, start, stop, 25.0);
            let (found, rest) = found(&network);
            let tau = 2e6 / 100.0;
            let way = |heat: f64, from: f64, to: f64| {
                let end = 20.0 + heat / 100.0;
                tau * ((end - from) / (end - to)).ln()
            };
            let (on, off) = (way(load_w + moved_w, start, stop), way(load_w, stop, start));
            let thermostat = found.thermostats[0].expect("it settles");
            let zone = found.zone(0).expect("a cycle");
            assert_relative_eq!(zone.period_s, on + off, max_relative = 1e-9);
            assert_relative_eq!(thermostat.on_share, on / (on + off), max_relative = 1e-9);
            assert_eq!((thermostat.starts, thermostat.period_s), (1, Some(zone.period_s)));
            assert_relative_eq!(zone.least_c, start.min(stop), max_relative = 1e-9);
            assert_relative_eq!(zone.greatest_c, start.max(stop), max_relative = 1e-9);
            let mean = 20.0 + (load_w + moved_w * thermostat.on_share) / 100.0;
            assert_relative_eq!(rest.temperatures_c[0], mean, max_relative = 1e-9);
            assert_relative_eq!(rest.running[1], thermostat.on_share, max_relative = 1e-9);
            assert_relative_eq!(
                found.flow(1).expect("in it").parts_w[0],
                moved_w * thermostat.on_share,
                max_relative = 1e-9
            );
        }
    }

    /// 1 kW rests at 30 °C, within the deadband: what cools never runs, or runs once where it is on at first.
    #[test]
    fn a_zone_that_rests_within_the_deadband_is_said_to_rest() {
        for (at_c, on) in [(25.0, false), (40.0, false), (31.0, true)] {
            let mut network = hall(1e3, -9e3, 32.0, 26.0, at_c);
            network.thermostats[0].on = on;
            let (found, rest) = found(&network);
            assert!(!found.is_any());
            let off = ThermostatCycle { on_share: 0.0, starts: 0, period_s: None };
            assert_eq!(found.thermostats, [Some(off)]);
            assert_relative_eq!(rest.temperatures_c[0], 30.0, max_relative = 1e-9);
            assert_eq!(rest.running, [1.0, 0.0]);
        }
    }

    /// A machine that is on rests at 27 °C and one that is off at 31 °C: where it begins decides.
    #[test]
    fn of_two_rests_within_the_deadband_the_plan_begins_with_one() {
        for (at_c, expected) in [(28.0, 31.0), (35.0, 27.0)] {
            let (_, rest) = found(&hall(1.1e3, -0.4e3, 32.0, 26.0, at_c));
            assert_relative_eq!(rest.temperatures_c[0], expected, max_relative = 1e-9);
        }
    }

    /// Halls that do not touch each keep their own beat; a pattern in one leaves the other alone.
    #[test]
    fn halls_that_do_not_touch_have_their_own_cycles() {
        let one = hall(20e3, -30e3, 32.0, 26.0, 25.0);
        let mut both = one.clone();
        let other = hall(9e3, -11e3, 30.0, 23.0, 25.0);
        both.zones.extend(other.zones.iter().cloned());
        both.walls.push(Wall { zone: 1, ..other.walls[0] });
        for flow in &other.flows {
            let mut flow = flow.clone();
            flow.parts.iter_mut().for_each(|part| part.into = 1);
            both.flows.push(flow);
        }
        both.thermostats.push(Thermostat { zone: 1, runs: vec![3], ..other.thermostats[0].clone() });
        let (together, _) = found(&both);
        let periods = [&one, &other].map(|network| found(network).0.zone(0).expect("a cycle").period_s);
        for (zone, period) in periods.into_iter().enumerate() {
            assert_relative_eq!(together.zone(zone).expect("a cycle").period_s, period, max_relative = 1e-12);
        }
    }

    /// Two halls that touch, each with its thermostat, need not have a common beat; where none is found the figures stay.
    #[test]
    fn what_does_not_settle_is_told() {
        let mut network = beside(hall(20e3, -30e3, 32.0, 26.0, 25.0), 3.1e6, 40.0, 70.0);
        let constant = |constant| [Part { into: 1, constant, per_kelvin: None }].into_iter().collect();
        network.flows.push(HeatFlow { parts: constant(9e3), running: 1.0, ..HeatFlow::default() });
        network.flows.push(HeatFlow { parts: constant(-17e3), running: 1.0, ..HeatFlow::default() });
        network.thermostats.push(Thermostat { zone: 1, start_at_c: 29.3, stop_at_c: 22.1, runs: vec![3], on: false });
        let (found, rest) = found(&network);
        if found.is_any() {
            let periods = [found.zone(0), found.zone(1)].map(|zone| zone.expect("both or none").period_s);
            assert_eq!(periods[0].to_bits(), periods[1].to_bits());
        } else {
            assert_eq!(found.unsettled, [0, 1]);
            assert_relative_eq!(rest.temperatures_c[0], 29.0, max_relative = 1e-9);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        /// Means of the cycle are what a long rehearsal books, and heat closes in each zone.
        #[test]
        fn a_cycle_is_what_zones_come_to(
            load in 2e3_f64..30e3, more in 1.05_f64..5.0, stop in 22.0_f64..30.0, band in 0.5_f64..8.0,
            mass in 4.0_f64..8.5, wall in 5.0_f64..400.0, outside in 1.0_f64..200.0,
        ) {
            let network = beside(hall(load, -more * load, stop + band, stop, 25.0), 10_f64.powf(mass), wall, outside);
            let (found, rest) = found(&network);
            prop_assert!(found.unsettled.is_empty(), "{network:?}");
            let Some(zone) = found.zone(0) else { return Ok(()) };
            let balance: Vec<f64> = (0..2).map(|zone| {
                let walls: f64 = network.walls.iter().map(|wall| {
                    let at = |side: Side| match side { Side::Zone(zone) => rest.temperatures_c[zone], Side::Fixed(t) => t };
                    let out = wall.conductance * (rest.temperatures_c[wall.zone] - at(wall.to));
                    if wall.zone == zone { -out } else if wall.to == Side::Zone(zone) { out } else { 0.0 }
                }).sum();
                let flows: f64 = if zone == 0 { load + found.flow(1).expect("in it").parts_w[0] } else { 0.0 };
                walls + flows
            }).collect();
            prop_assert!(balance.iter().all(|w| w.abs() <= 1e-6 * load), "{balance:?}");
            // From where the cycle begins, so many times over.
            let mut network = network;
            for (at, zone) in network.zones.iter_mut().enumerate() {
                zone.start_c = rest.temperatures_c[at];
            }
            let mut block = HeatBlock::new(&network).untraced();
            let mut way = Way { block: &mut block, acts: 0, events: 0, at_once: 0, budget: &Budget::unhurried() };
            for _ in 0..400 {
                way.until_next_act().expect("within the budget");
            }
            let (before, from_s) = (way.block.accounts.clone(), way.block.now());
            for _ in 0..400 {
                way.until_next_act().expect("within the budget");
            }
            let span = block.now() - from_s;
            let on = (block.accounts.thermostats[0].on_s - before.thermostats[0].on_s) / span;
            let cycles = 200.0 / found.thermostats[0].expect("it settles").starts as f64;
            // A slow neighbour still drifts a little.
            prop_assert!((on - rest.running[1]).abs() <= 2e-2 * rest.running[1], "{on} {}", rest.running[1]);
            prop_assert!((span / cycles / zone.period_s - 1.0).abs() <= 2e-2, "{} {}", span / cycles, zone.period_s);
        }
    }
}
