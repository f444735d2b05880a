//! `hotwell replay CASES --against URL`: what a server answers, held against a folder of cases.
//!
//! A case is a JSON file: a document or the path of one, the question, and what is expected. It is told by its file's name.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use clap::Args;
use hotwell::quantity::number as short;
use indexmap::IndexMap;
use rustls_platform_verifier::BuilderVerifierExt as _;
use serde::Deserialize;
use serde_json::Value;

/// Asks a server the cases of a folder and tells what differs.
///
/// The exit code is 0 where every case is as expected, 1 where some differ, 2 where cases cannot be read or asked.
#[derive(Args)]
pub struct Replay {
    /// A folder of cases: JSON files with a plan (or another document) or the path of one, a question, and what is expected.
    cases: PathBuf,
    /// The service, such as `http://localhost:8080`.
    #[arg(long, env = "HOTWELL_AGAINST")]
    against: String,
    /// How long one answer may take.
    #[arg(long, env = "HOTWELL_PATIENCE", default_value = "30s", value_parser = super::values::duration)]
    patience: Duration,
}

/// One case.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// What it is about.
    #[serde(default)]
    title: Option<String>,
    /// What is asked.
    #[serde(default = "whole_plan")]
    question: String,
    /// The plan, or its path from the case's own folder.
    #[serde(alias = "document")]
    plan: Value,
    expect: Expected,
}

fn whole_plan() -> String {
    "plan".to_owned()
}

/// What is expected; what is not said is not looked at.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    /// The HTTP status.
    #[serde(default = "ok")]
    status: u16,
    /// The verdict.
    #[serde(default)]
    verdict: Option<String>,
    /// Codes of findings that must be there.
    #[serde(default)]
    found: Vec<String>,
    /// Codes of findings that must not.
    #[serde(default)]
    absent: Vec<String>,
    /// Figures by JSON pointer (RFC 6901).
    #[serde(default)]
    figures: IndexMap<String, Figure>,
}

fn ok() -> u16 {
    200
}

/// What is expected of one figure: a value alone is meant to a billionth of its size.
#[derive(Deserialize)]
#[serde(untagged)]
enum Figure {
    Within(Within),
    Value(Value),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Within {
    value: f64,
    /// By how much it may differ.
    #[serde(default)]
    tolerance: f64,
    /// By what share of the value it may differ besides.
    #[serde(default)]
    relative: f64,
}

/// What a value alone may differ by, as a share of it.
const RELATIVE: f64 = 1e-9;
/// A case cannot be read or asked.
const NOT_ASKED: u8 = 2;

/// Asks all cases and tells what differs.
pub fn run(replay: &Replay) -> ExitCode {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let told = match runtime {
        Ok(runtime) => runtime.block_on(all(replay)),
        Err(error) => Err(error.to_string()),
    };
    match told {
        Ok((report, differ)) => {
            let said = std::io::stdout().lock().write_all(report.as_bytes());
            match (said, differ) {
                (Err(_), _) => ExitCode::from(NOT_ASKED),
                (Ok(()), 0) => ExitCode::SUCCESS,
                (Ok(()), _) => ExitCode::FAILURE,
            }
        }
        Err(say) => {
            let _ = writeln!(std::io::stderr(), "hotwell: {say}");
            ExitCode::from(NOT_ASKED)
        }
    }
}

async fn all(replay: &Replay) -> Result<(String, usize), String> {
    let cases = cases(&replay.cases)?;
    let client = client(&replay.against, replay.patience)?;
    let (mut report, mut differ) = (String::new(), 0);
    for (name, case) in &cases {
        let differences =
            ask(&client, &replay.against, &replay.cases, case).await.map_err(|say| format!("{name}: {say}"))?;
        let about = case.title.as_ref().map_or(String::new(), |title| format!(" ({title})"));
        let mark = if differences.is_empty() { "as expected" } else { "DIFFERS" };
        let _ = writeln!(report, "{mark:<11}  {name}: {}{about}", case.question);
        for difference in &differences {
            let _ = writeln!(report, "             {difference}");
        }
        differ += usize::from(!differences.is_empty());
    }
    let _ = writeln!(report, "{} of {} cases as expected", cases.len() - differ, cases.len());
    Ok((report, differ))
}

/// The cases of a folder in the order of their names.
fn cases(folder: &Path) -> Result<Vec<(String, Case)>, String> {
    let listed = std::fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let mut files: Vec<PathBuf> = listed.filter_map(|entry| entry.ok().map(|entry| entry.path())).collect();
    files.retain(|path| path.extension().is_some_and(|extension| extension == "json"));
    files.sort();
    if files.is_empty() {
        return Err(format!("{}: there is no case (a file that ends in .json)", folder.display()));
    }
    let read = |path: PathBuf| {
        let text = std::fs::read(&path).map_err(|error| format!("{}: {error}", path.display()))?;
        let case = serde_json::from_slice(&text).map_err(|error| format!("{}: {error}", path.display()))?;
        Ok((path.file_stem().unwrap_or_default().to_string_lossy().into_owned(), case))
    };
    files.into_iter().map(read).collect()
}

/// A client that trusts whom the machine trusts: nobody where it knows of no authority, as in an image that holds the program alone, which
/// plain HTTP can do without. The provider of cryptography is named here, not set for the whole process.
fn client(against: &str, patience: Duration) -> Result<reqwest::Client, String> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let no_tls = |error| format!("cannot speak TLS: {error}");
    let tls =
        rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().map_err(no_tls)?;
    let tls = match tls.clone().with_platform_verifier() {
        Err(_) if against.starts_with("http:") => tls.with_root_certificates(rustls::RootCertStore::empty()),
        trusting => trusting.map_err(no_tls)?,
    }
    .with_no_client_auth();
    reqwest::Client::builder()
        .tls_backend_preconfigured(tls)
        .timeout(patience)
        .build()
        .map_err(|error| format!("cannot ask: {}", chain(&error)))
}

