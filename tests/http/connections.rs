//! Connections that are slow, idle, half closed, pipelined, broken or too many.

use std::time::{Duration, Instant};

use hotwell::http::settings::Settings;
use serde_json::Value;
use tokio::io::{AsyncReadExt, AsyncWriteExt};

use crate::support::{one_response, rest, settings, start};

fn impatient() -> Settings {
    let short = Duration::from_millis(300);
    Settings { header_timeout: short, body_timeout: short, write_timeout: short, ..settings() }
}

#[tokio::test]
async fn a_connection_that_sends_no_whole_head_is_closed() {
    let server = start(impatient()).await;
    for begin in ["", "G", "PRI * HTTP/2.0\r\n", "GET / HTTP/1.1\r\nhost: x\r\n"] {
        let started = Instant::now();
        let mut stream = server.connect().await;
        stream.write_all(begin.as_bytes()).await.expect("sent");
        let said = rest(&mut stream).await;
        assert!(said.is_empty() || said.starts_with("HTTP/1.1 4"), "{begin:?}: {said}");
        assert!(started.elapsed() < Duration::from_secs(3), "{begin:?}");
    }
    // One byte at a time does not buy more time.
    let mut stream = server.connect().await;
    let started = Instant::now();
    for byte in b"GET / HTTP/1.1\r\nx-slow: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa" {
        if stream.write_all(&[*byte]).await.is_err() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(25)).await;
    }
    rest(&mut stream).await;
    assert!(started.elapsed() < Duration::from_secs(3));
    server.until("all are closed", |app| app.meters.connections.get() == 0).await;
}

#[tokio::test]
async fn an_idle_connection_is_closed_after_its_answer() {
    let server = start(impatient()).await;
    let mut stream = server.connect().await;
    stream.write_all(b"GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n").await.expect("sent");
    assert!(one_response(&mut stream).await.ends_with("ok"));
    assert_eq!(rest(&mut stream).await, "");
}

#[tokio::test]
async fn a_body_that_does_not_come_is_a_408() {
    let server = start(impatient()).await;
    let mut stream = server.connect().await;
    let head = "POST /v1/census HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: 100\r\n\r\n{";
    stream.write_all(head.as_bytes()).await.expect("sent");
    let said = rest(&mut stream).await;
    assert!(said.starts_with("HTTP/1.1 408"), "{said}");
    assert!(said.contains("/problems/slow-body") && said.contains("body-timeout"), "{said}");
}

#[tokio::test]
async fn a_body_that_breaks_off_harms_nobody() {
    let server = start(settings()).await;
    for ending in ["{", ""] {
        let mut stream = server.connect().await;
        let head =
            "POST /v1/census HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: 100\r\n\r\n";
        stream.write_all(format!("{head}{ending}").as_bytes()).await.expect("sent");
        stream.shutdown().await.expect("half closed");
        rest(&mut stream).await;
    }
    server.until("no request is left", |app| app.meters.in_flight.get() == 0).await;
    server.until("no connection is left", |app| app.meters.connections.get() == 0).await;
}

#[tokio::test]
async fn a_client_that_has_ended_while_asking_counts_as_gone() {
    let server = start(Settings { inline_bytes: 0, ..settings() }).await;
    let mut stream = server.toiling().await;
    stream.shutdown().await.expect("half closed");
    server.until("nothing runs", |app| app.meters.pool_busy.get() == 0).await;
}

#[tokio::test]
async fn pipelined_requests_are_answered_in_order() {
    let server = start(settings()).await;
    let mut stream = server.connect().await;
    let request = |path: &str, last: bool| {
        let close = if last { "connection: close\r\n" } else { "" };
        format!("GET {path} HTTP/1.1\r\nhost: x\r\n{close}\r\n")
    };
    let all = [request("/healthz", false), request("/nowhere", false), request("/readyz", true)].concat();
    stream.write_all(all.as_bytes()).await.expect("sent");
    let said = rest(&mut stream).await;
    let places = ["\r\n\r\nok", "/problems/not-found", "\r\n\r\nready"].map(|text| said.find(text).expect(text));
    assert!(places.is_sorted(), "{said}");
    assert_eq!(said.matches("HTTP/1.1 ").count(), 3);
}

