//! One answer in several forms: negotiation, suffixes, methods, tags, caches, compression, pages of others.

use std::io::Read;

use hotwell::http::packed::pack;
use hotwell::http::settings::Origins;

use crate::support::{Running, header, plain_client, settings, start};

const PLAN: &str = r#"{ "title": "Kestrel Deep", "units": { "burner": {}, "kiln": {} } }"#;

#[tokio::test]
async fn accept_and_suffix_choose_the_form() {
    let server = start(settings()).await;
    for (path, accept, media_type, body) in [
        ("/v1/census", "*/*", "application/json", r#"{"units":["burner","kiln"],"title":"Kestrel Deep"}"#),
        ("/v1/census", "text/plain", "text/plain; charset=utf-8", "2 units"),
        ("/v1/census", "image/svg+xml,image/*;q=0.8", "image/svg+xml", "<svg"),
        ("/v1/census.json", "text/plain", "application/json", "{"),
        ("/v1/census.txt", "application/json", "text/plain; charset=utf-8", "2 units"),
        ("/v1/census.svg", "text/html", "image/svg+xml", "<svg"),
        ("/v1/census", "image/png", "image/png", "\u{fffd}PNG"),
        ("/v1/census.png", "text/html", "image/png", "\u{fffd}PNG"),
    ] {
        let response = server.post(path, PLAN).header("accept", accept).send().await.expect("a response");
        assert_eq!(response.status(), 200, "{path} {accept}");
        assert_eq!(header(&response, "content-type"), media_type, "{path} {accept}");
        let varies = header(&response, "vary").contains("Accept,");
        assert_eq!(varies, path == "/v1/census", "a suffix does not vary by Accept");
        let policy = header(&response, "content-security-policy");
        assert!(policy.starts_with("default-src 'none'"), "{policy}");
        assert_eq!(policy.contains("sandbox"), media_type == "image/svg+xml");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("access-control-allow-origin", "*"),
            ("cache-control", "public, max-age=300"),
        ] {
            assert_eq!(header(&response, name), value, "{name}");
        }
        assert_eq!(header(&response, "x-request-id").len(), 16);
        assert!(response.text().await.expect("text").starts_with(body), "{path} {accept}");
    }
}

async fn ask(server: &Running, method: &str, path: &str) -> (reqwest::StatusCode, String, String) {
    let path =
        if matches!(method, "GET" | "HEAD") { format!("{path}?z={}", pack(PLAN.as_bytes())) } else { path.to_owned() };
    let mut request = server.request(method, &path);
    if !matches!(method, "GET" | "HEAD") {
        request = request.header("content-type", "application/json").body(PLAN);
    }
    let response = request.send().await.expect("a response");
    let tag = header(&response, "etag").to_owned();
    (response.status(), tag, response.text().await.expect("text"))
}

#[tokio::test]
async fn get_post_and_query_give_the_same_bytes_and_tag() {
    let server = start(settings()).await;
    for path in ["/v1/census", "/v1/census.txt", "/v1/census.svg"] {
        let posted = ask(&server, "POST", path).await;
        assert_eq!(posted.0, 200);
        assert!(posted.1.starts_with('"') && posted.1.len() > 20, "a strong tag: {}", posted.1);
        assert_eq!(ask(&server, "GET", path).await, posted);
        assert_eq!(ask(&server, "QUERY", path).await, posted);
    }
    assert_ne!(ask(&server, "GET", "/v1/census").await.1, ask(&server, "GET", "/v1/census.txt").await.1);
    assert_eq!(ask(&server, "GET", "/v1/census").await.1, ask(&server, "GET", "/v1/census.json").await.1);
}

#[tokio::test]
async fn head_is_get_without_the_body() {
    let server = start(settings()).await;
    for path in [format!("/v1/census?z={}", pack(PLAN.as_bytes())), "/".into(), "/healthz".into(), "/nowhere".into()] {
        let got = server.get(&path).await;
        let head = server.request("HEAD", &path).send().await.expect("a response");
        assert_eq!(head.status(), got.status(), "{path}");
        for name in ["content-type", "content-length", "etag", "vary", "cache-control"] {
            assert_eq!(header(&head, name), header(&got, name), "{path} {name}");
        }
        assert_ne!(header(&head, "content-length"), "0");
        assert_eq!(head.text().await.expect("text"), "");
    }
}

