//! The page at `/`: who gets it, what it may load, and that all of it is there.

use std::collections::BTreeSet;

use hotwell::sums;
use serde_json::Value;

use crate::support::{Running, header, settings, start};

const BROWSER: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,*/*;q=0.8";

async fn page(server: &Running) -> reqwest::Response {
    server.request("GET", "/").header("accept", BROWSER).send().await.expect("a response")
}

/// What stands between `before` and the next `after`, over and over.
fn between<'a>(text: &'a str, before: &str, after: &str) -> BTreeSet<&'a str> {
    text.split(before).skip(1).filter_map(|rest| rest.split_once(after)).map(|(found, _)| found).collect()
}

/// Every path that the page and its parts name within `/page/`.
async fn parts(server: &Running) -> BTreeSet<String> {
    let mut known = BTreeSet::new();
    let mut unread = vec!["/".to_owned()];
    while let Some(path) = unread.pop() {
        let request = server.request("GET", &path).header("accept", BROWSER);
        let text = request.send().await.expect("a response").text().await.expect("text");
        let named = between(&text, "\"/page/", "\"").into_iter().map(|name| format!("/page/{name}"));
        let imported = between(&text, "from \"./", "\"").into_iter().map(|name| format!("/page/{name}"));
        for part in named.chain(imported) {
            if known.insert(part.clone()) {
                unread.push(part);
            }
        }
    }
    known
}

#[tokio::test]
async fn browsers_get_the_page_and_programs_get_lines() {
    let server = start(settings()).await;
    let html = page(&server).await;
    assert_eq!(html.status(), 200);
    assert_eq!(header(&html, "content-type"), "text/html; charset=utf-8");
    assert_eq!(header(&html, "vary"), "Accept, Accept-Encoding");
    let tag = header(&html, "etag").to_owned();
    let text = html.text().await.expect("text");
    assert!(text.contains("licensed practice under local codes"), "the caution stands on the page");
    for accept in ["*/*", "application/json", "text/plain", "text/plain, text/html;q=0.9", "text/html;q=0"] {
        let lines = server.request("GET", "/").header("accept", accept).send().await.expect("a response");
        assert_eq!(header(&lines, "content-type"), "text/plain; charset=utf-8", "{accept}");
        assert_eq!(header(&lines, "vary"), "Accept, Accept-Encoding");
        assert_ne!(header(&lines, "etag"), tag);
        assert!(lines.text().await.expect("text").contains("POST /v1/flow-balance"));
    }
}

#[tokio::test]
async fn the_page_loads_nothing_from_elsewhere_and_nothing_inline() {
    let server = start(settings()).await;
    let html = page(&server).await;
    let policy = header(&html, "content-security-policy").to_owned();
    for rule in [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
    ] {
        assert!(policy.split("; ").any(|found| found == rule), "{rule} in {policy}");
    }
    assert!(!policy.contains("unsafe") && !policy.contains("http"), "{policy}");
    let text = html.text().await.expect("text");
    assert_eq!(text.matches("<script").count(), text.matches("<script type=\"module\" src=\"/page/").count());
    assert!(!text.contains("<style") && !text.contains(" style=") && !text.contains("javascript:"));
    assert!(!text.split('<').any(|tag| tag.split('>').next().is_some_and(|tag| tag.contains(" on"))), "handlers");
    for part in parts(&server).await {
        let text = server.get(&part).await.text().await.expect("text");
        for elsewhere in ["https://", "innerHTML", "outerHTML", "insertAdjacentHTML", "eval(", "localStorage"] {
            assert!(!text.contains(elsewhere), "{elsewhere} in {part}");
        }
        let hosts: Vec<_> = between(&text, "http://", "\"").into_iter().collect();
        assert!(hosts.iter().all(|host| host.starts_with("www.w3.org/")), "names of XML only: {hosts:?} in {part}");
    }
}

