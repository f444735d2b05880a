//! The arguments of a sum, each what its parameter says.

use std::borrow::Cow;

use smallvec::SmallVec;

use super::answer::Refusal;
use super::medium::Medium;
use super::parameter::Parameter;
use super::reader::Reader;
use crate::plan::Faults;
use crate::quantity::most_alike;

/// The arguments of one sum, each within the bounds of its parameter.
#[derive(Debug)]
pub struct Arguments<'p> {
    pub(super) parameters: &'p [Parameter],
    pub(super) given: SmallVec<[Option<Given>; 4]>,
    /// What the rates carry, and what the second rates do.
    pub(super) carried: [Medium; 2],
    pub(super) brief: bool,
}

#[derive(Clone, Debug)]
pub(super) struct Given {
    /// In SI units, temperatures in °C; of a choice, the place of the word. Of a list, the first item.
    pub si: f64,
    /// Of what may also be a share: whether it is none.
    pub whole: bool,
    /// Of a list, its items.
    pub items: Vec<f64>,
}

/// Something that may be a share of another rate or amount, or a rate or amount itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Part {
    Share(f64),
    Whole(f64),
}

impl Part {
    /// It as an amount, where it is a share of `of`.
    pub(super) fn of(self, of: f64) -> f64 {
        match self {
            Self::Share(share) => share * of,
            Self::Whole(amount) => amount,
        }
    }
}

impl<'p> Arguments<'p> {
    /// Reads the pairs.
    pub(super) fn read(parameters: &'p [Parameter], pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> Result<Self, Faults> {
        Reader::new(parameters).read(pairs)
    }

    /// The same, asked for the line alone.
    pub(super) fn in_brief(self) -> Self {
        Self { brief: true, ..self }
    }

    /// Whether the line alone is asked for.
    pub(super) fn brief(&self) -> bool {
        self.brief
    }

    fn given(&self, name: &str) -> Option<&Given> {
        let index = self.parameters.iter().position(|parameter| parameter.name == name)?;
        self.given.get(index)?.as_ref()
    }

    /// The number in SI units (temperatures in °C), where one is given.
    pub(super) fn maybe(&self, name: &str) -> Option<f64> {
        self.given(name).map(|given| given.si)
    }

    /// The number in SI units (temperatures in °C).
    pub(super) fn number(&self, name: &'static str) -> Result<f64, Refusal> {
        self.maybe(name).ok_or_else(|| Refusal::missing(name, "a value"))
    }

    /// The items of a list; none where it is left out.
    pub(super) fn list(&self, name: &str) -> &[f64] {
        self.given(name).map_or(&[], |given| &given.items)
    }

    /// Whether a flag says yes.
    pub(super) fn flag(&self, name: &str) -> bool {
        self.maybe(name) == Some(1.0)
    }

    /// The word that was chosen.
    pub(super) fn chosen(&self, name: &str) -> Option<&'static str> {
        let parameter = self.parameters.iter().find(|parameter| parameter.name == name)?;
        let place = self.maybe(name)?;
        parameter.choices.iter().enumerate().find(|(index, _)| *index as f64 >= place).map(|(_, word)| *word)
    }

    /// A share, or a rate or amount, where one is given.
    pub(super) fn part(&self, name: &str) -> Option<Part> {
        self.given(name).map(|given| if given.whole { Part::Whole(given.si) } else { Part::Share(given.si) })
    }

    /// What the rates and amounts carry.
    pub(super) fn carried(&self) -> Medium {
        self.carried[0]
    }

    /// What the second rates carry.
    pub(super) fn second_carried(&self) -> Medium {
        self.carried[1]
    }
}

/// The longest name, in bytes, that is compared with others: none of ours is half as long.
const LONGEST_NAME: usize = 64;

/// The candidate that is spelt most like `name`, if one is like it.
pub(super) fn near(name: &str, candidates: impl Iterator<Item = &'static str>) -> Option<&'static str> {
    if name.len() > LONGEST_NAME {
        return None;
    }
    most_alike(name, candidates)
}
