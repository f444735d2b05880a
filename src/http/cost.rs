//! What a calculation is likely to take, told before anything of it is read.
//!
//! A plan that was changed in its numbers takes about as long as before, and two plans of one size often do; so it is remembered how
//! long calculations took, by the *shape* of the document (its bytes with every digit the same) and, for shapes not met yet, by its
//! size. Both go with the question. It is a memory of times, not of documents: a fixed table of hashes, the same size for ever.

use std::sync::atomic::{AtomicU64, Ordering};

/// Entries of the table: 8 bytes each.
const SLOTS: usize = 8192;
/// How much of a document its shape is taken of.
const LOOKED_AT: usize = 32 << 10;
/// How much one calculation counts against what is remembered of its shape, and of its size.
const NEWS: (f64, f64) = (0.3, 0.1);
/// What is supposed of what was never met, in seconds: a little, and more with each byte.
const SUPPOSED: (f64, f64) = (1e-4, 3e-7);
/// What drawing in pixels is supposed to take, in seconds.
const DRAWING: f64 = 0.03;

/// What a calculation is likely to take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The question.
    pub question: &'static str,
    /// Of one thread.
    pub seconds: f64,
    shape: u64,
    size: u64,
}

/// What calculations took of late.
pub struct Costs {
    slots: Box<[AtomicU64]>,
}

impl Default for Costs {
    fn default() -> Self {
        Self { slots: (0..SLOTS).map(|_| AtomicU64::new(0)).collect() }
    }
}

impl Costs {
    /// What `question` is likely to take on `document`, `drawn` in pixels or not.
    #[must_use]
    pub fn estimate(&self, question: &'static str, document: &[u8], drawn: bool) -> Estimate {
        let asked = hash_of(question, drawn);
        let looked_at = document.get(..LOOKED_AT).unwrap_or(document);
        let size = mix(asked, u64::from(document.len().checked_ilog2().unwrap_or(0)) + 1);
        // Eight bytes at a time: one by one a hall's document took 19,000 instructions, each waiting for the one before.
        let shape = looked_at.chunks(8).fold(mix(asked, document.len() as u64 >> 10), |hash, chunk| {
            let mut word = [0; 8];
            for (same, byte) in word.iter_mut().zip(chunk) {
                *same = if byte.is_ascii_digit() { b'0' } else { *byte };
            }
            mix(hash, u64::from_le_bytes(word))
        });
        let supposed = SUPPOSED.0 + SUPPOSED.1 * document.len() as f64 + if drawn { DRAWING } else { 0.0 };
        let seconds = self.mean(shape).or_else(|| self.mean(size)).unwrap_or(supposed);
        Estimate { question, seconds, shape, size }
    }

    /// Remembers what it took.
    pub fn learn(&self, estimate: &Estimate, seconds: f64) {
        self.blend(estimate.shape, seconds, NEWS.0);
        self.blend(estimate.size, seconds, NEWS.1);
    }

    fn slot(&self, hash: u64) -> &AtomicU64 {
        // The upper half is the tag.
        #[expect(clippy::cast_possible_truncation, reason = "a place in the table")]
        &self.slots[hash as usize % SLOTS]
    }

    fn mean(&self, hash: u64) -> Option<f64> {
        let (tag, seconds) = unpacked(self.slot(hash).load(Ordering::Relaxed));
        (tag == tag_of(hash)).then_some(f64::from(seconds))
    }

    /// Two at once may lose one of the two: it is an estimate.
    fn blend(&self, hash: u64, seconds: f64, news: f64) {
        let mean = self.mean(hash).map_or(seconds, |mean| mean + (seconds - mean) * news);
        #[expect(clippy::cast_possible_truncation, reason = "seven digits are plenty")]
        let bits = (mean as f32).to_bits();
        self.slot(hash).store(u64::from(tag_of(hash)) << 32 | u64::from(bits), Ordering::Relaxed);
    }
}

fn hash_of(question: &str, drawn: bool) -> u64 {
    question.bytes().fold(u64::from(drawn), |hash, byte| mix(hash, u64::from(byte)))
}

fn mix(hash: u64, word: u64) -> u64 {
    (hash.rotate_left(5) ^ word).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

/// Never 0, which is an empty slot's.
fn tag_of(hash: u64) -> u32 {
    let tag = (hash >> 32) as u32;
    tag | 1
}

fn unpacked(slot: u64) -> (u32, f32) {
    #[expect(clippy::cast_possible_truncation, reason = "the two halves")]
    let halves = ((slot >> 32) as u32, slot as u32);
    (halves.0, f32::from_bits(halves.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_never_met_is_supposed_by_its_size() {
        let costs = Costs::default();
        let small = costs.estimate("plan", b"{}", false).seconds;
        let large = costs.estimate("plan", &vec![b' '; 1 << 20], false).seconds;
        assert!(small < 0.001 && large > 0.1, "{small} {large}");
        assert!(costs.estimate("plan", b"{}", true).seconds > 0.01);
        assert!(costs.estimate("plan", b"", false).seconds > 0.0);
    }

    #[test]
    fn a_shape_is_remembered_with_other_numbers_in_it() {
        let costs = Costs::default();
        let first = costs.estimate("fill-level", br#"{"rate": "12 kg/s"}"#, false);
        costs.learn(&first, 0.5);
        let same = costs.estimate("fill-level", br#"{"rate": "37 kg/s"}"#, false);
        assert!((same.seconds - 0.5).abs() < 1e-6, "{same:?}");
        costs.learn(&same, 1.5);
        let again = costs.estimate("fill-level", br#"{"rate": "10 kg/s"}"#, false).seconds;
        assert!(again > 0.7 && again < 0.9, "{again}");
        assert!(costs.estimate("flow-balance", br#"{"rate": "12 kg/s"}"#, false).seconds < 0.01, "another question");
        assert!(costs.estimate("fill-level", br#"{"rate": "12 kg/s"}"#, true).seconds < 0.1, "another form");
    }

    #[test]
    fn an_unknown_shape_goes_by_its_size_and_learns_for_itself() {
        let costs = Costs::default();
        for name in ["seep", "sump", "pump"] {
            let document = format!(r#"{{"{name}": "12 kg/s"}}"#);
            costs.learn(&costs.estimate("plan", document.as_bytes(), false), 0.2);
        }
        let unknown = costs.estimate("plan", br#"{"kiln": "12 kg/s"}"#, false);
        assert!((unknown.seconds - 0.2).abs() < 1e-6, "{unknown:?}");
        costs.learn(&unknown, 0.001);
        assert!(costs.estimate("plan", br#"{"kiln": "99 kg/s"}"#, false).seconds < 0.01);
    }
}
