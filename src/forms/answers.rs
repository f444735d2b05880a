//! The answers to questions in every form: the head is the same, and each question draws its own figures.

use super::svg::canvas::Canvas;
use super::svg::card::{self, Row};
use super::{Picture, Shown, chat_line, compact, svg};
use crate::questions::answer::{Answer, Figures, Verdict};
use crate::questions::compare::CompareFigures;
use crate::questions::fill_level::LevelFigures;
use crate::questions::flow_balance::FlowFigures;
use crate::questions::heat_budget::HeatFigures;
use crate::questions::seek::SeekFigures;
use crate::questions::sweep::SweepFigures;
use crate::questions::whole_plan::PlanFigures;

/// Figures that can be drawn.
pub trait Drawn: Figures {
    /// About how many bytes the whole answer has as JSON.
    fn expected_bytes(&self) -> usize;
    /// The sheet.
    fn draw(answer: &Answer<Self>) -> Canvas;
    /// The figures that tell most, the most telling first: as many as there is room for stand on the card.
    fn rows(answer: &Answer<Self>) -> Vec<Row>;
}

impl<F: Drawn> Shown for Answer<F> {
    fn json(&self) -> Vec<u8> {
        compact(self, self.figures.expected_bytes())
    }

    fn line(&self) -> String {
        chat_line(&self.say)
    }

    fn picture(&self, picture: Picture) -> String {
        svg::shown(picture, || F::draw(self), &card::of(self))
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}

/// Says for each question how long its JSON may be, what draws it, and which figures tell most.
macro_rules! drawn {
    ($($figures:ident by $draw:path, $rows:path, with $self:ident => $bytes:expr;)*) => {
        $(impl Drawn for $figures {
            fn expected_bytes(&$self) -> usize {
                $bytes
            }

            fn draw(answer: &Answer<Self>) -> Canvas {
                $draw(answer)
            }

            fn rows(answer: &Answer<Self>) -> Vec<Row> {
                $rows(answer)
            }
        })*
    };
}

drawn! {
    FlowFigures by svg::flow_balance::draw, card::flow_balance, with self => 256 * (4 + self.units.len() + self.headers.len());
    HeatFigures by svg::heat_budget::draw, card::heat_budget, with self =>
        512 * (4 + self.zones.len() + self.coolers.len() + self.turbines.len());
    LevelFigures by svg::fill_level::draw, card::fill_level, with self =>
        4096 * (1 + self.stores.len()) + 256 * (self.units.len() + self.supplies.len());
    PlanFigures by svg::whole_plan::draw, card::whole_plan, with self => 512 * (16 + self.flow.units.len() + self.flow.headers.len());
    CompareFigures by svg::compare::draw, card::compare, with self => 2048 * (1 + self.variants.len()) + 256 * self.compared.len();
    SweepFigures by svg::sweep::draw, card::sweep, with self => 2048 + 128 * self.rows.len() * (1 + self.read.len());
    SeekFigures by svg::seek::draw, card::seek, with self => 2048 + 64 * self.samples.len();
}
