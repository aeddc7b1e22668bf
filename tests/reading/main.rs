//! Readers of exercises, through the library. `order`: repeats and jumps; `musicxml`: notation; `files`: encodings, archives,
//! damage; `midi`: Standard MIDI Files; `any_bytes`: nothing ever panics or hangs.
//!
//! Expected values are worked out by hand from the notation unless a source is named.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

mod any_bytes;
mod files;
mod midi;
mod musicxml;
mod order;
mod score;
