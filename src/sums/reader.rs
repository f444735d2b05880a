//! From the pairs of a query string to arguments that are what their parameters say.

use std::borrow::Cow;

use smallvec::{SmallVec, smallvec};

use super::arguments::{Arguments, Given, near};
use super::medium::Medium;
use super::parameter::{Kind, Parameter};
use crate::plan::{At, Fault, FaultCode, Faults, Limits, quoted};
use crate::quantity::{QuantityFault, QuantityReader, Reading, Time, dimension, number, unit_of};

pub(super) struct Reader<'p> {
    parameters: &'p [Parameter],
    quantities: QuantityReader,
    listed: Vec<Fault>,
    total: usize,
}

/// What the first rate with a unit of measure says that all of its kind carry, and which parameter that was.
type Settled = Option<(Medium, &'static str)>;

impl<'p> Reader<'p> {
    pub fn new(parameters: &'p [Parameter]) -> Self {
        let day = Time::from_si(86_400.0).unwrap_or(Time::ZERO);
        Self { parameters, quantities: QuantityReader::new(day), listed: Vec::new(), total: 0 }
    }

    pub fn read(mut self, pairs: &[(Cow<'_, str>, Cow<'_, str>)]) -> Result<Arguments<'p>, Faults> {
        let mut texts: SmallVec<[Option<&str>; 8]> = smallvec![None; self.parameters.len()];
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
        let mut given = SmallVec::new();
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
        let carried = settled.map(|settled| settled.map_or(Medium::Matter, |(carried, _)| carried));
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
        if parameter.many {
            return self.list(parameter, text, settled);
        }
        let (si, whole) = match parameter.kind {
            Kind::Flag => (self.flag(parameter, text)?, false),
            Kind::Choice => (self.choice(parameter, text)?, false),
            // A day in days says nothing.
            Kind::Day if text.ends_with("day") => {
                self.wrong(parameter, FaultCode::Contradiction, quoted(text));
                return None;
            }
            _ => self.one(parameter, text, settled)?,
        };
        Some(Given { si, whole, items: Vec::new() })
    }

    fn list(&mut self, parameter: &Parameter, text: &str, settled: &mut [Settled; 2]) -> Option<Given> {
        let texts: Vec<&str> = text.split(',').map(str::trim).collect();
        if texts.len() > Parameter::MOST_LISTED || text.len() > Parameter::LONGEST_LIST {
            let found = format!("{} items in {} bytes", texts.len(), text.len());
            self.wrong(parameter, FaultCode::OutOfRange, found);
            return None;
        }
        let mut items = Vec::with_capacity(texts.len());
        let mut unit = "";
        // From the last: an item has the unit of measure of the next that has one.
        for item in texts.iter().rev() {
            let own = unit_of(item).unwrap_or_default();
            let (si, _) = if own.is_empty() && !unit.is_empty() {
                self.one(parameter, &format!("{item} {unit}"), settled)?
            } else {
                unit = own;
                self.one(parameter, item, settled)?
            };
            items.push(si);
        }
        items.reverse();
        Some(Given { si: items.first().copied()?, whole: true, items })
    }

    /// One measure, and whether it is a rate or amount where a share could stand.
    fn one(&mut self, parameter: &Parameter, text: &str, settled: &mut [Settled; 2]) -> Option<(f64, bool)> {
        let reading = match self.quantities.read_any(text) {
            Ok(reading) => reading,
            Err(QuantityFault::OutOfRange) if scaled(parameter.kind) => {
                // Nothing of a scale of temperatures may lie out of range as kelvins.
                let si = self.temperature(parameter, text)?;
                return self.held(parameter, text, si, false);
            }
            Err(fault) => {
                self.unreadable(parameter, text, &fault);
                return None;
            }
        };
        let plain = bare(&reading);
        let mut si = reading.si;
        let whole = match parameter.kind {
            Kind::Rate | Kind::Amount => plain || self.settle(parameter, text, &reading, &mut settled[0])?,
            Kind::SecondRate => plain || self.settle(parameter, text, &reading, &mut settled[1])?,
            Kind::ShareOrRate | Kind::ShareOrAmount => {
                !plain && self.settle(parameter, text, &reading, &mut settled[0])?
            }
            Kind::Count | Kind::Number | Kind::Share | Kind::Temperature | Kind::Difference if plain => false,
            Kind::Temperature | Kind::Difference => {
                si = self.temperature(parameter, text)?;
                false
            }
            Kind::Insulance if reading.is::<dimension::HeatTransfer>() && reading.si > 0.0 => {
                si = reading.si.recip();
                false
            }
            kind if kind.fixed().is_some_and(|fixed| plain || fixed.exponents == reading.exponents) => false,
            _ => {
                self.wrong_dimension(parameter, text, &reading);
                return None;
            }
        };
        self.held(parameter, text, si, whole)
    }

    /// A measure held against its bounds.
    fn held(&mut self, parameter: &Parameter, text: &str, si: f64, whole: bool) -> Option<(f64, bool)> {
        let fits = match parameter.kind {
            Kind::ShareOrRate if whole => (0.0..=Parameter::MOST_RATE).contains(&si),
            Kind::ShareOrAmount if whole => (0.0..=Parameter::MOST_AMOUNT).contains(&si),
            _ => within(parameter, si),
        };
        if !fits || (parameter.kind == Kind::Count && si.fract() != 0.0) {
            self.wrong(parameter, FaultCode::OutOfRange, quoted(text));
            return None;
        }
        Some((si, whole))
    }

    /// A temperature in °C, or a difference in K.
    fn temperature(&mut self, parameter: &Parameter, text: &str) -> Option<f64> {
        let read = if parameter.kind == Kind::Temperature {
            self.quantities.read_temperature(text)
        } else {
            self.quantities.read_difference(text)
        };
        match read {
            Ok(si) => Some(si),
            Err(QuantityFault::WrongDimension { found, .. }) => {
                self.wrong(parameter, FaultCode::WrongDimension, format!("{}, a {found}", quoted(text)));
                None
            }
            Err(fault) => {
                self.unreadable(parameter, text, &fault);
                None
            }
        }
    }

    /// Holds a rate or amount with a unit of measure against the others of its kind.
    fn settle(&mut self, parameter: &Parameter, text: &str, reading: &Reading, settled: &mut Settled) -> Option<bool> {
        let amount = matches!(parameter.kind, Kind::Amount | Kind::ShareOrAmount);
        let medium = if amount { Medium::of_amount(reading.exponents) } else { Medium::of_rate(reading.exponents) };
        let Some(medium) = medium else {
            self.wrong_dimension(parameter, text, reading);
            return None;
        };
        match *settled {
            Some((before, other)) if before != medium => {
                let found = format!("{}, a {}", quoted(text), reading.label());
                let label = if amount { before.amount_label() } else { before.rate_label() };
                let expected = format!("{} {label}, to go with {other}", article(label));
                self.fault(parameter.name, FaultCode::WrongDimension, found, expected, None);
                None
            }
            _ => {
                settled.get_or_insert((medium, parameter.name));
                Some(true)
            }
        }
    }

    fn flag(&mut self, parameter: &Parameter, text: &str) -> Option<f64> {
        match text.trim() {
            "yes" | "true" | "1" => Some(1.0),
            "no" | "false" | "0" => Some(0.0),
            _ => {
                self.wrong(parameter, FaultCode::UnknownChoice, quoted(text));
                None
            }
        }
    }

    fn choice(&mut self, parameter: &Parameter, text: &str) -> Option<f64> {
        let word = text.trim();
        let place = parameter.choices.iter().position(|choice| *choice == word);
        if place.is_none() {
            let near = near(word, parameter.choices.iter().copied()).map(str::to_owned);
            self.fault(parameter.name, FaultCode::UnknownChoice, quoted(text), wanted(parameter), near);
        }
        place.map(|place| place as f64)
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

/// Whether a kind is a temperature, whose zero lies elsewhere than that of kelvins.
fn scaled(kind: Kind) -> bool {
    matches!(kind, Kind::Temperature | Kind::Difference)
}

fn article(label: &str) -> &'static str {
    if label.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

/// A bound as a person reads it at a glance: `1e12` rather than a row of noughts to count.
fn bound(value: f64) -> String {
    const COUNTED_AT_A_GLANCE: f64 = 1e7;
    if value.abs() >= COUNTED_AT_A_GLANCE { format!("{value:e}") } else { number(value).to_string() }
}

/// What should stand for a parameter.
fn wanted(parameter: &Parameter) -> String {
    let Parameter { kind, least, most, example, .. } = *parameter;
    let (least, most) = (bound(least), bound(most));
    let rate = bound(Parameter::MOST_RATE);
    let amount = bound(Parameter::MOST_AMOUNT);
    let what = match kind {
        Kind::Rate | Kind::SecondRate => format!("a rate from {least} to {most} kg/s, W or m³/s"),
        Kind::ShareOrRate => format!("a share from 0 to 1, or a rate up to {rate} kg/s, W or m³/s"),
        Kind::Amount => format!("an amount from {least} to {most} kg, J or m³"),
        Kind::ShareOrAmount => format!("a share from 0 to 1, or an amount up to {amount} kg, J or m³"),
        Kind::Day => format!("a time from {least} to {most} s that is not itself in days"),
        Kind::Count => format!("a whole number from {least} to {most}"),
        Kind::Number => format!("a number from {least} to {most}"),
        Kind::Share => format!("a share from {least} to {most}"),
        Kind::Temperature => format!("a temperature from {least} to {most} °C"),
        Kind::Difference => format!("a difference of temperatures from {least} to {most} K"),
        Kind::Flag => return "yes or no".to_owned(),
        Kind::Choice => return format!("one of {}", parameter.choices.join(", ")),
        _ => kind.fixed().map_or(String::new(), |fixed| {
            format!("{} {} from {least} to {most} {}", article(fixed.label), fixed.label, fixed.si)
        }),
    };
    if parameter.many {
        format!("up to {} items apart by commas, each {what}, such as {example:?}", Parameter::MOST_LISTED)
    } else {
        format!("{what}, such as {example:?}")
    }
}
