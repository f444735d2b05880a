//! The flags of the service: each has a twin `HOTWELL_*` in the environment and a default that is written here.

use std::net::SocketAddr;
use std::time::Duration;

use clap::{Args, ValueEnum};
use hotwell::http::patience::Patience;
use hotwell::http::settings::Settings;
use hotwell::plan::Limits;

use super::values::{Trusted, at_least_one, at_least_two, bytes, depth, duration, multiple, origins, trusted};

/// How the log is written.
#[derive(Clone, Copy, ValueEnum)]
pub enum LogFormat {
    /// One line of text per event.
    Text,
    /// One JSON object per event.
    Json,
}

/// Times are written as `10s`, `250ms` or `2min`, sizes as `2097152`, `512KiB` or `2MiB`.
#[derive(Args)]
pub struct Serve {
    /// Where to listen.
    #[arg(long, env = "HOTWELL_LISTEN", default_value = "127.0.0.1:8080")]
    listen: SocketAddr,
    /// The most connections at a time; further ones wait to be accepted.
    #[arg(long, env = "HOTWELL_CONNECTIONS", default_value_t = 10_000, value_parser = at_least_one)]
    connections: usize,
    /// How long a client may take to send its first request's head; later an idle connection has at least that long.
    #[arg(long, env = "HOTWELL_HEADER_TIMEOUT", default_value = "15s", value_parser = duration)]
    header_timeout: Duration,
    /// How long a client may take to send a request's body.
    #[arg(long, env = "HOTWELL_BODY_TIMEOUT", default_value = "10s", value_parser = duration)]
    body_timeout: Duration,
    /// How long a client may take to read an answer once nothing else happens on its connection.
    #[arg(long, env = "HOTWELL_WRITE_TIMEOUT", default_value = "30s", value_parser = duration)]
    write_timeout: Duration,
    /// How long a request may take from its head to its answer.
    #[arg(long, env = "HOTWELL_REQUEST_TIMEOUT", default_value = "10s", value_parser = duration)]
    request_timeout: Duration,
    /// The largest document, as sent and as unpacked.
    #[arg(long, env = "HOTWELL_BODY_BYTES", default_value = "2MiB", value_parser = bytes)]
    body_bytes: usize,
    /// The most that all bodies together may hold that have been read and not been answered; what comes on top is answered 503.
    #[arg(long, env = "HOTWELL_BODY_MEMORY", default_value = "32MiB", value_parser = bytes)]
    body_memory: usize,
    /// The longest path and query; at most 64 KiB whatever is said here.
    #[arg(long, env = "HOTWELL_URI_BYTES", default_value = "32KiB", value_parser = bytes)]
    uri_bytes: usize,
    /// The largest header section.
    #[arg(long, env = "HOTWELL_HEADER_BYTES", default_value = "16KiB", value_parser = bytes)]
    header_bytes: usize,
    /// The most lines of the header section; at most 100 whatever is said here.
    #[arg(long, env = "HOTWELL_HEADER_LINES", default_value_t = 64)]
    header_lines: usize,
    /// Large calculations at a time [default: the number of cores].
    #[arg(long, env = "HOTWELL_PERMITS", value_parser = at_least_one)]
    permits: Option<usize>,
    /// Large calculations that may wait; the next is answered 503.
    #[arg(long, env = "HOTWELL_QUEUE", default_value_t = 64)]
    queue: usize,
    /// The longest that a calculation may have to wait while no more work comes than can be done; what would wait longer is answered
    /// 503 at once.
    #[arg(long, env = "HOTWELL_QUEUE_TIME", default_value = "250ms", value_parser = duration)]
    queue_time: Duration,
    /// The longest that a calculation may have to wait when more work comes than can be done, in multiples of what it is likely to
    /// take itself.
    #[arg(long, env = "HOTWELL_QUEUE_SLOWDOWN", default_value_t = 0.5, value_parser = multiple)]
    queue_slowdown: f64,
    /// What a calculation may have to wait in any case.
    #[arg(long, env = "HOTWELL_QUEUE_LEAST", default_value = "5ms", value_parser = duration)]
    queue_least: Duration,
    /// Documents up to this size are reckoned without the pool where that is likely to be quick; 0 sends all to it.
    #[arg(long, env = "HOTWELL_INLINE_BYTES", default_value = "32KiB", value_parser = bytes)]
    inline_bytes: usize,
    /// How long that may take; what is likely to take longer, or does, goes to the pool.
    #[arg(long, env = "HOTWELL_INLINE_TIME", default_value = "2ms", value_parser = duration)]
    inline_time: Duration,
    /// The most steps of one calculation.
    #[arg(long, env = "HOTWELL_STEPS", default_value_t = 5_000_000)]
    steps: u64,
    /// Objects and lists within one another in a document, 1 to 500.
    #[arg(long, env = "HOTWELL_DEPTH", default_value_t = Limits::DEFAULT.depth, value_parser = depth)]
    depth: usize,
    /// Faults of a document that are listed; the rest is counted.
    #[arg(long, env = "HOTWELL_FAULTS", default_value_t = Limits::DEFAULT.faults, value_parser = at_least_one)]
    faults: usize,
    /// Entries of each section of a plan.
    #[arg(long, env = "HOTWELL_THINGS", default_value_t = Limits::DEFAULT.things)]
    things: usize,
    /// Entries of each map of one unit: what it takes, gives, is built of.
    #[arg(long, env = "HOTWELL_FLOWS", default_value_t = Limits::DEFAULT.flows)]
    flows: usize,
    /// Bytes of a name in a plan.
    #[arg(long, env = "HOTWELL_NAME_BYTES", default_value_t = Limits::DEFAULT.name_bytes)]
    name_bytes: usize,
    /// Variants of a plan in one comparison.
    #[arg(long, env = "HOTWELL_VARIANTS", default_value_t = Limits::DEFAULT.variants, value_parser = at_least_one)]
    variants: usize,
    /// Values that one sweep or search may try.
    #[arg(long, env = "HOTWELL_VALUES", default_value_t = Limits::DEFAULT.values, value_parser = at_least_two)]
    values: usize,
    /// Figures that one sweep or comparison may read.
    #[arg(long, env = "HOTWELL_FIGURES", default_value_t = Limits::DEFAULT.figures, value_parser = at_least_one)]
    figures: usize,
    /// Questions in one batch.
    #[arg(long, env = "HOTWELL_ITEMS", default_value_t = Limits::DEFAULT.items, value_parser = at_least_one)]
    items: usize,
    /// How long caches may keep an answer without asking again; 0s makes them ask.
    #[arg(long, env = "HOTWELL_MAX_AGE", default_value = "5min", value_parser = duration)]
    max_age: Duration,
    /// Answers from this size on are compressed for clients that ask.
    #[arg(long, env = "HOTWELL_COMPRESS_BYTES", default_value = "1KiB", value_parser = bytes)]
    compress_bytes: usize,
    /// Requests that one client may send in a minute, all at once or evenly; 0 for as many as it likes. Further ones are answered 429.
    #[arg(long, env = "HOTWELL_RATE_LIMIT", default_value_t = 0)]
    rate_limit: u32,
    /// Proxies that are believed who the client is (X-Forwarded-For): `none`, or addresses and networks such as `10.0.0.0/8`, separated
    /// by commas.
    #[arg(long, env = "HOTWELL_TRUSTED_PROXIES", default_value = "none", value_parser = trusted)]
    trusted_proxies: Trusted,
    /// Web pages that may read answers: `*`, `none`, or origins such as `https://example.org`, separated by commas.
    #[arg(long, env = "HOTWELL_CORS_ORIGINS", default_value = "*")]
    cors_origins: String,
    /// How long to keep serving after a stop signal while /readyz says 503; a second signal skips the rest.
    #[arg(long, env = "HOTWELL_GRACE", default_value = "2s", value_parser = duration)]
    grace: Duration,
    /// How long running requests may take to finish after the grace.
    #[arg(long, env = "HOTWELL_DRAIN", default_value = "15s", value_parser = duration)]
    drain: Duration,
    /// Threads for connections [default: the number of cores].
    #[arg(long, env = "HOTWELL_WORKERS", value_parser = at_least_one)]
    workers: Option<usize>,
    /// How the log is written, to standard error.
    #[arg(long, env = "HOTWELL_LOG_FORMAT", default_value = "text")]
    pub log_format: LogFormat,
    /// What is logged: off, error, warn, info, debug (one event per request, without its contents), trace,
    /// or directives such as info,hyper=debug.
    #[arg(long, env = "HOTWELL_LOG", default_value = "info")]
    pub log: String,
}

