//! The chat bot: reads its settings and runs until it is stopped.

use std::process::ExitCode;

use clap::Parser as _;
use hotwell_bot::api::Api;
use hotwell_bot::session;
use hotwell_bot::settings::Settings;
use tokio::signal::unix::{SignalKind, signal};
use tracing_subscriber::EnvFilter;

#[tokio::main(flavor = "current_thread")]
async fn main() -> ExitCode {
    let settings = Settings::parse();
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info,irc=warn"));
    tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).init();
    let ready = Api::new(&settings.service, settings.patience);
    let (api, mut terminate) = match (ready, signal(SignalKind::terminate())) {
        (Ok(api), Ok(terminate)) => (api, terminate),
        (Err(error), _) => return cannot(&error),
        (_, Err(error)) => return cannot(&error),
    };
    let stopped = async {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = tokio::signal::ctrl_c() => {}
        }
    };
    session::run(&settings, api, stopped).await;
    ExitCode::SUCCESS
}

fn cannot(error: &dyn std::error::Error) -> ExitCode {
    tracing::error!(%error, because = error.source(), "cannot begin");
    ExitCode::FAILURE
}
