//! The whole plan in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::whole_plan::WholePlan;

impl Shown for WholePlan {
    fn json(&self) -> Vec<u8> {
        compact(self, 512 * (16 + self.flow.units.len() + self.flow.headers.len()))
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::whole_plan::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