impl Serve {
    /// What the service is told.
    pub fn settings(&self) -> Settings {
        let defaults = Settings::default();
        Settings {
            listen: self.listen,
            connections: self.connections,
            header_timeout: self.header_timeout,
            body_timeout: self.body_timeout,
            write_timeout: self.write_timeout,
            request_timeout: self.request_timeout,
            body_bytes: self.body_bytes,
            body_memory: self.body_memory,
            uri_bytes: self.uri_bytes,
            header_bytes: self.header_bytes,
            header_lines: self.header_lines,
            permits: self.permits.unwrap_or(defaults.permits),
            queue: self.queue,
            patience: Patience { burst: self.queue_time, slowdown: self.queue_slowdown, least: self.queue_least },
            inline_bytes: self.inline_bytes,
            inline_time: self.inline_time,
            steps: self.steps,
            limits: Limits {
                depth: self.depth,
                faults: self.faults,
                things: self.things,
                flows: self.flows,
                name_bytes: self.name_bytes,
                variants: self.variants,
                values: self.values,
                figures: self.figures,
                items: self.items,
            },
            max_age: self.max_age,
            compress_bytes: self.compress_bytes,
            rate_limit: self.rate_limit,
            trusted_proxies: self.trusted_proxies.0.clone(),
            origins: origins(&self.cors_origins),
            grace: self.grace,
            drain: self.drain,
            workers: self.workers.unwrap_or(defaults.workers),
        }
    }
}
