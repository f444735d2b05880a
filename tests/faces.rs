//! What the examples for streams and pages promise, as far as no browser is needed; `tests/browser` holds the rest.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use flate2::Compression;
use flate2::read::GzEncoder;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &str, kinds: &[&str]) -> Vec<(PathBuf, String)> {
    let entries = fs::read_dir(root().join(folder)).expect(folder);
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let wanted = paths.filter(|path| path.extension().is_some_and(|kind| kinds.iter().any(|wanted| kind == *wanted)));
    wanted.map(|path| (path.clone(), fs::read_to_string(path).expect("text"))).collect()
}

#[test]
fn the_element_for_pages_is_small_and_one_file() {
    let script = fs::read(root().join("examples/embed/hotwell.js")).expect("the script");
    let mut zipped = Vec::new();
    GzEncoder::new(script.as_slice(), Compression::best()).read_to_end(&mut zipped).expect("memory");
    assert!(zipped.len() <= 10_000, "{} bytes", zipped.len());
    let text = String::from_utf8(script).expect("text");
    assert!(!text.contains("import ") && !text.contains("import("), "it depends on nothing");
}

#[test]
fn no_page_reads_what_others_wrote_as_markup() {
    const FORBIDDEN: [&str; 7] =
        ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function", "srcdoc"];
    let mut read = 0;
    for folder in ["examples/overlay", "examples/embed", "src/http/page"] {
        for (path, text) in files(folder, &["js", "html"]) {
            for forbidden in FORBIDDEN {
                assert!(!text.contains(forbidden), "{}: {forbidden}", path.display());
            }
            read += 1;
        }
    }
    assert!(read >= 12, "only {read} files read");
}

#[test]
fn each_face_has_a_few_lines_to_follow_that_name_what_is_there() {
    for face in ["overlay", "embed"] {
        let folder = format!("examples/{face}");
        let readme = fs::read_to_string(root().join(&folder).join("README.md")).expect("a README");
        let steps = readme.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())).count();
        assert_eq!(steps, 10, "{face}");
        assert!(readme.contains(&format!("--directory {folder}")), "{face}");
    }
    let readme = fs::read_to_string(root().join("examples/overlay/README.md")).expect("a README");
    let script = fs::read_to_string(root().join("examples/overlay/overlay.js")).expect("the script");
    for parameter in ["service", "plan", "show", "poll", "speed", "channel"] {
        assert!(
            readme.contains(&format!("{parameter}=")) && script.contains(&format!("\"{parameter}\"")),
            "{parameter}"
        );
    }
}

#[test]
fn pictures_of_the_readme_are_modest_and_told_in_words() {
    let readme = fs::read_to_string(root().join("README.md")).expect("a README");
    let mut pictures = 0;
    for line in readme.lines() {
        let Some((alt, rest)) = line.strip_prefix("![").and_then(|rest| rest.split_once("](")) else { continue };
        let path = rest.trim_end_matches(')');
        let bytes = fs::read(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"));
        assert_eq!(bytes[..8], *b"\x89PNG\r\n\x1a\n", "{path}");
        assert!(bytes.len() < 150_000, "{path}: {} bytes", bytes.len());
        assert!(alt.split_whitespace().count() >= 8, "{path}: \"{alt}\"");
        pictures += 1;
    }
    assert!(pictures >= 2, "only {pictures} pictures");
}
