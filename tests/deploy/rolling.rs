//! Two replicas behind a proxy, restarted in turn while requests come: none may fail.
//!
//! `HOTWELL_ROLLS=50 cargo test --release --test deploy rolling -- --nocapture` is the long run; by itself the test is a short one.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use tokio::sync::Mutex;

use crate::plain_client::plain_client;
use crate::proxy::{Kind, Proxy};
use crate::replica::{Replica, free_port};

/// Those who ask at the same time.
const CLIENTS: usize = 8;
/// What each waits between an answer and the next question, so that a test leaves the machine some time.
const PAUSE: Duration = Duration::from_millis(20);
/// How long a replica is left alone once it is ready, until its proxy knows.
const SETTLING: Duration = Duration::from_millis(1200);
/// Calculations may wait for long: what a busy machine turns away is another matter than what a restart loses.
const FLAGS: [&str; 8] =
    ["--trusted-proxies", "127.0.0.1", "--log", "warn", "--queue-time", "5s", "--queue-slowdown", "1000"];
/// Restarts, where the environment does not say.
const ROLLS: usize = 2;

const HALL: &str = include_str!("../../examples/plans/burner-hall.json");
const STATION: &str = include_str!("../../examples/plans/kestrel-deep.json");

/// What those who ask have seen.
#[derive(Default)]
struct Seen {
    over: AtomicBool,
    asked: AtomicU64,
    slowest_us: AtomicU64,
    failed: Mutex<Vec<String>>,
}

/// Asks until it is over: sums and plans, on connections that are kept and on new ones.
async fn ask(seen: Arc<Seen>, base: String, number: usize) {
    let kept = plain_client().build().expect("a client");
    let mut turn = number;
    while !seen.over.load(Ordering::Relaxed) {
        turn += 1;
        let new = plain_client().pool_max_idle_per_host(0).build();
        let client = if turn.is_multiple_of(4) { &new.expect("a client") } else { &kept };
        let post = |path: &str, plan: &'static str| {
            client.post(format!("{base}{path}")).header("content-type", "application/json").body(plan)
        };
        let (request, begins) = match turn % 12 {
            0 => (post("/v1/plan.txt", STATION), "Holds: 26 machines"),
            1..6 => (client.get(format!("{base}/v1/sums/units-needed.txt?flow=2.5kg/s&each=300g/s")), "9 units: "),
            _ => (post("/v1/flow-balance.txt", HALL), "Holds: 5 × burner"),
        };
        let begun = Instant::now();
        let told = match request.send().await {
            Ok(response) => {
                let status = response.status();
                response
                    .text()
                    .await
                    .map(|text| (status == 200 && text.starts_with(begins), format!("{status} {text}")))
            }
            Err(error) => Err(error),
        };
        seen.asked.fetch_add(1, Ordering::Relaxed);
        seen.slowest_us.fetch_max(u64::try_from(begun.elapsed().as_micros()).unwrap_or(u64::MAX), Ordering::Relaxed);
        match told {
            Ok((true, _)) => {}
            Ok((false, told)) => seen.failed.lock().await.push(told),
            Err(error) => seen.failed.lock().await.push(format!("{error:?}")),
        }
        tokio::time::sleep(PAUSE).await;
    }
}

async fn roll(kind: Kind) {
    let rolls = std::env::var("HOTWELL_ROLLS").ok().map_or(ROLLS, |rolls| rolls.parse().expect("a number"));
    let client = plain_client().build().expect("a client");
    let ports = [free_port(), free_port()];
    let [a, b] = ports;
    let mut replicas = [Some(Replica::start(&client, a, &FLAGS).await), Some(Replica::start(&client, b, &FLAGS).await)];
    let proxy = Proxy::start(kind, ports);
    let base = proxy.base();
    proxy.lets_through(&client).await;
    tokio::time::sleep(SETTLING).await;

    let seen = Arc::new(Seen::default());
    let begun = Instant::now();
    let asking: Vec<_> =
        (0..CLIENTS).map(|number| tokio::spawn(ask(Arc::clone(&seen), base.clone(), number))).collect();
    for number in 0..rolls {
        let old = replicas[number % 2].take().expect("a replica");
        let port = old.port;
        old.stop().await;
        replicas[number % 2] = Some(Replica::start(&client, port, &FLAGS).await);
        tokio::time::sleep(SETTLING).await;
    }
    seen.over.store(true, Ordering::Relaxed);
    for one in asking {
        one.await.expect("asked");
    }
    let failed = seen.failed.lock().await;
    let asked = seen.asked.load(Ordering::Relaxed);
    println!(
        "{kind:?}: {rolls} restarts in {:.0} s, {asked} requests, {} failed, the slowest {} ms",
        begun.elapsed().as_secs_f64(),
        failed.len(),
        seen.slowest_us.load(Ordering::Relaxed) / 1000
    );
    assert!(asked > 50, "hardly anybody asked: {asked}");
    assert!(failed.is_empty(), "{} of {asked} failed: {:#?}", failed.len(), &failed[..failed.len().min(5)]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn rolling_restarts_behind_haproxy_fail_no_request() {
    roll(Kind::Haproxy).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn rolling_restarts_behind_nginx_fail_no_request() {
    roll(Kind::Nginx).await;
}
