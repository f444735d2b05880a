//! Real reverse proxies with the configurations of `deploy/`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::replica::{PATIENCE, free_port, terminate};

/// What stands before the replicas.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    Haproxy,
    Nginx,
}

/// A running proxy; it ends with the test.
pub struct Proxy {
    process: Child,
    port: u16,
}

impl Proxy {
    pub fn start(kind: Kind, replicas: [u16; 2]) -> Self {
        let port = free_port();
        let mut command = command(kind, port, replicas);
        match kind {
            Kind::Haproxy => command.arg("-db"),
            Kind::Nginx => command.args(["-g", "daemon off;"]),
        };
        let process = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("the proxy starts");
        Self { process, port }
    }

    /// Where it listens.
    pub fn base(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// Waits until it lets requests through.
    pub async fn lets_through(&self, client: &reqwest::Client) {
        let begun = Instant::now();
        let health = format!("{}/healthz", self.base());
        while !client.get(&health).send().await.is_ok_and(|response| response.status() == 200) {
            assert!(begun.elapsed() < PATIENCE, "nothing comes through the proxy");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }
}

impl Drop for Proxy {
    fn drop(&mut self) {
        // Told rather than killed, so that it ends its workers.
        if matches!(self.process.try_wait(), Ok(None)) {
            terminate(&self.process);
        }
        let _ = self.process.wait();
    }
}

/// A proxy with its configuration, short of how it is run.
fn command(kind: Kind, port: u16, [a, b]: [u16; 2]) -> Command {
    let deploy = Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy");
    match kind {
        Kind::Haproxy => {
            let mut command = from_debian("haproxy");
            command.arg("-f").arg(deploy.join("haproxy.cfg"));
            command.env("HOTWELL_BIND", format!("127.0.0.1:{port}"));
            command.env("HOTWELL_A", format!("127.0.0.1:{a}")).env("HOTWELL_B", format!("127.0.0.1:{b}"));
            command
        }
        Kind::Nginx => {
            let text = fs::read_to_string(deploy.join("nginx.conf")).expect("a configuration");
            let own = [("listen 8080", port), ("server 127.0.0.1:8081", a), ("server 127.0.0.1:8082", b)];
            let text = own.into_iter().fold(text, |text, (written, port)| {
                assert!(text.contains(written), "{written} stands in nginx.conf");
                let (before, _) = written.rsplit_once(|next: char| !next.is_ascii_digit()).expect("a port");
                text.replace(written, &format!("{}{port}", &written[..=before.len()]))
            });
            let folder =
                PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("nginx-{}-{port}", std::process::id()));
            fs::create_dir_all(&folder).expect("a folder");
            let main = folder.join("nginx.conf");
            let shown = folder.display();
            let around = format!(
                "pid {shown}/pid;\nerror_log {shown}/error.log;\nevents {{}}\nhttp {{\naccess_log off;\n{text}\n}}\n"
            );
            fs::write(&main, around).expect("a configuration");
            let mut command = from_debian("nginx");
            command.arg("-c").arg(main);
            command
        }
    }
}

/// A program that Debian puts where only root's path leads.
fn from_debian(name: &str) -> Command {
    let mut command = Command::new(name);
    command.env("PATH", format!("{}:/usr/sbin:/sbin", std::env::var("PATH").unwrap_or_default()));
    command
}

#[test]
fn haproxy_takes_what_speaks_tls_for_the_chat_bot() {
    let tls = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/bot/tls.cfg");
    let mut haproxy = from_debian("haproxy");
    let output =
        haproxy.arg("-c").arg("-f").arg(tls).env("HOTWELL_BOT_NETWORK", "localhost").output().expect("haproxy");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn the_proxies_take_their_configurations() {
    for (kind, check) in [(Kind::Haproxy, "-c"), (Kind::Nginx, "-t")] {
        let output = command(kind, free_port(), [8081, 8082]).arg(check).output();
        let output = output.unwrap_or_else(|error| panic!("{kind:?}, a package of Debian: {error}"));
        let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
        assert!(output.status.success(), "{kind:?}: {said}");
        assert!(!said.contains("warn") && !said.contains("WARN"), "{kind:?}: {said}");
    }
}
