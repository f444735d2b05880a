//! What 5,000 clients cost that send their requests a byte at a time, half of them within the head and half within the body.
//!
//! `cargo bench --bench trickles` starts the program itself with its defaults. Rounds with and without the trickles alternate; what
//! counts is the median of the ratios, since both processes share the machine's cores with whatever else runs on it.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

#[path = "support/service.rs"]
mod service;
use service::Service;

const TRICKLES: usize = 5_000;
const ROUNDS: usize = 9;
const ROUND: Duration = Duration::from_secs(2);
const CLIENTS: usize = 4;
/// How long each waits from one byte to the next.
const PAUSE: Duration = Duration::from_secs(2);

const HEAD: &[u8] = b"GET /v1/sums/units-needed?flow=2&each=1 HTTP/1.1\r\nhost: bench\r\nx-a: b";
const BODY: &[u8] =
    b"POST /v1/plan HTTP/1.1\r\nhost: bench\r\ncontent-type: application/json\r\ncontent-length: 1000\r\n\r\n{";
const PLAN: &str = include_str!("../examples/plans/burner-hall.json");

/// Answers a second to clients that do nothing unusual.
fn round(address: SocketAddr) -> f64 {
    let request = format!(
        "POST /v1/flow-balance HTTP/1.1\r\nhost: bench\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{PLAN}",
        PLAN.len()
    );
    let (over, answered) = (AtomicBool::new(false), AtomicU64::new(0));
    let begun = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..CLIENTS {
            scope.spawn(|| {
                let mut stream = TcpStream::connect(address).expect("a connection");
                stream.set_nodelay(true).expect("an option");
                while !over.load(Ordering::Relaxed) {
                    stream.write_all(request.as_bytes()).expect("sent");
                    one_answer(&mut stream);
                    answered.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        std::thread::sleep(ROUND);
        over.store(true, Ordering::Relaxed);
    });
    answered.load(Ordering::Relaxed) as f64 / begun.elapsed().as_secs_f64()
}

fn one_answer(stream: &mut TcpStream) {
    let mut buffer = Vec::new();
    let mut piece = [0; 16 << 10];
    loop {
        let read = stream.read(&mut piece).expect("an answer");
        assert!(read > 0, "it was closed");
        buffer.extend_from_slice(&piece[..read]);
        let Some(end) = buffer.windows(4).position(|window| window == b"\r\n\r\n") else { continue };
        let head = std::str::from_utf8(&buffer[..end]).expect("text");
        assert!(head.starts_with("HTTP/1.1 200"), "{head}");
        let length = head.lines().find_map(|line| line.strip_prefix("content-length: ")).expect("a length");
        if buffer.len() >= end + 4 + length.parse::<usize>().expect("a number") {
            return;
        }
    }
}

/// Opens the trickles.
fn open(address: SocketAddr) -> Vec<TcpStream> {
    let begun = |index: usize| {
        let mut stream = TcpStream::connect(address).expect("a connection");
        stream.write_all(if index.is_multiple_of(2) { HEAD } else { BODY }).expect("sent");
        stream
    };
    (0..TRICKLES).map(begun).collect()
}

/// Sends a byte on each, evenly over the pause, until told to stop.
fn trickle(streams: &mut [TcpStream], over: &AtomicBool) {
    let batch = PAUSE * 50 / u32::try_from(TRICKLES).unwrap_or(u32::MAX);
    while !over.load(Ordering::Relaxed) {
        for some in streams.chunks_mut(50) {
            for stream in some {
                // Some have been closed by then, which is as it should be.
                let _ = stream.write_all(b"1");
            }
            std::thread::sleep(batch);
            if over.load(Ordering::Relaxed) {
                return;
            }
        }
    }
}

/// Connections that the service holds.
fn connections(address: SocketAddr) -> String {
    let mut stream = TcpStream::connect(address).expect("a connection");
    stream.write_all(b"GET /metrics HTTP/1.1\r\nhost: bench\r\nconnection: close\r\n\r\n").expect("sent");
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("read");
    text.lines().find_map(|line| line.strip_prefix("hotwell_connections ")).unwrap_or("?").to_owned()
}

fn main() {
    let service = Service::start();
    round(service.address);
    let rest = service.memory();
    println!(
        "{TRICKLES} trickles, {CLIENTS} clients, {ROUNDS} rounds of {} s each; {rest:.1} MiB before",
        ROUND.as_secs()
    );
    println!("{:>10} {:>10} {:>8} {:>10} {:>8}", "without /s", "with /s", "ratio", "MiB", "held");
    let mut ratios = Vec::new();
    for _ in 0..ROUNDS {
        let without = round(service.address);
        let mut streams = open(service.address);
        let over = AtomicBool::new(false);
        let (with, memory, held) = std::thread::scope(|scope| {
            let trickling = scope.spawn(|| trickle(&mut streams, &over));
            std::thread::sleep(Duration::from_millis(300));
            let with = round(service.address);
            let (memory, held) = (service.memory(), connections(service.address));
            over.store(true, Ordering::Relaxed);
            trickling.join().expect("no panic");
            (with, memory, held)
        });
        drop(streams);
        std::thread::sleep(Duration::from_millis(500));
        println!("{without:>10.0} {with:>10.0} {:>8.3} {memory:>10.1} {held:>8}", with / without);
        ratios.push(with / without);
    }
    ratios.sort_by(f64::total_cmp);
    println!("median ratio {:.3}; {:.1} MiB after", ratios[ratios.len() / 2], service.memory());
}
