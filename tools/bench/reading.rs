//! How fast exercises are read: MusicXML, MIDI and ABC in memory to the judged part, in MB a second.
//!
//!     cargo bench --bench reading
//!
//! The files are those of the folder in `RESTWARD_BENCH_SCORES`, else the exercises of the simulated takes in `tests/data/takes` and
//! the tunes in `tests/data/abc` (of a tunebook the first tune is read, the rest looked through).
//! `tools/bench/reading.py` runs it on scores that others wrote, beside music21 and partitura.

use divan::Bencher;
use divan::counter::BytesCount;
use restward::read::{Choice, read_exercise};
use std::path::PathBuf;

fn main() {
    divan::main();
}

/// The files with one of these endings, of the project's own from this folder.
fn files(own: &str, endings: &[&str]) -> Vec<Vec<u8>> {
    let folder = std::env::var_os("RESTWARD_BENCH_SCORES")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(own), PathBuf::from);
    let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten().map(|entry| entry.path());
    let is_wanted = |path: &PathBuf| path.extension().is_some_and(|ending| endings.iter().any(|e| ending == *e));
    let mut paths: Vec<PathBuf> = entries.filter(is_wanted).collect();
    paths.sort();
    paths.iter().filter_map(|path| std::fs::read(path).ok()).collect()
}

fn read_all(bencher: Bencher<'_, '_>, files: &[Vec<u8>]) {
    let choice = Choice::default();
    bencher
        .counter(BytesCount::new(files.iter().map(Vec::len).sum::<usize>()))
        .bench(|| files.iter().filter(|bytes| read_exercise(divan::black_box(bytes), &choice).is_ok()).count());
}

#[divan::bench]
fn musicxml(bencher: Bencher<'_, '_>) {
    read_all(bencher, &files("takes", &["musicxml", "xml"]));
}

#[divan::bench]
fn midi(bencher: Bencher<'_, '_>) {
    read_all(bencher, &files("takes", &["mid"]));
}

#[divan::bench]
fn abc(bencher: Bencher<'_, '_>) {
    read_all(bencher, &files("abc", &["abc"]));
}
