//! The evening before: counts and sheets.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test that cannot go on fails

mod commands;
mod counts;
mod numbers;
mod score;
