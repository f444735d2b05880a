//! Temperatures and phases of all zones at a moment, the way they go on from there, and what they will meet first.
//!
//! A block is driven from outside: ask for [`HeatBlock::next`], go there with [`HeatBlock::advance`], and let it
//! [`HeatBlock::happen`]; set how much of each flow runs in between. Between two events every temperature is a sum of
//! exponentials, so that the next event is found, not stepped to.

use std::collections::HashMap;
use std::rc::Rc;

use super::accounts::Accounts;
use super::affine::{Affine, Heats, Held};
use super::curve::Curve;
use super::ladder::Square;
use super::linear::{Linear, Segment};
use super::network::{Network, Side};

/// Where a zone stands with its phases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Phase {
    /// All of it below, between or above its changes: the index of its capacity.
    Settled(usize),
    /// Amid a change, which has taken so much heat so far, J.
    Changing {
        /// Index of the change.
        change: usize,
        /// J, between nothing and all of it.
        taken_j: f64,
    },
}

/// Where a zone stands among the temperatures at which its flows turn on and off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    /// So many of them are below.
    Between(usize),
    /// Held at that one.
    At(usize),
}

/// What happens in a block by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HeatEvent {
    /// A zone comes up to, or down to, the temperature at which flows turn on or off, or a rating.
    Step {
        /// The zone.
        zone: usize,
        /// Which of its steps.
        step: usize,
        /// Whether it comes from below.
        upward: bool,
    },
    /// A zone that was held at a step leaves it.
    Leave {
        /// The zone.
        zone: usize,
        /// Whether it goes above it.
        upward: bool,
    },
    /// A zone comes to a change of phase.
    Change {
        /// The zone.
        zone: usize,
        /// Whether it comes from below.
        upward: bool,
    },
    /// A change of phase is over.
    Changed {
        /// The zone.
        zone: usize,
        /// Whether it ends above.
        upward: bool,
    },
    /// A switch starts or stops.
    Thermostat {
        /// Which.
        index: usize,
        /// Whether it starts.
        starts: bool,
    },
}

/// The way things go until the next event.
struct Course {
    free: Vec<usize>,
    segment: Segment,
    /// Held zones and the share of the upper side of each, over all zones.
    held: Vec<Held>,
    shares: Vec<Affine>,
    /// Heat into zones that change phase, over all zones.
    changing: Vec<(usize, Affine)>,
    /// Temperature of each zone as an index into `free`.
    place: Vec<Option<usize>>,
}

/// The state of all zones.
pub struct HeatBlock<'n> {
    network: &'n Network,
    /// Seconds since time zero.
    now_s: f64,
    temperatures: Vec<f64>,
    phases: Vec<Phase>,
    /// Temperatures at which flows of a zone turn on or off or are rated, from the coldest up.
    steps: Vec<Vec<f64>>,
    places: Vec<Place>,
    running: Vec<f64>,
    on: Vec<bool>,
    course: Option<Course>,
    known: HashMap<Vec<u64>, Rc<Linear>>,
    points: Vec<(f64, Vec<f64>)>,
    /// Whether extremes and limits are looked for on the way.
    watches: bool,
    /// What has flowed since time zero.
    pub accounts: Accounts,
}

/// A share this much past its bounds is still held, so that rounding makes no chatter.
const SLACK: f64 = 1e-12;
/// Modes remembered; past them, all are forgotten and found anew.
const MOST_KNOWN: usize = 4_096;
/// Points of [`HeatBlock::points`] from one event to the next.
const POINTS_A_STRETCH: u32 = 4;
/// The most points in all; what comes after is not kept.
pub const MOST_POINTS: usize = 600;

