//! `hotwell answer FILE`: one question of one document, without a server.

use std::io::{Read as _, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;
use std::thread::available_parallelism;

use clap::builder::PossibleValuesParser;
use clap::{Args, ValueEnum};
use hotwell::budget::Budget;
use hotwell::forms::{Form, Picture};
use hotwell::http::question::problem;
use hotwell::http::router::{QUESTIONS, Show};
use hotwell::http::workers::Threads;
use hotwell::plan::Limits;
use hotwell::questions::answer::Verdict;

/// Answers a document without a server.
///
/// The exit code is 0 where the plan holds, cautions or not; 1 where it fails, and with --strict where there are cautions;
/// 2 where there is no answer.
#[derive(Args)]
pub struct Answer {
    /// The document; - reads standard input.
    file: PathBuf,
    /// What is asked.
    #[arg(long, env = "HOTWELL_QUESTION", default_value = "plan",
        value_parser = PossibleValuesParser::new(QUESTIONS.iter().map(|door| door.name)))]
    question: String,
    /// How the answer is shown.
    #[arg(long, env = "HOTWELL_FORM", default_value = "line")]
    form: Shape,
    /// Cautions end in exit code 1, too.
    #[arg(long, env = "HOTWELL_STRICT")]
    strict: bool,
}

/// How an answer is shown.
#[derive(Clone, Copy, ValueEnum)]
enum Shape {
    /// The whole answer.
    Json,
    /// One line.
    Line,
    /// A picture: the sheet, and in its place the card where it is shown small.
    Svg,
    /// The card alone, as a picture.
    Card,
}

impl From<Shape> for Form {
    fn from(shape: Shape) -> Self {
        match shape {
            Shape::Json => Self::Json,
            Shape::Line => Self::Line,
            Shape::Svg => Self::SVG,
            Shape::Card => Self::Svg(Picture::Card),
        }
    }
}

/// There is no answer.
const NO_ANSWER: u8 = 2;

/// Answers, and tells by the exit code how it turns out.
pub fn run(answer: &Answer) -> ExitCode {
    let document = match read(&answer.file) {
        Ok(document) => document,
        Err(error) => return fail(&format!("{}: {error}", answer.file.display())),
    };
    let Some(show) = QUESTIONS.iter().find(|door| door.name == answer.question).map(|door| door.show) else {
        return fail(&format!("there is no question {:?}", answer.question));
    };
    match shown(show, &document, answer.form.into()) {
        Ok((bytes, verdict)) => {
            let mut out = std::io::stdout().lock();
            if out.write_all(&bytes).and_then(|()| out.write_all(b"\n")).is_err() {
                return ExitCode::from(NO_ANSWER);
            }
            match verdict {
                Verdict::Fails => ExitCode::FAILURE,
                Verdict::HoldsWithCautions if answer.strict => ExitCode::FAILURE,
                Verdict::Holds | Verdict::HoldsWithCautions => ExitCode::SUCCESS,
            }
        }
        Err(say) => fail(&say),
    }
}

fn read(file: &PathBuf) -> std::io::Result<Vec<u8>> {
    if file.as_os_str() == "-" {
        let mut document = Vec::new();
        return std::io::stdin().read_to_end(&mut document).map(|_| document);
    }
    std::fs::read(file)
}

fn shown(show: Show, document: &[u8], form: Form) -> Result<(Vec<u8>, Verdict), String> {
    let workers = Threads(available_parallelism().map_or(1, std::num::NonZero::get));
    let budget = Budget::unhurried().with_workers(&workers);
    show(document, form, &Limits::DEFAULT, &budget).map_err(|refused| problem(refused).line("none"))
}

fn fail(say: &str) -> ExitCode {
    let _ = writeln!(std::io::stderr(), "hotwell: {say}");
    ExitCode::from(NO_ANSWER)
}
