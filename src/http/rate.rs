//! How many requests one client may send, where the operator sets it.
//!
//! A bucket of as many requests as may be sent in a minute, which fills evenly. What is left is told in the fields `RateLimit-Policy`
//! and `RateLimit` of draft-ietf-httpapi-ratelimit-headers-10. Who the client is, a proxy says in `X-Forwarded-For`; it is believed
//! if it is one that the operator trusts, and no further.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use axum::http::{HeaderMap, HeaderName, HeaderValue};
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::state::keyed::HashMapStateStore;
use governor::{Quota, RateLimiter};
use ipnet::IpNet;

use crate::http::problem::{Kind, Problem};

const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");
const POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
const STANDING: HeaderName = HeaderName::from_static("ratelimit");

/// The seconds in which a bucket fills.
const WINDOW: u32 = 60;
/// Clients that are told apart at a time.
const CLIENTS: usize = 100_000;

/// A client as it is told apart: a network of 64 bits is one, since that is what one subscriber is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Client {
    V4(Ipv4Addr),
    /// The upper half.
    V6(u64),
    /// All who come while so many are known already.
    Crowd,
}

impl From<IpAddr> for Client {
    fn from(address: IpAddr) -> Self {
        match address.to_canonical() {
            IpAddr::V4(address) => Self::V4(address),
            IpAddr::V6(address) => Self::V6((address.to_bits() >> 64) as u64),
        }
    }
}

/// What each client may send.
pub struct Rate {
    buckets: RateLimiter<Client, HashMapStateStore<Client>, DefaultClock, StateInformationMiddleware>,
    clock: DefaultClock,
    quota: u32,
    trusted: Vec<IpNet>,
    began: Instant,
    /// The second since then in which clients were last forgotten.
    swept: AtomicU64,
}

/// What a client may send still.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    quota: u32,
    left: u32,
}

impl Rate {
    /// `per_minute` requests for each client; nothing for none. Proxies in `trusted` are believed.
    #[must_use]
    pub fn new(per_minute: u32, trusted: Vec<IpNet>) -> Option<Self> {
        let quota = NonZeroU32::new(per_minute)?;
        let every = Duration::from_secs(u64::from(WINDOW)) / per_minute;
        let bucket = Quota::with_period(every)?.allow_burst(quota);
        Some(Self {
            buckets: RateLimiter::hashmap(bucket).with_middleware(),
            clock: DefaultClock::default(),
            quota: per_minute,
            trusted,
            began: Instant::now(),
            swept: AtomicU64::new(0),
        })
    }

    /// Counts a request.
    ///
    /// # Errors
    /// 429 with when to come again.
    pub fn check(&self, peer: IpAddr, headers: &HeaderMap) -> (Standing, Result<(), Problem>) {
        let client = self.known(client(peer, headers, &self.trusted).into());
        match self.buckets.check_key(&client) {
            Ok(state) => (self.standing(state.remaining_burst_capacity()), Ok(())),
            Err(until) => {
                let wait = until.wait_time_from(self.clock.now()).as_secs_f64();
                let detail = "more requests than one client may send in a minute";
                let limit = f64::from(self.quota);
                let problem = Problem::limit(Kind::RateLimited, "rate-limit", limit, "requests a minute", detail);
                (self.standing(0), Err(problem.retry_after(wait)))
            }
        }
    }

    fn standing(&self, left: u32) -> Standing {
        Standing { quota: self.quota, left }
    }

    /// Forgets who has not come of late when there are too many, at most once a second, for it looks at all of them; when that does
    /// not help, all share one bucket.
    fn known(&self, client: Client) -> Client {
        if self.buckets.len() < CLIENTS {
            return client;
        }
        let second = self.began.elapsed().as_secs() + 1;
        if self.swept.swap(second, Ordering::Relaxed) != second {
            self.buckets.retain_recent();
        }
        if self.buckets.len() < CLIENTS { client } else { Client::Crowd }
    }
}

impl Standing {
    /// Tells it.
    pub fn add_headers(self, headers: &mut HeaderMap) {
        let Self { quota, left } = self;
        // Until the bucket is full again.
        let full = (u64::from(quota - left.min(quota)) * u64::from(WINDOW)).div_ceil(u64::from(quota));
        for (name, text) in
            [(POLICY, format!("\"client\";q={quota};w={WINDOW}")), (STANDING, format!("\"client\";r={left};t={full}"))]
        {
            // Digits and plain words are valid in a header.
            headers.extend(HeaderValue::try_from(text).ok().map(|value| (name, value)));
        }
    }
}