impl<'n> HeatBlock<'n> {
    /// All zones as at time zero, switches checked.
    #[must_use]
    pub fn new(network: &'n Network) -> Self {
        let zones = network.zones.len();
        let mut steps = vec![Vec::new(); zones];
        for flow in &network.flows {
            if let Some(relay) = flow.relay {
                steps[relay.zone].push(relay.at_c);
            }
            if let Some(rating) = flow.rating {
                steps[rating.zone].push(rating.rated_c);
            }
        }
        for steps in &mut steps {
            steps.sort_by(f64::total_cmp);
            steps.dedup();
        }
        let temperatures: Vec<f64> = network.zones.iter().map(|zone| zone.start_c).collect();
        let places = steps
            .iter()
            .zip(&temperatures)
            .map(|(steps, t)| Place::Between(steps.iter().filter(|step| *step <= t).count()));
        let phases = network.zones.iter().map(|zone| {
            let below = zone
                .changes
                .iter()
                .filter(|change| change.at_c < zone.start_c || (change.upper && change.at_c <= zone.start_c));
            Phase::Settled(below.count())
        });
        let mut block = Self {
            network,
            now_s: 0.0,
            places: places.collect(),
            phases: phases.collect(),
            accounts: Accounts::new(network, &temperatures),
            temperatures,
            steps,
            running: network.flows.iter().map(|flow| flow.running).collect(),
            on: network.thermostats.iter().map(|thermostat| thermostat.on).collect(),
            course: None,
            known: HashMap::new(),
            points: Vec::new(),
            watches: true,
        };
        block.points.push((0.0, block.temperatures.clone()));
        for zone in 0..zones {
            // A zone that begins on a step goes the way its flows send it.
            if let Some(step) = block.steps[zone].iter().position(|step| *step == block.temperatures[zone]) {
                block.meet(zone, step, true);
            }
        }
        block
    }

    /// As [`HeatBlock::new`], for going to where it comes to rest: what lies on the way is not looked at.
    pub(super) fn unwatched(network: &'n Network) -> Self {
        Self { watches: false, ..Self::new(network) }
    }

    /// The clock, s.
    #[must_use]
    pub fn now(&self) -> f64 {
        self.now_s
    }

    /// The clock after cycles that were counted instead of gone through.
    pub fn set_now(&mut self, now_s: f64) {
        self.now_s = now_s;
    }

    /// Temperatures of all zones, °C.
    #[must_use]
    pub fn temperatures(&self) -> &[f64] {
        &self.temperatures
    }

    /// (time, temperatures) as far as they were kept.
    #[must_use]
    pub fn points(&self) -> &[(f64, Vec<f64>)] {
        &self.points
    }

    /// How much of each flow runs at this moment, in machines; of one that holds a zone, on average.
    pub fn rates(&mut self) -> Vec<f64> {
        self.plan_course();
        let held: Vec<(usize, f64)> = self.course.as_ref().map_or_else(Vec::new, |course| {
            let shares = course.held.iter().zip(&course.shares);
            shares.map(|(held, share)| (held.zone, share.at(&self.temperatures))).collect()
        });
        let flows = self.network.flows.iter().enumerate();
        let rates = flows.map(|(index, flow)| {
            let share = match flow.relay {
                None => 1.0,
                Some(relay) => match self.side(relay.zone, relay.at_c) {
                    Some(above) => f64::from(u8::from(above == relay.above)),
                    None => {
                        let upper = held.iter().find(|(zone, _)| *zone == relay.zone).map_or(0.0, |(_, share)| *share);
                        if relay.above { upper } else { 1.0 - upper }
                    }
                },
            };
            self.gated(index) * share.clamp(0.0, 1.0)
        });
        rates.collect()
    }

    /// Phases of all zones.
    #[must_use]
    pub fn phases(&self) -> &[Phase] {
        &self.phases
    }

    /// Which switches are on.
    #[must_use]
    pub fn switches(&self) -> &[bool] {
        &self.on
    }

    /// How a state is told from another, apart from its temperatures.
    #[must_use]
    pub fn mode(&self) -> Vec<u64> {
        let mut mode: Vec<u64> = self.running.iter().map(|running| running.to_bits()).collect();
        mode.extend(self.on.iter().map(|on| u64::from(*on)));
        mode.extend(self.places.iter().map(|place| match place {
            Place::Between(step) => 2 * *step as u64,
            Place::At(step) => 2 * *step as u64 + 1,
        }));
        mode.extend(self.phases.iter().map(|phase| match phase {
            Phase::Settled(at) => 2 * *at as u64,
            Phase::Changing { change, .. } => 2 * *change as u64 + 1,
        }));
        mode
    }

