//! http
