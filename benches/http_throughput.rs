//! Requests per second over loopback, against a bare axum handler in the same process, in alternating rounds.
//!
//! `cargo bench --bench http_throughput`, or with parts of the names of cases after `--`. The bare handler parses the same body into a JSON value and serialises that
//! again (or returns a fixed text), behind `axum::serve`. Both servers live in one runtime of two threads; the clients
//! are plain blocking sockets, so that they cost as little as can be. The ratio is the median over the rounds.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use axum::routing::{get, post};
use axum::{Json, Router};
use hotwell::budget::Budget;
use hotwell::forms::{Picture, Shown};
use hotwell::http::question::{Question, Refused};
use hotwell::http::router;
use hotwell::http::serve::{Server, Stop};
use hotwell::http::settings::Settings;
use hotwell::plan::Limits;
use hotwell::questions::Detail;
use hotwell::questions::answer::Verdict;
use serde_json::Value;

#[path = "support/stages.rs"]
mod stages;

const CLIENTS: usize = 4;
const ROUNDS: usize = 21;
const ROUND: Duration = Duration::from_millis(300);

/// Parses and re-serialises, like the bare handler: what is left of the ratio is the layer's own cost.
struct Echo;

struct Echoed(Value);

impl Shown for Echoed {
    fn json(&self) -> Vec<u8> {
        serde_json::to_vec(&self.0).expect("a value serialises")
    }
    fn line(&self) -> String {
        "nine units".to_owned()
    }
    fn picture(&self, _: Picture) -> String {
        String::new()
    }
    fn verdict(&self) -> Verdict {
        Verdict::Holds
    }
}

impl Question for Echo {
    const NAME: &'static str = "echo";
    type Answer = Echoed;

    fn answer(document: &[u8], _: Detail, _limits: &Limits, _budget: &Budget<'_>) -> Result<Echoed, Refused> {
        Ok(Echoed(serde_json::from_slice(document).expect("the bench sends JSON")))
    }
}

fn post_request(path: &str, body: &str) -> Vec<u8> {
    format!(
        "POST {path} HTTP/1.1\r\nhost: bench\r\naccept: */*\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

fn get_request(path: &str) -> Vec<u8> {
    format!("GET {path} HTTP/1.1\r\nhost: bench\r\naccept: */*\r\n\r\n").into_bytes()
}

/// Sends the request over and over for one round; the number of answers per second.
fn round(address: SocketAddr, request: &[u8]) -> f64 {
    let over = AtomicBool::new(false);
    let answered = AtomicU64::new(0);
    let started = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..CLIENTS {
            scope.spawn(|| {
                let mut stream = TcpStream::connect(address).expect("the server listens");
                stream.set_nodelay(true).expect("an option");
                let mut buffer = vec![0; 1 << 20];
                let mut answers = Answers::default();
                while !over.load(Ordering::Relaxed) {
                    stream.write_all(request).expect("sent");
                    answers.read_one(&mut stream, &mut buffer);
                    answered.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        std::thread::sleep(ROUND);
        over.store(true, Ordering::Relaxed);
    });
    answered.load(Ordering::Relaxed) as f64 / started.elapsed().as_secs_f64()
}

/// A connection's answers: all as long as the first, which alone is looked into, so that a client costs little whatever the headers.
#[derive(Default)]
struct Answers {
    head: usize,
    whole: usize,
}

impl Answers {
    fn read_one(&mut self, stream: &mut TcpStream, buffer: &mut [u8]) {
        let mut filled = 0;
        while self.whole == 0 || filled < self.whole {
            let read = stream.read(&mut buffer[filled..]).expect("an answer");
            assert!(read > 0, "the server closed");
            filled += read;
            if self.whole == 0 {
                self.measure(&buffer[..filled]);
            }
        }
        let head = &buffer[..self.head];
        assert!(
            filled == self.whole && head.starts_with(b"HTTP/1.1 200") && head.ends_with(b"\r\n\r\n"),
            "{}",
            String::from_utf8_lossy(&buffer[..filled])
        );
    }

    /// Learns the lengths once the head of an answer is there.
    fn measure(&mut self, answer: &[u8]) {
        let Some(end) = answer.windows(4).position(|window| window == b"\r\n\r\n") else { return };
        let head = std::str::from_utf8(&answer[..end]).expect("text");
        let length = head
            .lines()
            .find_map(|line| {
                line.get(..16).filter(|name| name.eq_ignore_ascii_case("content-length: ")).map(|_| &line[16..])
            })
            .expect("a length");
        self.head = end + 4;
        self.whole = self.head + length.parse::<usize>().expect("a number");
    }
}

fn start(settings: Settings) -> SocketAddr {
    let settings = Settings { listen: "127.0.0.1:0".parse().expect("an address"), ..settings };
    let server = Server::bind(settings, router::routes().merge(router::ask::<Echo>())).expect("a free port");
    let address = server.local_addr().expect("an address");
    tokio::spawn(server.run(Stop::default()));
    address
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn main() {
    let runtime =
        tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().expect("a runtime");
    let (bare, ours, pooled) = runtime.block_on(async {
        let ours = start(Settings::default());
        let pooled = start(Settings { inline_bytes: 0, ..Settings::default() });
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let bare = listener.local_addr().expect("an address");
        let routes = Router::new()
            .route("/json", post(|Json(value): Json<Value>| async { Json(value) }))
            .route("/text", get(|| async { "9 units: 2.5 kg/s / 300 g/s = 8.33, the ninth runs at 33 %" }));
        tokio::spawn(async { axum::serve(listener, routes).await });
        (bare, ours, pooled)
    });
    let plan = stages::plan();
    let hall = std::fs::read_to_string("examples/plans/cooled-hall.json").expect("an example");
    println!("body of {} bytes, {CLIENTS} clients, {ROUNDS} rounds of {} ms each", plan.len(), ROUND.as_millis());
    println!("{:<34} {:>12} {:>12} {:>8}", "case", "bare /s", "hotwell /s", "ratio");
    let echo = post_request("/v1/echo", &plan);
    let flow_balance = post_request("/v1/flow-balance", &plan);
    let heat_budget = post_request("/v1/heat-budget", &hall);
    let sum = get_request("/v1/sums/units-needed.txt?flow=2.5%20kg/s&each=300%20g/s");
    let wanted: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    for (name, ours, theirs, mine) in [
        ("flow balance of 30 units, as JSON", ours, post_request("/json", &plan), &flow_balance),
        ("the same by way of the pool", pooled, post_request("/json", &plan), &flow_balance),
        ("heat budget of a hall, as JSON", ours, post_request("/json", &hall), &heat_budget),
        ("a sum as text", ours, get_request("/text"), &sum),
        ("layer alone, 30 units as JSON", ours, post_request("/json", &plan), &echo),
        ("layer alone, a page of text", ours, get_request("/text"), &get_request("/healthz")),
    ] {
        if !(wanted.is_empty() || wanted.iter().any(|part| name.contains(part.as_str()))) {
            continue;
        }
        round(bare, &theirs);
        round(ours, mine);
        let rounds: Vec<_> = (0..ROUNDS).map(|_| (round(bare, &theirs), round(ours, mine))).collect();
        let ratio = median(rounds.iter().map(|(bare, ours)| ours / bare).collect());
        let bare_rate = median(rounds.iter().map(|(bare, _)| *bare).collect());
        let our_rate = median(rounds.iter().map(|(_, ours)| *ours).collect());
        println!("{name:<34} {bare_rate:>12.0} {our_rate:>12.0} {ratio:>8.3}");
    }
}
