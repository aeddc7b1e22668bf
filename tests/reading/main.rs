//! Readers of exercises, through the library. `abc`: ABC; `abc_against_abc_parser`: the same by another reader; `order`: repeats and
//! jumps; `musicxml`: notation; `files`: encodings, archives, damage; `midi`: Standard MIDI Files; `any_bytes`: nothing
//! ever panics or hangs; `fuzzed`: the entries of the fuzz targets, for what comes in from outside.
//!
//! Expected values are worked out by hand from the notation unless a source is named.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

mod abc;
mod abc_against_abc_parser;
mod any_bytes;
#[path = "../../tools/fuzz/entries/mod.rs"]
mod entries;
mod files;
mod fuzzed;
mod midi;
mod musicxml;
mod order;
mod score;
