//! The pool: bounded, refusing, cancelled.

use std::time::{Duration, Instant};

use hotwell::http::settings::Settings;
use serde_json::Value;

use crate::support::{header, settings, start};

fn small() -> Settings {
    Settings { permits: 1, queue: 1, inline_bytes: 0, ..settings() }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_queue_refuses_and_says_when_to_come_again() {
    let server = start(small()).await;
    let first = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 600 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    let second = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 1 }"#).send());
    server.until("one waits", |app| app.meters.queue_depth.get() == 1).await;
    let third = server.post("/v1/toil", r#"{ "ms": 1 }"#).send().await.expect("a response");
    assert_eq!((third.status().as_u16(), header(&third, "retry-after")), (503, "1"));
    let body: Value = third.json().await.expect("JSON");
    assert_eq!((body["type"].as_str(), body["limit"]["name"].as_str()), (Some("/problems/busy"), Some("queue")));
    assert_eq!(first.await.expect("joined").expect("a response").status(), 200);
    assert_eq!(second.await.expect("joined").expect("a response").status(), 200);
    assert_eq!(server.app.meters.queue_depth.get(), 0);
    assert_eq!(server.metric(r#"hotwell_rejected_total{reason="queue-full"}"#).await.to_bits(), 1_f64.to_bits());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_client_that_goes_away_frees_its_place() {
    let server = start(small()).await;
    let gone = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 60000 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    let waiting = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 60000 }"#).send());
    server.until("one waits", |app| app.meters.queue_depth.get() == 1).await;
    waiting.abort();
    server.until("the queue is empty", |app| app.meters.queue_depth.get() == 0).await;
    assert_eq!(server.app.pool.free(), 0, "the first still works");
    gone.abort();
    server.until("the permit is back", |app| app.pool.free() == 1).await;
    server.until("nothing runs", |app| app.meters.pool_busy.get() == 0).await;
    server.until("no request is left", |app| app.meters.in_flight.get() == 0).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_deadline_is_a_typed_503_and_ends_the_work() {
    for inline_bytes in [0, 1 << 20] {
        let server = start(Settings { request_timeout: Duration::from_millis(150), inline_bytes, ..small() }).await;
        let started = Instant::now();
        let response = server.post("/v1/toil", r#"{ "ms": 60000 }"#).send().await.expect("a response");
        assert!(started.elapsed() < Duration::from_secs(5));
        assert_eq!((response.status().as_u16(), header(&response, "retry-after")), (503, "5"));
        let body: Value = response.json().await.expect("JSON");
        assert_eq!(body["type"], "/problems/time-limit");
        assert_eq!(body["limit"]["name"], "request-timeout");
        assert_eq!(body["limit"]["value"], 0.15);
        server.until("the permit is back", |app| app.pool.free() == 1).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_calculation_that_does_not_listen_keeps_its_permit_until_it_ends() {
    let server = start(Settings { request_timeout: Duration::from_millis(100), ..small() }).await;
    let response = server.post("/v1/toil", r#"{ "ms": 700, "deaf": true }"#).send().await.expect("a response");
    assert_eq!(response.status(), 503);
    assert_eq!(server.app.pool.free(), 0, "the thread is still taken, so its permit is, too");
    server.until("the permit is back", |app| app.pool.free() == 1).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn small_documents_are_tried_without_the_pool_first() {
    let server = start(Settings { permits: 1, queue: 1, ..settings() }).await;
    let hog = tokio::spawn(server.post("/v1/toil", r#"{ "ms": 1500 }"#).send());
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    assert_eq!(server.app.meters.moved_to_pool.get(), 1, "it was tried and moved");
    let started = Instant::now();
    let quick = server.post("/v1/census", "{}").send().await.expect("a response");
    assert_eq!(quick.status(), 200);
    assert!(started.elapsed() < Duration::from_secs(1), "it did not wait for the pool");
    assert_eq!(hog.await.expect("joined").expect("a response").status(), 200);
    assert_eq!(server.app.meters.moved_to_pool.get(), 1);
}
