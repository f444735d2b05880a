//! What someone in a channel asks of the bot.

use crate::line::plain;

/// What a message must begin with to be for the bot.
pub const MARK: char = '!';

/// What a message to a program begins with.
const CTCP: char = '\u{1}';

/// The longest name of a sum that is passed on to the service.
const NAME_BYTES: usize = 64;

/// A message that is for the bot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Command {
    /// `!sum NAME ...`: a single sum, with its arguments as they were typed.
    Sum {
        /// Its name, which may be that of no sum.
        name: String,
        /// What follows, split at spaces.
        words: Vec<String>,
    },
    /// `!sum` alone, `!sums`, `!help`: what can be asked.
    Help,
    /// `!plan [QUESTION]`: a question about the channel's plan.
    Plan(Question),
}

/// What can be asked of a channel's plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// All of it.
    Plan,
    /// The steady state.
    FlowBalance,
    /// Temperatures.
    HeatBudget,
    /// Levels over time.
    FillLevel,
}

impl Question {
    /// All of them, the usual one first.
    pub const ALL: [Self; 4] = [Self::Plan, Self::FlowBalance, Self::HeatBudget, Self::FillLevel];

    /// Its name in the service's paths.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::FlowBalance => "flow-balance",
            Self::HeatBudget => "heat-budget",
            Self::FillLevel => "fill-level",
        }
    }
}

/// Reads a message; `None` where it is not for the bot, to which it then says nothing. What is hidden in it is gone before anything
/// is passed on; a message to programs (CTCP) is not read.
#[must_use]
pub fn parse(message: &str) -> Option<Command> {
    if message.starts_with(CTCP) {
        return None;
    }
    let message = plain(message);
    let asked = message.strip_prefix(MARK)?;
    if asked.starts_with(char::is_whitespace) {
        return None;
    }
    let mut words = asked.split_whitespace();
    match words.next()?.to_lowercase().as_str() {
        "sum" => Some(match words.next() {
            Some(name) if is_name(name) => {
                Command::Sum { name: name.to_lowercase(), words: words.map(str::to_owned).collect() }
            }
            // Nothing that cannot be a name gets into a path.
            None | Some(_) => Command::Help,
        }),
        "sums" | "help" => Some(Command::Help),
        "plan" => {
            let asked = words.next().map_or_else(|| Question::Plan.name().to_owned(), str::to_lowercase);
            Question::ALL
                .into_iter()
                .find(|question| question.name() == asked)
                .map_or(Some(Command::Help), |question| Some(Command::Plan(question)))
        }
        _ => None,
    }
}

fn is_name(word: &str) -> bool {
    word.len() <= NAME_BYTES && word.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn sum(name: &str, words: &[&str]) -> Command {
        Command::Sum { name: name.to_owned(), words: words.iter().map(|&word| word.to_owned()).collect() }
    }

    #[test]
    fn commands_are_read() {
        for (message, expected) in [
            ("!sum units-needed 2.5kg/s 300g/s", Some(sum("units-needed", &["2.5kg/s", "300g/s"]))),
            ("  !SUM Units-Needed\t2.5kg/s   each=300g/s ", Some(sum("units-needed", &["2.5kg/s", "each=300g/s"]))),
            ("!sum units-needed", Some(sum("units-needed", &[]))),
            ("!sum", Some(Command::Help)),
            ("!sums", Some(Command::Help)),
            ("!help me", Some(Command::Help)),
            ("!sum ../../metrics", Some(Command::Help)),
            ("!sum units-needed?flow=1", Some(Command::Help)),
            ("\u{2}!s\u{200b}um \u{3}4,12units-needed\u{f} \u{202e}1", Some(sum("units-needed", &["1"]))),
            ("!plan", Some(Command::Plan(Question::Plan))),
            ("!Plan Fill-Level now", Some(Command::Plan(Question::FillLevel))),
            ("!plan readyz", Some(Command::Help)),
        ] {
            assert_eq!(parse(message), expected, "{message}");
        }
    }

    #[test]
    fn what_is_not_for_the_bot_is_none() {
        for message in [
            "",
            "!",
            "! sum",
            "sum units-needed 1 2",
            "!summary",
            "!!sum",
            "\u{1}!plan\u{1}",
            "so I typed !sum",
            "!\u{1}ACTION",
            "é!sum",
        ] {
            assert_eq!(parse(message), None, "{message}");
        }
    }

    proptest! {
        #[test]
        fn no_message_breaks_it_and_no_name_leaves_its_place_in_a_path(message in "!?(sum |plan )?\\PC{0,80}|.{0,80}") {
            if let Some(Command::Sum { name, words }) = parse(&message) {
                prop_assert!(is_name(&name) && !name.is_empty());
                prop_assert!(words.iter().all(|word| !word.contains(char::is_whitespace)));
            }
        }
    }
}
