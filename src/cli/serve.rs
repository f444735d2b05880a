//! `hotwell serve`: the service, from its log to the signals that stop it.

use std::io::Write as _;
use std::net::SocketAddr;
use std::process::ExitCode;
use std::time::Duration;

use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use tracing_subscriber::EnvFilter;

use super::flags::{LogFormat, Serve};

/// Serves until a signal stops it.
pub fn run(serve: &Serve) -> ExitCode {
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

/// What draws pictures warns of each letter that its font lacks, and letters are contents of requests. Whoever names it in `--log` hears
/// of them.
const QUIET: &str = "usvg=off,resvg=off";

fn start_log(serve: &Serve) -> Result<(), tracing_subscriber::filter::ParseError> {
    let filter = EnvFilter::try_new(format!("{QUIET},{}", serve.log))?;
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
