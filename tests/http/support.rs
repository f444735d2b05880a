//! A server of its own for each test, with questions that behave well and badly.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use axum::Router;
use hotwell::budget::{Budget, Halt};
use hotwell::forms::{Picture, Shown};
use hotwell::http::app::App;
use hotwell::http::endpoint::{Methods, endpoint};
use hotwell::http::question::{Question, Refused};
use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use hotwell::http::settings::Settings;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::Detail;
use hotwell::questions::answer::Verdict;
use reqwest::{Method, RequestBuilder, Response};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::task::JoinHandle;

pub use crate::plain_client::plain_client;

/// What an answer of the test questions shows.
pub struct Shows {
    json: Vec<u8>,
    line: String,
}

impl Shown for Shows {
    fn json(&self) -> Vec<u8> {
        self.json.clone()
    }
    fn line(&self) -> String {
        self.line.clone()
    }
    fn picture(&self, _: Picture) -> String {
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\"><title>{}</title></svg>", self.line)
    }
    fn verdict(&self) -> Verdict {
        Verdict::Holds
    }
}

/// Reads a real plan and shows its units' names, over and over for a long title.
pub struct Census;

impl Question for Census {
    const NAME: &'static str = "census";
    type Answer = Shows;

    fn answer(document: &[u8], _: Detail, limits: &Limits, _budget: &Budget<'_>) -> Result<Shows, Refused> {
        let plan = Plan::from_json(document, limits)?;
        let names: Vec<_> = plan.units.iter().map(|unit| unit.name.clone()).collect();
        let line = format!("{} units", names.len());
        let json = serde_json::to_vec(&serde_json::json!({ "units": names, "title": plan.title })).expect("JSON");
        Ok(Shows { json, line })
    }
}

/// Works for `{"ms": ..}` milliseconds; looks at its budget unless `"deaf"`.
pub struct Toil;

impl Question for Toil {
    const NAME: &'static str = "toil";
    type Answer = Shows;

    fn answer(document: &[u8], _: Detail, _limits: &Limits, budget: &Budget<'_>) -> Result<Shows, Refused> {
        let wanted: serde_json::Value = serde_json::from_slice(document).expect("JSON");
        if wanted["spent"] == true {
            return Err(Halt::StepsSpent { limit: budget.steps }.into());
        }
        let until = Instant::now() + Duration::from_millis(wanted["ms"].as_u64().expect("ms"));
        while Instant::now() < until {
            if wanted["deaf"] != true && budget.is_stopped() {
                return Err(Halt::Stopped.into());
            }
            std::thread::sleep(Duration::from_micros(200));
        }
        Ok(Shows { json: b"{\"done\":true}".to_vec(), line: "done".into() })
    }
}

/// Panics with a secret.
pub struct Panics;

impl Question for Panics {
    const NAME: &'static str = "panics";
    type Answer = Shows;

    fn answer(_document: &[u8], _: Detail, _limits: &Limits, _budget: &Budget<'_>) -> Result<Shows, Refused> {
        panic!("the secret of the pump room");
    }
}

/// All routes and the test questions.
pub fn routes() -> Router<App> {
    router::routes()
        .merge(router::ask::<Census>())
        .merge(router::ask::<Toil>())
        .merge(router::ask::<Panics>())
        .route("/panics", endpoint("panics", Methods::Read, |_, _| async { panic!("the secret of the pump room") }))
}

/// Settings for a quick test: any free port, no grace, and time enough.
pub fn settings() -> Settings {
    Settings {
        listen: "127.0.0.1:0".parse().expect("an address"),
        grace: Duration::ZERO,
        drain: Duration::from_secs(5),
        // A machine that is busy with other work is no reason to fail.
        request_timeout: Duration::from_secs(60),
        ..Settings::default()
    }
}

/// A running server.
pub struct Running {
    pub address: SocketAddr,
    pub app: App,
    pub stop: Stop,
    pub task: JoinHandle<()>,
    pub client: reqwest::Client,
}

/// Starts a server.
pub async fn start(settings: Settings) -> Running {
    let server = Server::bind(settings, routes()).expect("a free port");
    let address = server.local_addr().expect("an address");
    let app = server.app().clone();
    let stop = Stop::default();
    let task = tokio::spawn(server.run(stop.clone()));
    let client = plain_client().no_gzip().build().expect("a client");
    Running { address, app, stop, task, client }
}

impl Running {
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(Method::from_bytes(method.as_bytes()).expect("a method"), self.url(path))
    }

    pub async fn get(&self, path: &str) -> Response {
        self.request("GET", path).send().await.expect("a response")
    }

    pub fn post(&self, path: &str, document: impl Into<String>) -> RequestBuilder {
        self.request("POST", path).header("content-type", "application/json").body(document.into())
    }

    pub async fn connect(&self) -> TcpStream {
        TcpStream::connect(self.address).await.expect("a connection")
    }

    /// A connection on which a minute of work has been asked for and has begun.
    pub async fn toiling(&self) -> TcpStream {
        let mut stream = self.connect().await;
        let body = r#"{ "ms": 60000 }"#;
        let head = format!(
            "POST /v1/toil HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
            body.len()
        );
        stream.write_all(head.as_bytes()).await.expect("sent");
        self.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
        stream
    }

    /// Waits until the condition holds.
    pub async fn until(&self, what: &str, condition: impl Fn(&App) -> bool) {
        for _ in 0..500 {
            if condition(&self.app) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        panic!("waited in vain: {what}");
    }

    /// The value of a metric line that begins so.
    pub async fn metric(&self, begin: &str) -> f64 {
        let text = self.get("/metrics").await.text().await.expect("text");
        let line = text.lines().find(|line| line.starts_with(begin)).unwrap_or_else(|| panic!("no {begin} in\n{text}"));
        line.rsplit(' ').next().expect("a value").parse().expect("a number")
    }
}

/// A header as text.
pub fn header<'a>(response: &'a Response, name: &str) -> &'a str {
    response.headers().get(name).map_or("", |value| value.to_str().expect("text"))
}

/// Sends raw bytes and reads until the server closes.
pub async fn raw(address: SocketAddr, bytes: &[u8]) -> String {
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    stream.write_all(bytes).await.expect("sent");
    rest(&mut stream).await
}

/// Reads until the server closes.
pub async fn rest(stream: &mut TcpStream) -> String {
    let mut all = Vec::new();
    // A reset after the answer is a close, too.
    let _ = tokio::time::timeout(Duration::from_secs(10), stream.read_to_end(&mut all)).await.expect("closed in time");
    String::from_utf8_lossy(&all).into_owned()
}

/// Reads one response with a known length from a connection that stays open.
pub async fn one_response(stream: &mut TcpStream) -> String {
    let mut all = Vec::new();
    let mut buffer = [0; 4096];
    loop {
        let text = String::from_utf8_lossy(&all).to_lowercase();
        if let Some(end) = text.find("\r\n\r\n") {
            let length = text
                .lines()
                .find_map(|line| line.strip_prefix("content-length: "))
                .map_or(0, |length| length.trim().parse::<usize>().expect("a length"));
            if all.len() >= end + 4 + length {
                return String::from_utf8_lossy(&all).into_owned();
            }
        }
        let read = tokio::time::timeout(Duration::from_secs(10), stream.read(&mut buffer))
            .await
            .expect("in time")
            .expect("read");
        assert!(read > 0, "closed after {all:?}");
        all.extend_from_slice(&buffer[..read]);
    }
}
