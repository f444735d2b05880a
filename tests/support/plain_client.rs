//! A client of plain HTTP.

/// The program brings a client that speaks TLS and is told which cryptography to use; this one is, too.
pub fn plain_client() -> reqwest::ClientBuilder {
    let provider = std::sync::Arc::new(rustls::crypto::ring::default_provider());
    let tls = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let tls = tls.expect("versions").with_root_certificates(rustls::RootCertStore::empty()).with_no_client_auth();
    reqwest::Client::builder().tls_backend_preconfigured(tls).no_proxy()
}
