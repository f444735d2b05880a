//! Being on a network: connecting, joining, answering, and coming back after the connection is lost.

use std::collections::HashMap;
use std::future::Future;
use std::pin::pin;
use std::sync::Arc;
use std::time::{Duration, Instant};

use backon::{BackoffBuilder as _, ExponentialBuilder};
use futures_util::StreamExt as _;
use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use irc::client::data::Config;
use irc::client::{Client, ClientStream, Sender};
use irc::error::Error as IrcError;
use irc::proto::{Command as Sent, Message, Response};
use tokio::sync::mpsc;
use tokio::task::JoinSet;

use crate::api::Api;
use crate::command::{self, Command};
use crate::line::{room, speak};
use crate::settings::{Channel, Reply, Settings};

/// How long the server may take to accept a connection.
const CONNECTING: Duration = Duration::from_secs(15);
/// How long the server may take from there until it has welcomed the bot.
const REGISTERING: Duration = Duration::from_secs(60);
/// A connection that held so long was a good one: the next wait is the least again.
const GOOD: Duration = Duration::from_secs(60);
/// After so long without a word the server is asked whether it is there, in seconds.
const PING_EVERY: u32 = 60;
/// How long it may take to say so, in seconds.
const PING_PATIENCE: u32 = 30;
/// Questions of one channel that may wait for their answer.
const WAITING: usize = 4;
/// Names to try when the first is taken.
const OTHER_NICKS: u32 = 9;
/// How long the last words may take.
const LAST_WORDS: Duration = Duration::from_secs(1);
/// The longest plan that is sent; the service has a limit of its own.
const PLAN_BYTES: u64 = 4 << 20;
/// Of all channels together, one line a second and so many at once: what servers commonly bear (RFC 2813, section 5.8).
const LINES_AT_ONCE: std::num::NonZeroU32 = std::num::NonZeroU32::new(5).expect("not zero");

/// Why a connection ended.
#[derive(Debug, thiserror::Error)]
enum Lost {
    #[error("no connection within {} s", CONNECTING.as_secs())]
    NotConnected,
    #[error("no welcome within {} s", REGISTERING.as_secs())]
    NotWelcomed,
    #[error("the server closed the connection")]
    Closed,
    #[error(transparent)]
    Irc(#[from] IrcError),
}

/// A channel with what it may ask.
struct Asked {
    channel: Channel,
    rate: DefaultDirectRateLimiter,
}

/// What stays the same from one connection to the next.
struct Bot<'a> {
    settings: &'a Settings,
    api: Arc<Api>,
    /// By name in lower case.
    channels: HashMap<String, Arc<Asked>>,
    lines: Arc<DefaultDirectRateLimiter>,
}

/// Connects, answers, and connects again whenever the connection is lost, until `stopped` is.
pub async fn run(settings: &Settings, api: Api, stopped: impl Future<Output = ()>) {
    // A period of zero would be no limit, and there is always one.
    let period = settings.every.max(Duration::from_millis(1));
    let quota =
        Quota::with_period(period).unwrap_or_else(|| Quota::per_second(settings.burst)).allow_burst(settings.burst);
    let asked = |channel: &Channel| Arc::new(Asked { channel: channel.clone(), rate: RateLimiter::direct(quota) });
    let bot = Bot {
        settings,
        api: Arc::new(api),
        channels: settings.channels.iter().map(|channel| (folded(&channel.name), asked(channel))).collect(),
        lines: Arc::new(RateLimiter::direct(Quota::per_second(std::num::NonZeroU32::MIN).allow_burst(LINES_AT_ONCE))),
    };
    let waits = ExponentialBuilder::default()
        .with_min_delay(settings.least_wait)
        .with_max_delay(settings.most_wait)
        .without_max_times()
        .with_jitter();
    let mut stopped = pin!(stopped);
    let mut wait = waits.build();
    loop {
        let began = Instant::now();
        let lost = bot.connection(stopped.as_mut()).await;
        let Err(lost) = lost else { return };
        if began.elapsed() > GOOD {
            wait = waits.build();
        }
        let pause = wait.next().unwrap_or(settings.most_wait);
        tracing::warn!(%lost, because = std::error::Error::source(&lost), pause_s = pause.as_secs_f64(), "connection lost");
        tokio::select! {
            () = tokio::time::sleep(pause) => {}
            () = stopped.as_mut() => return,
        }
    }
}

