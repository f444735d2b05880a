//! What is measured: requests by route and outcome, seconds, the pool, the queue, rejections, the build.
//!
//! The registry belongs to the service, not to the process, so that several services can live in one test.

use std::sync::atomic::AtomicU64;
use std::sync::{Arc, PoisonError, RwLock};

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};
use rustc_hash::FxHashMap;

/// The upper edges of the time histograms, in seconds.
const EDGES: [f64; 12] = [0.0001, 0.000_25, 0.0005, 0.001, 0.0025, 0.005, 0.01, 0.05, 0.25, 1.0, 5.0, 30.0];

/// The labels of the request counter.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Served {
    route: &'static str,
    outcome: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Route {
    route: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Question {
    question: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Reason {
    reason: &'static str,
}

/// Why a request was turned away although nothing was wrong with it.
#[derive(Clone, Copy, Debug)]
pub enum Rejection {
    /// The pool's queue was full.
    QueueFull,
    /// It would have had to wait longer than it may.
    Overload,
    /// It would have had to wait for so long that its deadline could not be met.
    Deadline,
    /// Bodies hold as much memory as they may.
    BodyMemory,
    /// The client sent more than it may.
    RateLimit,
    /// The deadline passed.
    TimeLimit,
}

/// What a request of one route and outcome is counted by.
struct Tally {
    requests: Counter,
    seconds: Histogram,
}

impl Tally {
    fn add(&self, seconds: f64) {
        self.requests.inc();
        self.seconds.observe(seconds);
    }
}

/// All meters. A clone shares them.
#[derive(Clone)]
pub struct Meters {
    registry: Arc<Registry>,
    requests: Family<Served, Counter>,
    seconds: Family<Route, Histogram, fn() -> Histogram>,
    /// Those of both by route and outcome: one short look for each request instead of two long ones.
    tallies: Arc<RwLock<FxHashMap<(&'static str, &'static str), Tally>>>,
    compute_seconds: Family<Question, Histogram, fn() -> Histogram>,
    wait_seconds: Histogram,
    rejected: Family<Reason, Counter>,
    /// Requests being served.
    pub in_flight: Gauge,
    /// Open connections.
    pub connections: Gauge,
    /// Calculations on the pool.
    pub pool_busy: Gauge,
    /// Calculations waiting for the pool.
    pub queue_depth: Gauge,
    /// Calculations of small documents that were not done in the short time without the pool.
    pub moved_to_pool: Counter<u64, AtomicU64>,
}

impl Default for Meters {
    fn default() -> Self {
        let mut registry = Registry::with_prefix("hotwell");
        let requests = Family::default();
        registry.register("requests", "Requests by route and outcome", requests.clone());
        let seconds = Family::new_with_constructor(histogram as fn() -> Histogram);
        registry.register_with_unit("request", "From a request's head to its answer", Unit::Seconds, seconds.clone());
        let compute_seconds = Family::new_with_constructor(histogram as fn() -> Histogram);
        registry.register_with_unit(
            "compute",
            "Reading, reckoning and showing, by question; without what was waited before",
            Unit::Seconds,
            compute_seconds.clone(),
        );
        let wait_seconds = histogram();
        registry.register_with_unit(
            "queue_wait",
            "What calculations that waited for the pool waited",
            Unit::Seconds,
            wait_seconds.clone(),
        );
        let rejected = Family::default();
        registry.register("rejected", "Requests turned away, by reason", rejected.clone());
        let in_flight = Gauge::default();
        registry.register("in_flight", "Requests being served", in_flight.clone());
        let connections = Gauge::default();
        registry.register("connections", "Open connections", connections.clone());
        let pool_busy = Gauge::default();
        registry.register("pool_busy", "Calculations on the pool", pool_busy.clone());
        let queue_depth = Gauge::default();
        registry.register("queue_depth", "Calculations waiting for the pool", queue_depth.clone());
        let moved_to_pool = Counter::default();
        registry.register("moved_to_pool", "Small documents that needed the pool after all", moved_to_pool.clone());
        registry.register("build", "The build", Info::new([("version", env!("CARGO_PKG_VERSION"))]));
        Self {
            registry: Arc::new(registry),
            requests,
            seconds,
            tallies: Arc::default(),
            compute_seconds,
            wait_seconds,
            rejected,
            in_flight,
            connections,
            pool_busy,
            queue_depth,
            moved_to_pool,
        }
    }
}

fn histogram() -> Histogram {
    Histogram::new(EDGES)
}

impl Meters {
    /// Counts a served request.
    pub fn served(&self, route: &'static str, outcome: &'static str, seconds: f64) {
        if let Some(tally) = self.tallies.read().unwrap_or_else(PoisonError::into_inner).get(&(route, outcome)) {
            return tally.add(seconds);
        }
        let tally = Tally {
            requests: self.requests.get_or_create(&Served { route, outcome }).clone(),
            seconds: self.seconds.get_or_create(&Route { route }).clone(),
        };
        tally.add(seconds);
        self.tallies.write().unwrap_or_else(PoisonError::into_inner).insert((route, outcome), tally);
    }

    /// Counts a calculation.
    pub fn computed(&self, question: &'static str, seconds: f64) {
        self.compute_seconds.get_or_create(&Question { question }).observe(seconds);
    }

    /// Counts what waited for the pool.
    pub fn waited(&self, seconds: f64) {
        self.wait_seconds.observe(seconds);
    }

    /// Counts a rejection.
    pub fn reject(&self, reason: Rejection) {
        let reason = match reason {
            Rejection::QueueFull => "queue-full",
            Rejection::Overload => "overload",
            Rejection::Deadline => "deadline",
            Rejection::BodyMemory => "body-memory",
            Rejection::RateLimit => "rate-limit",
            Rejection::TimeLimit => "time-limit",
        };
        self.rejected.get_or_create(&Reason { reason }).inc();
    }

    /// Everything in the `OpenMetrics` text format.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string does not fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}
