//! The HTTP layer, against a real server on a loopback port.

mod answers;
mod bad_input;
mod chat;
mod connections;
mod forms;
mod hostile;
mod inquiries;
mod page;
#[path = "../support/plain_client.rs"]
mod plain_client;
mod pool;
mod problems;
mod rate;
mod shutdown;
mod support;
