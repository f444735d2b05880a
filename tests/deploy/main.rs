//! What `deploy/` holds, against the program: settings that exist, metrics that exist, proxies that take their configuration, and
//! restarts that nobody notices.

mod files;
mod image;
#[path = "../support/plain_client.rs"]
mod plain_client;
mod proxy;
mod replica;
mod rolling;
mod through;
