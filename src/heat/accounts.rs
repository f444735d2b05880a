//! What has flowed where since time zero, and how far temperatures went.

use smallvec::{SmallVec, smallvec};

use super::linear::Segment;
use super::network::{HeatFlow, Limit, Network, Rating, Side};
use super::row::Row;

/// Where and when a temperature was at its least or greatest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// °C.
    pub at_c: f64,
    /// When it was first there, s.
    pub at_s: f64,
}

/// By zone.
pub type Extremes = SmallVec<[Extreme; 4]>;

/// What a flow did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FlowAccount {
    /// Machine-seconds.
    pub ran_s: f64,
    /// Into the zone of each of its parts, J.
    pub heat_j: SmallVec<[f64; 2]>,
    /// Generated, J.
    pub generated_j: f64,
    /// Of what went past its rating, in J of heat taken.
    pub above_rating_j: f64,
}

/// What a switch did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ThermostatAccount {
    /// How often it started.
    pub starts: u64,
    /// How often it stopped.
    pub stops: u64,
    /// How long it was on, s.
    pub on_s: f64,
}

/// All of it.
#[derive(Clone, Debug)]
pub struct Accounts {
    /// By flow.
    pub flows: Vec<FlowAccount>,
    /// By wall: J from the zone to the other side.
    pub walls: Row,
    /// By thermostat.
    pub thermostats: Vec<ThermostatAccount>,
    /// By zone.
    pub least: Extremes,
    /// By zone.
    pub greatest: Extremes,
    /// By zone, by limit: when it was first passed.
    pub passed: Vec<SmallVec<[Option<f64>; 2]>>,
    /// By zone: J it holds more than at time zero.
    pub warmed_j: Row,
    /// By zone: what came in, less what `warmed_j` says, J.
    pub brought_j: Row,
    /// By zone: all that came in or went out, J.
    pub throughput_j: Row,
    /// The greatest difference of `warmed_j` and `brought_j` seen at any event, as a share of throughput.
    pub worst_gap_share: f64,
    /// As `least`, since [`Accounts::begin_cycle`].
    pub least_lately: Extremes,
    /// As `greatest`, likewise.
    pub greatest_lately: Extremes,
    pending: Row,
    passing: Row,
}

impl Accounts {
    pub(super) fn new(network: &Network, temperatures: &[f64]) -> Self {
        let zones = network.zones.len();
        let extreme = |t: &f64| Extreme { at_c: *t, at_s: 0.0 };
        let passed = network.zones.iter().zip(temperatures).map(|(zone, t)| {
            let past = |limit: &Limit| if limit.above { *t > limit.at_c } else { *t < limit.at_c };
            zone.limits.iter().map(|limit| past(limit).then_some(0.0)).collect()
        });
        Self {
            flows: network
                .flows
                .iter()
                .map(|flow| FlowAccount { heat_j: smallvec![0.0; flow.parts.len()], ..FlowAccount::default() })
                .collect(),
            walls: smallvec![0.0; network.walls.len()],
            thermostats: vec![ThermostatAccount::default(); network.thermostats.len()],
            least: temperatures.iter().map(extreme).collect(),
            greatest: temperatures.iter().map(extreme).collect(),
            passed: passed.collect(),
            warmed_j: smallvec![0.0; zones],
            brought_j: smallvec![0.0; zones],
            throughput_j: smallvec![0.0; zones],
            worst_gap_share: 0.0,
            least_lately: temperatures.iter().map(extreme).collect(),
            greatest_lately: temperatures.iter().map(extreme).collect(),
            pending: smallvec![0.0; zones],
            passing: smallvec![0.0; zones],
        }
    }

    fn bring(&mut self, zone: usize, heat_j: f64) {
        self.pending[zone] += heat_j;
        self.passing[zone] += heat_j.abs();
    }

    /// `time` is how long it ran of `span`.
    pub(super) fn flow(
        &mut self,
        index: usize,
        flow: &HeatFlow,
        running: f64,
        time: f64,
        span: f64,
        integrals: &[f64],
    ) {
        if time == 0.0 {
            return;
        }
        self.flows[index].ran_s += running * time;
        for (at, part) in flow.parts.iter().enumerate() {
            let slope = part.per_kelvin.map_or(0.0, |(zone, slope)| {
                // Where it ran only a part of the time its zone stood still.
                if time == span { slope * integrals[zone] } else { slope * (integrals[zone] / span) * time }
            });
            let heat = running * (part.constant * time + slope);
            self.flows[index].heat_j[at] += heat;
            self.bring(part.into, heat);
        }
    }

    #[allow(clippy::too_many_arguments, reason = "numbers of one moment, from one place")]
    pub(super) fn generate(
        &mut self,
        index: usize,
        rating: &Rating,
        running: f64,
        time: f64,
        span: f64,
        integral: f64,
        rated: bool,
    ) {
        let mean = if span > 0.0 { integral / span } else { return };
        let share = if rated { 1.0 } else { (mean - rating.outlet_c) / (rating.rated_c - rating.outlet_c) };
        self.flows[index].generated_j += running * time * rating.power_w * share.max(0.0);
        if rated {
            self.flows[index].above_rating_j += running * time * (mean - rating.rated_c);
        }
    }