#[tokio::test]
async fn every_part_is_there_with_its_type_and_its_tag() {
    let server = start(settings()).await;
    let parts = parts(&server).await;
    assert!(parts.len() >= 9, "{parts:?}");
    for part in &parts {
        let expected = match part.rsplit('.').next().expect("a suffix") {
            "js" => "text/javascript; charset=utf-8",
            "css" => "text/css; charset=utf-8",
            "svg" => "image/svg+xml",
            other => panic!("what is a {other}?"),
        };
        let got = server.get(part).await;
        assert_eq!((got.status().as_u16(), header(&got, "content-type")), (200, expected), "{part}");
        assert_eq!(header(&got, "x-content-type-options"), "nosniff");
        let tag = header(&got, "etag").to_owned();
        assert!(tag.starts_with('"'), "a strong tag: {tag}");
        let unchanged = server.request("GET", part).header("if-none-match", &tag).send().await.expect("a response");
        assert_eq!((unchanged.status().as_u16(), header(&unchanged, "etag")), (304, tag.as_str()), "{part}");
        let zipped = server.request("GET", part).header("accept-encoding", "gzip").send().await.expect("a response");
        assert_eq!(header(&zipped, "content-encoding"), "gzip");
        assert_ne!(header(&zipped, "etag"), tag, "other bytes, another tag");
        let head = server.request("HEAD", part).send().await.expect("a response");
        assert_eq!((head.status().as_u16(), header(&head, "etag")), (200, tag.as_str()));
        assert_eq!(head.text().await.expect("text"), "");
        let posted = server.request("POST", part).send().await.expect("a response");
        assert_eq!((posted.status().as_u16(), header(&posted, "allow")), (405, "GET, HEAD, OPTIONS"));
    }
    for none in ["/page/none-such.js", "/page/..%2Fpage.rs", "/examples/none-such.json", "/examples/minimal"] {
        assert_eq!(server.get(none).await.status(), 404, "{none}");
    }
}

#[tokio::test]
async fn the_page_itself_is_revalidated_by_form() {
    let server = start(settings()).await;
    let tag = header(&page(&server).await, "etag").to_owned();
    let unchanged = server.request("GET", "/").header("accept", BROWSER).header("if-none-match", &tag);
    assert_eq!(unchanged.send().await.expect("a response").status(), 304);
    let other = server.request("GET", "/").header("accept", "*/*").header("if-none-match", &tag);
    assert_eq!(other.send().await.expect("a response").status(), 200, "the tag of the page is not that of the lines");
    let head = server.request("HEAD", "/").header("accept", BROWSER).send().await.expect("a response");
    assert_eq!(header(&head, "content-type"), "text/html; charset=utf-8");
    assert_ne!(header(&head, "content-length"), "0");
}

#[tokio::test]
async fn what_the_forms_are_made_of_answers_each_sum_by_its_example() {
    let server = start(settings()).await;
    let list: Value = server.get("/v1/sums").await.json().await.expect("JSON");
    let listed = list["sums"].as_array().expect("sums");
    assert_eq!(listed.len(), sums::registry().len());
    for sum in listed {
        let name = sum["name"].as_str().expect("a name");
        for parameter in sum["parameters"].as_array().expect("parameters") {
            for field in ["name", "says", "kind", "example"] {
                assert!(parameter[field].as_str().is_some_and(|text| !text.is_empty()), "{name}: {field}");
            }
        }
        // As the page sends it: each value of the example percent-encoded.
        let example = sum["example"].as_str().expect("an example");
        let pairs: Vec<(&str, &str)> = example.split('&').filter_map(|pair| pair.split_once('=')).collect();
        let asked = server.client.get(server.url(&format!("/v1/sums/{name}"))).query(&pairs);
        assert_eq!(asked.send().await.expect("a response").status(), 200, "{name}?{example}");
    }
}

#[tokio::test]
async fn the_example_plans_are_listed_and_served_as_they_were_written() {
    let server = start(settings()).await;
    let list: Value = server.get("/examples").await.json().await.expect("JSON");
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/plans");
    let files = std::fs::read_dir(folder).expect("the examples").count();
    let listed = list["examples"].as_array().expect("examples");
    assert_eq!(listed.len(), files);
    for example in listed {
        let (name, link) = (example["name"].as_str().expect("a name"), example["link"].as_str().expect("a link"));
        let got = server.get(link).await;
        assert_eq!(header(&got, "content-type"), "application/json");
        let text = got.text().await.expect("text");
        assert_eq!(text, std::fs::read_to_string(format!("{folder}/{name}.json")).expect("the file"));
        assert_eq!(server.post("/v1/plan", text).send().await.expect("a response").status(), 200, "{name}");
    }
}
