#![no_main]

use hotwell::http::packed::{document, pack};

const LIMIT: usize = 100_000;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(query) = std::str::from_utf8(bytes)
        && let Ok(document) = document(Some(query), LIMIT)
    {
        assert!(document.len() <= LIMIT);
    }
    let unpacked = document(Some(&format!("z={}", pack(bytes))), LIMIT);
    assert_eq!(unpacked.ok().as_deref(), (bytes.len() <= LIMIT).then_some(bytes));
});
