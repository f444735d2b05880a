//! `ngircd` on loopback, with a configuration of its own.

use std::fs;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use super::{PATIENCE, free};

/// The other end of a link between two servers.
pub enum Link {
    None,
    /// Connects to the other server at this port.
    To(u16),
    /// Waits for the other server.
    From,
}

/// A running server; it ends with the test.
pub struct Ircd {
    process: Child,
    configuration: PathBuf,
    pub port: u16,
}

impl Ircd {
    pub async fn start(name: &str, link: Link) -> Self {
        static NUMBER: AtomicUsize = AtomicUsize::new(0);
        let port = free().port();
        let peer = match link {
            Link::None => String::new(),
            Link::To(port) => format!(
                "[Server]\nName = b.test\nHost = 127.0.0.1\nPort = {port}\nMyPassword = up\nPeerPassword = down\n"
            ),
            Link::From => "[Server]\nName = a.test\nMyPassword = down\nPeerPassword = up\nPassive = yes\n".to_owned(),
        };
        let text = format!(
            "[Global]\nName = {name}.test\nInfo = a test\nAdminInfo1 = a test\nListen = 127.0.0.1\nPorts = {port}\n\
             MotdPhrase = welcome\n\
             [Limits]\nConnectRetry = 5\nMaxConnectionsIP = 0\nMaxNickLength = 20\nPingTimeout = 60\n\
             [Options]\nDNS = no\nIdent = no\nPAM = no\n{peer}"
        );
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let configuration =
            PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("ngircd-{}-{number}.conf", std::process::id()));
        fs::write(&configuration, text).expect("the configuration is written");
        let ircd = Self { process: spawn(&configuration), configuration, port };
        ircd.up().await;
        ircd
    }

    /// Ends it without a farewell and starts it anew at the same port.
    pub async fn restart(&mut self, pause: std::time::Duration) {
        self.kill();
        tokio::time::sleep(pause).await;
        self.process = spawn(&self.configuration);
        self.up().await;
    }

    /// Waits until it listens.
    async fn up(&self) {
        let start = Instant::now();
        while tokio::net::TcpStream::connect(("127.0.0.1", self.port)).await.is_err() {
            assert!(start.elapsed() < PATIENCE, "ngircd does not listen");
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
    }

    fn kill(&mut self) {
        // One that has already ended is none to stop.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Drop for Ircd {
    fn drop(&mut self) {
        self.kill();
        let _ = fs::remove_file(&self.configuration);
    }
}

fn spawn(configuration: &std::path::Path) -> Child {
    Command::new("ngircd")
        .args(["--nodaemon", "--config"])
        .arg(configuration)
        // Debian puts it where only root's path leads.
        .env("PATH", format!("{}:/usr/sbin:/sbin", std::env::var("PATH").unwrap_or_default()))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("ngircd runs; it is Debian's package ngircd")
}
