//! sums
