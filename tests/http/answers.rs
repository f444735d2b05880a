//! The real questions and sums over HTTP, on the examples.

use hotwell::http::packed::pack;
use serde_json::Value;

use crate::support::{header, settings, start};

const QUESTIONS: [&str; 4] = ["flow-balance", "fill-level", "heat-budget", "plan"];

fn example(name: &str) -> String {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("an example")
}

#[tokio::test]
async fn a_picture_is_a_card_where_it_is_asked_for() {
    let server = start(settings()).await;
    let plan = r#"{ "units": { "burner": { "count": 5, "gives": { "exhaust": "10 g/s" } } } }"#;
    let svg = async |path: &str| {
        let response = server.post(path, plan).send().await.expect("a response");
        assert_eq!((response.status().as_u16(), header(&response, "content-type")), (200, "image/svg+xml"), "{path}");
        (header(&response, "etag").to_owned(), response.text().await.expect("text"))
    };
    let [both, sheet, card] =
        [svg("/v1/plan.svg").await, svg("/v1/plan.svg?picture=sheet").await, svg("/v1/plan.svg?picture=card").await];
    assert!(both.1.contains("<style>@media") && !sheet.1.contains("<style>") && !card.1.contains("<style>"));
    assert!(card.1.contains(">Fails</text>") && !sheet.1.contains(">Fails</text>"));
    assert!(both.0 != sheet.0 && sheet.0 != card.0 && card.0 != both.0, "a tag tells bytes apart");
    // In pixels it is one of the two, as high as the sheet or the card.
    let high = async |path: &str| {
        let response = server.post(path, plan).send().await.expect("a response");
        assert_eq!((response.status().as_u16(), header(&response, "content-type")), (200, "image/png"), "{path}");
        let bytes = response.bytes().await.expect("bytes");
        u32::from_be_bytes(bytes[20..24].try_into().expect("four bytes"))
    };
    assert_eq!((high("/v1/plan.png").await, high("/v1/plan.png?picture=sheet").await), (600, 600));
    assert!((419..600).contains(&high("/v1/plan.png?picture=card").await));
    // Sums take it too, and see nothing of it.
    let sum = "/v1/sums/units-needed.svg?flow=2.5%20kg/s&each=300%20g/s";
    let card = server.get(&format!("{sum}&picture=card")).await.text().await.expect("text");
    assert!(card.contains(">9</text>") && !card.contains("<style>"), "{card}");
    // Any other word is told; who takes no picture is not asked.
    let paths =
        [format!("{sum}&picture=small"), "/v1/plan.svg?picture=".to_owned(), "/v1/plan?picture=small".to_owned()];
    for path in paths {
        let response = if path.contains("sums") {
            server.get(&path).await
        } else {
            server.post(&path, plan).send().await.expect("a response")
        };
        assert_eq!(response.status(), 422, "{path}");
        assert!(response.text().await.expect("text").contains("\"sheet or card\""), "{path}");
    }
    assert_eq!(server.post("/v1/plan.json?picture=small", plan).send().await.expect("a response").status(), 200);
}

#[tokio::test]
async fn every_example_is_answered_in_every_form_by_every_method() {
    let server = start(settings()).await;
    let mut seen = 0;
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/plans")).expect("the examples") {
        let path = entry.expect("an entry").path();
        let plan = std::fs::read_to_string(&path).expect("text");
        seen += 1;
        for (question, suffix) in QUESTIONS.iter().flat_map(|one| [".json", ".txt", ".svg"].map(|suffix| (one, suffix)))
        {
            let begin = match suffix {
                ".json" => format!("{{\"question\":\"{question}\""),
                ".svg" => "<svg".to_owned(),
                _ => String::new(),
            };
            let path = format!("/v1/{question}{suffix}");
            let posted = server.post(&path, plan.clone()).send().await.expect("a response");
            assert_eq!(posted.status(), 200, "{path}");
            let tag = header(&posted, "etag").to_owned();
            let posted = posted.text().await.expect("text");
            assert!(posted.starts_with(&begin), "{posted}");
            let got = server.get(&format!("{path}?z={}", pack(plan.as_bytes()))).await;
            assert_eq!((got.status().as_u16(), header(&got, "etag")), (200, tag.as_str()), "{path}");
            assert_eq!(got.text().await.expect("text"), posted);
            if suffix == ".txt" {
                assert!(
                    !posted.is_empty() && posted.len() <= 400 && !posted.chars().any(char::is_control),
                    "{posted:?}"
                );
            }
        }
    }
    assert!(seen >= 5, "{seen} examples");
}

