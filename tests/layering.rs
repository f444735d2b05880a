//! Arrows point down one list only:
//! main → cli → http → forms → questions, sums → balance, rehearsal, floor → heat → course → plan → quantity → budget.
//!
//! From `questions` down nothing knows HTTP, an executor, the clock, the environment or printing.

use std::fs;
use std::path::{Path, PathBuf};

/// Which rooms the files of each room may name through `crate::`, and whether it knows the outer world.
const ROOMS: &[(&str, &[&str], World)] = &[
    ("main", &["cli", "http"], World::Known),
    (
        "cli",
        &[
            "http",
            "forms",
            "questions",
            "sums",
            "balance",
            "rehearsal",
            "floor",
            "heat",
            "course",
            "plan",
            "quantity",
            "budget",
        ],
        World::Known,
    ),
    (
        "http",
        &[
            "forms",
            "questions",
            "sums",
            "balance",
            "rehearsal",
            "floor",
            "heat",
            "course",
            "plan",
            "quantity",
            "budget",
        ],
        World::Known,
    ),
    ("forms", &["questions", "sums", "balance", "plan", "quantity", "budget"], World::Unknown),
    ("questions", &["balance", "rehearsal", "floor", "heat", "course", "plan", "quantity", "budget"], World::Unknown),
    // A sum answers in the terms that questions share, and asks nothing of the questions themselves.
    (
        "sums",
        &["questions::answer", "balance", "rehearsal", "floor", "heat", "course", "plan", "quantity", "budget"],
        World::Unknown,
    ),
    ("balance", &["plan", "quantity", "budget"], World::Unknown),
    ("rehearsal", &["balance", "heat", "course", "plan", "quantity", "budget"], World::Unknown),
    ("floor", &["plan", "quantity", "budget"], World::Unknown),
    ("heat", &["course", "plan", "quantity", "budget"], World::Unknown),
    ("course", &["plan", "quantity"], World::Unknown),
    ("plan", &["quantity"], World::Unknown),
    ("quantity", &["budget"], World::Unknown),
    ("budget", &[], World::Unknown),
];

/// What the core must not name.
const OUTER: &[&str] = &[
    "axum",
    "tokio",
    "tokio_util",
    "hyper",
    "hyper_util",
    "tower",
    "tower_http",
    "tracing",
    "tracing_subscriber",
    "clap",
    "metrics",
    "std::time",
    "std::env",
    "std::net",
    "std::fs",
    "std::thread",
    "println!",
    "print!",
    "eprintln!",
    "eprint!",
    "dbg!",
];

#[derive(Clone, Copy, PartialEq, Eq)]
enum World {
    Known,
    Unknown,
}

/// The code of a file without comments, texts and the modules of its tests.
fn code(source: &str) -> String {
    let mut out = String::new();
    let mut rest = source;
    while let Some(next) = rest.chars().next() {
        if rest.starts_with("#[cfg(test)]\nmod") && !rest.starts_with("#[cfg(test)]\nmod tests;") {
            break;
        }
        let skip = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |end| end + 2)
        } else if let Some(raw) = rest.strip_prefix("r#\"") {
            raw.find("\"#").map_or(rest.len(), |end| end + 5)
        } else if next == '"' {
            text_length(rest)
        } else if rest.starts_with("'\"'") || rest.starts_with("b'\"") {
            4.min(rest.len())
        } else {
            out.push(next);
            rest = &rest[next.len_utf8()..];
            continue;
        };
        out.push(' ');
        rest = rest.get(skip..).unwrap_or("");
    }
    out
}

/// Bytes of a text literal at the start, quotes included.
fn text_length(rest: &str) -> usize {
    let mut escaped = false;
    for (at, next) in rest.char_indices().skip(1) {
        match next {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    rest.len()
}

fn is_word(next: char) -> bool {
    next.is_alphanumeric() || next == '_'
}

/// Whether `code` names `what` as a whole path, not as a part of a longer word.
fn names(code: &str, what: &str) -> bool {
    let path = !what.ends_with('!');
    code.match_indices(what).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        let after = &code[at + what.len()..];
        let begins = before.is_none_or(|before| !is_word(before) && before != '.');
        // A crate is named by its path; a word that only looks like it (a field, a variable) is not followed by `::`.
        let ends =
            !path || what.contains("::") && !after.chars().next().is_some_and(is_word) || after.starts_with("::");
        begins && ends
    })
}

