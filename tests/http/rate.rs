//! What one client may send.

use hotwell::http::rate::networks;
use hotwell::http::settings::Settings;
use serde_json::Value;

use crate::support::{header, settings, start};

#[tokio::test]
async fn a_client_that_sends_too_much_is_told_how_much_it_may_and_when() {
    let trusted_proxies = networks("127.0.0.1").expect("networks");
    let server = start(Settings { rate_limit: 3, trusted_proxies, ..settings() }).await;
    let ask = |client: &str| server.request("GET", "/v1/sums").header("x-forwarded-for", client).send();
    for left in ["2", "1", "0"] {
        let response = ask("192.0.2.1").await.expect("a response");
        assert_eq!(response.status(), 200);
        assert_eq!(header(&response, "ratelimit-policy"), "\"client\";q=3;w=60");
        assert!(header(&response, "ratelimit").starts_with(&format!("\"client\";r={left};t=")));
    }
    let response = ask("192.0.2.1").await.expect("a response");
    assert_eq!((response.status().as_u16(), header(&response, "retry-after")), (429, "20"));
    assert_eq!(header(&response, "ratelimit"), "\"client\";r=0;t=60");
    assert_eq!(header(&response, "x-content-type-options"), "nosniff");
    let body: Value = response.json().await.expect("JSON");
    assert_eq!(body["type"], "/problems/rate-limited");
    assert_eq!((&body["limit"]["name"], &body["limit"]["value"]), (&"rate-limit".into(), &3.0.into()));
    assert_eq!(ask("192.0.2.2").await.expect("a response").status(), 200, "another client");
    assert_eq!(ask("192.0.2.2, 192.0.2.1").await.expect("a response").status(), 429, "the nearest address counts");
    for path in ["/healthz", "/readyz", "/metrics"] {
        let request = server.request("GET", path).header("x-forwarded-for", "192.0.2.1");
        let response = request.send().await.expect("a response");
        assert_eq!((response.status().as_u16(), header(&response, "ratelimit")), (200, ""), "{path}");
    }
    assert!(server.metric(r#"hotwell_rejected_total{reason="rate-limit"}"#).await > 1.5);
}

#[tokio::test]
async fn without_a_limit_nothing_is_counted_and_without_trust_nothing_is_believed() {
    let server = start(settings()).await;
    for _ in 0..50 {
        let response = server.get("/v1/sums.txt").await;
        assert_eq!((response.status().as_u16(), header(&response, "ratelimit-policy")), (200, ""));
    }
    let server = start(Settings { rate_limit: 1, ..settings() }).await;
    let ask = |client: &str| server.request("GET", "/").header("x-forwarded-for", client).send();
    assert_eq!(ask("192.0.2.1").await.expect("a response").status(), 200);
    assert_eq!(ask("192.0.2.2").await.expect("a response").status(), 429);
}
