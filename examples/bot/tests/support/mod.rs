//! A real IRC server, guests who talk to it, the service, and the bot between them.

pub mod guest;
pub mod ircd;
pub mod relay;

use std::net::SocketAddr;
use std::num::NonZeroU32;
use std::path::Path;
use std::time::Duration;

use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use hotwell_bot::api::Api;
use hotwell_bot::session;
use hotwell_bot::settings::{Channel, Reply, Settings};
use tokio::task::JoinHandle;

/// What one thing may take on a busy machine.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// An address of this machine where nobody listens.
pub fn free() -> SocketAddr {
    let free = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
    free.local_addr().expect("an address")
}

/// The service of its own of a test.
pub struct Service {
    pub address: SocketAddr,
    stop: Stop,
    task: JoinHandle<()>,
}

impl Service {
    pub fn start(address: SocketAddr) -> Self {
        let settings = hotwell::http::settings::Settings {
            listen: address,
            grace: Duration::ZERO,
            ..hotwell::http::settings::Settings::default()
        };
        let server = Server::bind(settings, router::routes()).expect("the service binds");
        let address = server.local_addr().expect("an address");
        let stop = Stop::default();
        Self { address, task: tokio::spawn(server.run(stop.clone())), stop }
    }

    /// Stops it at once.
    pub async fn end(self) {
        self.stop.stop();
        self.stop.stop();
        self.task.await.expect("it ends");
    }
}

/// A quick bot in `#kestrel`, which has a plan, and `#empty`, which has none.
pub fn settings(ircd_port: u16, service: SocketAddr) -> Settings {
    let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("../plans/burner-hall.json");
    Settings {
        server: "127.0.0.1".to_owned(),
        port: ircd_port,
        password: None,
        nick: "hotwell".to_owned(),
        channels: vec![
            Channel { name: "#kestrel".to_owned(), plan: Some(plan) },
            Channel { name: "#Empty".to_owned(), plan: None },
        ],
        service: format!("http://{service}"),
        patience: Duration::from_secs(5),
        reply: Reply::Notice,
        every: Duration::from_millis(50),
        burst: NonZeroU32::new(20).expect("not zero"),
        least_wait: Duration::from_millis(100),
        most_wait: Duration::from_millis(500),
    }
}

/// A running bot; it ends with the test.
pub struct Bot {
    pub task: JoinHandle<()>,
    pub stop: Option<tokio::sync::oneshot::Sender<()>>,
}

impl Bot {
    pub fn start(settings: Settings) -> Self {
        let api = Api::new(&settings.service, settings.patience).expect("a service's address");
        let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
        let task = tokio::spawn(async move {
            let stopped = async {
                let _ = stopped.await;
            };
            session::run(&settings, api, stopped).await;
        });
        Self { task, stop: Some(stop) }
    }
}
