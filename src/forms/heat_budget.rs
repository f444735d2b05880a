//! The heat budget in every form.

use super::{Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::questions::heat_budget::HeatBudget;

impl Shown for HeatBudget {
    fn json(&self) -> Vec<u8> {
        compact(self, 512 * (4 + self.zones.len() + self.coolers.len() + self.turbines.len()))
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn svg(&self) -> String {
        svg::heat_budget::draw(self)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