    /// Sets how much of a flow runs from now on, in machines.
    pub fn run(&mut self, flow: usize, running: f64) {
        if self.running[flow] != running {
            self.running[flow] = running;
            self.changed();
        }
    }

    /// Sets a switch, as from outside.
    pub fn switch(&mut self, index: usize, on: bool) {
        if self.on[index] != on {
            self.on[index] = on;
            self.changed();
        }
    }

    /// How much of a flow runs, gates counted.
    fn gated(&self, flow: usize) -> f64 {
        let held = self.network.thermostats.iter().zip(&self.on);
        let off = held.into_iter().any(|(thermostat, on)| !on && thermostat.runs.contains(&flow));
        if off { 0.0 } else { self.running[flow] }
    }

    /// What has changed may send zones elsewhere that are held.
    fn changed(&mut self) {
        self.course = None;
        for zone in 0..self.places.len() {
            if let Place::At(step) = self.places[zone] {
                self.meet(zone, step, true);
            }
        }
    }

    /// Heat of all flows but those held at a step, and those.
    fn heats(&self) -> (Heats, Vec<Held>) {
        let network = self.network;
        let mut heats = Heats::none(network.zones.len());
        for wall in &network.walls {
            match wall.to {
                Side::Zone(other) => heats.wall(wall.zone, other, wall.conductance),
                Side::Fixed(t) => {
                    heats.add(wall.zone, wall.conductance * t, Some((wall.zone, -wall.conductance)));
                }
            }
        }
        let mut held: Vec<Held> = Vec::new();
        for (index, flow) in network.flows.iter().enumerate() {
            let running = self.gated(index);
            if running == 0.0 {
                continue;
            }
            let share = match flow.relay {
                None => Some(1.0),
                Some(relay) => self.side(relay.zone, relay.at_c).map(|above| f64::from(u8::from(above == relay.above))),
            };
            if share == Some(0.0) {
                continue;
            }
            if let Some(share) = share {
                for part in &flow.parts {
                    let of = part.per_kelvin.map(|(zone, slope)| (zone, slope * running * share));
                    heats.add(part.into, part.constant * running * share, of);
                }
            } else if let Some(relay) = flow.relay {
                let at = match held.iter().position(|held| held.zone == relay.zone) {
                    Some(at) => at,
                    None => {
                        held.push(Held { zone: relay.zone, swing: Vec::new() });
                        held.len() - 1
                    }
                };
                for part in &flow.parts {
                    let watts =
                        running * (part.constant + part.per_kelvin.map_or(0.0, |(_, slope)| slope * relay.at_c));
                    // What runs below the step is there without the share and leaves as it grows.
                    let swing = if relay.above {
                        watts
                    } else {
                        heats.add(part.into, watts, None);
                        -watts
                    };
                    held[at].swing.push((part.into, swing));
                }
            }
        }
        (heats, held)
    }

    /// Whether a zone is above a step of it; `None` where it is held there.
    fn side(&self, zone: usize, at_c: f64) -> Option<bool> {
        let step = self.steps[zone].partition_point(|step| *step < at_c);
        match self.places[zone] {
            Place::Between(below) => Some(below > step),
            Place::At(held) if held == step => None,
            Place::At(held) => Some(held > step),
        }
    }

    /// A zone has come to a step: on, or held there.
    fn meet(&mut self, zone: usize, step: usize, upward: bool) {
        self.course = None;
        let at = self.steps[zone][step];
        self.places[zone] = Place::Between(step + 1);
        let above = self.heat_into(zone, at);
        self.places[zone] = Place::Between(step);
        let below = self.heat_into(zone, at);
        self.places[zone] = if below >= 0.0 && above <= 0.0 && (below, above) != (0.0, 0.0) {
            self.temperatures[zone] = at;
            Place::At(step)
        } else if above > 0.0 && (below >= 0.0 || upward) || (above, below) == (0.0, 0.0) && upward {
            Place::Between(step + 1)
        } else {
            Place::Between(step)
        };
    }