async fn ask(client: &reqwest::Client, against: &str, folder: &Path, case: &Case) -> Result<Vec<String>, String> {
    let document = match &case.plan {
        Value::String(path) => {
            let path = folder.join(path);
            std::fs::read(&path).map_err(|error| format!("{}: {error}", path.display()))?
        }
        plan => plan.to_string().into_bytes(),
    };
    let url = format!("{}/v1/{}.json", against.trim_end_matches('/'), case.question);
    let request = client.post(&url).header("content-type", "application/json").body(document);
    let response = request.send().await.map_err(|error| format!("{url}: {}", chain(&error)))?;
    let status = response.status().as_u16();
    let body = response.bytes().await.map_err(|error| format!("{url}: {}", chain(&error)))?;
    let answer: Value = serde_json::from_slice(&body).unwrap_or_default();
    Ok(differences(&case.expect, status, &answer))
}

/// An error with what lies behind it, which is what a person needs.
fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut behind = error.source();
    while let Some(error) = behind {
        let _ = write!(text, ": {error}");
        behind = error.source();
    }
    text
}

/// What is other than expected, a line each.
fn differences(expected: &Expected, status: u16, answer: &Value) -> Vec<String> {
    let mut found = Vec::new();
    if status != expected.status {
        let detail = answer["detail"].as_str().map_or(String::new(), |detail| format!(": {detail}"));
        found.push(format!("status: expected {}, found {status}{detail}", expected.status));
        return found;
    }
    if let Some(verdict) = &expected.verdict
        && answer["verdict"] != verdict.as_str()
    {
        let say = answer["say"].as_str().map_or(String::new(), |say| format!(" ({say})"));
        found.push(format!("verdict: expected {verdict}, found {}{say}", shown(answer.get("verdict"))));
    }
    let codes: Vec<&str> =
        answer["findings"].as_array().into_iter().flatten().filter_map(|finding| finding["code"].as_str()).collect();
    let missing = expected.found.iter().filter(|code| !codes.contains(&code.as_str()));
    found.extend(missing.map(|code| format!("finding {code}: expected, not found")));
    let unwanted = expected.absent.iter().filter(|code| codes.contains(&code.as_str()));
    found.extend(unwanted.map(|code| format!("finding {code}: not expected, found")));
    for (at, figure) in &expected.figures {
        found.extend(figure.difference(answer.pointer(at)).map(|difference| format!("{at}: {difference}")));
    }
    found
}

fn shown(value: Option<&Value>) -> String {
    value.map_or_else(|| "nothing".to_owned(), Value::to_string)
}

impl Figure {
    /// What differs, if anything does.
    fn difference(&self, found: Option<&Value>) -> Option<String> {
        let (value, allowed) = match self {
            Self::Within(within) => (within.value, within.tolerance + within.relative * within.value.abs()),
            Self::Value(value) => match value.as_f64() {
                Some(number) => (number, RELATIVE * number.abs()),
                None if found == Some(value) => return None,
                None => return Some(format!("expected {value}, found {}", shown(found))),
            },
        };
        let number = found.and_then(Value::as_f64);
        match number {
            Some(number) if (number - value).abs() <= allowed => None,
            Some(number) => {
                let (allowed, off) = (short(allowed), short(number - value));
                Some(format!("expected {value} ± {allowed}, found {number}, off by {off}"))
            }
            None => Some(format!("expected {value} ± {}, found {}", short(allowed), shown(found))),
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn told(expected: Value, status: u16, answer: &Value) -> Vec<String> {
        differences(&serde_json::from_value(expected).expect("what is expected"), status, answer)
    }

    #[test]
    fn what_is_other_is_told_and_what_is_not_said_is_not_looked_at() {
        let answer = json!({
            "verdict": "holds", "say": "Holds.", "findings": [{"code": "supply-tight"}],
            "power": {"net_w": 54_300.0}, "stores": {"a/b": {"first_empty_s": null}}
        });
        assert!(told(json!({}), 200, &answer).is_empty());
        let right = json!({
            "verdict": "holds", "found": ["supply-tight"], "absent": ["demand-short"],
            "figures": {"/power/net_w": 54_300, "/stores/a~1b/first_empty_s": null}
        });
        assert!(told(right, 200, &answer).is_empty());
        let near = json!({"figures": {"/power/net_w": {"value": 54_000, "relative": 0.005, "tolerance": 30}}});
        assert!(told(near, 200, &answer).is_empty(), "270 and 30 make 300");
        for (expected, difference) in [
            (json!({"verdict": "fails"}), "verdict: expected fails, found \"holds\" (Holds.)"),
            (json!({"found": ["demand-short"]}), "finding demand-short: expected, not found"),
            (json!({"absent": ["supply-tight"]}), "finding supply-tight: not expected, found"),
            (
                json!({"figures": {"/power/net_w": {"value": 54_000, "tolerance": 299}}}),
                "/power/net_w: expected 54000 ± 299, found 54300, off by 300",
            ),
            (json!({"figures": {"/power/gross_w": 1}}), "/power/gross_w: expected 1 ± 1e-9, found nothing"),
            (
                json!({"figures": {"/stores/a~1b/first_empty_s": 12}}),
                "/stores/a~1b/first_empty_s: expected 12 ± 1.2e-8, found null",
            ),
            (json!({"status": 422}), "status: expected 422, found 200"),
        ] {
            assert_eq!(told(expected, 200, &answer), [difference]);
        }
    }
}
