//! The flow balance in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::flow_balance::FlowBalance;

impl Shown for FlowBalance {
    fn json(&self) -> Vec<u8> {
        compact(self, 256 * (4 + self.units.len() + self.headers.len()))
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::flow_balance::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