/// A name of a channel as servers compare it, as far as ASCII goes.
fn folded(name: &str) -> String {
    name.to_ascii_lowercase()
}

impl Bot<'_> {
    /// One connection, from its first word to its last. `Ok` when told to stop.
    async fn connection(&self, mut stopped: std::pin::Pin<&mut impl Future<Output = ()>>) -> Result<(), Lost> {
        let mut client = tokio::select! {
            client = tokio::time::timeout(CONNECTING, Client::from_config(self.config())) => client.map_err(|_| Lost::NotConnected)??,
            () = stopped.as_mut() => return Ok(()),
        };
        client.identify()?;
        let mut stream = client.stream()?;
        let mut answering = Answering::new(self, &client.sender());
        let welcomed_by = tokio::time::sleep(REGISTERING);
        let mut welcomed_by = pin!(welcomed_by);
        let mut welcomed = false;
        loop {
            tokio::select! {
                message = next(&mut stream) => {
                    let Some(message) = message? else { continue };
                    if let Sent::Response(Response::RPL_WELCOME, ref arguments) = message.command {
                        welcomed = true;
                        // The server says what name it knows the bot by.
                        arguments.first().unwrap_or(&self.settings.nick).clone_into(&mut answering.nick);
                        tracing::info!(nick = ?answering.nick, "welcome");
                    }
                    answering.hear(&message);
                }
                () = welcomed_by.as_mut(), if !welcomed => return Err(Lost::NotWelcomed),
                () = stopped.as_mut() => {
                    client.send_quit("stopped")?;
                    // What is sent goes out while the stream is read; that the server hangs up is what is waited for.
                    let _ = tokio::time::timeout(LAST_WORDS, async { while next(&mut stream).await.is_ok() {} }).await;
                    return Ok(());
                }
            }
        }
    }

    fn config(&self) -> Config {
        let Settings { server, port, password, nick, channels, .. } = self.settings;
        Config {
            server: Some(server.clone()),
            port: Some(*port),
            password: password.clone(),
            nickname: Some(nick.clone()),
            alt_nicks: (1..=OTHER_NICKS).map(|digit| format!("{nick}{digit}")).collect(),
            realname: Some("answers !sum and !plan".to_owned()),
            channels: channels.iter().map(|channel| channel.name.clone()).collect(),
            ping_time: Some(PING_EVERY),
            ping_timeout: Some(PING_PATIENCE),
            ..Config::default()
        }
    }
}

/// The next message; `None` for a line that is none. The stream says that it has ended after such a line, and goes on when it is asked again.
async fn next(stream: &mut ClientStream) -> Result<Option<Message>, Lost> {
    match stream.next().await {
        Some(Ok(message)) => Ok(Some(message)),
        Some(Err(IrcError::InvalidMessage { cause, .. })) => {
            tracing::debug!(%cause, "a line that cannot be read");
            Ok(stream.next().await.transpose()?)
        }
        Some(Err(error)) => Err(error.into()),
        None => Err(Lost::Closed),
    }
}

/// The questions of one connection: each channel has a queue of its own, so that its answers come in order and no channel waits for another.
struct Answering {
    nick: String,
    queues: HashMap<String, (Arc<Asked>, mpsc::Sender<Command>)>,
    // Its tasks end with it.
    _tasks: JoinSet<()>,
}