#[tokio::test]
async fn a_client_that_holds_the_answer_is_told_so() {
    let server = start(settings()).await;
    let path = format!("/v1/census?z={}", pack(PLAN.as_bytes()));
    let tag = header(&server.get(&path).await, "etag").to_owned();
    for (method, held, expected) in [
        ("GET", tag.clone(), 304),
        ("HEAD", tag.clone(), 304),
        ("GET", format!("\"x\", W/{tag}"), 304),
        ("GET", "*".to_owned(), 304),
        ("GET", "\"x\"".to_owned(), 200),
    ] {
        let response = server.request(method, &path).header("if-none-match", &held).send().await.expect("a response");
        assert_eq!(response.status(), expected, "{method} {held}");
        assert_eq!(header(&response, "etag"), tag);
        assert_eq!(header(&response, "vary"), "Accept, Accept-Encoding");
        assert_eq!(header(&response, "cache-control"), "public, max-age=300");
        assert_eq!(response.text().await.expect("text").is_empty(), expected == 304 || method == "HEAD");
    }
    for (method, expected) in [("QUERY", 304), ("POST", 412)] {
        let request = server.request(method, "/v1/census").header("content-type", "application/json").body(PLAN);
        let response = request.header("if-none-match", &tag).send().await.expect("a response");
        assert_eq!(response.status(), expected, "{method}");
    }
    let other = server.get(&format!("/v1/census.txt?z={}", pack(PLAN.as_bytes()))).await;
    assert_ne!(header(&other, "etag"), tag);
}

#[tokio::test]
async fn only_large_answers_are_compressed_and_only_when_asked() {
    let server = start(settings()).await;
    let names: Vec<_> = (0..100).map(|index| format!("\"burner {index}\": {{}}")).collect();
    let large = format!("{{ \"units\": {{ {} }} }}", names.join(","));
    let ask = |document: String, coding: &'static str| {
        let request = server.post("/v1/census", document).header("accept-encoding", coding);
        async move {
            let response = request.send().await.expect("a response");
            let (coding, tag) =
                (header(&response, "content-encoding").to_owned(), header(&response, "etag").to_owned());
            assert_eq!(header(&response, "vary"), "Accept, Accept-Encoding");
            (coding, tag, response.bytes().await.expect("bytes"))
        }
    };
    let plain = ask(large.clone(), "identity").await;
    let zipped = ask(large.clone(), "br, gzip").await;
    assert_eq!((plain.0.as_str(), zipped.0.as_str()), ("", "gzip"));
    assert_ne!(plain.1, zipped.1, "other bytes, another strong tag");
    assert!(zipped.2.len() * 2 < plain.2.len());
    let mut unzipped = Vec::new();
    flate2::read::GzDecoder::new(&zipped.2[..]).read_to_end(&mut unzipped).expect("gzip");
    assert_eq!(unzipped, plain.2);
    assert_eq!(ask(PLAN.to_owned(), "gzip").await.0, "", "too small to be worth it");
    let held = server.request("QUERY", "/v1/census").header("content-type", "application/json").body(large);
    let held =
        held.header("accept-encoding", "gzip").header("if-none-match", &zipped.1).send().await.expect("a response");
    assert_eq!((held.status().as_u16(), header(&held, "etag")), (304, zipped.1.as_str()));
}

#[tokio::test]
async fn options_and_preflights_name_query() {
    let server = start(settings()).await;
    let options = server.request("OPTIONS", "/v1/census").send().await.expect("a response");
    assert_eq!(options.status(), 204);
    assert_eq!(header(&options, "allow"), "GET, HEAD, POST, QUERY, OPTIONS");
    assert_eq!(header(&options, "accept-query"), "application/json");
    let preflight = server
        .request("OPTIONS", "/v1/census")
        .header("origin", "https://overlay.example")
        .header("access-control-request-method", "QUERY")
        .header("access-control-request-headers", "content-type");
    let preflight = preflight.send().await.expect("a response");
    assert_eq!(preflight.status(), 204);
    assert_eq!(header(&preflight, "access-control-allow-origin"), "*");
    assert!(header(&preflight, "access-control-allow-methods").contains("QUERY"));
    assert!(header(&preflight, "access-control-allow-headers").contains("Content-Type"));
}

