//! The bot on a real IRC server: it answers, keeps to its rate, says nothing unclean, and comes back from whatever befalls it.

mod support;

use std::time::{Duration, Instant};

use support::guest::{Guest, said};
use support::ircd::{Ircd, Link};
use support::relay::Relay;
use support::{Bot, PATIENCE, Service, free, settings};

/// How long silence is listened to.
const A_WHILE: Duration = Duration::from_millis(700);

/// Guests in `#kestrel`. A server hears what one connection sends in a short time slowly, so many say little each.
async fn crowd(port: u16, names: &[&str]) -> Vec<Guest> {
    futures_util::future::join_all(names.iter().map(|name| Guest::join(port, name, "#kestrel"))).await
}

/// How long a flood lasts.
const FLOOD: Duration = Duration::from_secs(3);

/// A server, the service, the bot and a guest in `#kestrel`.
async fn hall() -> (Ircd, Service, Bot, Guest) {
    let ircd = Ircd::start("a", Link::None).await;
    let service = Service::start(free());
    let bot = Bot::start(settings(ircd.port, service.address));
    let mut guest = Guest::join(ircd.port, "mira", "#kestrel").await;
    guest.until_bot("#kestrel").await;
    (ircd, service, bot, guest)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sums_and_plans_are_answered_in_one_line() {
    let (ircd, _service, _bot, mut guest) = hall().await;
    let mut voices = crowd(ircd.port, &["a", "b", "c", "d"]).await;
    let mut number = 0;
    let mut ask = async |question: &str| {
        number += 1;
        voices[number % 4].say("#kestrel", question).await;
        guest.told_within("#kestrel", PATIENCE).await.unwrap_or_else(|| panic!("no answer to {question}"))
    };
    for (question, answer) in [
        ("!sum units-needed 2.5kg/s 300g/s", "9 units: 2.5 kg/s ÷ 300 g/s = 8.33, the ninth runs at 33 %."),
        ("!sum units-needed each=300 g/s 2.5 kg/s", "9 units: 2.5 kg/s ÷ 300 g/s = 8.33, the ninth runs at 33 %."),
        (
            "!sum set-point-window 32 °F 14 K boils=100 °C",
            "From 14 °C to 100 °C, best 17 °C: 0 °C + 14 K drop at least.",
        ),
        (
            "!sum sequent-peak 12, 8, 6, 15, 10 t/day 10 t/day 1 day",
            "A store of 6 t keeps up 115.7 g/s, over and over.",
        ),
        ("!sum units-needed", "units-needed: flow each; such as !sum units-needed 2.5 kg/s 300 g/s"),
        ("!sum units-needed 1 2 3", "units-needed takes flow each, in this order or as name=value"),
    ] {
        assert_eq!(ask(question).await, answer, "{question}");
    }
    for (question, begins) in [
        ("!plan flow-balance", "Holds: 5 × burner, 9 × garden bed, 8 × absorber, 5 × kiln;"),
        ("!plan", "Holds: "),
        ("!sum unit-needed 1 2", "Not found (404): there is no such sum; did you mean units-needed?"),
        ("!sum units-needed 2.5kg/s", "Cannot be read (422): "),
        (
            "!help",
            "Ask !plan, or !sum and one of these with its arguments, such as !sum units-needed 2.5 kg/s 300 g/s, of ",
        ),
    ] {
        let answer = ask(question).await;
        assert!(answer.starts_with(begins) && answer.len() <= 400, "{question}: {answer}");
    }
    let mut other = Guest::join(ircd.port, "tove", "#empty").await;
    other.until_bot("#empty").await;
    assert_eq!(other.ask("#EMPTY", "!plan").await, "this channel has no plan");
    // A notice is answered by no program, or two of them would never stop; nor is what is said in private.
    other.send(b"NOTICE #empty :!plan\r\nPRIVMSG hotwell :!plan\r\nPRIVMSG #empty :so I said !plan\r\n").await;
    assert_eq!(other.told_within("#empty", A_WHILE).await, None);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn in_a_flood_it_keeps_to_its_rate_and_stays() {
    let ircd = Ircd::start("a", Link::None).await;
    let service = Service::start(free());
    let mut slow = settings(ircd.port, service.address);
    slow.every = Duration::from_secs(1);
    slow.burst = std::num::NonZeroU32::new(2).expect("not zero");
    let _bot = Bot::start(slow);
    let mut listener = Guest::join(ircd.port, "mira", "#kestrel").await;
    listener.until_bot("#kestrel").await;
    let mut crowd = crowd(ircd.port, &["a", "b", "c", "d", "e", "f"]).await;
    let began = Instant::now();
    for guest in &mut crowd {
        for _ in 0..15 {
            guest.say("#kestrel", "!sum units-needed 2.5kg/s 300g/s").await;
        }
    }
    let (mut asked, mut answered) = (0_u32, 0_u32);
    while began.elapsed() < FLOOD {
        let Some(line) = listener.line(FLOOD.saturating_sub(began.elapsed())).await else { break };
        assert!(!line.starts_with(":hotwell") || !line.contains(" QUIT"), "{line}");
        asked += u32::from(line.contains("PRIVMSG #kestrel :!sum"));
        answered += u32::from(said(&line, "#kestrel").is_some());
    }
    // Two at once and one a second after; one more for the edge of the last second.
    assert!(asked > 20, "no flood: {asked} questions");
    assert!((3..=2 + 3 + 1).contains(&answered), "{answered} answers to {asked} questions");
    drop(crowd);
    // What the server still holds of the flood comes late and takes turns too: silence for two seconds gives both of them back.
    while listener.line(Duration::from_secs(2)).await.is_some() {}
    let answer = listener.ask("#kestrel", "!sum units-fed 10kg/s 2kg/s").await;
    assert!(answer.starts_with("A line feeds 5 units"), "{answer}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn hostile_texts_neither_stop_it_nor_come_back() {
    let (ircd, _service, _bot, mut guest) = hall().await;
    // What one connection sends in a short time is heard slowly, so each hardly says anything.
    let mut rude = crowd(ircd.port, &["`^[]{}|-", "bytes", "ctcp", "parts", "asks", "more"]).await;
    for (rude, sent) in rude.iter_mut().zip([
        &b"TOPIC #kestrel :\x0304!sum \xff\xfe units\xe2\x80\xae-needed 1 2\r\nNICK `````\r\n"[..],
        b"PRIVMSG #kestrel :\xff\xfe\xfd !sum\r\nPRIVMSG #kestrel :!sum \xc3\x28\r\n",
        b"PRIVMSG #kestrel :\x01VERSION\x01\r\nPRIVMSG #kestrel :\x01!plan\x01\r\n",
        b"MODE #kestrel +b\r\nPART #kestrel :\x02\x0304\xe2\x80\xae\xff\r\n",
    ]) {
        rude.send(sent).await;
    }
    guest.until("the last of them", |line| line.contains(" PART ")).await;
    assert_eq!(guest.told_within("#kestrel", A_WHILE).await, None, "nobody asked anything");
    let mut asked = 0;
    for question in [
        "!sum units-needed flow=\u{3}04,12!quit\u{202e}gnp.exe each=\u{2}\u{200b}/me",
        "!sum units-needed !\u{1}x\u{1} @everyone",
        "!sum row-fit \u{3}4\u{3} 3 \u{1f525}\u{300}\u{301}\u{302}\u{303}\u{304}\u{305}",
        "!sum ../../readyz",
        "!sum units-needed z\u{300}\u{301}\u{302}\u{303}\u{304}\u{305}=1",
        &format!("!sum units-needed {}", "\u{1f525}".repeat(90)),
    ] {
        asked += 1;
        rude[4 + asked % 2].say("#kestrel", question).await;
        let answer =
            guest.told_within("#kestrel", PATIENCE).await.unwrap_or_else(|| panic!("no answer to {question:?}"));
        assert!(!answer.is_empty() && answer.len() <= 400, "{answer}");
        assert_eq!(answer, hotwell_bot::line::clean(&answer), "{question:?}");
        assert!(!answer.contains(|next: char| next.is_control() || "\u{200b}\u{202e}".contains(next)), "{answer:?}");
        assert!(!answer.starts_with(['!', '/', '@', '.']), "{answer}");
    }
    let answer = guest.ask("#kestrel", "\u{2}!sum \u{202e}units-fed \u{3}4,1210kg/s\u{f} 2kg/s").await;
    assert!(answer.starts_with("A line feeds 5 units"), "what is hidden in it does not matter: {answer}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn after_a_netsplit_it_is_there_for_both_sides_even_robbed_of_its_name() {
    let far = Ircd::start("b", Link::From).await;
    let relay = Relay::to(far.port).await;
    let near = Ircd::start("a", Link::To(relay.port)).await;
    let service = Service::start(free());
    let _bot = Bot::start(settings(near.port, service.address));
    let mut here = Guest::join(near.port, "mira", "#kestrel").await;
    here.until_bot("#kestrel").await;
    let mut there = Guest::join(far.port, "tove", "#kestrel").await;
    there.until_bot("#kestrel").await;
    let question = "!sum units-fed 10kg/s 2kg/s";
    assert!(there.ask("#kestrel", question).await.starts_with("A line feeds 5 units"));

    relay.cut();
    there.until("the split", |line| line.starts_with(":hotwell") && line.contains(" QUIT ")).await;
    there.say("#kestrel", question).await;
    assert_eq!(there.told_within("#kestrel", A_WHILE).await, None, "nobody is there to answer");
    assert!(here.ask("#kestrel", question).await.starts_with("A line feeds 5 units"), "the near side goes on");
    // On the far side someone takes the bot's name; when the sides meet, the servers throw out both.
    let _thief = Guest::join(far.port, "hotwell", "#kestrel").await;

    relay.mend();
    here.until("being thrown out", |line| {
        line.starts_with(":hotwell!") && (line.contains(" QUIT ") || line.contains("KILL"))
    })
    .await;
    let start = Instant::now();
    loop {
        here.say("#kestrel", question).await;
        if here.told_within("#kestrel", Duration::from_secs(1)).await.is_some() {
            break;
        }
        assert!(start.elapsed() < PATIENCE, "the bot does not come back");
    }
    there.until_bot("#kestrel").await;
    assert!(there.ask("#kestrel", question).await.starts_with("A line feeds 5 units"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn it_comes_back_when_the_server_does_and_leaves_when_told_to() {
    let (mut ircd, _service, mut bot, guest) = hall().await;
    drop(guest);
    ircd.restart(Duration::from_millis(600)).await;
    let mut guest = Guest::join(ircd.port, "mira", "#kestrel").await;
    guest.until_bot("#kestrel").await;
    assert!(guest.ask("#kestrel", "!plan flow-balance").await.starts_with("Holds: "));
    drop(bot.stop.take());
    guest
        .until("a farewell", |line| line.starts_with(":hotwell") && line.contains("QUIT") && line.contains("stopped"))
        .await;
    tokio::time::timeout(PATIENCE, bot.task).await.expect("it ends").expect("well");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_taken_name_gets_a_digit() {
    let ircd = Ircd::start("a", Link::None).await;
    let _holder = Guest::join(ircd.port, "hotwell", "#hold").await;
    let service = Service::start(free());
    let _bot = Bot::start(settings(ircd.port, service.address));
    let mut guest = Guest::join(ircd.port, "mira", "#kestrel").await;
    guest.until("the bot", |line| line.starts_with(":hotwell1!") && line.contains("JOIN")).await;
    assert!(guest.ask("#kestrel", "!plan flow-balance").await.starts_with("Holds: "));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_the_service_it_says_so_and_with_it_again_it_answers() {
    let (_ircd, service, _bot, mut guest) = hall().await;
    let address = service.address;
    let question = "!sum units-fed 10kg/s 2kg/s";
    assert!(guest.ask("#kestrel", question).await.starts_with("A line feeds 5 units"));
    service.end().await;
    assert_eq!(guest.ask("#kestrel", question).await, "the calculator does not answer, ask again in a moment");
    assert_eq!(guest.ask("#kestrel", "!plan").await, "the calculator does not answer, ask again in a moment");
    let _service = Service::start(address);
    assert!(guest.ask("#kestrel", question).await.starts_with("A line feeds 5 units"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_a_proxy_says_in_its_stead_is_not_passed_on() {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    let ircd = Ircd::start("a", Link::None).await;
    let proxy = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let mut hasty = settings(ircd.port, proxy.local_addr().expect("an address"));
    hasty.patience = Duration::from_millis(500);
    let _bot = Bot::start(hasty);
    let mut guest = Guest::join(ircd.port, "mira", "#kestrel").await;
    guest.until_bot("#kestrel").await;
    let page = "content-type: text/html\r\ncontent-length: 12\r\n\r\n<h1>502</h1>";
    let long = format!("content-type: text/plain\r\ncontent-length: 9000\r\n\r\n{}", "x".repeat(9000));
    let answers = [
        (format!("HTTP/1.1 502 Bad Gateway\r\n{page}"), "the calculator is away (status 502), ask again in a moment"),
        (format!("HTTP/1.1 200 OK\r\n{page}"), "the calculator is away (status 200), ask again in a moment"),
        (format!("HTTP/1.1 503 Busy\r\nretry-after: 7\r\n{page}"), "the calculator is busy, ask again in 7 s"),
        (
            format!("HTTP/1.1 302 Found\r\nlocation: http://127.0.0.1:1/\r\n{page}"),
            "the calculator is away (status 302), ask again in a moment",
        ),
        (format!("HTTP/1.1 200 OK\r\n{long}"), "the calculator says too much"),
        (String::new(), "the calculator does not answer, ask again in a moment"),
    ];
    for (answer, said) in answers {
        guest.say("#kestrel", "!plan").await;
        let (mut stream, _) =
            tokio::time::timeout(PATIENCE, proxy.accept()).await.expect("asked").expect("a connection");
        let mut head = [0; 4096];
        let read = stream.read(&mut head).await.expect("read");
        assert!(head[..read].starts_with(b"POST /v1/plan.txt HTTP/1.1\r\n"));
        if !answer.is_empty() {
            // A connection that is kept would take the next question.
            let answer = answer.replacen("\r\n", "\r\nconnection: close\r\n", 1);
            stream.write_all(answer.as_bytes()).await.expect("sent");
        }
        assert_eq!(guest.told_within("#kestrel", PATIENCE).await.as_deref(), Some(said));
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn it_waits_longer_each_time_it_is_turned_away() {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let mut often = settings(listener.local_addr().expect("an address").port(), free());
    often.least_wait = Duration::from_millis(100);
    often.most_wait = Duration::from_millis(400);
    let _bot = Bot::start(often);
    let mut came = Vec::new();
    for _ in 0..6 {
        let (stream, _) =
            tokio::time::timeout(PATIENCE, listener.accept()).await.expect("in time").expect("a connection");
        drop(stream);
        came.push(Instant::now());
    }
    for (gap, least) in came.windows(2).map(|pair| pair[1] - pair[0]).zip([100, 200, 400, 400, 400]) {
        let least = Duration::from_millis(least);
        // Up to as much longer by chance, and what a busy machine adds.
        assert!(gap >= least.mul_f64(0.95) && gap <= least * 2 + Duration::from_millis(300), "{gap:?} for {least:?}");
    }
}
