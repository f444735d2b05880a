//! What is hostile, broken or huge: each a typed 4xx, quickly, and the service lives on.

use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use flate2::{Compress, Compression, FlushCompress};
use hotwell::http::packed::pack;
use hotwell::http::settings::Settings;
use serde_json::Value;

use crate::support::{settings, start};

#[tokio::test]
async fn a_body_past_the_limit_is_a_413_with_and_without_a_length() {
    let server = start(settings()).await;
    let limit = server.app.settings.body_bytes;
    let ten_megabytes = "x".repeat(10_000_000);
    let response = server.post("/v1/census", ten_megabytes.clone()).send().await.expect("a response");
    assert_eq!(response.status(), 413);
    let body: Value = response.json().await.expect("JSON");
    assert_eq!(body["limit"]["name"], "body-bytes");
    assert_eq!(body["limit"]["value"].as_f64().map(f64::to_bits), Some((limit as f64).to_bits()));
    let pieces = ten_megabytes.as_bytes().chunks(65_536).map(|chunk| Ok::<_, std::io::Error>(chunk.to_vec()));
    let stream = reqwest::Body::wrap(PieceWise(pieces.collect::<Vec<_>>().into_iter()));
    let response = server.request("POST", "/v1/census").header("content-type", "application/json").body(stream);
    assert_eq!(response.send().await.expect("a response").status(), 413);
    let blank = " ".repeat(limit - 2);
    let exact = server.post("/v1/census", format!("{{{blank}}}")).send().await.expect("a response");
    assert_eq!(exact.status(), 200, "the limit itself is allowed");
    let over = server.post("/v1/census", format!("{{{blank} }}")).send().await.expect("a response");
    assert_eq!(over.status(), 413);
}

/// A body without a known length.
struct PieceWise(std::vec::IntoIter<Result<Vec<u8>, std::io::Error>>);

impl axum::body::HttpBody for PieceWise {
    type Data = axum::body::Bytes;
    type Error = std::io::Error;

    fn poll_frame(
        mut self: std::pin::Pin<&mut Self>,
        _context: &mut std::task::Context<'_>,
    ) -> std::task::Poll<Option<Result<hyper::body::Frame<Self::Data>, Self::Error>>> {
        let next = self.0.next().map(|piece| piece.map(|bytes| hyper::body::Frame::data(bytes.into())));
        std::task::Poll::Ready(next)
    }
}

#[tokio::test]
async fn a_bomb_in_a_link_stops_at_the_limit() {
    // 1 GiB of zeros: one block of 1 MiB, flushed so that it stands alone, again and again.
    let zeros = vec![0_u8; 1 << 20];
    let mut block = Vec::with_capacity(4096);
    let mut packer = Compress::new(Compression::best(), false);
    packer.compress_vec(&zeros, &mut block, FlushCompress::Full).expect("memory");
    let whole = [vec![0x78, 0xDA], block.repeat(1024)].concat();
    assert!(whole.len() > 1_000_000);
    let bomb = |bytes: usize| format!("/v1/census?z={}", URL_SAFE_NO_PAD.encode(&whole[..bytes]));
    let server = start(Settings { uri_bytes: 64 << 10, ..settings() }).await;
    let started = Instant::now();
    // The first 45 KB of it unpack to 45 MB; the limit ends it at 2 MiB, long before the stream's own end.
    let response = server.get(&bomb(45_000)).await;
    assert_eq!(response.status(), 413);
    assert_eq!(response.json::<Value>().await.expect("JSON")["limit"]["name"], "body-bytes");
    assert!(started.elapsed() < Duration::from_millis(500), "{:?}", started.elapsed());
    let whole_url = format!("GET {} HTTP/1.1\r\nhost: x\r\n\r\n", bomb(whole.len()));
    let said = crate::support::raw(server.address, whole_url.as_bytes()).await;
    assert!(said.is_empty() || said.starts_with("HTTP/1.1 4"), "{}", &said[..said.len().min(200)]);
    let cut = pack(b"{ \"title\": \"a plan that is long enough to be cut in the middle\" }");
    let response = server.get(&format!("/v1/census?z={}", &cut[..cut.len() / 2])).await;
    assert_eq!(response.status(), 400);
    assert_eq!(response.json::<Value>().await.expect("JSON")["type"], "/problems/bad-packing");
}

#[tokio::test]
async fn documents_that_are_no_plans_are_refused_with_reasons() {
    let server = start(settings()).await;
    let deep = format!("{}1{}", "[".repeat(1000), "]".repeat(1000));
    let deeper = "[".repeat(1_000_000);
    let faults: Vec<_> = (0..10_000).map(|index| format!("\"nothing {index}\": 1")).collect();
    let faults = format!("{{ {} }}", faults.join(","));
    for (name, document, status, kind) in [
        ("empty", "", 400, "not-json"),
        ("words", "five burners please", 400, "not-json"),
        ("a list", "[]", 422, "unreadable"),
        ("a number", "7", 422, "unreadable"),
        ("deep", &deep, 422, "too-deep"),
        ("deeper", &deeper, 422, "too-deep"),
        ("duplicate", r#"{ "title": "a", "title": "b" }"#, 422, "unreadable"),
        ("1e400", r#"{ "demands": { "a": { "header": "water", "rate": 1e400 } } }"#, 422, "unreadable"),
        ("NaN", r#"{ "demands": { "a": { "header": "water", "rate": "NaN kg/s" } } }"#, 422, "unreadable"),
        ("negative", r#"{ "demands": { "a": { "header": "water", "rate": -1 } } }"#, 422, "unreadable"),
        ("10,000 faults", &faults, 422, "unreadable"),
    ] {
        let response = server.post("/v1/census", document).send().await.expect("a response");
        let got = response.status().as_u16();
        let body: Value = response.json().await.expect("JSON");
        assert_eq!(
            (got, body["type"].as_str()),
            (status, Some(format!("/problems/{kind}").as_str())),
            "{name}: {body}"
        );
        if name == "10,000 faults" {
            assert_eq!(body["faults_total"], 10_000);
            assert_eq!(body["faults"].as_array().map(Vec::len), Some(server.app.settings.limits.faults));
        }
    }
    let not_utf8 =
        server.request("POST", "/v1/census").header("content-type", "application/json").body(vec![b'"', 0xFF, b'"']);
    assert_eq!(not_utf8.send().await.expect("a response").status(), 400);
    assert_eq!(server.post("/v1/census", "{}").send().await.expect("a response").status(), 200);
}