#[tokio::test]
async fn listed_origins_alone_may_read() {
    let listed = Origins::Listed(vec!["https://overlay.example".into()]);
    let server = start(hotwell::http::settings::Settings { origins: listed, ..settings() }).await;
    for (origin, allowed) in [("https://overlay.example", "https://overlay.example"), ("https://other.example", "")] {
        let response = server.post("/v1/census", PLAN).header("origin", origin).send().await.expect("a response");
        assert_eq!(response.status(), 200);
        assert_eq!(header(&response, "access-control-allow-origin"), allowed);
        let vary: Vec<_> = response.headers().get_all("vary").iter().collect();
        assert!(vary.iter().any(|value| *value == "Origin"), "{vary:?}");
    }
}

#[tokio::test]
async fn pages_that_are_no_answers() {
    let server = start(settings()).await;
    assert!(server.get("/").await.text().await.expect("text").contains("/v1/flow-balance"));
    assert_eq!(server.get("/healthz").await.text().await.expect("text"), "ok");
    assert_eq!(server.get("/readyz").await.status(), 200);
    let problems = server.get("/problems").await.text().await.expect("text");
    for line in problems.lines() {
        let path = line.split([' ', ':']).nth(1).expect("a path");
        assert_eq!(server.get(path).await.status(), 200, "{path}");
    }
    assert_eq!(server.get("/problems/none-such").await.status(), 404);
}

#[tokio::test]
async fn metrics_tell_routes_outcomes_and_the_build() {
    let server = start(settings()).await;
    server.post("/v1/census", PLAN).send().await.expect("a response");
    server.post("/v1/census", "{").send().await.expect("a response");
    server.get("/nowhere").await;
    assert_eq!(
        server.metric(r#"hotwell_requests_total{route="census",outcome="answered"}"#).await.to_bits(),
        1_f64.to_bits()
    );
    assert_eq!(
        server.metric(r#"hotwell_requests_total{route="census",outcome="not-json"}"#).await.to_bits(),
        1_f64.to_bits()
    );
    assert_eq!(
        server.metric(r#"hotwell_requests_total{route="none",outcome="not-found"}"#).await.to_bits(),
        1_f64.to_bits()
    );
    assert_eq!(server.metric(r#"hotwell_request_seconds_count{route="census"}"#).await.to_bits(), 2_f64.to_bits());
    assert_eq!(server.metric(r#"hotwell_compute_seconds_count{question="census"}"#).await.to_bits(), 2_f64.to_bits());
    assert_eq!(server.metric("hotwell_in_flight").await.to_bits(), 1_f64.to_bits(), "the one that asks");
    assert_eq!(server.metric("hotwell_build_info{version=").await.to_bits(), 1_f64.to_bits());
    assert_eq!(server.metric("hotwell_queue_depth").await.to_bits(), 0_f64.to_bits());
}

#[tokio::test]
async fn a_plain_request_id_is_kept_and_others_are_replaced() {
    let server = start(settings()).await;
    for (sent, kept) in [("chat-7.b", true), ("two words", false), ("", false), (&"x".repeat(65), false)] {
        let response = server.request("GET", "/").header("x-request-id", sent).send().await.expect("a response");
        assert_eq!(header(&response, "x-request-id") == sent, kept, "{sent}");
    }
}

#[tokio::test]
async fn http_2_without_tls_works() {
    let server = start(settings()).await;
    let client = plain_client().http2_prior_knowledge().build().expect("a client");
    let request = client.post(server.url("/v1/census.txt")).header("content-type", "application/json").body(PLAN);
    let response = request.send().await.expect("a response");
    assert_eq!(response.version(), reqwest::Version::HTTP_2);
    assert_eq!(response.text().await.expect("text"), "2 units");
}
