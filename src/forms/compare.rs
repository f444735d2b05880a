//! A comparison in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::compare::CompareAnswer;

impl Shown for CompareAnswer {
    fn json(&self) -> Vec<u8> {
        compact(self, 2048 * (1 + self.variants.len()) + 256 * self.figures.len())
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::compare::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
