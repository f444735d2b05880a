//! The service's list of sums, and how a sum is asked by position: `units-needed 2.5kg/s 300g/s`.

use serde::Deserialize;

/// The answer to `GET /v1/sums`, as far as the bot needs it.
#[derive(Clone, Debug, Deserialize)]
pub struct Sums {
    sums: Vec<Sum>,
}

/// A sum and what it is asked with.
#[derive(Clone, Debug, Deserialize)]
pub struct Sum {
    name: String,
    parameters: Vec<Parameter>,
}

#[derive(Clone, Debug, Deserialize)]
struct Parameter {
    name: String,
    kind: String,
    required: bool,
    example: String,
    #[serde(default)]
    choices: Vec<String>,
}

/// More was typed than the sum has parameters.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{sum} takes {takes}, in this order or as name=value")]
pub struct TooMany {
    sum: String,
    takes: String,
}

impl Sums {
    /// The sum of this name.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&Sum> {
        self.sums.iter().find(|sum| sum.name == name)
    }

    /// How the bot is asked, in a line.
    #[must_use]
    pub fn help(&self) -> String {
        let names: Vec<_> = self.sums.iter().map(|sum| sum.name.as_str()).collect();
        let example = self.sums.first().map_or(String::new(), |sum| format!("such as {}, ", sum.example()));
        format!(
            "Ask !plan, or !sum and one of these with its arguments, {example}of {}: {}",
            names.len(),
            names.join(", ")
        )
    }
}

impl Sum {
    /// How it is asked, in a line: its parameters in order, those it can do without in brackets.
    #[must_use]
    pub fn help(&self) -> String {
        format!("{}: {}; such as {}", self.name, self.takes(), self.example())
    }

    fn takes(&self) -> String {
        let shown = |parameter: &Parameter| {
            if parameter.required { parameter.name.clone() } else { format!("[{}]", parameter.name) }
        };
        self.parameters.iter().map(shown).collect::<Vec<_>>().join(" ")
    }

    fn example(&self) -> String {
        let mut example = format!("!sum {}", self.name);
        for parameter in self.parameters.iter().filter(|parameter| parameter.required) {
            example.push(' ');
            example.push_str(&parameter.example);
        }
        example
    }

    /// The parameters of the service's query: what has no name takes the first that is not named, in the declared order.
    ///
    /// A name that the sum does not have is passed on: the service knows the nearest one.
    ///
    /// # Errors
    /// [`TooMany`] where more is given by position than there are parameters.
    pub fn arguments(&self, words: &[String]) -> Result<Vec<(String, String)>, TooMany> {
        let arguments: Vec<_> = self.joined(words).into_iter().map(split).collect();
        let named = |name: &str| arguments.iter().any(|(given, _)| given.as_deref() == Some(name));
        let mut free = self.parameters.iter().map(|parameter| parameter.name.as_str()).filter(|name| !named(name));
        let mut pairs = Vec::with_capacity(arguments.len());
        for (name, value) in &arguments {
            let name = match name {
                Some(name) => name,
                None => free.next().ok_or_else(|| TooMany { sum: self.name.clone(), takes: self.takes() })?,
            };
            pairs.push((name.to_owned(), value.clone()));
        }
        Ok(pairs)
    }

    /// Puts together what a space set apart: a number and its unit of measure (`2.5 kg/s`), and the items of a list (`12, 8 t`).
    fn joined(&self, words: &[String]) -> Vec<String> {
        let mut joined: Vec<String> = Vec::with_capacity(words.len());
        for word in words {
            match joined.last_mut() {
                Some(last) if last.ends_with(',') => last.push_str(word),
                Some(last) if ends_bare(last) && self.is_unit(word) => {
                    last.push(' ');
                    last.push_str(word);
                }
                _ => joined.push(word.clone()),
            }
        }
        joined
    }

    /// Whether a word after a number can only be its unit of measure: it begins with no digit, names nothing, and is no
    /// word that the sum has a use for.
    fn is_unit(&self, word: &str) -> bool {
        const FLAG: [&str; 4] = ["yes", "no", "true", "false"];
        let begins = word.starts_with(|next: char| next.is_alphabetic() || "%°µ".contains(next));
        let known = self.parameters.iter().any(|parameter| {
            parameter.kind == "flag" && FLAG.contains(&word) || parameter.choices.iter().any(|choice| choice == word)
        });
        begins && !word.contains('=') && !known
    }
}

/// Whether a word is, or a value after its name ends in, a number without a unit of measure.
fn ends_bare(word: &str) -> bool {
    let value = word.rsplit([',', '=']).next().unwrap_or_default();
    value.parse::<f64>().is_ok() && value.ends_with(|next: char| next.is_ascii_digit() || next == '.')
}

