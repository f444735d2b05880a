//! An answer as bytes: JSON, one line of text, a picture.

/// The forms an answer comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// `application/json`: the whole answer.
    Json,
    /// `text/plain`: one line of at most 400 bytes without control characters.
    Line,
    /// `image/svg+xml`: a picture on a transparent ground.
    Svg,
}

/// Something that can be shown in every [`Form`].
pub trait Shown {
    /// The whole answer, compact JSON.
    fn json(&self) -> Vec<u8>;
    /// The one line, already cut to 400 bytes.
    fn line(&self) -> String;
    /// The picture.
    fn svg(&self) -> String;
}
