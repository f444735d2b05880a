//! The questions: plan → answer. Each is a file; what answers share is in [`answer`].

pub mod answer;
pub mod flow_balance;
