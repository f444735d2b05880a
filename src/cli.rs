//! The command line and the environment: every flag has a twin `HOTWELL_*` and a default that is written here.

mod answer;
mod replay;

use std::io::Write;
use std::net::SocketAddr;
use std::process::ExitCode;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, ValueEnum};
use hotwell::http::patience::Patience;
use hotwell::http::rate::networks;
use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use hotwell::http::settings::{Origins, Settings};
use hotwell::plan::Limits;
use ipnet::IpNet;
use tracing_subscriber::EnvFilter;

/// Reckons flow, heat and level of utility plants in simulations, over HTTP.
///
/// The calculations are lumped and simplified, for simulated plants. Real boilers, pressure vessels, refrigeration and
/// electrical work are for licensed practice under local codes.
#[derive(Parser)]
#[command(version, args_conflicts_with_subcommands = true)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    serve: Serve,
}

#[derive(Subcommand)]
enum Command {
    /// Serve (the default).
    Serve(Box<Serve>),
    Answer(answer::Answer),
    Replay(replay::Replay),
}

/// Networks as one value of a flag.
#[derive(Clone, Debug)]
struct Trusted(Vec<IpNet>);

fn trusted(text: &str) -> Result<Trusted, String> {
    networks(text).map(Trusted)
}

/// How the log is written.
#[derive(Clone, Copy, ValueEnum)]
enum LogFormat {
    /// One line of text per event.
    Text,
    /// One JSON object per event.
    Json,
}

/// Times are written as `10s`, `250ms` or `2min`, sizes as `2097152`, `512KiB` or `2MiB`.
#[derive(Args)]
struct Serve {
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
    log_format: LogFormat,
    /// What is logged: off, error, warn, info, debug (one event per request, without its contents), trace,
    /// or directives such as info,hyper=debug.
    #[arg(long, env = "HOTWELL_LOG", default_value = "info")]
    log: String,
}

impl Serve {
    fn settings(&self) -> Settings {
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

/// Runs the program.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    match cli.command {
        None => run(&cli.serve),
        Some(Command::Serve(serve)) => run(&serve),
        Some(Command::Answer(answer)) => answer::run(&answer),
        Some(Command::Replay(replay)) => replay::run(&replay),
    }
}

fn run(serve: &Serve) -> ExitCode {
    if let Err(error) = start_log(serve) {
        return fail(&format!("--log {:?}: {error}", serve.log));
    }
    let settings = serve.settings();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(settings.workers)
        // One thread per permit: the pool lets no more in.
        .max_blocking_threads(settings.permits)
        .enable_all()
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => return fail(&format!("cannot start: {error}")),
    };
    let served = runtime.block_on(async {
        let listen = settings.listen;
        let server =
            Server::bind(settings, router::routes()).map_err(|error| format!("cannot listen on {listen}: {error}"))?;
        let address = server.local_addr().map_err(|error| format!("cannot listen on {listen}: {error}"))?;
        let stop = Stop::default();
        listen_for_signals(&stop).map_err(|error| format!("cannot listen for signals: {error}"))?;
        say_where(address);
        server.run(stop).await;
        Ok(())
    });
    // A calculation that was cut off stops at its next step; the process does not wait for it.
    runtime.shutdown_timeout(Duration::from_millis(500));
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            let message: String = message;
            fail(&message)
        }
    }
}

fn fail(message: &str) -> ExitCode {
    let _ = writeln!(std::io::stderr(), "hotwell: {message}");
    ExitCode::FAILURE
}

/// Tells a person where to look. A closed standard output is no reason not to serve.
fn say_where(address: SocketAddr) {
    let _ = writeln!(
        std::io::stdout(),
        "hotwell {} listens on http://{address}\n  documentation  http://{address}/docs\n  try  \
         curl --json @examples/plans/burner-hall.json http://{address}/v1/flow-balance.txt",
        env!("CARGO_PKG_VERSION"),
    );
}

fn start_log(serve: &Serve) -> Result<(), tracing_subscriber::filter::ParseError> {
    let filter = EnvFilter::try_new(&serve.log)?;
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    match serve.log_format {
        LogFormat::Text => log.with_ansi(false).init(),
        LogFormat::Json => log.json().flatten_event(true).init(),
    }
    Ok(())
}

fn listen_for_signals(stop: &Stop) -> std::io::Result<()> {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        for kind in [SignalKind::terminate(), SignalKind::interrupt()] {
            let mut signals = signal(kind)?;
            let stop = stop.clone();
            tokio::spawn(async move {
                while signals.recv().await.is_some() {
                    stop.stop();
                }
            });
        }
    }
    #[cfg(not(unix))]
    {
        let stop = stop.clone();
        tokio::spawn(async move {
            while tokio::signal::ctrl_c().await.is_ok() {
                stop.stop();
            }
        });
    }
    Ok(())
}

