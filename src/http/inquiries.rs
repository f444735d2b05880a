//! The questions that ask more of a plan than one thing, over HTTP.

use serde::Serialize;
use serde_json::value::RawValue;

use crate::budget::Budget;
use crate::forms::{Picture, Shown, list};
use crate::http::problem::Problem;
use crate::http::question::{Question, problem};
use crate::plan::Limits;
use crate::plan::inquiry::{Batch, Compare, Seek, Sweep};
use crate::questions::answer::{LINE_BYTES, Verdict, one_line};
use crate::questions::batch::{self, Outcome};
use crate::questions::compare::{self, CompareAnswer};
use crate::questions::seek::{self, SeekAnswer};
use crate::questions::sweep::{self, SweepAnswer};
use crate::questions::{Detail, Refused};

impl Question for CompareAnswer {
    const NAME: &'static str = Self::QUESTION;
    type Answer = Self;

    fn answer(document: &[u8], _: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self, Refused> {
        compare::ask(&Compare::from_json(document, limits)?, limits, budget)
    }
}

impl Question for SweepAnswer {
    const NAME: &'static str = Self::QUESTION;
    type Answer = Self;

    fn answer(document: &[u8], _: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self, Refused> {
        sweep::ask(&Sweep::from_json(document, limits)?, limits, budget)
    }
}

impl Question for SeekAnswer {
    const NAME: &'static str = Self::QUESTION;
    type Answer = Self;

    fn answer(document: &[u8], _: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self, Refused> {
        seek::ask(&Seek::from_json(document, limits)?, limits, budget)
    }
}

/// The batch.
pub struct BatchAnswer {
    items: Vec<Item>,
    verdict: Verdict,
    say: String,
}

/// What comes of one question of a batch: `answer` or `problem`, each as it is when the question is asked alone.
#[derive(Serialize)]
struct Item {
    status: u16,
    #[serde(skip_serializing_if = "Option::is_none")]
    answer: Option<Box<RawValue>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    problem: Option<Box<RawValue>>,
    #[serde(skip)]
    verdict: Option<Verdict>,
    #[serde(skip)]
    line: String,
}

impl BatchAnswer {
    /// Its title.
    pub const TITLE: &'static str = "Batch";
    /// What it answers, in one sentence.
    pub const SAYS: &'static str = "Many questions in one call, each with its own plan and its own outcome; what is wrong with one is no matter to another.";
}

impl Question for BatchAnswer {
    const NAME: &'static str = "batch";
    type Answer = Self;

    fn answer(document: &[u8], _: Detail, limits: &Limits, budget: &Budget<'_>) -> Result<Self, Refused> {
        let outcomes = batch::ask(&Batch::from_json(document, limits)?, limits, budget)?;
        Ok(Self::of(outcomes.into_iter().map(Item::of).collect()))
    }
}

impl BatchAnswer {
    fn of(items: Vec<Item>) -> Self {
        let count = |verdict: Option<Verdict>| items.iter().filter(|item| item.verdict == verdict).count();
        let [holds, cautions, fails, problems] =
            [Some(Verdict::Holds), Some(Verdict::HoldsWithCautions), Some(Verdict::Fails), None].map(count);
        let verdict = match (cautions, fails + problems) {
            (0, 0) => Verdict::Holds,
            (_, 0) => Verdict::HoldsWithCautions,
            _ => Verdict::Fails,
        };
        let parts =
            [(holds, "hold"), (cautions, "hold with cautions"), (fails, "fail"), (problems, "without an answer")];
        let parts: Vec<String> =
            parts.iter().filter(|(count, _)| *count > 0).map(|(count, say)| format!("{count} {say}")).collect();
        let say = one_line(&format!("{} questions: {}.", items.len(), parts.join(", ")), LINE_BYTES);
        Self { items, verdict, say }
    }
}

impl Item {
    fn of(outcome: Outcome) -> Self {
        match outcome {
            Ok(written) => Self {
                status: 200,
                answer: Some(written.json),
                problem: None,
                verdict: Some(written.verdict),
                line: written.say,
            },
            Err(refused) => {
                let told: Problem = problem(refused);
                Self {
                    status: told.kind.status().as_u16(),
                    answer: None,
                    // Problem details are JSON. None of those that a question of a batch may have shows an id.
                    problem: String::from_utf8(told.json("")).ok().and_then(|json| RawValue::from_string(json).ok()),
                    verdict: None,
                    line: told.line(""),
                }
            }
        }
    }
}

/// The batch as it is written.
#[derive(Serialize)]
struct Written<'b> {
    question: &'static str,
    engine: &'static str,
    verdict: Verdict,
    say: &'b str,
    items: &'b [Item],
}

impl Shown for BatchAnswer {
    fn json(&self) -> Vec<u8> {
        let engine = env!("CARGO_PKG_VERSION");
        let written =
            Written { question: Self::NAME, engine, verdict: self.verdict, say: &self.say, items: &self.items };
        // Answers and problem details always serialise.
        serde_json::to_vec(&written).unwrap_or_default()
    }

    fn line(&self) -> String {
        self.say.clone()
    }

    fn picture(&self, picture: Picture) -> String {
        let lines: Vec<_> = self.items.iter().map(|item| (item.verdict, item.line.as_str())).collect();
        list(Self::TITLE, &self.say, self.verdict, &lines, picture)
    }

    fn verdict(&self) -> Verdict {
        self.verdict
    }
}
