//! The way down: not ready, still serving, draining, stopped.

use std::time::{Duration, Instant};

use hotwell::http::settings::Settings;
use serde_json::Value;
use tokio::net::TcpStream;

use crate::support::{header, settings, start};

#[tokio::test(flavor = "multi_thread")]
async fn during_the_grace_everything_is_served_but_not_ready() {
    let server = start(Settings { grace: Duration::from_millis(600), ..settings() }).await;
    let ready = server.get("/readyz").await;
    assert_eq!((ready.status().as_u16(), header(&ready, "connection")), (200, ""));
    server.stop.stop();
    server.until("not ready", |app| !app.is_ready()).await;
    let ready = server.get("/readyz").await;
    assert_eq!(ready.status(), 503);
    assert_eq!(ready.json::<Value>().await.expect("JSON")["type"], "/problems/not-ready");
    let health = server.get("/healthz").await;
    assert_eq!(
        (health.status().as_u16(), header(&health, "connection")),
        (200, "close"),
        "kept connections are let go"
    );
    assert_eq!(server.post("/v1/census", "{}").send().await.expect("a response").status(), 200);
    tokio::time::timeout(Duration::from_secs(5), server.task).await.expect("in time").expect("ended");
    assert!(TcpStream::connect(server.address).await.is_err(), "the port is closed");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_runs_is_finished_and_idle_connections_are_closed() {
    let server = start(Settings { inline_bytes: 0, ..settings() }).await;
    let idle = server.connect().await;
    let running = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 500 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    server.stop.stop();
    let response = running.await.expect("joined").expect("a response");
    assert_eq!(response.status(), 200, "it was let finish");
    tokio::time::timeout(Duration::from_secs(3), server.task).await.expect("in time").expect("ended");
    drop(idle);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_does_not_finish_is_cut_off() {
    let server = start(Settings { inline_bytes: 0, drain: Duration::from_millis(300), ..settings() }).await;
    let running = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 60000 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    let started = Instant::now();
    server.stop.stop();
    tokio::time::timeout(Duration::from_secs(5), server.task).await.expect("in time").expect("ended");
    assert!(started.elapsed() >= Duration::from_millis(300), "it was given its time");
    assert!(running.await.expect("joined").is_err(), "the client sees the connection break");
    for _ in 0..100 {
        if server.app.meters.pool_busy.get() == 0 {
            return;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("the calculation goes on");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_second_signal_stops_at_once() {
    let server = start(Settings { grace: Duration::from_secs(60), drain: Duration::from_secs(60), ..settings() }).await;
    let running = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 60000 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    server.stop.stop();
    server.stop.stop();
    tokio::time::timeout(Duration::from_secs(5), server.task).await.expect("in time").expect("ended");
    assert!(running.await.expect("joined").is_err());
}

#[cfg(unix)]
#[test]
fn the_program_says_where_to_look_answers_and_ends_well_on_sigterm() {
    use std::io::{BufRead, BufReader, Read, Write};
    use std::process::{Command, Stdio};
    let mut program = Command::new(env!("CARGO_BIN_EXE_hotwell"))
        .args(["--listen", "127.0.0.1:0", "--grace", "100ms"])
        .env("HOTWELL_LOG", "warn")
        .stdout(Stdio::piped())
        .spawn()
        .expect("started");
    let mut lines = BufReader::new(program.stdout.take().expect("piped")).lines();
    let first = lines.next().expect("a line").expect("text");
    let address = first.rsplit("http://").next().expect("an address").to_owned();
    let mut stream = std::net::TcpStream::connect(&address).expect("connected");
    stream.write_all(b"GET /healthz HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n").expect("sent");
    let mut said = String::new();
    stream.read_to_string(&mut said).expect("read");
    assert!(said.starts_with("HTTP/1.1 200"), "{said}");
    let rest: Vec<_> = lines.by_ref().take(2).map(|line| line.expect("text")).collect();
    assert!(rest[0].contains("/docs") && rest[1].contains("curl"), "{rest:?}");
    let killed = Command::new("kill").args(["-TERM", &program.id().to_string()]).status().expect("kill");
    assert!(killed.success());
    assert_eq!(program.wait().expect("ended").code(), Some(0));
}
