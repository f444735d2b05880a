//! The fill level in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::fill_level::FillLevel;

impl Shown for FillLevel {
    fn json(&self) -> Vec<u8> {
        compact(self, 4096 * (1 + self.stores.len()) + 256 * (self.units.len() + self.supplies.len()))
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::fill_level::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