    /// Heat into a zone at a temperature of it, shares of other zones that are held counted.
    fn heat_into(&self, zone: usize, at: f64) -> f64 {
        let mut temperatures = self.temperatures.clone();
        temperatures[zone] = at;
        let (heats, held) = self.heats();
        let mut sum = heats.heat_into(zone, &temperatures);
        if !held.is_empty() {
            let free = vec![false; temperatures.len()];
            if let Some(shares) = heats.shares(&held, &free, &temperatures) {
                for (held, share) in held.iter().zip(&shares) {
                    let share = share.constant.clamp(0.0, 1.0);
                    sum += held.swing.iter().filter(|(into, _)| *into == zone).map(|(_, w)| w * share).sum::<f64>();
                }
            }
        }
        sum
    }

    fn capacity(&self, zone: usize) -> f64 {
        match self.phases[zone] {
            Phase::Settled(phase) => self.network.zones[zone].capacities[phase],
            Phase::Changing { change, .. } => self.network.zones[zone].capacities[change],
        }
    }

    fn plan_course(&mut self) {
        if self.course.is_some() {
            return;
        }
        let zones = self.temperatures.len();
        let (mut heats, mut held) = self.heats();
        let is_free = |block: &Self, zone: usize| {
            matches!(block.phases[zone], Phase::Settled(_)) && matches!(block.places[zone], Place::Between(_))
        };
        let mut free: Vec<bool> = (0..zones).map(|zone| is_free(self, zone)).collect();
        let mut shares = heats.shares(&held, &free, &self.temperatures);
        if shares.is_none() {
            // Zones that hold one another in a circle: let go of all of them, upward.
            for zone in 0..zones {
                if let Place::At(step) = self.places[zone] {
                    self.places[zone] = Place::Between(step + 1);
                }
            }
            (heats, held) = self.heats();
            free = (0..zones).map(|zone| is_free(self, zone)).collect();
            shares = Some(Vec::new());
        }
        let shares = shares.unwrap_or_default();
        let list: Vec<usize> = (0..zones).filter(|zone| free[*zone]).collect();
        let mut place = vec![None; zones];
        list.iter().enumerate().for_each(|(at, zone)| place[*zone] = Some(at));
        let mut conductance = Square::zero(list.len());
        let mut heat = Vec::with_capacity(list.len());
        let mut capacity = Vec::with_capacity(list.len());
        for (row, &zone) in list.iter().enumerate() {
            let full = heats.full_row(zone, &free, &self.temperatures, &held, &shares);
            heat.push(full.constant);
            capacity.push(self.capacity(zone));
            for (other, weight) in full.weights {
                if let Some(column) = place[other] {
                    conductance.entries[row * list.len() + column] += weight;
                }
            }
        }
        let key: Vec<u64> = capacity.iter().chain(&conductance.entries).map(|number| number.to_bits()).collect();
        if self.known.len() >= MOST_KNOWN {
            self.known.clear();
        }
        let linear = Rc::clone(self.known.entry(key).or_insert_with(|| Rc::new(Linear::new(&capacity, &conductance))));
        let start: Vec<f64> = list.iter().map(|zone| self.temperatures[*zone]).collect();
        let changing = (0..zones).filter(|zone| matches!(self.phases[*zone], Phase::Changing { .. }));
        let changing =
            changing.map(|zone| (zone, heats.full_row(zone, &free, &self.temperatures, &held, &shares))).collect();
        self.course =
            Some(Course { segment: linear.segment(&start, &heat), free: list, held, shares, changing, place });
    }

