//! The command line and the environment.

mod answer;
mod flags;
mod replay;
mod serve;
mod values;

use std::process::ExitCode;

use clap::{Parser, Subcommand};
use flags::Serve;

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

/// Runs the program.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    match cli.command {
        None => serve::run(&cli.serve),
        Some(Command::Serve(serve)) => serve::run(&serve),
        Some(Command::Answer(answer)) => answer::run(&answer),
        Some(Command::Replay(replay)) => replay::run(&replay),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;
    use hotwell::http::settings::{Origins, Settings};

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
}
