//! What an operator may set, with the defaults. The command line and the environment are read in `cli`.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::Duration;

use ipnet::IpNet;

use crate::http::patience::Patience;
use crate::plan::Limits;

/// Which web pages may read answers from a browser.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origins {
    /// All of them: answers are public and hold no one's secrets.
    Any,
    /// Those listed, as `https://host[:port]`; an empty list is none.
    Listed(Vec<String>),
}

/// Everything the service is told at its start.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where to listen.
    pub listen: SocketAddr,
    /// The most connections at a time; further ones wait in the listener's backlog.
    pub connections: usize,
    /// How long a connection may take until its first request head is whole. Between requests it has at least as long,
    /// and at most twice.
    pub header_timeout: Duration,
    /// How long a request's body may take.
    pub body_timeout: Duration,
    /// How long the reading of an answer may take once the connection would otherwise be idle.
    pub write_timeout: Duration,
    /// How long a request may take from its head to its answer.
    pub request_timeout: Duration,
    /// The most bytes of a body, and of a packed document once unpacked.
    pub body_bytes: usize,
    /// The most bytes of all bodies together that have been read and not been answered.
    pub body_memory: usize,
    /// The most bytes of the request's path and query.
    pub uri_bytes: usize,
    /// The most bytes of the header section.
    pub header_bytes: usize,
    /// The most lines of the header section.
    pub header_lines: usize,
    /// Calculations at a time on the pool.
    pub permits: usize,
    /// Calculations that may wait for the pool; the next is refused.
    pub queue: usize,
    /// How long they may wait.
    pub patience: Patience,
    /// Documents up to this size are tried without the pool where they are likely to take no longer than `inline_time`.
    pub inline_bytes: usize,
    /// How long such a try may take before it goes to the pool.
    pub inline_time: Duration,
    /// The most steps of one calculation.
    pub steps: u64,
    /// How large a plan may be.
    pub limits: Limits,
    /// How long answers may be kept by caches without asking again.
    pub max_age: Duration,
    /// Answers from this size on are compressed for clients that ask.
    pub compress_bytes: usize,
    /// Requests a minute of one client; 0 for as many as it likes.
    pub rate_limit: u32,
    /// Proxies that are believed who the client is.
    pub trusted_proxies: Vec<IpNet>,
    /// Which web pages may read answers.
    pub origins: Origins,
    /// How long to keep serving after a stop signal, while `/readyz` says 503.
    pub grace: Duration,
    /// How long running requests may take to finish after the grace.
    pub drain: Duration,
    /// Threads for connections.
    pub workers: usize,
}

impl Default for Settings {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        Self {
            listen: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 8080),
            connections: 10_000,
            header_timeout: Duration::from_secs(15),
            body_timeout: Duration::from_secs(10),
            write_timeout: Duration::from_secs(30),
            request_timeout: Duration::from_secs(10),
            body_bytes: 2 << 20,
            body_memory: 32 << 20,
            uri_bytes: 32 << 10,
            header_bytes: 16 << 10,
            header_lines: 64,
            permits: cores,
            queue: 64,
            patience: Patience { burst: Duration::from_millis(250), slowdown: 0.5, least: Duration::from_millis(5) },
            inline_bytes: 32 << 10,
            inline_time: Duration::from_millis(2),
            steps: 5_000_000,
            limits: Limits::DEFAULT,
            max_age: Duration::from_secs(300),
            compress_bytes: 1024,
            rate_limit: 0,
            trusted_proxies: Vec::new(),
            origins: Origins::Any,
            grace: Duration::from_secs(2),
            drain: Duration::from_secs(15),
            workers: cores,
        }
    }
}
