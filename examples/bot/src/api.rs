//! Asking the service, within a time and a size.

use std::sync::Arc;
use std::time::{Duration, Instant};

use reqwest::header::{CONTENT_TYPE, RETRY_AFTER};
use reqwest::{Client, RequestBuilder, Response, Url};
use rustls_platform_verifier::BuilderVerifierExt as _;
use tokio::sync::Mutex;

use crate::command::Question;
use crate::sums::Sums;

/// The longest answer read: a line is at most 400 bytes.
const LINE_BYTES: usize = 4 << 10;
/// The longest list of sums read.
const LIST_BYTES: usize = 1 << 20;
/// How long the list of sums is used without asking for it again.
const LIST_AGE: Duration = Duration::from_secs(300);

/// Why there is no answer to say.
#[derive(Debug, thiserror::Error)]
pub enum Away {
    /// Nobody answered in time.
    #[error("the calculator does not answer, ask again in a moment")]
    Silent(#[source] reqwest::Error),
    /// Something answered, and not with a line.
    #[error("the calculator is away (status {0}), ask again in a moment")]
    Other(u16),
    /// It is too busy.
    #[error("the calculator is busy, ask again in {0} s")]
    Busy(u16),
    /// The answer is too long to be one.
    #[error("the calculator says too much")]
    Long,
    /// The list of sums is none.
    #[error("the calculator's list of sums cannot be read")]
    NoList(#[source] serde_json::Error),
}

/// The bot cannot ask at all.
#[derive(Debug, thiserror::Error)]
pub enum Unusable {
    /// The address of the service is none.
    #[error("{0} is not the address of a service, such as http://localhost:8080")]
    Address(String),
    /// There is no TLS.
    #[error("cannot speak TLS")]
    Tls(#[from] rustls::Error),
    /// There is no client.
    #[error("cannot ask over HTTP")]
    Client(#[from] reqwest::Error),
}

/// The service, asked over HTTP.
#[derive(Debug)]
pub struct Api {
    client: Client,
    base: Url,
    sums: Mutex<Option<(Instant, Arc<Sums>)>>,
}

impl Api {
    /// The service at an address, each of whose answers may take so long.
    ///
    /// # Errors
    /// [`Unusable`] where the address is no http(s) address, or this machine cannot say whom it trusts.
    pub fn new(service: &str, patience: Duration) -> Result<Self, Unusable> {
        let none = || Unusable::Address(service.to_owned());
        let base = Url::parse(service).map_err(|_| none())?;
        if !matches!(base.scheme(), "http" | "https") || base.cannot_be_a_base() {
            return Err(none());
        }
        // The provider of cryptography is named here, not set for the whole process.
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let tls = rustls::ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .with_platform_verifier()?
            .with_no_client_auth();
        let client = Client::builder()
            .tls_backend_preconfigured(tls)
            .timeout(patience)
            .redirect(reqwest::redirect::Policy::none())
            .build()?;
        Ok(Self { client, base, sums: Mutex::new(None) })
    }

    /// The line of a sum.
    ///
    /// # Errors
    /// [`Away`] where there is no line.
    pub async fn sum(&self, name: &str, pairs: &[(String, String)]) -> Result<String, Away> {
        let mut url = self.url(&["v1", "sums", &format!("{name}.txt")]);
        if !pairs.is_empty() {
            url.query_pairs_mut().extend_pairs(pairs);
        }
        self.line(self.client.get(url)).await
    }

    /// The line of a question about a plan.
    ///
    /// # Errors
    /// [`Away`] where there is no line.
    pub async fn plan(&self, question: Question, document: Vec<u8>) -> Result<String, Away> {
        let url = self.url(&["v1", &format!("{}.txt", question.name())]);
        self.line(self.client.post(url).header(CONTENT_TYPE, "application/json").body(document)).await
    }

    /// The list of sums. One that was read before stands in while the service is away.
    ///
    /// # Errors
    /// [`Away`] where there is none.
    pub async fn sums(&self) -> Result<Arc<Sums>, Away> {
        let mut kept = self.sums.lock().await;
        if let Some((read, sums)) = kept.as_ref()
            && read.elapsed() < LIST_AGE
        {
            return Ok(Arc::clone(sums));
        }
        match (self.list().await, kept.as_ref()) {
            (Ok(sums), _) => {
                let sums = Arc::new(sums);
                *kept = Some((Instant::now(), Arc::clone(&sums)));
                Ok(sums)
            }
            (Err(_), Some((_, sums))) => Ok(Arc::clone(sums)),
            (Err(away), None) => Err(away),
        }
    }

    async fn list(&self) -> Result<Sums, Away> {
        let response = self.client.get(self.url(&["v1", "sums.json"])).send().await.map_err(Away::Silent)?;
        if response.status() != 200 {
            return Err(Away::Other(response.status().as_u16()));
        }
        serde_json::from_slice(&bytes(response, LIST_BYTES).await?).map_err(Away::NoList)
    }

    /// What the service says, be it an answer or what was wrong with the question. What a proxy says in its stead is not
    /// passed on.
    async fn line(&self, request: RequestBuilder) -> Result<String, Away> {
        let response = request.send().await.map_err(Away::Silent)?;
        let status = response.status().as_u16();
        let header = |name| response.headers().get(name).and_then(|value| value.to_str().ok());
        let is_line = header(CONTENT_TYPE).is_some_and(|kind| kind.starts_with("text/plain"));
        if status == 429 || status == 503 {
            let wait = header(RETRY_AFTER).and_then(|wait| wait.parse().ok());
            return Err(wait.map_or(Away::Other(status), Away::Busy));
        }
        if !is_line || !matches!(status, 200 | 400..=499) {
            return Err(Away::Other(status));
        }
        let line = bytes(response, LINE_BYTES).await?;
        Ok(String::from_utf8_lossy(&line).into_owned())
    }

    fn url(&self, path: &[&str]) -> Url {
        let mut url = self.base.clone();
        // The address can be a base, as was looked at when it was taken.
        if let Ok(mut segments) = url.path_segments_mut() {
            segments.pop_if_empty().extend(path);
        }
        url
    }
}

/// A body of at most so many bytes.
async fn bytes(mut response: Response, most: usize) -> Result<Vec<u8>, Away> {
    let mut all = Vec::new();
    while let Some(part) = response.chunk().await.map_err(Away::Silent)? {
        if all.len() + part.len() > most {
            return Err(Away::Long);
        }
        all.extend_from_slice(&part);
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_put_together() {
        for (service, expected) in [
            ("http://localhost:8080", "http://localhost:8080/v1/sums/a%2F..%3Fb.txt"),
            ("https://example.test/hotwell/", "https://example.test/hotwell/v1/sums/a%2F..%3Fb.txt"),
        ] {
            let api = Api::new(service, Duration::from_secs(1)).expect("an address");
            assert_eq!(api.url(&["v1", "sums", "a/..?b.txt"]).as_str(), expected);
        }
        for service in ["localhost:8080", "ftp://localhost", "data:x", ""] {
            assert!(matches!(Api::new(service, Duration::from_secs(1)), Err(Unusable::Address(_))), "{service}");
        }
    }
}
