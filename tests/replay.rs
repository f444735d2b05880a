//! `hotwell replay` against a server in this process, and `hotwell answer` without one.

use std::fs;
use std::io::Write as _;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use hotwell::http::settings::Settings;

/// A server on a thread of its own, until the test ends.
struct Running {
    address: SocketAddr,
    stop: Stop,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Running {
    fn start() -> Self {
        let listen = "127.0.0.1:0".parse().expect("an address");
        let settings = Settings { listen, grace: Duration::ZERO, ..Settings::default() };
        let stop = Stop::default();
        let (told, address) = std::sync::mpsc::channel();
        let until = stop.clone();
        let thread = std::thread::spawn(move || {
            let runtime =
                tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().expect("a runtime");
            runtime.block_on(async {
                let server = Server::bind(settings, router::routes()).expect("a free port");
                told.send(server.local_addr().expect("an address")).expect("a test that waits");
                server.run(until).await;
            });
        });
        Self { address: address.recv().expect("a server"), stop, thread: Some(thread) }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop.stop();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn hotwell(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hotwell"));
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn told(output: &Output) -> (Option<i32>, String) {
    let text = [output.stdout.as_slice(), output.stderr.as_slice()].concat();
    (output.status.code(), String::from_utf8(text).expect("text"))
}

fn replay(cases: &Path, against: &str) -> (Option<i32>, String) {
    let cases = cases.to_str().expect("a path");
    told(&hotwell(&["replay", cases, "--against", against]).output().expect("it runs"))
}

/// A folder of this test's own.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder");
    folder
}

#[test]
fn the_cases_of_the_examples_are_as_expected() {
    let server = Running::start();
    let (code, text) = replay(Path::new("examples/cases"), &format!("http://{}/", server.address));
    assert_eq!(code, Some(0), "{text}");
    let cases = fs::read_dir("examples/cases").expect("the cases").count();
    assert!(cases >= 5 && text.ends_with(&format!("{cases} of {cases} cases as expected\n")), "{text}");
}

#[test]
fn a_wrong_case_is_told_and_fails() {
    let server = Running::start();
    let against = format!("http://{}", server.address);
    let cases = folder("wrong-case");
    let right = r#"{ "question": "flow-balance", "plan": {}, "expect": { "verdict": "holds-with-cautions" } }"#;
    fs::write(cases.join("a.json"), right).expect("written");
    let plan = fs::read_to_string("examples/plans/minimal.json").expect("an example");
    let wrong = format!(
        r#"{{ "question": "flow-balance", "plan": {plan},
              "expect": {{ "verdict": "fails", "figures": {{ "/units/melter/count": 5, "/units/smelter/count": 1 }} }} }}"#
    );
    fs::write(cases.join("b.json"), wrong).expect("written");
    let (code, text) = replay(&cases, &against);
    assert_eq!(code, Some(1), "{text}");
    for part in [
        "as expected  a: flow-balance",
        "DIFFERS      b: flow-balance",
        "verdict: expected fails, found \"holds\"",
        "/units/melter/count: expected 5 ± 5e-9, found 4, off by -1",
        "/units/smelter/count: expected 1 ± 1e-9, found nothing",
        "1 of 2 cases as expected",
    ] {
        assert!(text.contains(part), "{part:?} is not in\n{text}");
    }
}

#[test]
fn what_cannot_be_asked_is_code_2() {
    let cases = folder("no-server");
    let (code, text) = replay(&cases, "http://127.0.0.1:9");
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("there is no case"), "{text}");
    fs::write(cases.join("a.json"), r#"{ "plan": {}, "expect": { "verdikt": "holds" } }"#).expect("written");
    let (code, text) = replay(&cases, "http://127.0.0.1:9");
    assert!(code == Some(2) && text.contains("verdikt"), "{text}");
    fs::write(cases.join("a.json"), r#"{ "plan": "nowhere.json", "expect": {} }"#).expect("written");
    let (code, text) = replay(&cases, "http://127.0.0.1:9");
    assert!(code == Some(2) && text.contains("nowhere.json"), "{text}");
    fs::write(cases.join("a.json"), r#"{ "plan": {}, "expect": {} }"#).expect("written");
    for against in ["http://127.0.0.1:9", "https://127.0.0.1:9", "127.0.0.1:9"] {
        let (code, text) = replay(&cases, against);
        assert!(code == Some(2) && text.contains("/v1/plan.json"), "{against}: {text}");
    }
}

#[test]
fn plain_http_needs_no_authority() {
    let server = Running::start();
    let asked = |scheme: &str| {
        let against = format!("{scheme}://{}", server.address);
        let mut command = hotwell(&["replay", "examples/cases", "--against", &against]);
        // As in an image that holds the program alone.
        told(&command.env("SSL_CERT_FILE", "nowhere.pem").env_remove("SSL_CERT_DIR").output().expect("it runs"))
    };
    let (code, text) = asked("http");
    assert_eq!(code, Some(0), "{text}");
    let (code, text) = asked("https");
    assert!(code == Some(2) && text.contains("cannot speak TLS"), "{text}");
}

#[test]
fn an_answer_tells_its_verdict_by_its_code() {
    for (arguments, code, begin) in [
        (&["examples/plans/minimal.json", "--question", "flow-balance"][..], 0, "Holds: 4 × melter"),
        (
            &["examples/plans/minimal.json", "--question", "flow-balance", "--form", "json"],
            0,
            "{\"question\":\"flow-balance\"",
        ),
        (&["examples/plans/minimal.json", "--form", "svg"], 0, "<svg"),
        (&["examples/plans/short-supply.json", "--question", "flow-balance"], 1, "Fails: "),
        (&["examples/questions/compare.json", "--question", "compare"], 0, "Best is "),
        (&["examples/questions/batch.json", "--question", "batch"], 0, "3 questions: "),
        (&["examples/nowhere.json"], 2, "hotwell: examples/nowhere.json: "),
        (&["Cargo.toml"], 2, "hotwell: Not JSON (400): "),
        (&["examples/plans/minimal.json", "--question", "flow-balence"], 2, "error: invalid value 'flow-balence'"),
    ] {
        let (found, text) = told(&hotwell(&["answer"]).args(arguments).output().expect("it runs"));
        assert_eq!(found, Some(code), "{arguments:?}: {text}");
        assert!(text.starts_with(begin), "{arguments:?}: {text}");
    }
}

#[test]
fn a_document_may_come_by_standard_input_and_be_held_strictly() {
    for (plan, strict, code) in [("{}", false, 0), ("{}", true, 1), ("{\"unitz\": 1}", false, 2)] {
        let mut command = hotwell(&["answer", "-", "--question", "flow-balance"]);
        if strict {
            command.arg("--strict");
        }
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it runs");
        child.stdin.take().expect("its input").write_all(plan.as_bytes()).expect("written");
        let (found, text) = told(&child.wait_with_output().expect("it ends"));
        assert_eq!(found, Some(code), "{plan} {strict}: {text}");
    }
}
