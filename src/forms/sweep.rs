//! A sweep in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::sweep::SweepAnswer;

impl Shown for SweepAnswer {
    fn json(&self) -> Vec<u8> {
        compact(self, 2048 + 128 * self.rows.len() * (1 + self.read.len()))
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::sweep::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
