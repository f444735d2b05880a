//! The program as a process of its own, for benches that are its clients.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::process::{Child, Command, Stdio};

/// The service as a process of its own.
pub struct Service {
    process: Child,
    /// Where it listens.
    pub address: SocketAddr,
}

impl Service {
    /// Starts it with its defaults: the program that was built with the bench, or the one that `PROGRAM` names.
    pub fn start() -> Self {
        let program = std::env::var_os("PROGRAM").unwrap_or_else(|| env!("CARGO_BIN_EXE_hotwell").into());
        let mut process = Command::new(program)
            .args(["--listen", "127.0.0.1:0"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the service starts");
        let mut first = String::new();
        BufReader::new(process.stdout.take().expect("piped")).read_line(&mut first).expect("where it listens");
        let address = first.trim().rsplit("http://").next().expect("an address").parse().expect("an address");
        Self { process, address }
    }

    /// Resident memory in MiB.
    pub fn memory(&self) -> f64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.process.id())).expect("Linux");
        let line = status.lines().find(|line| line.starts_with("VmRSS:")).expect("a line");
        line.split_whitespace().nth(1).expect("a figure").parse::<f64>().expect("a number") / 1024.0
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