#[tokio::test]
async fn every_example_has_its_pictures_in_pixels() {
    let server = start(settings()).await;
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/plans")).expect("the examples") {
        let path = entry.expect("an entry").path();
        let plan = std::fs::read_to_string(&path).expect("text");
        for question in QUESTIONS {
            let drawn = server.post(&format!("/v1/{question}.png"), plan.clone()).header("accept-encoding", "gzip");
            let drawn = drawn.send().await.expect("a response");
            let what = format!("{question} of {}", path.display());
            assert_eq!((drawn.status().as_u16(), header(&drawn, "content-type")), (200, "image/png"), "{what}");
            assert_eq!(header(&drawn, "content-encoding"), "", "pixels are packed already");
            let bytes = drawn.bytes().await.expect("bytes");
            assert!(
                bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.len() < 1_000_000,
                "{what}: {} bytes",
                bytes.len()
            );
            // Two sides, 8 bits a channel, colour with transparency.
            assert_eq!((&bytes[16..20], &bytes[24..26]), (&[0, 0, 3, 32][..], &[8, 6][..]), "{what}: 800 wide");
            let height = u32::from_be_bytes(bytes[20..24].try_into().expect("four bytes"));
            assert!((600..=2048).contains(&height), "{what}: {height} high");
        }
    }
    let plan = example("minimal");
    let (tag, again) = (
        server.post("/v1/plan.png", plan.clone()),
        server.post("/v1/plan", plan.clone()).header("accept", "image/png"),
    );
    let (one, other) = (tag.send().await.expect("a response"), again.send().await.expect("a response"));
    assert_eq!(header(&one, "etag"), header(&other, "etag"));
    assert_ne!(
        header(&one, "etag"),
        header(&server.post("/v1/plan.svg", plan).send().await.expect("a response"), "etag")
    );
    assert_eq!(one.bytes().await.expect("bytes"), other.bytes().await.expect("bytes"));
}

#[tokio::test]
async fn a_plan_that_turns_out_badly_is_a_200_that_says_so() {
    let server = start(settings()).await;
    let response = server.post("/v1/flow-balance", example("short-supply")).send().await.expect("a response");
    assert_eq!(response.status(), 200);
    let answer: Value = response.json().await.expect("JSON");
    assert_eq!(answer["verdict"], "fails");
    assert!(!answer["findings"].as_array().expect("findings").is_empty());
}

#[tokio::test]
async fn the_list_of_sums_leads_to_sums_that_answer() {
    let server = start(settings()).await;
    let list: Value = server.get("/v1/sums").await.json().await.expect("JSON");
    let sums = list["sums"].as_array().expect("a list");
    assert!(sums.len() >= 8);
    for sum in sums {
        let (name, example) = (sum["name"].as_str().expect("a name"), sum["example"].as_str().expect("an example"));
        for (suffix, media_type) in [
            ("", "application/json"),
            (".json", "application/json"),
            (".txt", "text/plain; charset=utf-8"),
            (".svg", "image/svg+xml"),
            (".png", "image/png"),
        ] {
            let response = server.get(&format!("/v1/sums/{name}{suffix}?{example}")).await;
            assert_eq!(
                (response.status().as_u16(), header(&response, "content-type")),
                (200, media_type),
                "{name}{suffix}"
            );
        }
    }
    let line = server.get("/v1/sums.txt").await.text().await.expect("text");
    assert!(line.contains("units-needed"), "{line}");
}

#[tokio::test]
async fn a_sum_is_tagged_and_its_faults_are_told() {
    let server = start(settings()).await;
    let fine = server.get("/v1/sums/units-needed.txt?flow=2.5%20kg/s&each=300%20g/s").await;
    assert_eq!(fine.status(), 200);
    let tag = header(&fine, "etag").to_owned();
    let line = fine.text().await.expect("text");
    assert!(line.starts_with("9 units"), "{line}");
    let respelt = server.request("GET", "/v1/sums/units-needed.txt?errors=200&flow=2.5+kg%2Fs&each=300+g%2Fs");
    let held = respelt.header("if-none-match", &tag).send().await.expect("a response");
    assert_eq!(held.status(), 304, "another spelling of the same query");
    let wrong = server.get("/v1/sums/units-needed.txt?flow=2.5%20m&eech=1&errors=200").await;
    assert_eq!((wrong.status().as_u16(), header(&wrong, "hotwell-status")), (200, "422"));
    let line = wrong.text().await.expect("text");
    assert!(line.contains("flow") && line.contains("each") && line.len() <= 400, "{line}");
    let near = server.get("/v1/sums/unit-needed").await;
    assert_eq!(near.status(), 404);
    let problem: Value = near.json().await.expect("JSON");
    assert!(problem["detail"].as_str().expect("a detail").contains("did you mean units-needed?"), "{problem}");
    assert_eq!(server.post("/v1/sums/units-needed", "{}").send().await.expect("a response").status(), 405);
}