/// Who sent a request: the nearest address that is no trusted proxy.
fn client(peer: IpAddr, headers: &HeaderMap, trusted: &[IpNet]) -> IpAddr {
    let is_trusted = |address: IpAddr| trusted.iter().any(|net| net.contains(&address));
    let mut client = peer.to_canonical();
    let lines = headers.get_all(FORWARDED_FOR).iter().rev();
    let mut hops = lines.flat_map(|line| line.to_str().unwrap_or("?").rsplit(','));
    while is_trusted(client) {
        // What cannot be read was not written by the proxy that is trusted to write it.
        let Some(before) = hops.next().and_then(|hop| address(hop.trim())) else { break };
        client = before;
    }
    client
}

/// An address as proxies write it: alone, with a port, or in brackets.
fn address(text: &str) -> Option<IpAddr> {
    let bare = text.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(text);
    let address = bare.parse::<IpAddr>().ok().or_else(|| text.parse::<SocketAddr>().ok().map(|socket| socket.ip()));
    address.map(|address| address.to_canonical())
}

/// `10.0.0.0/8, ::1`, or `none`.
///
/// # Errors
/// What is no address and no network.
pub fn networks(text: &str) -> Result<Vec<IpNet>, String> {
    let text = text.trim();
    if text.is_empty() || text == "none" {
        return Ok(Vec::new());
    }
    let one = |part: &str| {
        let part = part.trim();
        part.parse::<IpNet>()
            .or_else(|_| part.parse::<IpAddr>().map(IpNet::from))
            .map_err(|_| format!("{part:?} is no address and no network such as 10.0.0.0/8"))
    };
    text.split(',').map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ip(text: &str) -> IpAddr {
        text.parse().expect("an address")
    }

    fn forwarded(lines: &[&str]) -> HeaderMap {
        lines.iter().map(|line| (FORWARDED_FOR, HeaderValue::try_from(*line).expect("a value"))).collect()
    }

    #[test]
    fn a_proxy_is_believed_as_far_as_it_is_trusted() {
        let trusted = networks("10.0.0.0/8, ::1").expect("networks");
        for (peer, lines, expected) in [
            ("192.0.2.7", &["198.51.100.1"][..], "192.0.2.7"),
            ("10.0.0.1", &["198.51.100.1"], "198.51.100.1"),
            ("::ffff:10.0.0.1", &["198.51.100.1"], "198.51.100.1"),
            ("::1", &["203.0.113.9, 198.51.100.1, 10.2.3.4"], "198.51.100.1"),
            ("10.0.0.1", &["203.0.113.9", "198.51.100.1:4711", "10.9.9.9"], "198.51.100.1"),
            ("10.0.0.1", &["[2001:db8::5]:80"], "2001:db8::5"),
            ("10.0.0.1", &["[2001:db8::5]"], "2001:db8::5"),
            ("10.0.0.1", &["198.51.100.1, unknown"], "10.0.0.1"),
            ("10.0.0.1", &["198.51.100.1, unknown, 10.4.4.4"], "10.4.4.4"),
            ("10.0.0.1", &[], "10.0.0.1"),
            ("10.0.0.1", &["10.0.0.2, 10.0.0.3"], "10.0.0.2"),
            ("10.0.0.1", &[""], "10.0.0.1"),
        ] {
            assert_eq!(client(ip(peer), &forwarded(lines), &trusted), ip(expected), "{peer} {lines:?}");
        }
        assert_eq!(client(ip("10.0.0.1"), &forwarded(&["198.51.100.1"]), &[]), ip("10.0.0.1"));
    }

    #[test]
    fn each_client_has_a_bucket() {
        let rate = Rate::new(3, Vec::new()).expect("a limit");
        let ask = |address| rate.check(ip(address), &HeaderMap::new());
        for left in [2, 1, 0] {
            let (standing, told) = ask("192.0.2.1");
            assert_eq!(standing, Standing { quota: 3, left });
            assert!(told.is_ok());
        }
        let (standing, told) = ask("192.0.2.1");
        assert_eq!((standing.left, told.expect_err("too many").kind), (0, Kind::RateLimited));
        assert!(ask("192.0.2.2").1.is_ok());
        assert!(ask("2001:db8::1").1.is_ok());
        let (standing, _) = ask("2001:db8::2");
        assert_eq!(standing.left, 1, "the same network of 64 bits");
        assert!(Rate::new(0, Vec::new()).is_none());
        assert!(Rate::new(u32::MAX, Vec::new()).is_some());
    }

    #[test]
    fn what_is_left_is_told_as_the_draft_has_it() {
        let mut headers = HeaderMap::new();
        Standing { quota: 120, left: 90 }.add_headers(&mut headers);
        assert_eq!(headers[POLICY], "\"client\";q=120;w=60");
        assert_eq!(headers[STANDING], "\"client\";r=90;t=15");
    }

    #[test]
    fn networks_are_read() {
        assert_eq!(networks(" none "), Ok(Vec::new()));
        assert_eq!(networks("192.0.2.1, 2001:db8::/32").map(|all| all.len()), Ok(2));
        assert!(
            networks("10.0.0.0/33").is_err() && networks("proxy.example").is_err() && networks("10.0.0.1,").is_err()
        );
    }
}
