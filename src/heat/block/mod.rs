//! Temperatures and phases of all zones at a moment, the way they go on from there, and what they will meet first.
//!
//! A block is driven from outside: ask for [`HeatBlock::next`], go there with [`HeatBlock::advance`], and let it
//! [`HeatBlock::happen`]; set how much of each flow runs in between. Between two events every temperature is a sum of
//! exponentials, so that the next event is found, not stepped to.

mod advance;
mod ahead;
mod course;
mod law;
mod settle;

use std::rc::Rc;

pub use law::Mode;
use law::{Law, Laws};
pub(in crate::heat) use settle::Went;

use smallvec::{SmallVec, smallvec};

use super::accounts::Accounts;
use super::linear::Segment;
use super::network::Network;
use super::row::{Row, Terms};
use super::trace::{self, Curve};

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
pub(in crate::heat) enum Place {
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
    /// Nothing: so far nothing else has been found to happen, and the search goes on from there.
    Pause,
}

/// What is looked at on the way: each looks at all that those before it do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::heat) enum Attention {
    /// Where it ends.
    End,
    /// How far temperatures go, and when they pass limits.
    Extremes,
    /// What flows.
    Accounts,
    /// Temperatures over time.
    Curves,
}

/// The way things go until the next event.
struct Course {
    segment: Segment,
    law: Rc<Law>,
}

/// The state of all zones.
pub struct HeatBlock<'n> {
    network: &'n Network,
    /// Seconds since time zero.
    now_s: f64,
    temperatures: Vec<f64>,
    phases: Vec<Phase>,
    /// Temperatures at which flows of a zone turn on or off or are rated, from the coldest up.
    steps: Vec<SmallVec<[f64; 4]>>,
    places: Vec<Place>,
    running: Vec<f64>,
    on: Vec<bool>,
    /// By zone, how many times as much it holds as the network says.
    times: Row,
    course: Option<Course>,
    laws: Laws,
    /// Room to write a mode in.
    mode: Mode,
    /// By zone.
    curves: Vec<Curve>,
    attention: Attention,
    /// What has flowed since time zero.
    pub accounts: Accounts,
}

/// A share this much past its bounds is still held, so that rounding makes no chatter.
const SLACK: f64 = 1e-12;
/// Points of [`HeatBlock::curves`] on a stretch that takes all the time so far; a shorter one has fewer.
const POINTS_A_STRETCH: f64 = 32.0;

impl<'n> HeatBlock<'n> {
    /// All zones as at time zero, switches checked.
    #[must_use]
    pub fn new(network: &'n Network) -> Self {
        let zones = network.zones.len();
        let mut steps = vec![SmallVec::new(); zones];
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
        let mut block = Self {
            network,
            now_s: 0.0,
            places: vec![Place::Between(0); zones],
            phases: vec![Phase::Settled(0); zones],
            accounts: Accounts::new(network, &temperatures),
            temperatures,
            steps,
            running: network.flows.iter().map(|flow| flow.running).collect(),
            on: network.thermostats.iter().map(|thermostat| thermostat.on).collect(),
            times: smallvec![1.0; zones],
            course: None,
            laws: Laws::default(),
            mode: Mode::new(),
            curves: network.zones.iter().map(|zone| vec![(0.0, zone.start_c)]).collect(),
            attention: Attention::Curves,
        };
        block.stand();
        block
    }

    /// Finds where zones stand, with phases and steps, by their temperatures.
    fn stand(&mut self) {
        for (zone, &t) in self.temperatures.iter().enumerate() {
            let below = self.steps[zone].partition_point(|step| *step <= t);
            self.places[zone] = Place::Between(below);
            let changes = self.network.zones[zone].changes.iter();
            let below = changes.filter(|change| change.at_c < t || (change.upper && change.at_c <= t));
            self.phases[zone] = Phase::Settled(below.count());
        }
        for zone in 0..self.temperatures.len() {
            // A zone that begins on a step goes the way its flows send it.
            if let Some(step) = self.steps[zone].iter().position(|step| *step == self.temperatures[zone]) {
                self.meet(zone, step, true);
            }
        }
    }

