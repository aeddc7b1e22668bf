//! How much is read and judged in a second, inside one process.

#![allow(clippy::unwrap_used)] // a program for developers, run by hand
#![allow(missing_docs)] // divan's macro makes a function without any

mod exercise;

use divan::counter::{BytesCount, ItemsCount};
use exercise::{music_xml, part, performance, settings};
use restward::exercise::Micros;
use restward::judge::{Engine, Report};
use restward::read::{Choice, read_exercise};
use std::sync::Arc;

fn main() {
    divan::main();
}

/// MusicXML to a part.
#[divan::bench(args = [30, 300, 3_000])]
fn read_music_xml(bencher: divan::Bencher, notes: usize) {
    let text = music_xml(notes);
    bencher
        .counter(BytesCount::new(text.len()))
        .bench_local(|| read_exercise(divan::black_box(text.as_bytes()), &Choice::default()).unwrap());
}

/// A whole take judged, as `check` does it once exercise and take are read. Items are takes.
#[divan::bench(args = [30, 100, 300])]
fn judge_a_take(bencher: divan::Bencher, notes: usize) {
    let part = Arc::new(part(notes));
    let stream = performance(&part, 0);
    let end = stream.last().map_or(Micros(0), |event| event.at);
    bencher.counter(ItemsCount::new(1_usize)).bench_local(|| -> Report {
        let mut engine = Engine::new(Arc::clone(&part), settings(true));
        for event in &stream {
            engine.push(event);
        }
        engine.finish(end).0
    });
}
