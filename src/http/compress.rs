//! gzip (RFC 1952) of answers that are whole in memory.
//!
//! A streaming layer would take the known length away and leave the entity tag as it was; whole answers need neither.

use std::io::Write;

use flate2::Compression;
use flate2::write::GzEncoder;

/// The bytes as gzip; the bytes themselves when that fails, which writing to memory does not.
///
/// The same bytes give the same gzip: no time and no name are written.
#[must_use]
pub fn gzip(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::with_capacity(bytes.len() / 3), Compression::fast());
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok()
}
