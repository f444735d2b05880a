//! What the bot is told at its start: flags with their twins in the environment.

use std::path::PathBuf;
use std::str::FromStr;
use std::time::Duration;

use clap::{Parser, ValueEnum};

/// Answers `!sum` and `!plan` in channels, from a Hotwell service.
#[derive(Clone, Debug, Parser)]
#[command(name = "hotwell-bot", version)]
pub struct Settings {
    /// The IRC server's host. The connection is not encrypted: see the README for networks that ask for TLS.
    #[arg(long, env = "HOTWELL_BOT_SERVER", default_value = "localhost")]
    pub server: String,
    /// The IRC server's port.
    #[arg(long, env = "HOTWELL_BOT_PORT", default_value_t = 6667)]
    pub port: u16,
    /// The server's password, where it asks for one.
    #[arg(long, env = "HOTWELL_BOT_PASSWORD", hide_env_values = true)]
    pub password: Option<String>,
    /// The bot's name. Where it is taken, digits are put behind it.
    #[arg(long, env = "HOTWELL_BOT_NICK", default_value = "hotwell")]
    pub nick: String,
    /// A channel to be in, and the file of its plan: `#kestrel` or `#kestrel=kestrel-deep.json`. Once for each channel. The file is
    /// read whenever someone asks.
    #[arg(long = "channel", env = "HOTWELL_BOT_CHANNELS", value_delimiter = ' ', required = true)]
    pub channels: Vec<Channel>,
    /// The Hotwell service.
    #[arg(long, env = "HOTWELL_BOT_SERVICE", default_value = "http://localhost:8080")]
    pub service: String,
    /// How long an answer of the service may take.
    #[arg(long, env = "HOTWELL_BOT_PATIENCE", default_value = "5s", value_parser = humantime::parse_duration)]
    pub patience: Duration,
    /// How answers are sent. By RFC 2812 a program sends notices, which no other program answers.
    #[arg(long, env = "HOTWELL_BOT_REPLY", value_enum, default_value_t = Reply::Notice)]
    pub reply: Reply,
    /// In each channel, one question is answered so often. More are let go unanswered.
    #[arg(long, env = "HOTWELL_BOT_EVERY", default_value = "3s", value_parser = humantime::parse_duration)]
    pub every: Duration,
    /// So many questions may come at once after a quiet while.
    #[arg(long, env = "HOTWELL_BOT_BURST", default_value = "3")]
    pub burst: std::num::NonZeroU32,
    /// The first wait before connecting again. Each is twice the one before it, and up to as much longer by chance.
    #[arg(long, env = "HOTWELL_BOT_LEAST_WAIT", default_value = "2s", value_parser = humantime::parse_duration)]
    pub least_wait: Duration,
    /// The longest wait before connecting again, chance aside.
    #[arg(long, env = "HOTWELL_BOT_MOST_WAIT", default_value = "5m", value_parser = humantime::parse_duration)]
    pub most_wait: Duration,
}

/// A channel, and the file of its plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Channel {
    /// Its name with the mark that it begins with.
    pub name: String,
    /// The plan's file.
    pub plan: Option<PathBuf>,
}

/// A name that no channel can have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is not a channel: #, & or +, then up to 49 letters without spaces, commas and control characters")]
pub struct NoChannel(String);

impl FromStr for Channel {
    type Err = NoChannel;

    fn from_str(text: &str) -> Result<Self, NoChannel> {
        let (name, plan) = match text.split_once('=') {
            Some((name, plan)) => (name, Some(PathBuf::from(plan))),
            None => (text, None),
        };
        // RFC 2812, section 1.3.
        let fits = name.starts_with(['#', '&', '+']) && (2..=50).contains(&name.len());
        if !fits || name.contains(|next: char| next.is_control() || next.is_whitespace() || next == ',') {
            return Err(NoChannel(name.to_owned()));
        }
        Ok(Self { name: name.to_owned(), plan })
    }
}

/// How answers are sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Reply {
    /// As `NOTICE`.
    Notice,
    /// As `PRIVMSG`, for networks that know no notices.
    Message,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_are_read() {
        let channel = |name: &str, plan: Option<&str>| Channel { name: name.to_owned(), plan: plan.map(PathBuf::from) };
        assert_eq!("#kestrel".parse(), Ok(channel("#kestrel", None)));
        assert_eq!("&deep=plans/a=b.json".parse(), Ok(channel("&deep", Some("plans/a=b.json"))));
        for text in ["", "#", "kestrel", "#a,b", "#a b", "#a\r\nQUIT", &format!("#{}", "c".repeat(50))] {
            assert!(text.parse::<Channel>().is_err(), "{text:?}");
        }
    }

    #[test]
    fn flags_are_read() {
        let read = Settings::try_parse_from(["bot", "--channel", "#a=a.json", "--channel", "#b", "--every", "500ms"]);
        let settings = read.expect("settings");
        assert_eq!(settings.channels.len(), 2);
        assert_eq!(settings.every, Duration::from_millis(500));
        assert!(Settings::try_parse_from(["bot"]).is_err(), "no channel");
    }
}
