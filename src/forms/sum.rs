//! A single sum in every form.

use super::{Picture, Shown, chat_line, compact, svg};
use crate::questions::answer::Verdict;
use crate::sums::SumAnswer;

impl Shown for SumAnswer {
    fn json(&self) -> Vec<u8> {
        compact(self, 1_024)
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn picture(&self, picture: Picture) -> String {
        svg::shown(picture, || svg::sum::draw(self), &svg::card::of_sum(self))
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
