//! A single sum in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::sums::SumAnswer;

impl Shown for SumAnswer {
    fn json(&self) -> Vec<u8> {
        compact(self, 1_024)
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::sum::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
