//! Someone in a channel, on a bare connection, so that anything can be typed.

use std::time::{Duration, Instant};

use tokio::io::{AsyncBufReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::TcpStream;
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};

use super::PATIENCE;

pub struct Guest {
    reader: BufReader<OwnedReadHalf>,
    writer: OwnedWriteHalf,
    pub nick: String,
}

impl Guest {
    /// Connects and joins; returns once the server has said who is there.
    pub async fn join(port: u16, nick: &str, channel: &str) -> Self {
        let mut guest = Self::connect(port, nick).await;
        guest.send(format!("JOIN {channel}\r\n").as_bytes()).await;
        guest.until("the list of who is there", |line| line.contains(" 366 ")).await;
        guest
    }

    pub async fn connect(port: u16, nick: &str) -> Self {
        let stream = TcpStream::connect(("127.0.0.1", port)).await.expect("the server");
        let (reader, writer) = stream.into_split();
        let mut guest = Self { reader: BufReader::new(reader), writer, nick: nick.to_owned() };
        guest.send(format!("NICK {nick}\r\nUSER guest 0 * :a guest\r\n").as_bytes()).await;
        guest.until("a welcome", |line| line.contains(" 001 ")).await;
        guest
    }

    pub async fn send(&mut self, bytes: &[u8]) {
        self.writer.write_all(bytes).await.expect("sent");
    }

    pub async fn say(&mut self, channel: &str, text: &str) {
        self.send(format!("PRIVMSG {channel} :{text}\r\n").as_bytes()).await;
    }

    /// The next line of the server, without its end; `None` when it says nothing for so long.
    pub async fn line(&mut self, patience: Duration) -> Option<String> {
        let until = Instant::now() + patience;
        loop {
            let mut bytes = Vec::new();
            let left = until.saturating_duration_since(Instant::now());
            let read = tokio::time::timeout(left, self.reader.read_until(b'\n', &mut bytes)).await.ok()?;
            assert!(read.expect("read") > 0, "{} was thrown out", self.nick);
            let line = String::from_utf8_lossy(&bytes).trim_end_matches(['\r', '\n']).to_owned();
            match line.strip_prefix("PING ") {
                Some(token) => self.send(format!("PONG {token}\r\n").as_bytes()).await,
                None => return Some(line),
            }
        }
    }

    /// Waits for a line.
    pub async fn until(&mut self, what: &str, is: impl Fn(&str) -> bool) -> String {
        let start = Instant::now();
        while let Some(line) = self.line(PATIENCE.saturating_sub(start.elapsed())).await {
            if is(&line) {
                return line;
            }
        }
        panic!("{} waited in vain for {what}", self.nick);
    }

    /// Waits until the bot is in the channel.
    pub async fn until_bot(&mut self, channel: &str) {
        let start = Instant::now();
        loop {
            self.send(format!("NAMES {channel}\r\n").as_bytes()).await;
            let names = self.until("names", |line| line.contains(" 353 ") || line.contains(" 366 ")).await;
            if names.contains(" 353 ") {
                self.until("the end of names", |line| line.contains(" 366 ")).await;
            }
            let mut names = names.rsplit(':').next().unwrap_or_default().split(' ');
            if names.any(|name| name.trim_start_matches(['@', '+']).starts_with("hotwell")) {
                return;
            }
            assert!(start.elapsed() < PATIENCE, "the bot does not come");
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    }

    /// The next thing the bot says in the channel, within so long.
    pub async fn told_within(&mut self, channel: &str, patience: Duration) -> Option<String> {
        let until = Instant::now() + patience;
        while let Some(line) = self.line(until.saturating_duration_since(Instant::now())).await {
            if let Some(said) = said(&line, channel) {
                return Some(said);
            }
        }
        None
    }

    /// Asks in the channel, and what the bot says to it.
    pub async fn ask(&mut self, channel: &str, question: &str) -> String {
        self.say(channel, question).await;
        self.told_within(channel, PATIENCE).await.unwrap_or_else(|| panic!("no answer to {question}"))
    }
}

/// What the bot says in a channel, where a line is that.
pub fn said(line: &str, channel: &str) -> Option<String> {
    let (from, rest) = line.strip_prefix(":hotwell")?.split_once(' ')?;
    assert!(from.contains('!'), "{line}");
    let (target, text) = rest.strip_prefix("NOTICE ")?.split_once(" :")?;
    target.eq_ignore_ascii_case(channel).then(|| text.to_owned())
}