    /// Begins again at time zero from other temperatures, with all laws that were found. Of the accounts only extremes begin anew.
    pub(in crate::heat) fn again(&mut self, temperatures: &[f64]) {
        self.now_s = 0.0;
        self.course = None;
        self.temperatures.copy_from_slice(temperatures);
        self.running.iter_mut().zip(&self.network.flows).for_each(|(running, flow)| *running = flow.running);
        self.on.iter_mut().zip(&self.network.thermostats).for_each(|(on, thermostat)| *on = thermostat.on);
        self.accounts.begin_extremes(temperatures);
        self.stand();
    }

    /// Lets a zone hold so many times as much as the network says, from the next beginning on.
    pub(in crate::heat) fn weigh(&mut self, zone: usize, times: f64) {
        if self.times[zone] != times {
            self.times[zone] = times;
            self.course = None;
            self.laws.weigh(&self.times);
        }
    }

    /// With no more on the way than who asks needs.
    pub(in crate::heat) fn attending(self, attention: Attention) -> Self {
        Self { attention, curves: Vec::new(), ..self }
    }

    /// The same of a block that is there.
    pub(in crate::heat) fn attend(&mut self, attention: Attention) {
        self.attention = attention;
    }

    /// Without temperatures over time: what many rehearsals of one plan are compared by does not need them.
    #[must_use]
    pub fn untraced(self) -> Self {
        self.attending(Attention::Accounts)
    }

    /// The clock, s.
    #[must_use]
    pub fn now(&self) -> f64 {
        self.now_s
    }

    /// The clock, where it is known better than by a sum.
    pub fn set_now(&mut self, now_s: f64) {
        self.now_s = now_s;
    }

    /// Sets the clock forward to `then_s` over cycles that are counted instead of gone through, as the one since `from_s`.
    pub fn skip(&mut self, from_s: f64, then_s: f64) {
        let now = self.now_s;
        if self.attention < Attention::Curves {
            self.now_s = then_s;
            return;
        }
        self.curves.iter_mut().for_each(|curve| trace::again(curve, from_s, now, then_s));
        self.now_s = then_s;
    }

    /// Temperatures of all zones, °C.
    #[must_use]
    pub fn temperatures(&self) -> &[f64] {
        &self.temperatures
    }

    /// Temperatures of each zone over time, s and °C; where there is much to tell, the extremes.
    #[must_use]
    pub fn curves(&self) -> &[Curve] {
        &self.curves
    }

    /// The same, taken out.
    pub(in crate::heat) fn take_curves(&mut self) -> Vec<Curve> {
        std::mem::take(&mut self.curves)
    }

    /// How much of each flow runs at this moment, in machines; of one that holds a zone, on average.
    pub fn rates(&mut self) -> Vec<f64> {
        let law = self.known_law();
        let shares = law.held.iter().zip(&law.shares);
        let held: Terms = shares.map(|(held, share)| (held.zone, share.at(&self.temperatures))).collect();
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
    pub fn mode(&self) -> Mode {
        let mut mode = Mode::new();
        self.write_mode(&mut mode);
        mode
    }

    fn write_mode(&self, mode: &mut Mode) {
        mode.clear();
        mode.extend(self.running.iter().map(|running| running.to_bits()));
        mode.extend(self.on.iter().map(|on| u64::from(*on)));
        mode.extend(self.places.iter().map(|place| match place {
            Place::Between(step) => 2 * *step as u64,
            Place::At(step) => 2 * *step as u64 + 1,
        }));
        mode.extend(self.phases.iter().map(|phase| match phase {
            Phase::Settled(at) => 2 * *at as u64,
            Phase::Changing { change, .. } => 2 * *change as u64 + 1,
        }));
    }

    /// How much of a flow may run, in machines, as it was last set.
    #[must_use]
    pub fn running(&self, flow: usize) -> f64 {
        self.running[flow]
    }

    /// Sets how much of a flow runs from now on, in machines.
    pub fn run(&mut self, flow: usize, running: f64) {
        if self.running[flow] != running {
            self.running[flow] = running;
            self.changed();
        }
    }

    pub(in crate::heat) fn network(&self) -> &'n Network {
        self.network
    }

    pub(in crate::heat) fn place(&self, zone: usize) -> Place {
        self.places[zone]
    }

    pub(in crate::heat) fn step(&self, zone: usize, step: usize) -> f64 {
        self.steps[zone][step]
    }
}