impl Answering {
    fn new(bot: &Bot<'_>, sender: &Sender) -> Self {
        let mut tasks = JoinSet::new();
        let mut queues = HashMap::new();
        for (name, asked) in &bot.channels {
            let (questions, queue) = mpsc::channel(WAITING);
            let speaker = Speaker {
                asked: Arc::clone(asked),
                api: Arc::clone(&bot.api),
                lines: Arc::clone(&bot.lines),
                sender: sender.clone(),
                reply: bot.settings.reply,
                bytes: room(&bot.settings.nick, &asked.channel.name),
            };
            tasks.spawn(speaker.answer(queue));
            queues.insert(name.clone(), (Arc::clone(asked), questions));
        }
        Self { nick: bot.settings.nick.clone(), queues, _tasks: tasks }
    }

    /// Queues what is asked of the bot in one of its channels. Notices are not answered, nor is anything said in private.
    fn hear(&self, message: &Message) {
        let Sent::PRIVMSG(target, text) = &message.command else { return };
        let Some((asked, questions)) = self.queues.get(&folded(target)) else { return };
        let own = message.source_nickname().is_some_and(|nick| nick.eq_ignore_ascii_case(&self.nick));
        if own {
            return;
        }
        let Some(command) = command::parse(text) else { return };
        if asked.rate.check().is_err() || questions.try_send(command).is_err() {
            tracing::debug!(channel = ?asked.channel.name, "asked too often");
        }
    }
}

/// Who answers in one channel.
struct Speaker {
    asked: Arc<Asked>,
    api: Arc<Api>,
    lines: Arc<DefaultDirectRateLimiter>,
    sender: Sender,
    reply: Reply,
    bytes: usize,
}

impl Speaker {
    async fn answer(self, mut queue: mpsc::Receiver<Command>) {
        while let Some(command) = queue.recv().await {
            let line = speak(&self.line(&command).await, self.bytes);
            if line.is_empty() {
                continue;
            }
            self.lines.until_ready().await;
            let target = &self.asked.channel.name;
            let sent = match self.reply {
                Reply::Notice => self.sender.send_notice(target, &line),
                Reply::Message => self.sender.send_privmsg(target, &line),
            };
            if sent.is_err() {
                return;
            }
            tracing::debug!(channel = ?target, ?command, line, "answered");
        }
    }

    /// What is to be said, before it is cleaned.
    async fn line(&self, command: &Command) -> String {
        let said = match command {
            Command::Help => self.api.sums().await.map(|sums| sums.help()),
            Command::Sum { name, words } => self.sum(name, words).await,
            Command::Plan(question) => match self.plan().await {
                Ok(document) => self.api.plan(*question, document).await,
                Err(say) => Ok(say.to_owned()),
            },
        };
        said.unwrap_or_else(|away| {
            tracing::warn!(%away, because = std::error::Error::source(&away), "no answer from the service");
            away.to_string()
        })
    }

    async fn sum(&self, name: &str, words: &[String]) -> Result<String, crate::api::Away> {
        let sums = self.api.sums().await?;
        let pairs = match sums.find(name) {
            // The service says what name is near.
            None => Vec::new(),
            Some(sum) if words.is_empty() => return Ok(sum.help()),
            Some(sum) => match sum.arguments(words) {
                Ok(pairs) => pairs,
                Err(too_many) => return Ok(too_many.to_string()),
            },
        };
        self.api.sum(name, &pairs).await
    }

    /// The channel's plan as its file has it now.
    async fn plan(&self) -> Result<Vec<u8>, &'static str> {
        let Some(path) = &self.asked.channel.plan else { return Err("this channel has no plan") };
        match read(path).await {
            Ok(document) if document.len() as u64 <= PLAN_BYTES => Ok(document),
            Ok(_) => Err("this channel's plan is too long"),
            Err(error) => {
                tracing::warn!(%error, path = %path.display(), "no plan");
                Err("this channel's plan cannot be read just now")
            }
        }
    }
}

/// A file, or as much of it as tells that it is too long.
async fn read(path: &std::path::Path) -> std::io::Result<Vec<u8>> {
    use tokio::io::AsyncReadExt as _;
    let mut document = Vec::new();
    tokio::fs::File::open(path).await?.take(PLAN_BYTES + 1).read_to_end(&mut document).await?;
    Ok(document)
}
