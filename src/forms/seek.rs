//! A search in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::seek::SeekAnswer;

impl Shown for SeekAnswer {
    fn json(&self) -> Vec<u8> {
        compact(self, 2048 + 64 * self.samples.len())
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::seek::draw(self, self.figure.as_ref())
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
