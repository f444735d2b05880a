//! Comparisons, sweeps, searches and batches over HTTP.

use std::time::{Duration, Instant};

use hotwell::http::packed::pack;
use hotwell::http::settings::Settings;
use serde_json::value::RawValue;
use serde_json::{Value, json};

use crate::support::{header, settings, start};

fn example(name: &str) -> String {
    let path = format!("{}/examples/{name}.json", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("an example")
}

#[tokio::test]
async fn each_is_answered_in_every_form_by_every_method() {
    let server = start(settings()).await;
    for name in ["compare", "sweep", "seek", "batch"] {
        let document = example(&format!("questions/{name}"));
        for (suffix, begin) in [("", "{\"question\""), (".json", "{\"question\""), (".txt", ""), (".svg", "<svg")] {
            let path = format!("/v1/{name}{suffix}");
            let posted = server.post(&path, document.clone()).send().await.expect("a response");
            assert_eq!(posted.status(), 200, "{path}");
            let tag = header(&posted, "etag").to_owned();
            let posted = posted.text().await.expect("text");
            assert!(posted.starts_with(begin) && !posted.is_empty(), "{posted}");
            if suffix == ".txt" {
                assert!(posted.len() <= 400 && !posted.chars().any(char::is_control), "{posted:?}");
            }
            if suffix == ".svg" {
                roxmltree::Document::parse(&posted).expect("XML");
            }
            let query =
                server.request("QUERY", &path).header("content-type", "application/json").body(document.clone());
            let link = server.request("GET", &format!("{path}?z={}", pack(document.as_bytes())));
            for request in [query, link] {
                let got = request.send().await.expect("a response");
                assert_eq!(header(&got, "etag"), tag, "{path}");
                assert_eq!(got.text().await.expect("text"), posted);
            }
            let link = server.request("GET", &format!("{path}?z={}", pack(document.as_bytes())));
            let held = link.header("if-none-match", &tag).send().await.expect("a response");
            assert_eq!(held.status(), 304);
        }
    }
}

#[tokio::test]
async fn a_batch_is_its_singles_to_the_byte() {
    #[derive(serde::Deserialize)]
    struct Outcome {
        status: u16,
        answer: Option<Box<RawValue>>,
        problem: Option<Value>,
    }
    #[derive(serde::Deserialize)]
    struct Batch {
        items: Vec<Outcome>,
    }
    let server = start(settings()).await;
    let plans = ["burner-hall", "short-supply", "cooled-hall", "sump-and-seep", "battery-bands", "trapped-surplus"];
    let questions = ["flow-balance", "plan", "heat-budget", "fill-level", "plan", "plan"];
    let mut items: Vec<String> = Vec::new();
    for (plan, question) in plans.iter().zip(questions) {
        items.push(format!("{{\"question\": \"{question}\", \"plan\": {}}}", example(&format!("plans/{plan}"))));
    }
    items.push("{\"question\": \"flow-balence\", \"plan\": {\"unitz\": 1}}".to_owned());
    let response = server.post("/v1/batch", format!("{{\"items\": [{}]}}", items.join(","))).send().await;
    let text = response.expect("a response").text().await.expect("text");
    let batch: Batch = serde_json::from_str(&text).expect("a batch");
    for ((plan, question), outcome) in plans.iter().zip(questions).zip(&batch.items) {
        let single = server.post(&format!("/v1/{question}"), example(&format!("plans/{plan}"))).send().await;
        let single = single.expect("a response").text().await.expect("text");
        assert_eq!(outcome.status, 200);
        assert_eq!(outcome.answer.as_ref().map(|answer| answer.get()), Some(single.as_str()), "{plan}");
    }
    let last = batch.items.last().expect("the last");
    let problem = last.problem.as_ref().expect("a problem");
    assert_eq!((last.status, &problem["status"], &problem["type"]), (422, &json!(422), &json!("/problems/unreadable")));
    let pointers: Vec<_> =
        problem["faults"].as_array().expect("faults").iter().map(|fault| &fault["pointer"]).collect();
    assert_eq!(pointers, ["/items/6/question", "/items/6/plan/unitz"]);
}

#[tokio::test]
async fn faults_lead_into_what_was_sent() {
    let server = start(settings()).await;
    let document = json!({"plan": {"unitz": 1}, "variants": {}});
    let response = server.post("/v1/compare", document.to_string()).send().await.expect("a response");
    assert_eq!(response.status(), 422);
    let problem: Value = response.json().await.expect("JSON");
    assert_eq!(problem["faults"][0]["pointer"], "/plan/unitz");
    let line = server.post("/v1/sweep.txt", "{}").send().await.expect("a response").text().await.expect("text");
    assert!(line.contains("/plan") && line.contains("/at") && line.len() <= 400, "{line}");
    let limits = hotwell::plan::Limits { values: 10, ..hotwell::plan::Limits::DEFAULT };
    let server = start(Settings { limits, ..settings() }).await;
    let mut document: Value = serde_json::from_str(&example("questions/sweep")).expect("JSON");
    document["steps"] = json!(11);
    let response = server.post("/v1/sweep", document.to_string()).send().await.expect("a response");
    let problem: Value = response.json().await.expect("JSON");
    assert_eq!(
        (&problem["faults"][0]["code"], &problem["faults"][0]["pointer"]),
        (&json!("too-many"), &json!("/steps"))
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_long_sweep_ends_with_its_time_and_gives_its_threads_back() {
    let settings = Settings { request_timeout: Duration::from_millis(250), permits: 2, ..settings() };
    let server = start(settings).await;
    let units: serde_json::Map<String, Value> = (0..400)
        .map(|index| {
            let unit = json!({"takes": {format!("h{index}"): 1}, "gives": {format!("h{}", index + 1): 1}});
            (format!("u{index}"), unit)
        })
        .collect();
    let plan = json!({
        "units": units, "supplies": {"s": {"header": "h0"}}, "demands": {"d": {"header": "h400", "rate": 1}}
    });
    let document =
        json!({"plan": plan, "question": "flow-balance", "at": "/demands/d/rate", "from": 1, "to": 2, "steps": 2000});
    let started = Instant::now();
    let response = server.post("/v1/sweep", document.to_string()).send().await.expect("a response");
    assert_eq!(response.status(), 503);
    assert!(started.elapsed() < Duration::from_secs(5));
    server.until("the permits are back", |app| app.pool.free() == 2).await;
}
