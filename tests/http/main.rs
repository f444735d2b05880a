//! The HTTP layer, against a real server on a loopback port.

mod answers;
mod bad_input;
mod chat;
mod connections;
mod forms;
mod hostile;
mod inquiries;
mod page;
mod pool;
mod problems;
mod rate;
mod shutdown;
mod support;
