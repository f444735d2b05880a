//! Ten times what the service can do, from a second process, in an open loop: requests are sent when they are due, whether or not
//! earlier ones have been answered, and each is timed from the moment it was due.
//!
//! `cargo bench --bench overload [-- CASE [TIMES [SECONDS]]]` starts the program itself with its defaults and prints what came of it
//! before, during and after. CASE is `plan` (the whole station of Kestrel Deep, with other numbers in each request), `fill-level` or
//! `flow-balance`; TIMES is how many times the capacity is asked for. Both processes share the machine's cores.

use std::cell::{Cell, RefCell};
use std::net::SocketAddr;
use std::rc::Rc;
use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

#[path = "support/service.rs"]
mod service;
use service::Service;

/// What came of one request.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Answered,
    Refused,
    Broken,
}

/// A phase of the run.
#[derive(Default)]
struct Phase {
    answered: Vec<f64>,
    refused: Vec<f64>,
    broken: usize,
    seconds: f64,
}

impl Phase {
    fn add(&mut self, outcome: Outcome, took: f64) {
        match outcome {
            Outcome::Answered => self.answered.push(took),
            Outcome::Refused => self.refused.push(took),
            Outcome::Broken => self.broken += 1,
        }
    }

    fn goodput(&self) -> f64 {
        self.answered.len() as f64 / self.seconds
    }

    fn print(&self, name: &str) {
        println!(
            "{name:<22} {:>8.1}/s answered, p50 {:>7.2} p99 {:>7.2} ms; {:>8.1}/s refused, p50 {:>6.2} p99 {:>6.2} ms; {} broken",
            self.goodput(),
            quantile(&self.answered, 50),
            quantile(&self.answered, 99),
            self.refused.len() as f64 / self.seconds,
            quantile(&self.refused, 50),
            quantile(&self.refused, 99),
            self.broken
        );
    }
}

/// In milliseconds.
fn quantile(seconds: &[f64], hundredths: usize) -> f64 {
    let mut sorted = seconds.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (sorted.len() * hundredths).div_ceil(100);
    sorted.get(at.saturating_sub(1)).map_or(f64::NAN, |seconds| seconds * 1e3)
}

/// What is asked: a path and a document in which one number is another in each request.
#[derive(Clone, Copy)]
struct Case {
    name: &'static str,
    path: &'static str,
    document: &'static str,
    begin: &'static str,
}

const CASES: [Case; 3] = [
    Case { name: "plan", path: "/v1/plan", document: include_str!("../examples/plans/kestrel-deep.json"), begin: "{" },
    Case {
        name: "fill-level",
        path: "/v1/fill-level",
        document: include_str!("../examples/plans/battery-bands.json"),
        begin: "{",
    },
    Case {
        name: "flow-balance",
        path: "/v1/flow-balance",
        document: include_str!("../examples/plans/burner-hall.json"),
        begin: "{",
    },
];

impl Case {
    fn request(&self, number: u64) -> Vec<u8> {
        // Blanks in front make other bytes of the same plan, so that nothing can have been remembered of it.
        let rest = &self.document[self.begin.len()..];
        let body = format!("{}{}{rest}", self.begin, " ".repeat(usize::try_from(number % 64).unwrap_or(0)));
        let head = format!("POST {} HTTP/1.1\r\nhost: bench\r\ncontent-type: application/json\r\n", self.path);
        format!("{head}content-length: {}\r\n\r\n{body}", body.len()).into_bytes()
    }
}

/// Connections that are open and have nothing to do.
type Idle = Rc<RefCell<Vec<TcpStream>>>;

async fn ask(address: SocketAddr, idle: &Idle, request: &[u8]) -> Outcome {
    let kept = idle.borrow_mut().pop();
    let mut stream = match kept {
        Some(stream) => stream,
        None => match TcpStream::connect(address).await {
            Ok(stream) => stream,
            Err(_) => return Outcome::Broken,
        },
    };
    let exchange = async {
        stream.set_nodelay(true).ok()?;
        stream.write_all(request).await.ok()?;
        let mut buffer = Vec::with_capacity(16 << 10);
        loop {
            if stream.read_buf(&mut buffer).await.ok()? == 0 {
                return None;
            }
            let Some(end) = buffer.windows(4).position(|window| window == b"\r\n\r\n") else { continue };
            let head = std::str::from_utf8(&buffer[..end]).ok()?;
            let length = head.lines().find_map(|line| line.strip_prefix("content-length: "))?.parse::<usize>().ok()?;
            let status = head.get(9..12)?.to_owned();
            let stays = !head.contains("connection: close");
            let missing = (end + 4 + length).saturating_sub(buffer.len());
            let mut rest = vec![0; missing];
            stream.read_exact(&mut rest).await.ok()?;
            let outcome = match status.as_str() {
                "200" => Outcome::Answered,
                "503" | "429" => Outcome::Refused,
                _ => Outcome::Broken,
            };
            return Some((outcome, stays));
        }
    };
    match tokio::time::timeout(Duration::from_secs(30), exchange).await {
        Ok(Some((outcome, stays))) => {
            if stays {
                idle.borrow_mut().push(stream);
            }
            outcome
        }
        _ => Outcome::Broken,
    }
}

