//! The kinds of problem, each declared once with its status, title and help.

use axum::http::StatusCode;

/// Declares the kinds of problem: one entry holds all that is fixed about it.
macro_rules! kinds {
    ($($(#[doc = $doc:literal])+ $name:ident: $status:literal $code:literal $title:literal;)+) => {
        /// The kinds of problem. Their codes are stable: programs may act on them.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Kind { $($(#[doc = $doc])+ $name,)+ }

        impl Kind {
            /// All kinds, in the order of their statuses.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// The stable code, the last part of the type URI.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)+ }
            }

            /// The type URI, relative to the service: a page there tells more.
            #[must_use]
            pub const fn type_uri(self) -> &'static str {
                match self { $(Self::$name => concat!("/problems/", $code),)+ }
            }

            /// The title: the same for every occurrence.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)+ }
            }

            /// The HTTP status.
            #[must_use]
            pub fn status(self) -> StatusCode {
                let number: u16 = match self { $(Self::$name => $status,)+ };
                StatusCode::from_u16(number).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
            }

            /// What its page at `/problems/{code}` says.
            #[must_use]
            pub const fn help(self) -> &'static str {
                match self { $(Self::$name => concat!($($doc, "\n",)+),)+ }
            }
        }
    };
}

kinds! {
    /// What came is no request of HTTP/1.1 (RFC 9112): its first line or a header cannot be read, or two headers are at odds about
    /// where it ends. The connection is closed. Asking for `https` where only `http` is spoken looks like this too.
    NotHttp: 400 "not-http" "Not a request";
    /// The body, or what the link packs, is not JSON (RFC 8259). `line` and `column` count from 1 and point at the
    /// first character that cannot be read.
    NotJson: 400 "not-json" "Not JSON";
    /// The parameter `z` is not a packed document. Pack it so: the JSON bytes through zlib (RFC 1950), then base64url
    /// (RFC 4648, section 5) without padding.
    BadPacking: 400 "bad-packing" "The link does not unpack";
    /// The connection broke, or the body's framing was wrong, before the whole body was there.
    BrokenBody: 400 "broken-body" "The body ended too early";
    /// There is nothing at this path. `/` says what there is.
    NotFound: 404 "not-found" "Not found";
    /// The path is right and the method is not. The header `Allow` lists the methods that work.
    MethodNotAllowed: 405 "method-not-allowed" "Method not allowed";
    /// None of the forms named by the header `Accept` can be given. Questions and sums come as `application/json`,
    /// `text/plain` and `image/svg+xml`; a suffix (`.json`, `.txt`, `.svg`) chooses without any header.
    NotAcceptable: 406 "not-acceptable" "No such form";
    /// The body did not arrive within its time.
    SlowBody: 408 "slow-body" "The body took too long";
    /// The client already holds this answer and asked with POST, which may not be answered 304 (RFC 9110,
    /// section 13.1.2). Use GET or QUERY with `If-None-Match`, or leave the header out.
    PreconditionFailed: 412 "precondition-failed" "Precondition failed";
    /// The document is larger than the limit named in `limit`, as sent or as unpacked.
    TooLarge: 413 "too-large" "Too large";
    /// The request line is longer than the limit named in `limit`. Send the document as a body instead.
    UriTooLong: 414 "uri-too-long" "Address too long";
    /// The body must be `application/json`, without a content encoding.
    UnsupportedMediaType: 415 "unsupported-media-type" "Unsupported media type";
    /// The document or the parameters cannot be read as what was asked. `faults` lists each fault with its place (a
    /// JSON pointer, RFC 6901, or a parameter), what was found, what was expected, and a near name.
    Unreadable: 422 "unreadable" "Cannot be read";
    /// The document nests deeper than the limit named in `limit`.
    TooDeep: 422 "too-deep" "Nested too deep";
    /// The calculation needs more steps than the limit named in `limit`. Asking again will not help: make the plan
    /// smaller, or raise the limit where you run the service.
    StepLimit: 422 "step-limit" "Too much to reckon";
    /// Some number of the reckoning lies beyond what can be reckoned with, because the plan mixes very large and very small
    /// ones. Asking again will not help.
    BeyondRange: 422 "beyond-range" "Beyond what can be reckoned with";
    /// This client sent more requests than one may. `RateLimit-Policy` says how many may be sent in how many seconds, `RateLimit` what
    /// is left; ask again after `Retry-After` seconds.
    RateLimited: 429 "rate-limited" "Too many requests";
    /// The header section, or the one header named in `limit`, is larger than the limit.
    HeadersTooLarge: 431 "headers-too-large" "Headers too large";
    /// Something is wrong in the service, not in the request. The request id finds it in the log.
    Internal: 500 "internal" "Internal error";
    /// All calculators are busy, and the calculation would have to wait for longer than is of use: `limit` says which wait is too
    /// long. Ask again after `Retry-After` seconds.
    Busy: 503 "busy" "Busy";
    /// The answer was not ready within the limit named in `limit`.
    TimeLimit: 503 "time-limit" "Out of time";
    /// The service is shutting down: traffic should go elsewhere.
    NotReady: 503 "not-ready" "Not ready";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_and_statuses_are_each_declared_once() {
        let mut codes: Vec<_> = Kind::ALL.iter().map(|kind| kind.code()).collect();
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), Kind::ALL.len());
        for kind in Kind::ALL {
            assert!(kind.type_uri().ends_with(kind.code()));
            assert!(kind.status().is_client_error() || kind.status().is_server_error());
            assert_eq!(kind.status() == StatusCode::INTERNAL_SERVER_ERROR, *kind == Kind::Internal);
            assert!(kind.help().trim().ends_with('.'), "{kind:?}");
        }
    }
}
