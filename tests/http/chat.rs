//! The bare link form: chat bots that only fetch a link and say what comes back. Each of their habits is played here.

use std::time::{Duration, Instant};

use hotwell::http::packed::pack;
use hotwell::questions::answer::{LINE_BYTES, is_invisible};
use reqwest::Response;

use crate::support::{Running, settings, start};

/// How long such bots wait.
const PATIENCE: Duration = Duration::from_secs(5);

/// What a bot makes of a response.
#[derive(Clone, Copy, Debug)]
enum Habit {
    /// Says nothing unless the status is 200.
    PrintsOnlyA200,
    /// Says the body, whatever the status.
    IgnoresStatus,
    /// Says that something is broken where the body is empty or blank.
    RefusesEmpty,
    /// Says the first 400 bytes, and nothing where that is no UTF-8.
    CutsAt400Bytes,
}

const HABITS: [Habit; 4] = [Habit::PrintsOnlyA200, Habit::IgnoresStatus, Habit::RefusesEmpty, Habit::CutsAt400Bytes];

impl Habit {
    /// What is said in the channel, if anything is.
    async fn says(self, server: &Running, link: &str) -> Option<String> {
        let response: Response = tokio::time::timeout(PATIENCE, server.get(link)).await.ok()?;
        let status = response.status();
        let body = tokio::time::timeout(PATIENCE, response.bytes()).await.ok()?.expect("a body");
        match self {
            Self::PrintsOnlyA200 if status != 200 => None,
            Self::RefusesEmpty if body.trim_ascii().is_empty() => None,
            Self::CutsAt400Bytes => String::from_utf8(body[..body.len().min(LINE_BYTES)].to_vec()).ok(),
            _ => String::from_utf8(body.to_vec()).ok(),
        }
    }
}

/// Holds what is said to what a channel can bear: one line, whole, of visible characters, that begins like no command.
fn assert_fit(line: &str, asked: &str) {
    assert!(!line.trim().is_empty() && line.trim() == line, "{asked}: {line:?}");
    assert!(line.len() <= LINE_BYTES, "{asked}: {} bytes", line.len());
    assert!(!line.chars().any(is_invisible), "{asked}: {line:?}");
    assert!(!line.starts_with(['!', '/', '.', '@', '\\', '~', '$', '#', '&', '?', ';', '<']), "{asked}: {line}");
}

/// A link whose answer is a line whatever happens: the suffix makes it text, `errors=200` a 200.
fn with_errors(link: &str) -> String {
    let joint = if link.contains('?') { '&' } else { '?' };
    format!("{link}{joint}errors=200")
}

/// The links of all sums as their list gives them.
async fn examples(server: &Running) -> Vec<String> {
    let list: serde_json::Value =
        serde_json::from_slice(&server.get("/v1/sums.json").await.bytes().await.expect("bytes")).expect("JSON");
    let sums = list["sums"].as_array().expect("sums");
    sums.iter()
        .map(|sum| {
            let text = |name: &str| sum[name].as_str().expect("a text");
            format!("/v1/sums/{}.txt?{}", text("name"), text("example"))
        })
        .collect()
}

#[tokio::test]
async fn every_sum_and_its_mistakes_read_well_for_each_habit() {
    let server = start(settings()).await;
    let links = examples(&server).await;
    assert!(links.len() > 30, "only {} sums", links.len());
    for link in &links {
        let answer = Habit::PrintsOnlyA200.says(&server, link).await.expect("an answer");
        assert_fit(&answer, link);
        let (bare, query) = link.split_once('?').expect("a query");
        for link in [
            with_errors(link),
            with_errors(bare),
            with_errors(&format!("{bare}?{}", query.replacen('=', "=%03%E2%80%AE!x%0D%0A", 1))),
            with_errors(&format!("{bare}?{query}&{query}")),
            with_errors(&format!("{bare}?%0Aquit=1&{query}")),
            with_errors(&format!(
                "{bare}?{}",
                query.split('&').map(|pair| format!("{pair}{}", "9".repeat(500))).collect::<Vec<_>>().join("&")
            )),
        ] {
            let mut said = Vec::new();
            for habit in HABITS {
                let told =
                    habit.says(&server, &link).await.unwrap_or_else(|| panic!("{habit:?} says nothing to {link}"));
                assert_fit(&told, &link);
                said.push(told);
            }
            said.dedup();
            assert_eq!(said.len(), 1, "all say the same: {said:#?}");
        }
    }
}

