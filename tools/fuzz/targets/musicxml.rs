#![no_main]

#[path = "../entries/mod.rs"]
mod entries;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entries::musicxml(bytes));
