//! How many drills are made in a second inside one process: `cargo bench --bench drills`.

#![allow(clippy::unwrap_used)] // a program for developers, run by hand

use divan::counter::ItemsCount;
use restward::exercise::Meter;
use restward::instrument::{Instrument, catalogue};
use restward::judge::Level;
use restward::prepare::drill::{Brief, Drill, Kind, compose};
use restward::theory::{Key, default_family};
use restward::write::{MarkedPart, musicxml};

fn main() {
    divan::main();
}

const KINDS: [(&str, Kind); 3] =
    [("changed", Kind::Changed(None)), ("hold", Kind::Hold), ("two-keys", Kind::TwoKeys(Key::major(-3)))];

/// Other seeds, instruments and levels each time.
fn drill(kind: Kind, measures: usize, seed: u64, players: &[&Instrument]) -> Drill {
    let family = default_family();
    let level = [Level::FirstYear, Level::SecondYear, Level::ThirdYear][seed as usize % 3];
    let key = Key::major(-1);
    compose(&Brief { kind, key, family: &family, instruments: players, level, meter: Meter::COMMON, measures, seed })
        .unwrap()
}

fn measure(bencher: divan::Bencher<'_, '_>, name: &str, measures: usize, section: usize, write: bool) {
    let kind = KINDS.iter().find(|kind| kind.0 == name).unwrap().1;
    let all: Vec<&Instrument> = catalogue().instruments().collect();
    let mut seed = 0;
    bencher.counter(ItemsCount::new(1_usize)).bench_local(|| {
        seed += 1;
        let first = seed as usize % (all.len() - section);
        let players = &all[first..first + section];
        let drill = drill(kind, measures, seed, players);
        if write {
            let parts: Vec<MarkedPart<'_>> = drill.parts.iter().map(MarkedPart::new).collect();
            divan::black_box(musicxml(Some(&drill.title), &parts).unwrap());
        }
        drill
    });
}

/// One instrument, eight measures, without the file.
#[divan::bench(args = ["changed", "hold", "two-keys"])]
fn eight_measures(bencher: divan::Bencher<'_, '_>, kind: &str) {
    measure(bencher, kind, 8, 1, false);
}

/// The same as a file in memory.
#[divan::bench(args = ["changed", "hold", "two-keys"])]
fn eight_measures_as_musicxml(bencher: divan::Bencher<'_, '_>, kind: &str) {
    measure(bencher, kind, 8, 1, true);
}

/// Thirty-two measures for a section of six.
#[divan::bench(args = ["changed", "hold", "two-keys"])]
fn long_ones_for_a_section(bencher: divan::Bencher<'_, '_>, kind: &str) {
    measure(bencher, kind, 32, 6, false);
}
