//! Clients that mean harm: typed refusals, soon, on every path with the headers that keep browsers safe.

use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hotwell::http::packed::pack;
use hotwell::http::problem::Kind;
use hotwell::http::router::QUESTIONS;
use hotwell::http::settings::Settings;
use reqwest::Response;
use serde_json::Value;
use tokio::io::AsyncWriteExt;

use crate::support::{header, raw, settings, start};

/// What everything is served with.
fn is_safe(response: &Response, what: &str) {
    assert_eq!(header(response, "x-content-type-options"), "nosniff", "{what}");
    assert_eq!(header(response, "referrer-policy"), "no-referrer", "{what}");
    assert_eq!(header(response, "cross-origin-resource-policy"), "cross-origin", "{what}");
    let policy = header(response, "content-security-policy");
    assert!(policy.contains("default-src 'none'"), "{what}: {policy}");
    let media_type = header(response, "content-type");
    if media_type.starts_with("image/svg+xml") {
        assert!(policy.contains("sandbox") && !policy.contains("script-src"), "{what}: {policy}");
    }
    if media_type.starts_with("text/html") {
        assert!(policy.contains("script-src 'self';") && policy.contains("frame-ancestors 'none'"), "{what}: {policy}");
    }
    assert!(!header(response, "x-request-id").is_empty(), "{what}");
}

#[tokio::test]
async fn every_path_has_its_security_headers_well_or_badly_asked() {
    let server = start(settings()).await;
    let mut paths: Vec<String> = [
        "/",
        "/page/page.js",
        "/examples",
        "/examples/minimal.json",
        "/problems",
        "/problems/not-json",
        "/docs",
        "/docs/",
        "/openapi.json",
        "/openapi-3.0.json",
        "/healthz",
        "/readyz",
        "/metrics",
        "/v1/sums",
        "/v1/sums/units-needed",
        "/v1/sums/units-needed.svg?flow=2&each=1",
        "/nowhere",
        "/v1/",
        "/docs/nowhere",
        "/page/nowhere",
        "/%00",
        "//",
    ]
    .map(str::to_owned)
    .to_vec();
    for question in QUESTIONS {
        paths.extend(["", ".json", ".txt", ".svg", ".png"].map(|suffix| format!("/v1/{}{suffix}", question.name)));
    }
    for path in &paths {
        for method in ["GET", "HEAD", "POST", "QUERY", "DELETE", "OPTIONS", "BREW"] {
            let request = server.request(method, path).header("content-type", "application/json").body("{}");
            let response = request.send().await.expect("a response");
            is_safe(&response, &format!("{method} {path}: {}", response.status()));
        }
    }
    let browser = server.request("GET", "/").header("accept", "text/html").send().await.expect("a response");
    assert!(header(&browser, "content-type").starts_with("text/html"));
    is_safe(&browser, "the page");
    let limit = server.app.settings.body_bytes;
    let many = (0..80).fold(server.request("GET", "/"), |request, index| request.header(format!("x-{index}"), "y"));
    for (status, request) in [
        (413, server.post("/v1/plan", "x".repeat(limit + 1))),
        (414, server.request("GET", &format!("/{}", "x".repeat(40_000)))),
        (415, server.request("POST", "/v1/plan").body("{}")),
        (406, server.post("/v1/plan", "{}").header("accept", "video/mp4")),
        (431, server.request("GET", "/").header("x-large", "y".repeat(20_000))),
        (431, many),
        (500, server.request("GET", "/panics")),
    ] {
        let response = request.send().await.expect("a response");
        assert_eq!(response.status(), status);
        is_safe(&response, &status.to_string());
        let body: Value = response.json().await.expect("JSON");
        assert!(Kind::ALL.iter().any(|kind| body["type"] == kind.type_uri()), "{body}");
    }
}

#[tokio::test]
async fn names_that_look_like_script_are_text_in_a_picture() {
    let server = start(settings()).await;
    let evil = r#"</text><script xmlns="http://www.w3.org/2000/svg">alert(1)</script><text onload="x" a="]]>"#;
    let plan = serde_json::json!({
        "title": evil, "units": { evil: { "count": 1, "takes": { evil: 1 }, "zone": evil, "sheds": 1, "width": 2 } },
        "supplies": { evil: { "header": evil, "rate": 2 } }, "substances": { evil: { "specific_heat": 1000 } }, "horizon": 600,
        "zones": { evil: { "contents": { evil: 10 }, "at": 20, "limit": 30 } },
        "stores": { evil: { "header": evil, "capacity": 5 } },
        "floor": { "rows": [ { "name": evil, "width": 9, "place": { evil: 1 } } ] }
    });
    let mut pictures = 0;
    for question in ["flow-balance", "fill-level", "heat-budget", "plan"] {
        let response = server.post(&format!("/v1/{question}.svg"), plan.to_string()).send().await.expect("a response");
        is_safe(&response, question);
        let picture = response.text().await.expect("text");
        if let Ok(document) = roxmltree::Document::parse(&picture) {
            pictures += 1;
            for node in document.descendants().filter(roxmltree::Node::is_element) {
                let name = node.tag_name().name();
                assert!(
                    !["script", "foreignObject", "a", "iframe", "image", "use"].contains(&name),
                    "{question}: <{name}>"
                );
                let acts = node.attributes().find(|one| one.name().starts_with("on") || one.name() == "href");
                assert_eq!(acts, None, "{question}");
            }
        } else {
            let problem: Value = serde_json::from_str(&picture).expect("a picture or a problem");
            assert_eq!(problem["status"], 422, "{question}: {problem}");
        }
    }
    assert_eq!(pictures, 4);
}