fn origins(text: &str) -> Origins {
    match text.trim() {
        "*" => Origins::Any,
        "none" | "" => Origins::Listed(Vec::new()),
        list => Origins::Listed(list.split(',').map(|origin| origin.trim().trim_end_matches('/').to_owned()).collect()),
    }
}

/// Splits `250ms` into its number and its suffix.
fn number_and_suffix(text: &str) -> Result<(f64, &str), String> {
    let text = text.trim();
    let end = text.find(|character: char| !character.is_ascii_digit() && character != '.').unwrap_or(text.len());
    let (number, suffix) = text.split_at(end);
    let number = number.parse().map_err(|_| format!("{text:?} does not begin with a number"))?;
    Ok((number, suffix.trim()))
}

fn duration(text: &str) -> Result<Duration, String> {
    let (number, suffix) = number_and_suffix(text)?;
    let seconds = match suffix {
        "ms" => number / 1e3,
        "s" | "" => number,
        "min" => number * 60.0,
        "h" => number * 3600.0,
        other => return Err(format!("{other:?} is none of ms, s, min, h")),
    };
    if seconds > 86_400.0 {
        return Err("the longest time is a day".to_owned());
    }
    Duration::try_from_secs_f64(seconds).map_err(|error| error.to_string())
}

fn bytes(text: &str) -> Result<usize, String> {
    let (number, suffix) = number_and_suffix(text)?;
    let factor = match suffix {
        "" | "B" => 1.0,
        "KiB" => 1024.0,
        "MiB" => 1024.0 * 1024.0,
        "GiB" => 1024.0 * 1024.0 * 1024.0,
        other => return Err(format!("{other:?} is none of B, KiB, MiB, GiB")),
    };
    let size = number * factor;
    if size > 1024.0 * 1024.0 * 1024.0 {
        return Err("the largest size is 1GiB".to_owned());
    }
    // Non-negative, since the number has no sign, and bounded just now.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    Ok(size as usize)
}

fn at_least_one(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) | Err(_) => Err("a whole number, at least 1".to_owned()),
        Ok(number) => Ok(number),
    }
}

fn multiple(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(number) if (0.0..=1000.0).contains(&number) => Ok(number),
        _ => Err("a number, 0 to 1000".to_owned()),
    }
}

/// Two ends make a range.
fn at_least_two(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0 | 1) | Err(_) => Err("a whole number, at least 2".to_owned()),
        Ok(number) => Ok(number),
    }
}

/// A depth that fits the stack of every thread.
fn depth(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(number @ 1..=500) => Ok(number),
        _ => Err("a whole number, 1 to 500".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_flag_has_its_twin() {
        let command = Cli::command();
        let all = command.get_subcommands().chain([&command]).flat_map(clap::Command::get_arguments);
        for argument in all.filter(|argument| !matches!(argument.get_id().as_str(), "help" | "version")) {
            // What has no flag is what the command is about.
            let Some(flag) = argument.get_long() else { continue };
            let twin = argument.get_env().expect(flag).to_str().expect("text");
            assert_eq!(twin, format!("HOTWELL_{}", flag.replace('-', "_").to_uppercase()));
        }
    }

    #[test]
    fn the_defaults_are_those_of_the_library() {
        let cli = Cli::parse_from(["hotwell"]);
        assert_eq!(format!("{:?}", cli.serve.settings()), format!("{:?}", Settings::default()));
    }

    #[test]
    fn serve_takes_the_same_flags() {
        let cli =
            Cli::parse_from(["hotwell", "serve", "--listen", "[::1]:0", "--cors-origins", "https://a.example/, none"]);
        let Some(Command::Serve(serve)) = cli.command else { panic!("serve") };
        assert_eq!(serve.settings().listen.port(), 0);
        assert_eq!(serve.settings().origins, Origins::Listed(vec!["https://a.example".into(), "none".into()]));
    }

    #[test]
    fn times_and_sizes_are_read() {
        assert_eq!(duration("250ms"), Ok(Duration::from_millis(250)));
        assert_eq!(duration(" 2 min "), Ok(Duration::from_secs(120)));
        assert_eq!(duration("0.5"), Ok(Duration::from_millis(500)));
        for text in ["", "s", "-1s", "1 day", "1e9s", "99999999h", "1..2s"] {
            assert!(duration(text).is_err(), "{text}");
        }
        assert_eq!(bytes("2MiB"), Ok(2 << 20));
        assert_eq!(bytes("1000"), Ok(1000));
        for text in ["", "MiB", "2MB", "-1", "9GiB"] {
            assert!(bytes(text).is_err(), "{text}");
        }
    }
}
