//! From the pairs of a query string to arguments that are what their parameters say.

use std::borrow::Cow;

use super::answer::Refusal;
use super::parameter::{Kind, Parameter};
use crate::plan::{At, Carried, Fault, FaultCode, Faults, Limits, quoted};
use crate::quantity::{Dimension, QuantityFault, QuantityReader, Reading, Time, dimension, number};

/// The arguments of one sum, each within the bounds of its parameter.
#[derive(Debug)]
pub struct Arguments<'p> {
    parameters: &'p [Parameter],
    given: Vec<Option<Given>>,
    /// What the rates carry, and what the second rates do.
    carried: [Carried; 2],
    brief: bool,
}

#[derive(Clone, Copy, Debug)]
struct Given {
    si: f64,
    is_rate: bool,
}

/// Something that may be a share of another rate, or a rate itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum ShareOrRate {
    Share(f64),
    Rate(f64),
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

    fn given(&self, name: &str) -> Option<Given> {
        let index = self.parameters.iter().position(|parameter| parameter.name == name)?;
        self.given.get(index).copied().flatten()
    }

    /// The number in SI units, where one is given.
    pub(super) fn maybe(&self, name: &str) -> Option<f64> {
        self.given(name).map(|given| given.si)
    }

    /// The number in SI units.
    pub(super) fn number(&self, name: &'static str) -> Result<f64, Refusal> {
        self.maybe(name).ok_or_else(|| Refusal::missing(name, "a value"))
    }

    /// Whether a flag says yes.
    pub(super) fn flag(&self, name: &str) -> bool {
        self.maybe(name) == Some(1.0)
    }

    /// A share or a rate, where one is given.
    pub(super) fn share_or_rate(&self, name: &str) -> Option<ShareOrRate> {
        self.given(name)
            .map(|given| if given.is_rate { ShareOrRate::Rate(given.si) } else { ShareOrRate::Share(given.si) })
    }

    /// What the rates carry.
    pub(super) fn carried(&self) -> Carried {
        self.carried[0]
    }

    /// What the second rates carry.
    pub(super) fn second_carried(&self) -> Carried {
        self.carried[1]
    }
}

struct Reader<'p> {
    parameters: &'p [Parameter],
    quantities: QuantityReader,
    listed: Vec<Fault>,
    total: usize,
}

