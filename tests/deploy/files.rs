//! What the files name exists: settings as flags, metrics as measured.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::plain_client::plain_client;
use crate::replica::{Replica, free_port};

/// What only haproxy reads.
const OF_THE_PROXY: [&str; 3] = ["HOTWELL_BIND", "HOTWELL_A", "HOTWELL_B"];

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() { files(&path, found) } else { found.push(path) }
    }
}

fn deployed() -> Vec<(PathBuf, String)> {
    let mut paths = Vec::new();
    files(&Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy"), &mut paths);
    paths.sort();
    paths.into_iter().map(|path| (path.clone(), fs::read_to_string(path).expect("a text"))).collect()
}

/// The words of a text that begin so and go on with such characters.
fn words<'a>(text: &'a str, begin: &str, goes_on: fn(char) -> bool) -> BTreeSet<&'a str> {
    let whole = |(at, _): (usize, &str)| {
        let before = text[..at].chars().next_back();
        let word = &text[at..];
        let end = word.find(|next: char| !goes_on(next)).unwrap_or(word.len());
        before.is_none_or(|before| !goes_on(before)).then_some(&word[..end])
    };
    text.match_indices(begin).filter_map(whole).collect()
}

fn of_a_setting(next: char) -> bool {
    next.is_ascii_uppercase() || next == '_'
}

fn of_a_metric(next: char) -> bool {
    next.is_ascii_lowercase() || next == '_'
}

#[test]
fn every_setting_in_deploy_is_one_of_the_program() {
    let help = Command::new(env!("CARGO_BIN_EXE_hotwell")).args(["serve", "--help"]).output().expect("help");
    let help = String::from_utf8(help.stdout).expect("text");
    let known = words(&help, "HOTWELL_", of_a_setting);
    assert!(known.len() > 20, "{known:?}");
    let mut seen = 0;
    for (path, text) in deployed() {
        for setting in words(&text, "HOTWELL_", of_a_setting) {
            let of_a_test = setting == "HOTWELL_ROLLS" && path.ends_with("README.md");
            assert!(
                known.contains(setting) || OF_THE_PROXY.contains(&setting) || of_a_test,
                "{}: {setting} is no setting",
                path.display()
            );
            seen += 1;
        }
    }
    assert!(seen > 10, "only {seen} settings found");
    let haproxy = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy/haproxy.cfg")).expect("a text");
    for setting in OF_THE_PROXY {
        assert!(haproxy.contains(&format!("\"${setting}\"")), "{setting}");
    }
}

#[tokio::test]
async fn every_metric_of_dashboard_and_alerts_is_measured() {
    let client = plain_client().build().expect("a client");
    // Two requests a minute, so that the third is turned away: what has not happened is not counted.
    let replica = Replica::start(&client, free_port(), &["--rate-limit", "2"]).await;
    let at = |path: &str| format!("http://127.0.0.1:{}{path}", replica.port);
    let plan = include_str!("../../examples/plans/minimal.json");
    let mut turned_away = false;
    for _ in 0..8 {
        let request = client.post(at("/v1/flow-balance")).header("content-type", "application/json").body(plan);
        turned_away |= request.send().await.expect("an answer").status() == 429;
    }
    assert!(turned_away, "the limit holds");
    let metrics = client.get(at("/metrics")).send().await.expect("an answer").text().await.expect("a text");
    let measured = words(&metrics, "hotwell_", of_a_metric);
    assert!(measured.len() > 10, "{metrics}");
    let mut seen = BTreeSet::new();
    for (path, text) in deployed() {
        let folder = path.parent().and_then(Path::file_name).and_then(|name| name.to_str()).expect("a folder");
        if !matches!(folder, "prometheus" | "grafana") {
            continue;
        }
        for metric in words(&text, "hotwell_", of_a_metric) {
            assert!(measured.contains(metric), "{}: {metric} is not measured: {measured:?}", path.display());
            seen.insert(metric.to_owned());
        }
    }
    assert!(seen.len() >= 9, "only {seen:?}");
}

#[test]
fn words_are_found_whole() {
    assert_eq!(
        words("sum(rate(hotwell_a_total[5m])) by xhotwell_b, hotwell_c", "hotwell_", of_a_metric),
        BTreeSet::from(["hotwell_a_total", "hotwell_c"])
    );
}
