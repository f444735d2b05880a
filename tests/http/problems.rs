//! Every problem as the client sees it.

use serde_json::Value;

use crate::support::{header, raw, settings, start};

#[tokio::test]
async fn problem_bodies_are_as_recorded() {
    let server = start(settings()).await;
    let post = |path: &str, body: &'static str| server.post(path, body);
    for (name, request) in [
        ("not-json", post("/v1/census", "{\n  \"units\": [,]\n}")),
        ("empty", post("/v1/census", "")),
        ("not-found", server.request("GET", "/v1/nowhere")),
        ("method-not-allowed", server.request("DELETE", "/v1/census")),
        ("not-acceptable", post("/v1/census", "{}").header("accept", "text/html")),
        ("no-media-type", server.request("POST", "/v1/census").body("{}")),
        (
            "form",
            server.request("POST", "/v1/census").header("content-type", "application/x-www-form-urlencoded").body("{}"),
        ),
        ("encoded", post("/v1/census", "{}").header("content-encoding", "gzip")),
        (
            "unreadable",
            post("/v1/census", r#"{ "unitz": {}, "units": { "burner": { "takes": { "water": "3 kelvins" } } } }"#),
        ),
        ("no-z", server.request("GET", "/v1/census")),
        ("bad-base64", server.request("GET", "/v1/census?z=***")),
        ("bad-zlib", server.request("GET", "/v1/census?z=aGVsbG8")),
        ("step-limit", post("/v1/toil", r#"{ "spent": true }"#)),
    ] {
        let response = request.send().await.expect("a response");
        let status = response.status().as_u16();
        assert_eq!(header(&response, "content-type"), "application/problem+json", "{name}");
        assert_eq!(header(&response, "cache-control"), "no-store", "{name}");
        assert_eq!(header(&response, "etag"), "", "{name}");
        let extra = ["allow", "accept", "accept-encoding", "accept-query", "retry-after"]
            .map(|name| (name, header(&response, name).to_owned()));
        let extra: Vec<_> = extra.iter().filter(|(_, value)| !value.is_empty()).collect();
        let extra = format!("{extra:?}");
        let body: Value = response.json().await.expect("JSON");
        assert_eq!(body["status"], status, "{name}");
        let page = server.get(body["type"].as_str().expect("a type")).await;
        assert_eq!(page.status(), 200, "{name}: its page");
        let shown = format!("{extra}\n{}", serde_json::to_string_pretty(&body).expect("JSON"));
        insta::assert_snapshot!(name, shown);
    }
}

#[tokio::test]
async fn a_text_client_gets_one_line() {
    let server = start(settings()).await;
    let mut lines = Vec::new();
    for (path, body) in [
        ("/v1/census.txt", "{\n  \"units\": [,]\n}".to_owned()),
        ("/v1/census.txt", r#"{ "unitz": {}, "units": { "burner": { "takez": {} } } }"#.to_owned()),
        ("/v1/census.txt", format!("{{ \"{}\\n\\u2028\": 1 }}", "x".repeat(3000))),
        ("/v1/nowhere.txt", String::new()),
        ("/v1/toil.txt", r#"{ "spent": true }"#.to_owned()),
    ] {
        let response = server.post(path, body).send().await.expect("a response");
        assert!(response.status().is_client_error(), "{path}");
        assert_eq!(header(&response, "content-type"), "text/plain; charset=utf-8");
        let line = response.text().await.expect("text");
        assert!(!line.is_empty() && line.len() <= 400, "{} bytes", line.len());
        assert!(!line.chars().any(char::is_control), "{line:?}");
        lines.push(line);
    }
    insta::assert_snapshot!("lines", lines.join("\n"));
    let by_accept = server.post("/v1/census", "[]").header("accept", "text/plain").send().await.expect("a response");
    assert_eq!(header(&by_accept, "content-type"), "text/plain; charset=utf-8");
    let picture = server.post("/v1/census.svg", "[]").send().await.expect("a response");
    assert_eq!(header(&picture, "content-type"), "application/problem+json", "a picture of an error helps nobody");
}

#[tokio::test]
async fn errors_200_prints_the_line_and_keeps_the_status_honest() {
    let server = start(settings()).await;
    for (method, path, honest) in [
        ("GET", "/v1/census.txt?errors=200", "422"),
        ("GET", "/v1/census.txt?z=%25&errors=200", "400"),
        ("GET", "/nowhere.txt?errors=200", "404"),
        ("DELETE", "/v1/census.txt?errors=200", "405"),
    ] {
        let response = server.request(method, path).send().await.expect("a response");
        assert_eq!(response.status(), 200, "{path}");
        assert_eq!(header(&response, "hotwell-status"), honest, "{path}");
        assert_eq!(header(&response, "cache-control"), "no-store", "{path}");
        assert!(response.text().await.expect("text").contains(honest), "{path}");
    }
    let fine = server.post("/v1/census.txt?errors=200", "{}").send().await.expect("a response");
    assert_eq!((fine.status().as_u16(), header(&fine, "hotwell-status")), (200, ""));
    let near = server.get("/nowhere.txt?errors=2000").await;
    assert_eq!(near.status(), 404, "only the exact parameter counts");
}

#[tokio::test]
async fn wrong_methods_are_told_the_right_ones() {
    let server = start(settings()).await;
    for (method, path, allow) in [
        ("DELETE", "/v1/census", "GET, HEAD, POST, QUERY, OPTIONS"),
        ("PUT", "/v1/census.svg", "GET, HEAD, POST, QUERY, OPTIONS"),
        ("POST", "/healthz", "GET, HEAD, OPTIONS"),
        ("QUERY", "/metrics", "GET, HEAD, OPTIONS"),
        ("BREW", "/", "GET, HEAD, OPTIONS"),
    ] {
        let response = server.request(method, path).send().await.expect("a response");
        assert_eq!((response.status().as_u16(), header(&response, "allow")), (405, allow), "{method} {path}");
    }
}

#[tokio::test]
async fn a_panic_is_a_500_that_tells_nothing_but_its_id() {
    let server = start(settings()).await;
    for (inline_bytes, path) in [(1 << 20, "/v1/panics"), (0, "/v1/panics")] {
        let server = start(hotwell::http::settings::Settings { inline_bytes, ..settings() }).await;
        let response = server.post(path, "{}").send().await.expect("a response");
        assert_eq!(response.status(), 500, "{path}");
        let id = header(&response, "x-request-id").to_owned();
        let body: Value = response.json().await.expect("JSON");
        assert_eq!(body["request_id"], id);
        assert!(!body.to_string().contains("secret"), "{body}");
        assert_eq!(server.app.pool.free(), server.app.settings.permits, "the permit is back");
        assert_eq!(server.post("/v1/census", "{}").send().await.expect("a response").status(), 200, "life goes on");
    }
    let response = server.get("/panics").await;
    assert_eq!(response.status(), 500);
    assert_eq!(header(&response, "x-content-type-options"), "nosniff");
}

#[tokio::test]
async fn a_long_address_and_large_headers_are_problems() {
    let server = start(settings()).await;
    let long = server.get(&format!("/v1/census?z={}", "A".repeat(40_000))).await;
    assert_eq!(long.status(), 414);
    assert_eq!(long.json::<Value>().await.expect("JSON")["limit"]["name"], "uri-bytes");
    let large = server.request("GET", "/").header("x-large", "x".repeat(20_000)).send().await.expect("a response");
    assert_eq!(large.status(), 431);
    assert_eq!(large.json::<Value>().await.expect("JSON")["limit"]["name"], "header-bytes");
    // As long as the API description allows is answered, one byte more is not, in one line or in several.
    for (length, status) in [(8192, 200), (8193, 431)] {
        let whole = server.request("GET", "/v1/sums").header("if-none-match", "x".repeat(length));
        let halves = server.request("GET", "/v1/sums").header("if-none-match", "x".repeat(length - 4098));
        for request in [whole, halves.header("if-none-match", "y".repeat(4096))] {
            let response = request.send().await.expect("a response");
            assert_eq!(response.status(), status, "{length}");
            if status == 431 {
                let problem = response.json::<Value>().await.expect("JSON");
                assert_eq!(problem["limit"]["name"], "if-none-match-bytes");
                assert_eq!(problem["limit"]["value"], 8192.0);
            }
        }
    }
    // Past what the connection buffers hyper refuses, before there is a request: it is told all the same.
    let endless = raw(server.address, format!("GET / HTTP/1.1\r\nx: {}", "x".repeat(200_000)).as_bytes()).await;
    let (head, body) = endless.split_once("\r\n\r\n").expect("a head");
    assert!(head.starts_with("HTTP/1.1 431 "), "{head}");
    for header in ["content-type: application/problem+json", "x-request-id: ", "x-content-type-options: nosniff"] {
        assert_eq!(head.matches(header).count(), 1, "{header} in {head}");
    }
    assert_eq!(head.matches("content-length: ").count(), 1, "{head}");
    assert!(head.contains(&format!("content-length: {}", body.len())), "{head}");
    let problem: Value = serde_json::from_str(body).expect("JSON");
    assert_eq!((&problem["status"], &problem["type"]), (&431.into(), &"/problems/headers-too-large".into()));
    for garbage in [
        &b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n"[..],
        b"GET / HTTP/1.1\r\nhost: x\r\nbad name: 1\r\n\r\n",
        b"POST /v1/flow-balance HTTP/1.1\r\nhost: x\r\ncontent-length: 1\r\ncontent-length: 2\r\n\r\n{}",
        b"what is this\r\n\r\n",
    ] {
        let refused = raw(server.address, garbage).await;
        let (head, body) = refused.split_once("\r\n\r\n").expect("a head");
        assert!(head.starts_with("HTTP/1.1 400 "), "{refused}");
        let problem: Value = serde_json::from_str(body).expect("JSON");
        assert_eq!((&problem["status"], &problem["type"]), (&400.into(), &"/problems/not-http".into()), "{refused}");
        assert!(head.contains("x-request-id: ") && head.contains(&format!("content-length: {}", body.len())), "{head}");
    }
}
