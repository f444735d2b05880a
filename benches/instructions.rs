//! Work by the count of its instructions, which other programs on the machine do not change: `benches/instructions.sh`.
//!
//! Run by itself this only tells the names of its cases; `instructions CASE TIMES` does one of them so many times, and
//! nothing else, for a tool that counts (valgrind). What starting up costs is told apart by two different numbers of times.

use std::hint::black_box;
use std::net::Ipv4Addr;

use axum::body::{Body, to_bytes};
use axum::http::Request;
use axum::http::header::CONTENT_TYPE;
use hotwell::balance::balance;
use hotwell::budget::Budget;
use hotwell::forms::Shown;
use hotwell::http::app::{App, Service};
use hotwell::http::router;
use hotwell::http::settings::Settings;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::flow_balance::ask;
use hotwell::questions::heat_budget::HeatBudget;

#[path = "../tests/support/plant.rs"]
#[allow(dead_code, reason = "the tests use the rest")]
mod plant;
#[path = "support/stages.rs"]
mod stages;

const SUM: &str = "/v1/sums/units-needed.txt?flow=2.5%20kg/s&each=300%20g/s";

/// What one case does once.
type Once = Box<dyn FnMut()>;

/// A name, and how to make ready for it.
type Case = (&'static str, fn() -> Once);

const CASES: [Case; 13] = [
    ("bare JSON, 30 units", || {
        let text = stages::plan();
        Box::new(move || {
            let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
            black_box(serde_json::to_vec(&value).expect("JSON"));
        })
    }),
    ("read, 30 units", || {
        let text = stages::plan();
        Box::new(move || drop(black_box(read(&text))))
    }),
    ("balance, 30 units", || solve(&stages::plan())),
    ("answer, 30 units", || {
        let plan = read(&stages::plan());
        Box::new(move || drop(black_box(ask(&plan, &Budget::unhurried()).expect("an answer"))))
    }),
    ("JSON, 30 units", || {
        let answer = ask(&read(&stages::plan()), &Budget::unhurried()).expect("an answer");
        Box::new(move || drop(black_box(answer.json())))
    }),
    ("heat budget, a cooled hall", || {
        let plan = read(include_str!("../examples/plans/cooled-hall.json"));
        Box::new(move || drop(black_box(HeatBudget::ask(&plan, &Budget::unhurried()).expect("an answer"))))
    }),
    ("balance, 300 units", || solve(&random(300, false))),
    ("balance, 3000 units", || solve(&random(3_000, false))),
    ("balance, 300 units, scarce", || solve(&random(300, true))),
    ("request, flow balance", || {
        let text = stages::plan();
        serve(move || {
            let request = Request::post("/v1/flow-balance").header(CONTENT_TYPE, "application/json");
            request.body(Body::from(text.clone())).expect("a request")
        })
    }),
    ("request, heat budget", || {
        serve(|| {
            let request = Request::post("/v1/heat-budget").header(CONTENT_TYPE, "application/json");
            request.body(Body::from(include_str!("../examples/plans/cooled-hall.json"))).expect("a request")
        })
    }),
    ("request, sum as text", || serve(|| Request::get(SUM).body(Body::empty()).expect("a request"))),
    ("request, a page of text", || serve(|| Request::get("/healthz").body(Body::empty()).expect("a request"))),
];

fn read(text: &str) -> Plan {
    Plan::from_json(text.as_bytes(), &Limits::DEFAULT).expect("a plan")
}

fn random(units: usize, scarce: bool) -> String {
    plant::plant(1, plant::Shape { units, scarce }).to_string()
}

fn solve(text: &str) -> Once {
    let plan = read(text);
    Box::new(move || drop(black_box(balance(&plan, &Budget::unhurried()).expect("an answer"))))
}

/// Everything of the service but the connection.
fn serve(mut request: impl FnMut() -> Request<Body> + 'static) -> Once {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let app = App::new(Settings::default());
    let peer = Ipv4Addr::LOCALHOST.into();
    let service = Service { router: router::routes().with_state(app.clone()), app };
    Box::new(move || {
        runtime.block_on(async {
            let response = service.serve(request(), peer).await;
            assert!(response.status().is_success(), "{}", response.status());
            black_box(to_bytes(response.into_body(), usize::MAX).await.expect("a body"));
        });
    })
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let [case, times] = &arguments[..] else {
        for (name, _) in CASES {
            println!("{name}");
        }
        return;
    };
    let (_, prepare) = CASES.iter().find(|(name, _)| name == case).expect("a case of that name");
    let mut once = prepare();
    for _ in 0..times.parse::<u32>().expect("a number of times") {
        once();
    }
}
