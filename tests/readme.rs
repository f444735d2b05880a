//! The commands of the README are run, and what they print is what it says they print.
//!
//! Every line of a ```sh block that begins with `curl` is run against a server of its own, with the port put in, and every
//! line that begins with `hotwell` by the program itself; a ```text block that follows is what they print, to the letter. Other commands must be on a short list of what a reader runs first.

use std::fs;
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// The address of the README.
const ADDRESS: &str = "localhost:8080";
/// What starts the service or its tests, and so is not run by one.
const NOT_RUN: [&str; 3] = ["cargo run --release", "cargo test", "cargo install --locked --path ."];

/// A server that ends with its test.
struct Server {
    process: Child,
    address: String,
}

impl Server {
    fn start() -> Self {
        let port = TcpListener::bind("127.0.0.1:0").and_then(|free| free.local_addr()).expect("a free port").port();
        let address = format!("127.0.0.1:{port}");
        let process = Command::new(env!("CARGO_BIN_EXE_hotwell"))
            .args(["--listen", &address])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the server starts");
        let server = Self { process, address };
        let start = Instant::now();
        while !server.run("curl -sf localhost:8080/readyz").0 {
            assert!(start.elapsed() < Duration::from_secs(20), "the server is not ready");
            std::thread::sleep(Duration::from_millis(20));
        }
        server
    }

    /// Runs a command in the folder of the README; whether it succeeded, and what it printed.
    fn run(&self, command: &str) -> (bool, String) {
        let output = Command::new("sh")
            .args(["-euc", &command.replace(ADDRESS, &self.address)])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("a shell");
        let printed = [output.stdout, output.stderr].concat();
        (output.status.success(), String::from_utf8_lossy(&printed).into_owned())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // A server that has already ended is none to stop.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A block of commands and, where one follows, what they print.
#[derive(Debug, PartialEq)]
struct Step {
    commands: Vec<String>,
    prints: Option<String>,
}

fn steps(markdown: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut lines = markdown.lines();
    let mut follows = false;
    while let Some(line) = lines.next() {
        let mut block = || lines.by_ref().take_while(|line| *line != "```").collect::<Vec<_>>();
        match line {
            "```sh" => {
                let mut commands: Vec<String> = Vec::new();
                for line in block() {
                    // What is indented goes on with the command before it.
                    match commands.last_mut().filter(|_| line.starts_with(' ')) {
                        Some(command) => *command = format!("{command}\n{line}"),
                        None => commands.push(line.to_owned()),
                    }
                }
                steps.push(Step { commands, prints: None });
                follows = true;
            }
            "```text" if follows => {
                let prints = block().join("\n");
                steps.last_mut().expect("a step before it").prints = Some(prints);
                follows = false;
            }
            _ if line.starts_with("```") && line.len() > 3 => {
                block();
                follows = false;
            }
            "" => {}
            _ => follows = false,
        }
    }
    steps
}

#[test]
fn every_command_does_what_it_says() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).expect("a README");
    let server = Server::start();
    let (mut run, mut compared) = (0, 0);
    for step in steps(&readme) {
        let mut printed = String::new();
        for command in &step.commands {
            if NOT_RUN.contains(&command.as_str()) {
                continue;
            }
            let whole = if let Some(arguments) = command.strip_prefix("hotwell ") {
                format!("{} {arguments}", env!("CARGO_BIN_EXE_hotwell"))
            } else {
                assert!(command.starts_with("curl "), "a command nobody runs: {command}");
                // Quiet as to progress, and failing where the answer is a failure.
                command.replacen("curl ", "curl -sS --fail-with-body ", 1)
            };
            let (succeeded, text) = server.run(&whole);
            assert!(succeeded, "{command}\n{text}");
            run += 1;
            printed.push_str(&text);
            if !text.ends_with('\n') {
                printed.push('\n');
            }
        }
        if let Some(expected) = &step.prints {
            compared += 1;
            assert_eq!(printed.trim_end(), expected.trim_end(), "{:?}", step.commands);
        }
    }
    assert!(run >= 6 && compared >= 4, "only {run} commands run, {compared} compared");
}

#[test]
fn commands_and_what_they_print_are_found() {
    let markdown = "Say:\n\n```sh\ncurl 'a\n  b'\ncurl c\n```\n\n```text\nout\n```\n\nThen:\n\n```sh\ncurl d\n```\n\nwords\n\n```text\nnot of d\n```\n\n```json\n{}\n```\n";
    assert_eq!(
        steps(markdown),
        [
            Step { commands: vec!["curl 'a\n  b'".to_owned(), "curl c".to_owned()], prints: Some("out".to_owned()) },
            Step { commands: vec!["curl d".to_owned()], prints: None },
        ]
    );
}
