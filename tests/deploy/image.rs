//! The image, as far as its files tell: what it holds and as whom it runs. `deploy/image.sh` builds one and tries it.

use std::fs;
use std::path::Path;

fn text(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy").join(name)).expect("a text")
}

/// The instructions of a Containerfile, each on one line, without comments.
fn instructions(containerfile: &str) -> Vec<(String, String)> {
    let kept: Vec<&str> = containerfile.lines().filter(|line| !line.trim_start().starts_with('#')).collect();
    let joined = kept.join("\n").replace("\\\n", " ");
    let parted = joined.lines().filter_map(|line| line.trim().split_once(' '));
    parted.map(|(word, rest)| (word.to_owned(), rest.split_whitespace().collect::<Vec<_>>().join(" "))).collect()
}

/// What is left in the image: the instructions from the last `FROM`.
fn last_stage(containerfile: &str) -> Vec<(String, String)> {
    let all = instructions(containerfile);
    let last = all.iter().rposition(|(word, _)| word == "FROM").expect("a stage");
    all[last..].to_vec()
}

/// What the only instruction of that word says.
fn only<'a>(stage: &'a [(String, String)], word: &str) -> &'a str {
    let mut found = stage.iter().filter(|(name, _)| name == word);
    let (_, says) = found.next().unwrap_or_else(|| panic!("no {word}"));
    assert!(found.next().is_none(), "{word} stands twice");
    says
}

#[test]
fn the_image_holds_the_program_and_nothing_else() {
    let stage = last_stage(&text("Containerfile"));
    assert_eq!(only(&stage, "FROM"), "scratch");
    // Nothing could run there, and nothing else comes in.
    assert!(
        !stage.iter().any(|(word, _)| matches!(word.as_str(), "RUN" | "ADD" | "SHELL" | "CMD" | "VOLUME")),
        "{stage:?}"
    );
    let copied: Vec<&str> = only(&stage, "COPY").split(' ').collect();
    assert_eq!((copied.len(), copied[0]), (3, "--from=build"), "{copied:?}");
    assert_eq!(only(&stage, "ENTRYPOINT"), format!("[\"{}\"]", copied[2]));
    assert_eq!(only(&stage, "STOPSIGNAL"), "SIGTERM");
    let port = format!("HOTWELL_LISTEN=0.0.0.0:{}", only(&stage, "EXPOSE"));
    assert!(only(&stage, "ENV").split(' ').any(|setting| setting == port), "{stage:?}");
}

#[test]
fn what_it_is_built_on_can_be_chosen_and_its_program_is_static() {
    let all = instructions(&text("Containerfile"));
    let default = only(&all, "ARG").strip_prefix("BUILD_IMAGE=").expect("the only choice");
    let (version, _) =
        default.strip_prefix("docker.io/library/rust:").and_then(|tag| tag.split_once('-')).expect(default);
    let number = |version: &str| version.split('.').map(|part| part.parse().expect("a number")).collect::<Vec<u32>>();
    assert_eq!(number(version).len(), 3, "{default}: a shorter tag moves on to other compilers");
    assert!(number(version) >= number(env!("CARGO_PKG_RUST_VERSION")), "{default} is older than the sources want");
    let bases: Vec<&str> = all.iter().filter(|(word, _)| word == "FROM").map(|(_, says)| says.as_str()).collect();
    assert_eq!(bases, ["${BUILD_IMAGE} AS build", "scratch"]);
    let run = only(&all, "RUN");
    for part in ["-C target-feature=+crt-static", "--locked", "--release", "--target \"$target\""] {
        assert!(run.contains(part), "{part} is missing: {run}");
    }
}

#[test]
fn nobody_runs_it_as_root_and_all_agree_on_whom() {
    let stage = last_stage(&text("Containerfile"));
    let user = only(&stage, "USER");
    let (uid, gid) = user.split_once(':').expect("user and group");
    for id in [uid, gid] {
        assert!(id.parse::<u32>().is_ok_and(|id| id > 0), "{user}: an orchestrator can't see that this is not root");
    }
    let compose = text("compose.yaml");
    assert!(compose.contains(&format!("user: \"{user}\"")), "compose.yaml");
    let deployment = text("kubernetes/deployment.yaml");
    for line in [format!("runAsUser: {uid}"), format!("runAsGroup: {gid}"), "runAsNonRoot: true".to_owned()] {
        assert!(deployment.lines().any(|found| found.trim() == line), "{line}");
    }
    // There is nothing in the image to look after itself with: who asks for its health asks from outside.
    assert!(!compose.contains("healthcheck") && !deployment.contains("exec:"), "no program for it in the image");
}

#[test]
fn the_proxy_of_the_compose_file_asks_replicas_where_they_are() {
    let compose = text("compose.yaml");
    let after = |key: &str| -> Vec<String> {
        let ends = |next: char| !next.is_ascii_digit() && next != '.';
        let found = compose.match_indices(key).map(|(at, _)| compose[at + key.len()..].split(ends).next());
        found.map(|address| address.expect("an address").to_owned()).collect()
    };
    let asked = [after("HOTWELL_A: "), after("HOTWELL_B: ")].concat();
    assert_eq!(asked.len(), 2, "{asked:?}");
    assert_eq!(asked, after("ipv4_address: "));
    for address in asked {
        assert!(address.parse::<std::net::Ipv4Addr>().is_ok(), "{address:?}: a name is looked up only once");
    }
}

#[test]
fn instructions_are_read_whole() {
    let read =
        instructions("# FROM no\nFROM a AS b\nRUN one \\\n    # between\n    && two\n\nFROM scratch\nUSER 1:2\n");
    let pair = |word: &str, says: &str| (word.to_owned(), says.to_owned());
    assert_eq!(read, [pair("FROM", "a AS b"), pair("RUN", "one && two"), pair("FROM", "scratch"), pair("USER", "1:2")]);
}