#[tokio::test]
async fn plans_and_broken_links_read_well_for_each_habit() {
    let server = start(settings()).await;
    let z = |document: &str| pack(document.as_bytes());
    let hall = z(include_str!("../../examples/plans/burner-hall.json"));
    let short = z(include_str!("../../examples/plans/short-supply.json"));
    let hostile = r#"{ "units": { "\u202e/quit": { "takes": { "!x": "1 kg/s" } } }, "demands": { "@d": { "header": "!x", "rate": "3 kg/s" } } }"#;
    let hostile = z(hostile);
    let sums = format!("{} sums: ", hotwell::sums::registry().len());
    for (link, begins) in [
        (format!("/v1/flow-balance.txt?z={hall}"), "Holds: "),
        (format!("/v1/flow-balance.txt?z={short}"), "Fails: "),
        (format!("/v1/plan.txt?z={hall}"), "Holds: "),
        (format!("/v1/fill-level.txt?z={hall}"), "Holds: "),
        (format!("/v1/heat-budget.txt?z={hall}"), "Holds: "),
        (format!("/v1/flow-balance.txt?z={hostile}"), ""),
        (format!("/v1/flow-balance.txt?z={}", z(r#"{ "unitz": {} }"#)), "Cannot be read (422): /unitz: "),
        (format!("/v1/flow-balance.txt?z={}", z("{")), "Not JSON (400): "),
        (format!("/v1/flow-balance.txt?z={}", &hall[..hall.len() / 2]), "The link does not unpack (400): "),
        ("/v1/flow-balance.txt".to_owned(), "Cannot be read (422): z: found nothing"),
        ("/v1/flow-balanc.txt".to_owned(), "Not found (404): "),
        ("/v1/sums/units-neded.txt".to_owned(), "Not found (404): there is no such sum; did you mean units-needed?"),
        ("/v1/sums/units-needed.pdf".to_owned(), "Not found (404): a sum comes as .json, .txt, .svg or .png"),
        ("/v1/sums.txt".to_owned(), &sums),
        (format!("/v1/flow-balance.txt?z={}", "a".repeat(40_000)), "Address too long (414): "),
        ("/v1/panics.txt?z=eNqrrgUAAXUA-Q".to_owned(), "Internal error (500): "),
    ] {
        let link = with_errors(&link);
        for habit in HABITS {
            let shown = &link[..link.len().min(60)];
            let said = habit.says(&server, &link).await.unwrap_or_else(|| panic!("{habit:?} says nothing to {shown}"));
            assert_fit(&said, shown);
            assert!(said.starts_with(begins), "{shown}: {said}");
        }
    }
}

#[tokio::test]
async fn without_errors_200_one_habit_is_silent_and_the_others_are_not() {
    let server = start(settings()).await;
    let link = "/v1/sums/units-needed.txt?flow=2.5kg/s";
    for habit in HABITS {
        let said = habit.says(&server, link).await;
        assert_eq!(said.is_none(), matches!(habit, Habit::PrintsOnlyA200), "{habit:?}: {said:?}");
    }
}

#[tokio::test]
async fn a_time_limit_below_the_bots_own_turns_silence_into_a_line() {
    let slow = format!("/v1/toil.txt?z={}", pack(br#"{ "ms": 20000 }"#));
    let as_it_comes = start(settings()).await;
    let mut quick = settings();
    quick.request_timeout = Duration::from_secs(4);
    let quick = start(quick).await;
    let begun = Instant::now();
    let link = with_errors(&slow);
    let (silent, told) =
        tokio::join!(Habit::PrintsOnlyA200.says(&as_it_comes, &link), Habit::PrintsOnlyA200.says(&quick, &link));
    assert_eq!(silent, None);
    let told = told.expect("a line");
    assert!(told.starts_with("Out of time (503): "), "{told}");
    assert_fit(&told, &link);
    assert!(begun.elapsed() < PATIENCE + Duration::from_secs(1));
}

#[tokio::test]
async fn sums_are_answered_in_time_while_plans_take_all_there_is() {
    let mut narrow = settings();
    narrow.permits = 1;
    let server = start(narrow).await;
    let busy = server.post("/v1/toil", r#"{ "ms": 3000 }"#).send();
    let busy = tokio::spawn(busy);
    server.until("the pool is busy", |app| app.meters.pool_busy.get() == 1).await;
    for link in examples(&server).await {
        let begun = Instant::now();
        let told = Habit::PrintsOnlyA200.says(&server, &link).await.expect("an answer");
        assert_fit(&told, &link);
        assert!(begun.elapsed() < Duration::from_secs(1), "{link}: {:?}", begun.elapsed());
    }
    assert!(!busy.is_finished(), "the pool was busy all the while");
    busy.abort();
}
