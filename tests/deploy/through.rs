//! What the service takes comes through the proxies, what it refuses it refuses itself, and who asks is who the proxy says.

use reqwest::{Client, Method, Response};

use crate::plain_client::plain_client;
use crate::proxy::{Kind, Proxy};
use crate::replica::{Replica, free_port};

/// Two replicas and a proxy before them.
struct Site {
    client: Client,
    proxy: Proxy,
    _replicas: [Replica; 2],
}

impl Site {
    async fn start(kind: Kind, flags: &[&str]) -> Self {
        let client = plain_client().build().expect("a client");
        let replicas =
            [Replica::start(&client, free_port(), flags).await, Replica::start(&client, free_port(), flags).await];
        let proxy = Proxy::start(kind, [replicas[0].port, replicas[1].port]);
        proxy.lets_through(&client).await;
        Self { client, proxy, _replicas: replicas }
    }

    async fn ask(&self, method: &str, path: &str, body: Vec<u8>) -> Response {
        let method = Method::from_bytes(method.as_bytes()).expect("a method");
        let request = self.client.request(method, format!("{}{path}", self.proxy.base()));
        let request = request.header("content-type", "application/json").body(body);
        request.send().await.unwrap_or_else(|error| panic!("{}: {error:?}", &path[..path.len().min(40)]))
    }
}

#[tokio::test]
async fn what_is_taken_and_what_is_refused_is_for_the_service_to_say() {
    let plan = include_bytes!("../../examples/plans/minimal.json").to_vec();
    for kind in [Kind::Haproxy, Kind::Nginx] {
        let site = Site::start(kind, &[]).await;
        let long = |length: usize| format!("/v1/plan.txt?z={}", "a".repeat(length));
        for (method, path, body, status, begins) in [
            ("GET", "/v1/sums/units-fed.txt?line=10kg/s&each=2kg/s".to_owned(), vec![], 200, "A line feeds 5"),
            ("POST", "/v1/flow-balance.txt".to_owned(), plan.clone(), 200, "Holds"),
            ("QUERY", "/v1/flow-balance.txt".to_owned(), plan.clone(), 200, "Holds"),
            ("GET", long(31 << 10), vec![], 400, "The link does not unpack (400)"),
            ("GET", long(40 << 10), vec![], 414, "Address too long (414)"),
            ("POST", "/v1/plan.txt".to_owned(), vec![b' '; (2 << 20) + 1], 413, "Too large (413)"),
            ("POST", "/v1/plan.txt".to_owned(), b"{".to_vec(), 400, "Not JSON (400)"),
            ("DELETE", "/v1/plan.txt".to_owned(), vec![], 405, "Method not allowed (405)"),
            ("GET", "/metrics".to_owned(), vec![], 404, ""),
            ("GET", "/readyz".to_owned(), vec![], 404, ""),
        ] {
            let response = site.ask(method, &path, body).await;
            let (shown, found) = (&path[..path.len().min(40)], response.status());
            let text = response.text().await.expect("a text");
            let said = format!("{kind:?} {method} {shown}: {found} {}", &text[..text.len().min(200)]);
            assert!(found == status && text.starts_with(begins), "{said}");
        }
    }
}

#[tokio::test]
async fn nobody_escapes_the_rate_limit_under_another_address() {
    for kind in [Kind::Haproxy, Kind::Nginx] {
        let site = Site::start(kind, &["--rate-limit", "10", "--trusted-proxies", "127.0.0.1"]).await;
        let mut turned_away = 0;
        for number in 0..60 {
            let link = format!("{}/v1/sums/units-fed.txt?line=10kg/s&each=2kg/s", site.proxy.base());
            let request = site.client.get(link).header("x-forwarded-for", format!("192.0.2.{number}"));
            turned_away += usize::from(request.send().await.expect("an answer").status() == 429);
        }
        // Two replicas take ten each, and what is let in again while this runs.
        assert!((20..=40).contains(&turned_away), "{kind:?}: {turned_away} of 60 turned away");
    }
}