/// So long nothing takes that reads a document once, however busy the machine; what reads it over and over takes minutes.
const SOON: Duration = Duration::from_secs(10);

/// Documents that are a torment to read. Each is refused or answered within the time that a document of its size may take.
#[tokio::test]
async fn torments_are_over_soon() {
    let server = start(settings()).await;
    let digits = "7".repeat(1_000_000);
    let duplicates = vec!["\"a\":1"; 150_000].join(",");
    let demand = |rate: &str| format!(r#"{{ "demands": {{ "a": {{ "header": "water", "rate": {rate} }} }} }}"#);
    let escapes = "\\u0041".repeat(300_000);
    for (name, document, statuses) in [
        ("a number of a megabyte", demand(&digits), &[422][..]),
        ("a fraction of a megabyte", demand(&format!("0.{digits}")), &[422, 200]),
        ("an exponent of a megabyte", demand(&format!("1e{digits}")), &[422]),
        ("nought to a megabyte", demand(&format!("1e-{digits}")), &[422, 200]),
        ("a quantity of a megabyte", demand(&format!("\"{digits} kg/s\"")), &[422]),
        ("units of a megabyte", demand(&format!("\"1 {}\"", "kg.".repeat(300_000))), &[422]),
        ("brackets in units", demand(&format!("\"1 {}\"", "(".repeat(500_000))), &[422]),
        ("powers in units", demand(&format!("\"1 m{digits}\"")), &[422]),
        ("one key over and over", format!("{{{duplicates}}}"), &[422]),
        ("one unit over and over", format!("{{\"units\":{{{duplicates}}}}}"), &[422]),
        ("a name of escapes", format!("{{\"{escapes}\": 1}}"), &[422]),
        ("deep objects", "{\"a\":".repeat(300_000), &[422]),
        ("lists in lists", "[".repeat(2_000_000), &[422]),
        ("deep in what is unknown", format!("{{\"x\":{}{}}}", "[".repeat(100_000), "]".repeat(100_000)), &[422]),
        ("blanks", " ".repeat(2_000_000), &[400]),
        ("half a letter", "\"\\ud800".to_owned(), &[400]),
        ("noughts", "\0".repeat(1_000_000), &[400]),
    ] {
        for question in ["census", "flow-balance", "sweep", "batch"] {
            let begun = Instant::now();
            let response = server.post(&format!("/v1/{question}"), document.clone()).send().await.expect("a response");
            let took = begun.elapsed();
            let status = response.status().as_u16();
            assert!(statuses.contains(&status) || status == 422, "{name} to {question}: {status}");
            assert!(took < SOON, "{name} to {question}: {took:?}");
            let length = response.bytes().await.expect("a body").len();
            // A pointer to a long name is as long as the name.
            assert!(
                length < document.len() + 100_000,
                "{name} to {question}: {length} bytes say what is wrong with it"
            );
        }
    }
    let begun = Instant::now();
    let long = server.get(&format!("/v1/sums/units-needed?flow={}&each=1", "7".repeat(30_000))).await;
    assert_eq!(long.status(), 422);
    let many = server.get(&format!("/v1/sums/units-needed?{}", "flow=1&".repeat(4_000))).await;
    assert_eq!(many.status(), 422);
    assert!(begun.elapsed() < SOON);
}

#[tokio::test]
async fn a_bomb_in_a_link_is_unpacked_on_the_pool_and_not_between_requests() {
    let server = start(settings()).await;
    let bomb = pack(&vec![b' '; server.app.settings.body_bytes]);
    assert!(bomb.len() < 4096);
    let begun = Instant::now();
    let all: Vec<_> =
        (0..20).map(|_| server.request("GET", &format!("/v1/census?z={bomb}")).send()).map(tokio::spawn).collect();
    for one in all {
        let status = one.await.expect("joined").expect("a response").status().as_u16();
        assert!([400, 503].contains(&status), "{status}");
    }
    assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", begun.elapsed());
    assert!(server.metric(r#"hotwell_compute_seconds_count{question="unpack"}"#).await > 0.5);
    let not_base64 = URL_SAFE_NO_PAD.encode([0x78; 2000]);
    assert_eq!(server.get(&format!("/v1/census?z={not_base64}")).await.status(), 400);
}

#[tokio::test]
async fn bodies_may_take_so_much_memory_together() {
    let server = start(Settings { body_memory: 1 << 20, ..settings() }).await;
    let mut slow = Vec::new();
    for _ in 0..3 {
        let mut stream = server.connect().await;
        let head =
            "POST /v1/census HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: 500000\r\n\r\n";
        stream.write_all(head.as_bytes()).await.expect("sent");
        stream.write_all(&vec![b' '; 300_000]).await.expect("sent");
        slow.push(stream);
    }
    server.until("their bytes are here", |app| app.bodies.used() >= 900_000).await;
    let large = server.post("/v1/census", " ".repeat(400_000)).send().await.expect("a response");
    assert_eq!((large.status().as_u16(), header(&large, "retry-after")), (503, "1"));
    let body: Value = large.json().await.expect("JSON");
    assert_eq!((&body["type"], &body["limit"]["name"]), (&"/problems/busy".into(), &"body-memory".into()));
    let small = server.post("/v1/census", "{}").send().await.expect("a response");
    assert_eq!(small.status(), 200, "there is room for a small one");
    drop(slow);
    server.until("they are forgotten", |app| app.bodies.used() == 0).await;
}

#[tokio::test]
async fn floods_of_headers_are_refused() {
    let server = start(settings()).await;
    let lines = |count: usize| {
        let lines: Vec<_> = (0..count).map(|index| format!("x-{index}: y\r\n")).collect();
        format!("GET / HTTP/1.1\r\nhost: x\r\nconnection: close\r\n{}\r\n", lines.concat())
    };
    let typed = raw(server.address, lines(70).as_bytes()).await;
    assert!(typed.starts_with("HTTP/1.1 431") && typed.contains("header-lines"), "{typed}");
    let unread = raw(server.address, lines(5000).as_bytes()).await;
    assert!(unread.starts_with("HTTP/1.1 431") && unread.contains("/problems/headers-too-large"), "{unread}");
    assert_eq!(server.get("/healthz").await.status(), 200);
}

#[cfg(unix)]
#[test]
fn what_is_asked_is_not_in_the_log_however_much_is_logged() {
    use std::io::{Read, Write};
    use std::process::{Command, Stdio};
    const SECRET: &str = "rendezvous-at-the-kiln";
    let mut program = Command::new(env!("CARGO_BIN_EXE_hotwell"))
        .args(["--listen", "127.0.0.1:0", "--log", "debug", "--log-format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("started");
    let mut out = program.stdout.take().expect("piped");
    let mut said = Vec::new();
    while !said.ends_with(b"\n") {
        let mut byte = [0];
        out.read_exact(&mut byte).expect("a line");
        said.extend(byte);
    }
    let line = String::from_utf8(said).expect("text");
    let address = line.trim().rsplit("http://").next().expect("an address").to_owned();
    let plan = format!(r#"{{ "title": "{SECRET}", "units": {{ "{SECRET}": {{ "{SECRET}": 1 }} }} }}"#);
    let z = pack(plan.as_bytes());
    let post = |extra: &str| {
        format!(
            "POST /v1/plan HTTP/1.1\r\nhost: x\r\nconnection: close\r\n{extra}content-length: {}\r\n\r\n{plan}",
            plan.len()
        )
    };
    for (id, request) in [
        ("alpha-1", post("content-type: application/json\r\nx-request-id: alpha-1\r\n")),
        ("beta-2", post(&format!("x-request-id: beta-2\r\nauthorization: {SECRET}\r\ncookie: {SECRET}\r\n"))),
        (
            "gamma-3",
            format!(
                "GET /v1/plan?z={z}&x={SECRET} HTTP/1.1\r\nhost: {SECRET}\r\nx-request-id: gamma-3\r\nconnection: close\r\n\r\n"
            ),
        ),
    ] {
        let mut stream = std::net::TcpStream::connect(&address).expect("connected");
        stream.write_all(request.as_bytes()).expect("sent");
        let mut response = String::new();
        stream.read_to_string(&mut response).expect("read");
        assert!(response.starts_with("HTTP/1.1 4") && response.contains(id), "{response}");
    }
    // A letter that no font has, in a picture.
    let plan = "{ \"title\": \"\u{26f0b}\" }";
    let request = format!(
        "POST /v1/plan.png HTTP/1.1\r\nhost: x\r\nconnection: close\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{plan}",
        plan.len()
    );
    let mut stream = std::net::TcpStream::connect(&address).expect("connected");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut picture = Vec::new();
    stream.read_to_end(&mut picture).expect("read");
    assert!(picture.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&picture));
    let killed = Command::new("kill").args(["-KILL", &program.id().to_string()]).status().expect("kill");
    assert!(killed.success());
    program.wait().expect("ended");
    let mut log = String::new();
    program.stderr.take().expect("piped").read_to_string(&mut log).expect("text");
    assert!(!log.contains(SECRET) && !log.contains(&z[..16]), "{log}");
    assert!(!log.contains('\u{26f0b}') && !log.contains("26F0B"), "{log}");
    for id in ["alpha-1", "beta-2", "gamma-3"] {
        let line = log.lines().find(|line| line.contains(id)).expect("a line for each request");
        let event: Value = serde_json::from_str(line).expect("JSON");
        assert_eq!((&event["id"], &event["path"]), (&id.into(), &"/v1/plan".into()), "{event}");
        assert!(event["status"].as_u64().is_some_and(|status| status >= 400), "{event}");
    }
}
