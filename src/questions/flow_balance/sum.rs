//! A sum as it is written, term by term.

use std::fmt::Write as _;

use crate::plan::Carried;
use crate::quantity::push_number;
use crate::questions::answer::short;

/// The most terms of one sum that are written out.
const MOST_TERMS: usize = 8;

/// A sum as it is written, term by term; past a few only their number and their sum.
pub(super) struct Sum {
    carries: Carried,
    pub text: String,
    /// How many terms are written out.
    pub spelt: usize,
    more: usize,
    more_rate: f64,
    total: f64,
}

impl Sum {
    /// A sum that goes on after `lead`.
    pub fn after(lead: String, carries: Carried) -> Self {
        Self { carries, text: lead, spelt: 0, more: 0, more_rate: 0.0, total: 0.0 }
    }

    fn sign(&mut self, rate: f64) {
        self.text.push_str(match (self.spelt, rate < 0.0) {
            (0, false) => "",
            (0, true) => "−",
            (_, false) => " + ",
            (_, true) => " − ",
        });
        self.spelt += 1;
    }

    /// One more term, as `write` puts it; its sign comes from the rate.
    pub fn add(&mut self, rate: f64, write: impl FnOnce(&mut String)) {
        if rate == 0.0 {
            return;
        }
        self.total += rate;
        if self.spelt < MOST_TERMS {
            self.sign(rate);
            write(&mut self.text);
        } else {
            self.more += 1;
            self.more_rate += rate;
        }
    }

    /// `rate` and words after it.
    pub fn add_rate(&mut self, rate: f64, words: &[&str]) {
        let carries = self.carries;
        self.add(rate, |text| {
            carries.push(text, rate.abs());
            for word in words {
                text.push_str(word);
            }
        });
    }

    /// "5 burner × 13.7 g/s".
    pub fn add_units(&mut self, run: f64, name: &str, one: f64) {
        let carries = self.carries;
        self.add(run * one, |text| {
            push_number(text, run);
            text.push(' ');
            text.push_str(&short(name));
            text.push_str(" × ");
            carries.push(text, one.abs());
        });
    }

    /// The text with what is not spelt out, and the total.
    pub fn finish(mut self, print: impl Fn(&mut String, f64)) -> (String, f64) {
        if self.more > 0 {
            self.sign(self.more_rate);
            let _ = write!(self.text, "{} more ", self.more);
            print(&mut self.text, self.more_rate.abs());
        }
        (self.text, self.total)
    }

    pub fn finish_rate(self) -> (String, f64) {
        let carries = self.carries;
        self.finish(|text, rate| carries.push(text, rate))
    }
}