/// Reads the tree of a path from its start, and notes each leaf below `above`; returns the bytes read.
fn leaves(tree: &str, above: &str, found: &mut Vec<String>) -> usize {
    let mut at = tree.len() - tree.trim_start().len();
    if tree[at..].starts_with('{') {
        at += 1;
        loop {
            at += leaves(&tree[at..], above, found);
            at += tree[at..].len() - tree[at..].trim_start().len();
            match tree[at..].chars().next() {
                Some(',') => at += 1,
                Some('}') => return at + 1,
                _ => return at,
            }
        }
    }
    let word: String = tree[at..].chars().take_while(|&next| is_word(next)).collect();
    at += word.len();
    if word.is_empty() {
        return at;
    }
    let path = format!("{above}{word}");
    if tree[at..].starts_with("::") {
        let before = found.len();
        at += 2;
        at += leaves(&tree[at..], &format!("{path}::"), found);
        if found.len() == before {
            found.push(path);
        }
    } else {
        found.push(path);
    }
    at
}

/// The paths named through `crate::`, groups in braces taken apart, down to two segments: `plan`, `questions::answer`.
fn crate_paths(code: &str) -> Vec<String> {
    let mut paths = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        if !code[..at].chars().next_back().is_some_and(is_word) {
            leaves(&code[at + "crate::".len()..], "", &mut paths);
        }
    }
    let mut paths: Vec<String> =
        paths.iter().map(|path| path.split("::").take(2).collect::<Vec<_>>().join("::")).collect();
    paths.dedup();
    paths
}

/// What a file of `room` must not do, and does.
fn trespasses(room: &str, source: &str) -> Vec<String> {
    let Some((_, below, world)) = ROOMS.iter().find(|(name, ..)| *name == room) else {
        return vec![format!("{room} is not in the list of rooms")];
    };
    let code = code(source);
    let mut found = Vec::new();
    for path in crate_paths(&code) {
        let first = path.split("::").next().unwrap_or("");
        let allowed = first == room || below.iter().any(|below| first == *below || path == *below);
        if ROOMS.iter().any(|(name, ..)| *name == first) && !allowed {
            found.push(format!("{room} names crate::{path}"));
        }
    }
    if *world == World::Unknown {
        found.extend(OUTER.iter().filter(|outer| names(&code, outer)).map(|outer| format!("{room} names {outer}")));
    }
    found
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn no_file_reaches_above_its_room() {
    let tree = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut sources = Vec::new();
    files(&tree, &mut sources);
    assert!(sources.len() > 20, "only {} sources found", sources.len());
    let mut found = Vec::new();
    for path in sources {
        let inside = path.strip_prefix(&tree).expect("below src");
        let room = inside.iter().next().and_then(|room| room.to_str()).expect("a name").trim_end_matches(".rs");
        // `lib.rs` only declares the rooms; tests inside a room may use anything.
        if room == "lib" || inside.file_name().is_some_and(|name| name == "tests.rs") {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a source");
        found.extend(trespasses(room, &text).into_iter().map(|what| format!("{}: {what}", inside.display())));
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn trespasses_are_seen() {
    for (room, source, expected) in [
        ("plan", "use crate::balance::Balance;", "plan names crate::balance::Balance"),
        ("quantity", "fn f() { crate::plan::pointer(&[]) }", "quantity names crate::plan::pointer"),
        (
            "balance",
            "use crate::{\n    budget::Budget,\n    plan::{Plan, UnitId}, questions::{answer::{Finding, Weight}},\n};",
            "balance names crate::questions::answer",
        ),
        (
            "sums",
            "use crate::{budget::Budget, questions::{answer::Finding, flow_balance}};",
            "sums names crate::questions::flow_balance",
        ),
        ("sums", "use crate::questions::flow_balance::ask;", "sums names crate::questions::flow_balance"),
        ("questions", "use crate::sums::Sum;", "questions names crate::sums::Sum"),
        ("forms", "use crate::http::Config;", "forms names crate::http::Config"),
        ("forms", "use axum::Router;", "forms names axum"),
        ("balance", "let now = std::time::Instant::now();", "balance names std::time"),
        ("questions", "fn f() { println!(\"x\") }", "questions names println!"),
        ("plan", "let home = std::env::var(\"HOME\");", "plan names std::env"),
        ("cellar", "", "cellar is not in the list of rooms"),
    ] {
        assert_eq!(trespasses(room, source), [expected], "{source}");
    }
}

#[test]
fn what_is_allowed_is_not_a_trespass() {
    for (room, source) in [
        ("balance", "use crate::plan::{Plan, UnitId};\nuse crate::budget::Budget;\nuse super::result::Balance;"),
        ("sums", "use crate::questions::answer::Finding;"),
        (
            "plan",
            "// use crate::balance::Balance;\n/* crate::http */ fn f() -> &'static str { \"crate::http and axum::Router\" }",
        ),
        ("plan", "fn quote(c: char) -> bool { c == '\"' }\nuse crate::quantity::Time;"),
        ("quantity", "fn sprintln() {} #[cfg(test)]\nmod inner { use crate::plan::Plan; }"),
        ("http", "use axum::Router;\nuse crate::forms::Form;"),
        ("forms", "let metrics = self.metrics; hyper.len(); my_axum::x();"),
    ] {
        assert_eq!(trespasses(room, source), Vec::<String>::new(), "{source}");
    }
}