/// As many at a time as `clients`, each as soon as the one before is answered.
async fn closed(service: &Service, case: Case, clients: u64, seconds: f64) -> Phase {
    let (idle, phase) = (Idle::default(), Rc::new(RefCell::new(Phase::default())));
    let until = Instant::now() + Duration::from_secs_f64(seconds);
    let address = service.address;
    let all: Vec<_> = (0..clients)
        .map(|client| {
            let (idle, phase) = (Rc::clone(&idle), Rc::clone(&phase));
            tokio::task::spawn_local(async move {
                let mut number = client;
                while Instant::now() < until {
                    let begun = Instant::now();
                    let outcome = ask(address, &idle, &case.request(number)).await;
                    phase.borrow_mut().add(outcome, begun.elapsed().as_secs_f64());
                    number += clients;
                }
            })
        })
        .collect();
    for one in all {
        one.await.expect("no panic");
    }
    Phase { seconds, ..phase.take() }
}

/// What is seen of the service meanwhile.
#[derive(Default)]
struct Seen {
    health: Vec<f64>,
    memory: f64,
}

/// `rate` requests a second, evenly, whether answered or not.
async fn open(service: &Service, case: Case, rate: f64, seconds: f64) -> (Phase, Seen) {
    let (idle, phase) = (Idle::default(), Rc::new(RefCell::new(Phase::default())));
    let seen = Rc::new(RefCell::new(Seen::default()));
    let over = Rc::new(Cell::new(false));
    let address = service.address;
    let watch = tokio::task::spawn_local({
        let (seen, over, idle) = (Rc::clone(&seen), Rc::clone(&over), Idle::default());
        async move {
            while !over.get() {
                let begun = Instant::now();
                ask(address, &idle, b"GET /healthz HTTP/1.1\r\nhost: bench\r\n\r\n").await;
                seen.borrow_mut().health.push(begun.elapsed().as_secs_f64());
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        }
    });
    let begun = Instant::now();
    let mut sent = 0_u64;
    let mut looked = begun;
    let mut running = tokio::task::JoinSet::new();
    while begun.elapsed().as_secs_f64() < seconds {
        while sent as f64 / rate <= begun.elapsed().as_secs_f64() {
            let due = begun + Duration::from_secs_f64(sent as f64 / rate);
            let (idle, phase, request) = (Rc::clone(&idle), Rc::clone(&phase), case.request(sent));
            running.spawn_local(async move {
                let outcome = ask(address, &idle, &request).await;
                phase.borrow_mut().add(outcome, due.elapsed().as_secs_f64());
            });
            sent += 1;
        }
        while running.try_join_next().is_some() {}
        if looked.elapsed() > Duration::from_millis(50) {
            looked = Instant::now();
            let mut seen = seen.borrow_mut();
            seen.memory = seen.memory.max(service.memory());
        }
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    while running.join_next().await.is_some() {}
    over.set(true);
    watch.await.expect("no panic");
    (Phase { seconds, ..phase.take() }, seen.take())
}

async fn run(case: Case, times: f64, seconds: f64) {
    let service = Service::start();
    closed(&service, case, 1, 1.0).await;
    let at_rest = service.memory();
    println!("case {}: {:.1} MiB after the first second", case.name, at_rest);
    let peak = [2, 4, 8];
    let mut capacity: f64 = 0.0;
    for clients in peak {
        let phase = closed(&service, case, clients, 4.0).await;
        phase.print(&format!("closed, {clients} clients"));
        capacity = capacity.max(phase.goodput());
    }
    let (calm, _) = open(&service, case, capacity * 0.1, 8.0).await;
    calm.print("a tenth of capacity");
    let before = service.memory();
    let (busy, seen) = open(&service, case, capacity * 0.6, 8.0).await;
    busy.print("six tenths");
    println!("{:<22} health p99 {:.2} ms", "", quantile(&seen.health, 99));
    let (flood, seen) = open(&service, case, capacity * times, seconds).await;
    flood.print(&format!("{times} times capacity"));
    println!(
        "{:<22} goodput {:.3} of {capacity:.1}/s; answered p99 {:.2} times the calm one; health p99 {:.2} ms; \
        memory {:.1} MiB at most, {:.1} more than before",
        "",
        flood.goodput() / capacity,
        quantile(&flood.answered, 99) / quantile(&calm.answered, 99),
        quantile(&seen.health, 99),
        seen.memory,
        seen.memory - before
    );
    tokio::time::sleep(Duration::from_secs(1)).await;
    let (after, seen) = open(&service, case, capacity * 0.1, 8.0).await;
    after.print("a second later, calm");
    println!("{:<22} memory {:.1} MiB", "", seen.memory);
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let number = |at: usize, default: f64| arguments.get(at).map_or(default, |text| text.parse().expect("a number"));
    let (times, seconds) = (number(1, 10.0), number(2, 30.0));
    let wanted = arguments.first().map_or("plan", String::as_str);
    let case = CASES.into_iter().find(|case| case.name == wanted).expect("a case");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    tokio::task::LocalSet::new().block_on(&runtime, run(case, times, seconds));
}