/// What the first rate with a unit of measure says that all of its kind carry, and which parameter that was.
type Settled = Option<(Carried, &'static str)>;

impl<'p> Reader<'p> {
    fn new(parameters: &'p [Parameter]) -> Self {
        let day = Time::from_si(86_400.0).unwrap_or(Time::ZERO);
        Self { parameters, quantities: QuantityReader::new(day), listed: Vec::new(), total: 0 }
    }

    fn read(mut self, pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> Result<Arguments<'p>, Faults> {
        let mut texts: Vec<Option<&str>> = vec![None; self.parameters.len()];
        for (name, text) in pairs {
            let known = self.parameters.iter().position(|parameter| parameter.name == name);
            match known.and_then(|index| texts.get_mut(index)) {
                Some(place @ None) => *place = Some(text),
                Some(Some(_)) => self.twice(name),
                None => self.unknown(name),
            }
        }
        self.day(&texts);
        let mut settled: [Settled; 2] = [None, None];
        let mut given = Vec::with_capacity(texts.len());
        for (parameter, text) in self.parameters.iter().zip(texts) {
            let text = text.or(parameter.default);
            if text.is_none() && parameter.required {
                self.fault(parameter.name, FaultCode::MissingField, "nothing".to_owned(), wanted(parameter), None);
            }
            given.push(text.and_then(|text| self.value(parameter, text, &mut settled)));
        }
        if self.total > 0 {
            return Err(Faults { listed: self.listed, total: self.total });
        }
        let carried = settled.map(|settled| settled.map_or(Carried::Matter, |(carried, _)| carried));
        Ok(Arguments { parameters: self.parameters, given, carried, brief: false })
    }

    /// Sets the local day, on which the reading of times depends; what is wrong with it is noted when its turn comes.
    fn day(&mut self, texts: &[Option<&str>]) {
        let Some(index) = self.parameters.iter().position(|parameter| parameter.kind == Kind::Day) else { return };
        let (Some(parameter), Some(text)) = (self.parameters.get(index), texts.get(index).copied().flatten()) else {
            return;
        };
        let Ok(reading) = self.quantities.read_any(text) else { return };
        if (reading.is::<dimension::Time>() || bare(&reading))
            && within(parameter, reading.si)
            && let Some(day) = Time::from_si(reading.si)
        {
            self.quantities.set_day(day);
        }
    }

    fn value(&mut self, parameter: &Parameter, text: &str, settled: &mut [Settled; 2]) -> Option<Given> {
        if parameter.kind == Kind::Flag {
            return self.flag(parameter, text);
        }
        if parameter.kind == Kind::Day && text.ends_with("day") {
            // A day in days says nothing.
            self.wrong(parameter, FaultCode::Contradiction, quoted(text));
            return None;
        }
        let reading = match self.quantities.read_any(text) {
            Ok(reading) => reading,
            Err(fault) => {
                self.unreadable(parameter, text, &fault);
                return None;
            }
        };
        let is_rate = match parameter.kind {
            Kind::Rate => bare(&reading) || self.settle(parameter, text, &reading, &mut settled[0])?,
            Kind::SecondRate => bare(&reading) || self.settle(parameter, text, &reading, &mut settled[1])?,
            Kind::ShareOrRate => !bare(&reading) && self.settle(parameter, text, &reading, &mut settled[0])?,
            Kind::Time | Kind::Day if bare(&reading) || reading.is::<dimension::Time>() => false,
            Kind::Count | Kind::Number if bare(&reading) => false,
            _ => {
                self.wrong_dimension(parameter, text, &reading);
                return None;
            }
        };
        let as_rate = parameter.kind == Kind::ShareOrRate && is_rate;
        let fits =
            if as_rate { (0.0..=Parameter::MOST_RATE).contains(&reading.si) } else { within(parameter, reading.si) };
        if !fits || (parameter.kind == Kind::Count && reading.si.fract() != 0.0) {
            self.wrong(parameter, FaultCode::OutOfRange, quoted(text));
            return None;
        }
        Some(Given { si: reading.si, is_rate })
    }

    /// Holds a rate with a unit of measure against the other rates of its kind.
    fn settle(&mut self, parameter: &Parameter, text: &str, reading: &Reading, settled: &mut Settled) -> Option<bool> {
        let carried = if reading.is::<dimension::MassRate>() {
            Carried::Matter
        } else if reading.is::<dimension::Power>() {
            Carried::Power
        } else {
            self.wrong_dimension(parameter, text, reading);
            return None;
        };
        match *settled {
            Some((before, other)) if before != carried => {
                let found = format!("{}, a {}", quoted(text), reading.label());
                let label = match before {
                    Carried::Matter => dimension::MassRate::LABEL,
                    Carried::Power => dimension::Power::LABEL,
                };
                self.fault(parameter.name, FaultCode::WrongDimension, found, format!("a {label}, as {other} is"), None);
                None
            }
            _ => {
                settled.get_or_insert((carried, parameter.name));
                Some(true)
            }
        }
    }

    fn flag(&mut self, parameter: &Parameter, text: &str) -> Option<Given> {
        let si = match text.trim() {
            "yes" | "true" | "1" => 1.0,
            "no" | "false" | "0" => 0.0,
            _ => {
                self.wrong(parameter, FaultCode::UnknownChoice, quoted(text));
                return None;
            }
        };
        Some(Given { si, is_rate: false })
    }

    fn twice(&mut self, name: &str) {
        self.fault(
            name,
            FaultCode::DuplicateField,
            "it a second time".to_owned(),
            "each parameter once".to_owned(),
            None,
        );
    }

    fn unknown(&mut self, name: &str) {
        let parameters = self.parameters;
        self.total += 1;
        if self.listed.len() < Limits::DEFAULT.faults {
            let known = || parameters.iter().map(|parameter| parameter.name);
            let expected = format!("one of {}", known().collect::<Vec<_>>().join(", "));
            let near = near(name, known()).map(str::to_owned);
            let shown = quoted(name);
            let at = At::Parameter(shown.trim_matches('"').to_owned());
            let code = FaultCode::UnknownField;
            self.listed.push(Fault {
                at,
                code,
                found: "a parameter that this sum has no use for".to_owned(),
                expected,
                near,
            });
        }
    }

    fn unreadable(&mut self, parameter: &Parameter, text: &str, fault: &QuantityFault) {
        let expected = match fault {
            QuantityFault::Unreadable(why) => format!("{}: {why}", wanted(parameter)),
            QuantityFault::OutOfRange | QuantityFault::TooManySpellings => format!("{}; {fault}", wanted(parameter)),
            QuantityFault::UnknownUnit { .. } | QuantityFault::WrongDimension { .. } => wanted(parameter),
        };
        self.fault(parameter.name, fault.into(), quoted(text), expected, fault.near().map(str::to_owned));
    }

    fn wrong_dimension(&mut self, parameter: &Parameter, text: &str, reading: &Reading) {
        self.wrong(parameter, FaultCode::WrongDimension, format!("{}, a {}", quoted(text), reading.label()));
    }

    fn wrong(&mut self, parameter: &Parameter, code: FaultCode, found: String) {
        self.fault(parameter.name, code, found, wanted(parameter), None);
    }

    fn fault(&mut self, name: &str, code: FaultCode, found: String, expected: String, near: Option<String>) {
        self.total += 1;
        if self.listed.len() < Limits::DEFAULT.faults {
            self.listed.push(Fault { at: At::Parameter(name.to_owned()), code, found, expected, near });
        }
    }
}

fn bare(reading: &Reading) -> bool {
    reading.is::<dimension::Share>()
}

fn within(parameter: &Parameter, si: f64) -> bool {
    (parameter.least..=parameter.most).contains(&si)
}

/// What should stand for a parameter.
fn wanted(parameter: &Parameter) -> String {
    let Parameter { kind, least, most, example, .. } = *parameter;
    let (least, most) = (number(least), number(most));
    match kind {
        Kind::Rate | Kind::SecondRate => format!("a rate from {least} to {most} kg/s or W, such as {example:?}"),
        Kind::ShareOrRate => {
            format!(
                "a share from 0 to 1, or a rate up to {} kg/s or W, such as {example:?}",
                number(Parameter::MOST_RATE)
            )
        }
        Kind::Time => format!("a time from {least} to {most} s, such as {example:?}"),
        Kind::Day => format!("a time from {least} to {most} s that is not itself in days, such as {example:?}"),
        Kind::Count => format!("a whole number from {least} to {most}, such as {example:?}"),
        Kind::Number => format!("a number from {least} to {most}, such as {example:?}"),
        Kind::Flag => "yes or no".to_owned(),
    }
}

/// The longest name, in bytes, that is compared with others: none of ours is half as long.
const LONGEST_NAME: usize = 64;

/// The candidate that is spelt most like `name`, if one is like it.
pub(super) fn near(name: &str, candidates: impl Iterator<Item = &'static str>) -> Option<&'static str> {
    if name.len() > LONGEST_NAME {
        return None;
    }
    candidates
        .map(|candidate| (strsim::jaro_winkler(name, candidate), candidate))
        .filter(|(likeness, _)| *likeness >= 0.8)
        .max_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, candidate)| candidate)
}
