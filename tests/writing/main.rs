//! What is written is read again as the same notes.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

mod abc;
mod musicxml;
mod property;
mod same;