    /// What happens first within `span` seconds from now, and after how many.
    pub fn next(&mut self, span: f64) -> Option<(f64, HeatEvent)> {
        self.plan_course();
        let course = self.course.as_ref()?;
        let mut found: Option<(f64, HeatEvent)> = None;
        let mut see = |curve: Curve<'_>, grain: f64, event: HeatEvent| {
            let until = found.map_or(span, |(at, _)| at);
            // Of two at the same moment the first seen stays.
            if let Some(at) = curve.first_down(until, grain).filter(|at| found.is_none_or(|(first, _)| *at < first)) {
                found = Some((at, event));
            }
        };
        let toward = |zone: usize, place: usize, level: f64, upward: bool| {
            let sign = if upward { -1.0 } else { 1.0 };
            let grain = 4.0 * f64::EPSILON * (1.0 + level.abs() + self.temperatures[zone].abs());
            (course.segment.curve(&[(place, sign)], -sign * level), grain)
        };
        for (at, thermostat) in self.network.thermostats.iter().enumerate() {
            let Some(place) = course.place[thermostat.zone] else { continue };
            let level = if self.on[at] { thermostat.stop_at_c } else { thermostat.start_at_c };
            let upward = (thermostat.start_at_c > thermostat.stop_at_c) != self.on[at];
            let (curve, grain) = toward(thermostat.zone, place, level, upward);
            see(curve, grain, HeatEvent::Thermostat { index: at, starts: !self.on[at] });
        }
        for (place, &zone) in course.free.iter().enumerate() {
            if let Place::Between(below) = self.places[zone] {
                for (step, upward) in [(Some(below), true), (below.checked_sub(1), false)] {
                    if let Some((step, &level)) = step.and_then(|step| Some((step, self.steps[zone].get(step)?))) {
                        let (curve, grain) = toward(zone, place, level, upward);
                        see(curve, grain, HeatEvent::Step { zone, step, upward });
                    }
                }
            }
            if let Phase::Settled(phase) = self.phases[zone] {
                let changes = &self.network.zones[zone].changes;
                for (change, upward) in [(Some(phase), true), (phase.checked_sub(1), false)] {
                    if let Some(change) = change.and_then(|change| changes.get(change)) {
                        let (curve, grain) = toward(zone, place, change.at_c, upward);
                        see(curve, grain, HeatEvent::Change { zone, upward });
                    }
                }
            }
        }
        let reduced = |affine: &Affine| -> Vec<(usize, f64)> {
            affine.weights.iter().filter_map(|(zone, weight)| Some((course.place[*zone]?, *weight))).collect()
        };
        for (zone, heat) in &course.changing {
            if let Phase::Changing { change, taken_j } = self.phases[*zone] {
                let all = self.network.zones[*zone].changes[change].heat_j;
                let grain = 4.0 * f64::EPSILON * all;
                let curve = course.segment.gathered(taken_j, &reduced(heat), heat.constant);
                see(curve.clone(), grain, HeatEvent::Changed { zone: *zone, upward: false });
                let rest = course.segment.gathered(taken_j - all, &reduced(heat), heat.constant).negated();
                see(rest, grain, HeatEvent::Changed { zone: *zone, upward: true });
            }
        }
        for (held, share) in course.held.iter().zip(&course.shares) {
            let grain = share.grain(&self.temperatures).max(1e-15);
            let curve = course.segment.curve(&reduced(share), share.constant + SLACK);
            see(curve, grain, HeatEvent::Leave { zone: held.zone, upward: false });
            let curve = course.segment.curve(&reduced(share), share.constant - 1.0 - SLACK).negated();
            see(curve, grain, HeatEvent::Leave { zone: held.zone, upward: true });
        }
        found
    }

    /// Goes on by `span` seconds, within which nothing happens.
    pub fn advance(&mut self, span: f64) {
        self.plan_course();
        let Some(course) = self.course.take() else { return };
        let (reached, gathered) = course.segment.after(span);
        let before = self.temperatures.clone();
        let mut integrals: Vec<f64> = self.temperatures.iter().map(|t| t * span).collect();
        for (at, &zone) in course.free.iter().enumerate() {
            self.temperatures[zone] = reached[at];
            integrals[zone] = gathered[at];
        }
        let held: Vec<(usize, f64)> = course
            .held
            .iter()
            .zip(&course.shares)
            .map(|(held, share)| {
                let whole = share.weights.iter().map(|(zone, weight)| weight * integrals[*zone]).sum::<f64>();
                (held.zone, whole + share.constant * span)
            })
            .collect();
        for (index, flow) in self.network.flows.iter().enumerate() {
            let running = self.gated(index);
            if running == 0.0 {
                continue;
            }
            let time = match flow.relay {
                None => span,
                Some(relay) => match self.side(relay.zone, relay.at_c) {
                    Some(above) => span * f64::from(u8::from(above == relay.above)),
                    None => {
                        let upper = held.iter().find(|(zone, _)| *zone == relay.zone).map_or(0.0, |(_, time)| *time);
                        if relay.above { upper } else { span - upper }
                    }
                },
            };
            self.accounts.flow(index, flow, running, time, span, &integrals);
            if let Some(rating) = flow.rating {
                let rated = self.side(rating.zone, rating.rated_c) == Some(true);
                self.accounts.generate(index, &rating, running, time, span, integrals[rating.zone], rated);
            }
        }
        self.accounts.walls(self.network, &integrals, span);
        let mut warmed: Vec<f64> =
            (0..before.len()).map(|zone| self.capacity(zone) * (self.temperatures[zone] - before[zone])).collect();
        for (zone, heat) in &course.changing {
            let taken = heat.weights.iter().map(|(other, weight)| weight * integrals[*other]).sum::<f64>();
            let taken = taken + heat.constant * span;
            if let Phase::Changing { taken_j, .. } = &mut self.phases[*zone] {
                *taken_j += taken;
            }
            warmed[*zone] = taken;
        }
        for (at, &zone) in course.free.iter().enumerate().filter(|_| self.watches) {
            let limits = &self.network.zones[zone].limits;
            self.accounts.span(zone, limits, &course.segment, at, self.now_s, span, reached[at]);
        }
        self.accounts.close(&warmed);
        for part in 1..=POINTS_A_STRETCH {
            if self.points.len() >= MOST_POINTS || span == 0.0 || !self.watches {
                break;
            }
            let t = span * f64::from(part) / f64::from(POINTS_A_STRETCH);
            let (reached, _) = course.segment.after(t);
            let mut point = self.temperatures.clone();
            course.free.iter().zip(reached).for_each(|(zone, t)| point[*zone] = t);
            self.points.push((self.now_s + t, point));
        }
        for (at, on) in self.on.iter().enumerate() {
            if *on {
                self.accounts.thermostat_on(at, span);
            }
        }
        self.now_s += span;
    }

    /// Lets what was found happen, now.
    pub fn happen(&mut self, event: HeatEvent) {
        self.course = None;
        match event {
            HeatEvent::Step { zone, step, upward } => {
                self.temperatures[zone] = self.steps[zone][step];
                self.meet(zone, step, upward);
            }
            HeatEvent::Leave { zone, upward } => {
                if let Place::At(step) = self.places[zone] {
                    self.places[zone] = Place::Between(if upward { step + 1 } else { step });
                }
            }
            HeatEvent::Change { zone, upward } => {
                if let Phase::Settled(phase) = self.phases[zone] {
                    let change = if upward { phase } else { phase.saturating_sub(1) };
                    let all = self.network.zones[zone].changes[change].heat_j;
                    self.temperatures[zone] = self.network.zones[zone].changes[change].at_c;
                    self.phases[zone] = if all > 0.0 {
                        Phase::Changing { change, taken_j: if upward { 0.0 } else { all } }
                    } else {
                        Phase::Settled(if upward { change + 1 } else { change })
                    };
                }
            }
            HeatEvent::Changed { zone, upward } => {
                if let Phase::Changing { change, .. } = self.phases[zone] {
                    self.phases[zone] = Phase::Settled(if upward { change + 1 } else { change });
                }
            }
            HeatEvent::Thermostat { index, starts } => {
                self.on[index] = starts;
                self.changed();
            }
        }
    }

    /// The first switch, in order, that should be otherwise at these temperatures; touching is enough.
    #[must_use]
    pub fn due(&self) -> Option<HeatEvent> {
        self.network.thermostats.iter().enumerate().find_map(|(index, thermostat)| {
            let t = self.temperatures[thermostat.zone];
            let cools = thermostat.start_at_c > thermostat.stop_at_c;
            let level = if self.on[index] { thermostat.stop_at_c } else { thermostat.start_at_c };
            let due = if cools == self.on[index] { t <= level } else { t >= level };
            due.then_some(HeatEvent::Thermostat { index, starts: !self.on[index] })
        })
    }
}