#[tokio::test]
async fn an_answer_that_nobody_reads_does_not_hold_its_connection() {
    let server = start(Settings { request_timeout: Duration::from_secs(5), ..impatient() }).await;
    let names: Vec<_> = (0..15_000).map(|index| format!("\"burner number {index}\": {{}}")).collect();
    let document = format!("{{ \"units\": {{ {} }} }}", names.join(","));
    let mut stream = server.connect().await;
    let request = format!(
        "POST /v1/census HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{document}",
        document.len()
    );
    // Ask for more than the kernel buffers, and read none of it.
    for _ in 0..64 {
        if tokio::time::timeout(Duration::from_millis(500), stream.write_all(request.as_bytes())).await.is_err() {
            break;
        }
    }
    server.until("the connection is gone", |app| app.meters.connections.get() == 0).await;
}

#[tokio::test]
async fn connections_past_the_limit_wait_their_turn() {
    let server = start(Settings { connections: 1, header_timeout: Duration::from_secs(1), ..settings() }).await;
    let first = server.connect().await;
    server.until("the first is in", |app| app.meters.connections.get() == 1).await;
    let mut second = server.connect().await;
    second.write_all(b"GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n").await.expect("sent");
    let mut byte = [0; 1];
    let early = tokio::time::timeout(Duration::from_millis(200), second.read(&mut byte)).await;
    assert!(early.is_err(), "the second must wait");
    drop(first);
    assert!(one_response(&mut second).await.ends_with("ok"));
}

#[tokio::test]
async fn a_client_that_waits_for_leave_is_told_before_it_sends() {
    let server = start(settings()).await;
    let mut stream = server.connect().await;
    let head = "POST /v1/census HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\nexpect: 100-continue\r\n";
    stream.write_all(format!("{head}content-length: 999999999\r\n\r\n").as_bytes()).await.expect("sent");
    let said = one_response(&mut stream).await;
    assert!(said.starts_with("HTTP/1.1 413"), "{said}");
    let mut stream = server.connect().await;
    stream.write_all(format!("{head}content-length: 2\r\n\r\n").as_bytes()).await.expect("sent");
    let mut buffer = [0; 25];
    stream.read_exact(&mut buffer).await.expect("leave");
    assert_eq!(&buffer, b"HTTP/1.1 100 Continue\r\n\r\n");
    stream.write_all(b"{}").await.expect("sent");
    let said = one_response(&mut stream).await;
    assert!(said.starts_with("HTTP/1.1 200"), "{said}");
}

#[tokio::test]
async fn a_chunked_body_is_read_to_its_end() {
    let server = start(settings()).await;
    let mut stream = server.connect().await;
    let head = "POST /v1/census.txt HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ntransfer-encoding: chunked\r\n\r\n";
    stream.write_all(head.as_bytes()).await.expect("sent");
    for piece in ["{ \"units\": ", "{ \"burner\"", ": {} } }"] {
        stream.write_all(format!("{:x}\r\n{piece}\r\n", piece.len()).as_bytes()).await.expect("sent");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    stream.write_all(b"0\r\n\r\n").await.expect("sent");
    assert!(one_response(&mut stream).await.ends_with("1 units"));
    let mut stream = server.connect().await;
    stream.write_all(format!("{head}zz\r\n").as_bytes()).await.expect("sent");
    let said = rest(&mut stream).await;
    let body = said.split("\r\n\r\n").nth(1).unwrap_or_default();
    assert!(said.starts_with("HTTP/1.1 400"), "{said}");
    let problem: Value = serde_json::from_str(body).unwrap_or(Value::Null);
    assert!(body.is_empty() || problem["status"] == 400 || body.starts_with("The body"), "{said}");
}