/// Takes `name=value` apart; what has no such name is all value.
fn split(argument: String) -> (Option<String>, String) {
    match argument.split_once('=') {
        Some((name, value)) if is_name(name) => (Some(name.to_lowercase()), value.to_owned()),
        _ => (None, argument),
    }
}

fn is_name(text: &str) -> bool {
    text.starts_with(|next: char| next.is_ascii_alphabetic())
        && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'_')
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn sums() -> Sums {
        serde_json::from_value(serde_json::json!({ "engine": "x", "sums": [
            { "name": "units-needed", "title": "", "parameters": [
                { "name": "flow", "kind": "rate", "required": true, "example": "2.5kg/s" },
                { "name": "each", "kind": "rate", "required": true, "example": "300g/s" } ] },
            { "name": "row-fit", "parameters": [
                { "name": "count", "kind": "count", "required": false, "example": "9" },
                { "name": "each", "kind": "number", "required": true, "example": "3" },
                { "name": "symmetric", "kind": "flag", "required": false, "example": "yes" },
                { "name": "side", "kind": "choice", "required": false, "example": "left", "choices": ["left", "right"] } ] },
        ]}))
        .expect("a list")
    }

    fn asked(name: &str, words: &str) -> Result<String, TooMany> {
        let sums = sums();
        let words: Vec<_> = words.split_whitespace().map(str::to_owned).collect();
        let pairs = sums.find(name).expect("a sum").arguments(&words)?;
        Ok(pairs.iter().map(|(name, value)| format!("{name}={value}")).collect::<Vec<_>>().join("&"))
    }

    #[test]
    fn arguments_go_by_position_and_by_name() {
        for (name, words, expected) in [
            ("units-needed", "2.5kg/s 300g/s", "flow=2.5kg/s&each=300g/s"),
            ("units-needed", "2.5 kg/s 300 g/s", "flow=2.5 kg/s&each=300 g/s"),
            ("units-needed", "each=300 g/s 2.5 kg/s", "each=300 g/s&flow=2.5 kg/s"),
            ("units-needed", "Each=300g/s 2500", "each=300g/s&flow=2500"),
            ("units-needed", "each=1 each=2 3", "each=1&each=2&flow=3"),
            ("units-needed", "eech=1 2", "eech=1&flow=2"),
            ("units-needed", "12, 8, 6 t/day 1e3 kg/s", "flow=12,8,6 t/day&each=1e3 kg/s"),
            ("units-needed", "20 °C 75 %", "flow=20 °C&each=75 %"),
            ("units-needed", "=1 &flow=2", "flow==1&each=&flow=2"),
            ("units-needed", "nan inf", "flow=nan&each=inf"),
            ("units-needed", "", ""),
            ("row-fit", "9 3 yes", "count=9&each=3&symmetric=yes"),
            ("row-fit", "9 3 no right", "count=9&each=3&symmetric=no&side=right"),
            ("row-fit", "each=3 yes", "each=3&count=yes"),
        ] {
            assert_eq!(asked(name, words).as_deref(), Ok(expected), "{words}");
        }
    }

    #[test]
    fn too_many_are_told_what_it_takes() {
        let told = asked("row-fit", "1 2 yes left 5").expect_err("too many").to_string();
        assert_eq!(told, "row-fit takes [count] each [symmetric] [side], in this order or as name=value");
    }

    #[test]
    fn help_shows_an_example() {
        let sums = sums();
        let help = sums.find("units-needed").expect("a sum").help();
        assert_eq!(help, "units-needed: flow each; such as !sum units-needed 2.5kg/s 300g/s");
        assert!(sums.help().ends_with("of 2: units-needed, row-fit"), "{}", sums.help());
        assert!(sums.find("none").is_none());
    }

    proptest! {
        #[test]
        fn nothing_typed_is_lost_and_no_position_is_taken_twice(words in prop::collection::vec("[a-z0-9.,=%°&!/]{1,8}", 0..8)) {
            let sums = sums();
            let sum = sums.find("row-fit").expect("a sum");
            if let Ok(pairs) = sum.arguments(&words) {
                let typed: String = words.concat();
                let kept: usize = pairs.iter().map(|(_, value)| value.chars().filter(|&next| next != ' ').count()).sum();
                prop_assert!(kept <= typed.chars().count());
                let unnamed = sum.joined(&words).iter().filter(|word| split((*word).clone()).0.is_none()).count();
                let mut positions: Vec<_> = pairs.iter().map(|(name, _)| name).collect();
                positions.sort();
                positions.dedup();
                prop_assert!(unnamed <= sum.parameters.len() && positions.len() >= unnamed);
            }
        }
    }
}
