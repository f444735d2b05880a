//! An answer as bytes: JSON, one line of text, a picture.

mod answers;
mod sum;
mod svg;
#[cfg(test)]
mod tests;

use crate::questions::answer::{LINE_BYTES, Verdict, one_line};

pub use answers::Drawn;
pub use svg::list;

/// The forms an answer comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// `application/json`: the whole answer.
    Json,
    /// `text/plain`: one line of at most 400 bytes without control characters.
    Line,
    /// `image/svg+xml`: a picture on a transparent ground.
    Svg(Picture),
    /// `image/png`: the same picture in pixels. Who serves it draws it from [`Shown::picture`].
    Png(Picture),
}

impl Form {
    /// A picture that fits the width it is given.
    pub const SVG: Self = Self::Svg(Picture::ByWidth);
    /// The sheet in pixels, which have one width.
    pub const PNG: Self = Self::Png(Picture::Sheet);

    /// The same with another picture, where it is one.
    #[must_use]
    pub const fn showing(self, picture: Picture) -> Self {
        match self {
            Self::Svg(_) => Self::Svg(picture),
            Self::Png(_) => Self::Png(picture),
            Self::Json | Self::Line => self,
        }
    }

    /// True for what is text, and so is worth compressing.
    #[must_use]
    pub const fn is_text(self) -> bool {
        !matches!(self, Self::Png(_))
    }
}

/// What a picture shows of an answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Picture {
    /// The sheet, and in its place the card where the picture is shown small. Only who shows it knows the width, so it holds both.
    #[default]
    ByWidth,
    /// All that there is to see, for some 800 px.
    Sheet,
    /// The verdict, the line and the figures that tell most, for 320 px and more.
    Card,
}

/// Something that can be shown in every [`Form`].
pub trait Shown {
    /// The whole answer, compact JSON.
    fn json(&self) -> Vec<u8>;
    /// The one line, already cut to 400 bytes.
    fn line(&self) -> String;
    /// The picture.
    fn picture(&self, picture: Picture) -> String;
    /// The picture, whose sheet or card is shown by the width that it is given.
    fn svg(&self) -> String {
        self.picture(Picture::ByWidth)
    }
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
