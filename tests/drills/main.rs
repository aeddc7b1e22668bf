//! Drills: what every one of them must keep, over thousands of seeds, and what a brief that cannot be met says.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)] // a test that cannot go on fails

mod files;
mod properties;
mod refusals;
mod rules;