    pub(super) fn walls(&mut self, network: &Network, integrals: &[f64], span: f64) {
        for (at, wall) in network.walls.iter().enumerate() {
            let other = match wall.to {
                Side::Zone(zone) => integrals[zone],
                Side::Fixed(t) => t * span,
            };
            let out = wall.conductance * (integrals[wall.zone] - other);
            self.walls[at] += out;
            self.bring(wall.zone, -out);
            if let Side::Zone(zone) = wall.to {
                self.bring(zone, out);
            }
        }
    }

    /// Sums up a stretch.
    pub(super) fn close(&mut self, warmed: &[f64]) {
        for zone in 0..warmed.len() {
            self.warmed_j[zone] += warmed[zone];
            self.brought_j[zone] += std::mem::take(&mut self.pending[zone]);
            self.throughput_j[zone] += std::mem::take(&mut self.passing[zone]);
            let gap = (self.warmed_j[zone] - self.brought_j[zone]).abs();
            if gap > 0.0 {
                let through = self.throughput_j[zone].max(self.warmed_j[zone].abs());
                self.worst_gap_share = self.worst_gap_share.max(gap / through);
            }
        }
    }

    #[allow(clippy::too_many_arguments, reason = "numbers of one stretch, from one place")]
    pub(super) fn span(
        &mut self,
        zone: usize,
        limits: &[Limit],
        segment: &Segment,
        at: usize,
        now: f64,
        span: f64,
        end: f64,
    ) {
        let [least, greatest] = segment.span(at, span, end);
        for lowest in [&mut self.least[zone], &mut self.least_lately[zone]] {
            if least.0 < lowest.at_c {
                *lowest = Extreme { at_c: least.0, at_s: now + least.1 };
            }
        }
        for highest in [&mut self.greatest[zone], &mut self.greatest_lately[zone]] {
            if greatest.0 > highest.at_c {
                *highest = Extreme { at_c: greatest.0, at_s: now + greatest.1 };
            }
        }
        for (limit, passed) in limits.iter().zip(&mut self.passed[zone]) {
            let past = if limit.above { greatest.0 > limit.at_c } else { least.0 < limit.at_c };
            if passed.is_none() && past {
                let sign = if limit.above { -1.0 } else { 1.0 };
                let grain = 4.0 * f64::EPSILON * (1.0 + limit.at_c.abs());
                let met = segment.curve(&[(at, sign)], -sign * limit.at_c).first_down(span, grain);
                *passed = Some(now + met.unwrap_or(if limit.above { greatest.1 } else { least.1 }));
            }
        }
    }

    /// All extremes begin at these temperatures and time zero.
    pub(super) fn begin_extremes(&mut self, temperatures: &[f64]) {
        self.begin_cycle(temperatures, 0.0);
        self.least.clone_from_slice(&self.least_lately);
        self.greatest.clone_from_slice(&self.greatest_lately);
    }

    /// Extremes of a new cycle begin here.
    pub(super) fn begin_cycle(&mut self, temperatures: &[f64], now: f64) {
        for (zone, t) in temperatures.iter().enumerate() {
            self.least_lately[zone] = Extreme { at_c: *t, at_s: now };
            self.greatest_lately[zone] = self.least_lately[zone];
        }
    }

    pub(super) fn thermostat_on(&mut self, at: usize, span: f64) {
        self.thermostats[at].on_s += span;
    }

    /// Adds what has flowed since `before` so many times more, for cycles that are counted.
    pub(crate) fn repeat(&mut self, before: &Self, times: f64) {
        let more = |now: &mut f64, then: f64| *now += (*now - then) * times;
        for (now, then) in self.flows.iter_mut().zip(&before.flows) {
            more(&mut now.ran_s, then.ran_s);
            more(&mut now.generated_j, then.generated_j);
            more(&mut now.above_rating_j, then.above_rating_j);
            now.heat_j.iter_mut().zip(&then.heat_j).for_each(|(now, then)| more(now, *then));
        }
        self.walls.iter_mut().zip(&before.walls).for_each(|(now, then)| more(now, *then));
        for (now, then) in [
            (&mut self.warmed_j, &before.warmed_j),
            (&mut self.brought_j, &before.brought_j),
            (&mut self.throughput_j, &before.throughput_j),
        ] {
            now.iter_mut().zip(then).for_each(|(now, then)| more(now, *then));
        }
        for (now, then) in self.thermostats.iter_mut().zip(&before.thermostats) {
            more(&mut now.on_s, then.on_s);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of cycles")]
            let times = times as u64;
            now.starts += (now.starts - then.starts) * times;
            now.stops += (now.stops - then.stops) * times;
        }
    }
}
