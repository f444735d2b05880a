//! An answer as bytes: JSON, one line of text, a picture.

mod answers;
mod sum;
mod svg;
#[cfg(test)]
mod tests;

use crate::questions::answer::{LINE_BYTES, Verdict, one_line};

pub use answers::Drawn;
pub use svg::compare::list;

/// The forms an answer comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// `application/json`: the whole answer.
    Json,
    /// `text/plain`: one line of at most 400 bytes without control characters.
    Line,
    /// `image/svg+xml`: a picture on a transparent ground.
    Svg,
    /// `image/png`: the same picture in pixels. Who serves it draws it from [`Shown::svg`].
    Png,
}

impl Form {
    /// True for what is text, and so is worth compressing.
    #[must_use]
    pub const fn is_text(self) -> bool {
        !matches!(self, Self::Png)
    }
}

/// Something that can be shown in every [`Form`].
pub trait Shown {
    /// The whole answer, compact JSON.
    fn json(&self) -> Vec<u8>;
    /// The one line, already cut to 400 bytes.
    fn line(&self) -> String;
    /// The picture.
    fn svg(&self) -> String;
    /// How it turns out.
    fn verdict(&self) -> Verdict;
}

/// Compact JSON. An answer holds finite numbers only ([`crate::budget::Halt::BeyondRange`] ends what would not), so that no
/// number turns into `null` here.
fn compact<T: serde::Serialize>(answer: &T, expected_bytes: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(expected_bytes);
    // Writing to memory does not fail, and answers have text keys only, so there is no other way for this to fail.
    if serde_json::to_writer(&mut bytes, answer).is_err() {
        bytes.clear();
    }
    bytes
}

/// The one line of an answer, whoever wrote it.
fn chat_line(say: &str) -> String {
    one_line(say, LINE_BYTES)
}
