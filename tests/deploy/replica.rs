//! The program as an operator runs it.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What a start or a stop may take on a busy machine.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// A port of this machine that is free.
pub fn free_port() -> u16 {
    let free = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
    free.local_addr().expect("an address").port()
}

/// Tells a process of our own to stop.
pub fn terminate(process: &Child) {
    let told = Command::new("kill").args(["-TERM", &process.id().to_string()]).status().expect("kill");
    assert!(told.success(), "it runs");
}

/// One replica; it ends with the test.
pub struct Replica {
    process: Child,
    pub port: u16,
}

impl Replica {
    /// Starts one and waits until it is ready.
    pub async fn start(client: &reqwest::Client, port: u16, flags: &[&str]) -> Self {
        let process = Command::new(env!("CARGO_BIN_EXE_hotwell"))
            .args(["--listen", &format!("127.0.0.1:{port}")])
            .args(flags)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the service starts");
        let replica = Self { process, port };
        let begun = Instant::now();
        let ready = format!("http://127.0.0.1:{port}/readyz");
        while !client.get(&ready).send().await.is_ok_and(|response| response.status() == 200) {
            assert!(begun.elapsed() < PATIENCE, "a replica is not ready");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        replica
    }

    /// Tells it to stop and waits until it has, which it must do by itself.
    pub async fn stop(mut self) {
        terminate(&self.process);
        let begun = Instant::now();
        loop {
            if let Some(status) = self.process.try_wait().expect("a process") {
                assert!(status.success(), "a replica ended with {status}");
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "a replica does not stop");
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    }
}

impl Drop for Replica {
    fn drop(&mut self) {
        // One that has already ended is none to stop.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
