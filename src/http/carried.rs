//! The headers that answers carry, made once: copying a map of them takes a fraction of putting each into its place.

use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG, HeaderMap, HeaderName, HeaderValue,
    REFERRER_POLICY, VARY, X_CONTENT_TYPE_OPTIONS,
};
use std::time::Duration;

use crate::http::cors::let_any_read;
use crate::http::ids::REQUEST_ID;
use crate::http::settings::{Origins, Settings};

const RESOURCE_POLICY: HeaderName = HeaderName::from_static("cross-origin-resource-policy");

/// What may be loaded by anything that is served and does not say otherwise: nothing.
const CLOSED: HeaderValue = HeaderValue::from_static("default-src 'none'; frame-ancestors 'none'");

/// What stands where each answer has its own.
const BLANK: HeaderValue = HeaderValue::from_static("");

/// Headers that are the same for all answers, with a blank for each that differs.
pub struct Carried {
    all: HeaderMap,
    questions: HeaderMap,
}

impl Carried {
    /// What is carried under these settings.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let mut all = HeaderMap::new();
        all.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
        all.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
        all.insert(RESOURCE_POLICY, HeaderValue::from_static("cross-origin"));
        all.insert(CONTENT_SECURITY_POLICY, CLOSED);
        all.insert(REQUEST_ID, BLANK);
        if matches!(settings.origins, Origins::Any) {
            let_any_read(&mut all);
        }
        let mut questions = all.clone();
        questions.insert(CONTENT_TYPE, BLANK);
        questions.insert(ETAG, BLANK);
        questions.insert(CACHE_CONTROL, cache_control(settings.max_age));
        questions.insert(VARY, ACCEPT_ENCODING.into());
        Self { all, questions }
    }

    /// What the answer to a question begins with: its media type, its tag and its request's id are still to be filled in.
    #[must_use]
    pub fn to_a_question(&self) -> HeaderMap {
        self.questions.clone()
    }

    /// Adds what every answer carries to those that did not begin with it, where they do not say otherwise. The request's id is
    /// still to be filled in.
    pub fn add_to(&self, headers: &mut HeaderMap) {
        if headers.contains_key(REQUEST_ID) {
            return;
        }
        headers.reserve(self.all.len());
        for (name, value) in &self.all {
            headers.entry(name).or_insert_with(|| value.clone());
        }
    }
}

fn cache_control(max_age: Duration) -> HeaderValue {
    if max_age.is_zero() {
        return HeaderValue::from_static("no-cache");
    }
    // Digits and plain words are valid in a header.
    HeaderValue::try_from(format!("public, max-age={}", max_age.as_secs()))
        .unwrap_or_else(|_| HeaderValue::from_static("no-cache"))
}
