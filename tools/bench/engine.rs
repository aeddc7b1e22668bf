//! What one MIDI event costs in the live path: clean, follow, judge; and how that grows with the part.
//!
//! For parts of 30, 300 and 3,000 notes a simulated player sends notes, breath data and some faults. Each event is
//! timed on its own. The engine does the same work in each run, so the cost of an event is the least of several
//! runs: what is slower than that is the machine doing something else (shown in the last column as it came).
//! The reference is decoding the same bytes with wmidi in the same run.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // a program for developers, run by hand

mod exercise;

use exercise::{part, performance, settings};
use restward::exercise::Micros;
use restward::judge::Engine;
use restward::listen::{Input, Timed, What};
use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

const SIZES: [usize; 3] = [30, 300, 3_000];
/// Runs of which the fastest counts, event by event.
const RUNS: usize = 7;
/// Enough events that one in a thousand means something.
const LEAST_EVENTS: usize = 20_000;

fn main() {
    println!("Nanoseconds per MIDI event, the least of {RUNS} runs; the last column: p99.9 of all runs as they came");
    println!(
        "{:<9} {:<6} {:>8} {:>9} {:>9} {:>9} {:>11} {:>9} {:>11} {:>9}",
        "notes", "click", "events", "median", "p99.9", "largest", "end of take", "wmidi", "median/that", "as came"
    );
    for notes in SIZES {
        for click in [true, false] {
            measure(notes, click);
        }
    }
}

fn measure(notes: usize, click: bool) {
    let part = Arc::new(part(notes));
    let mut costs = Vec::new();
    let mut as_they_came = Vec::new();
    let mut reference = Vec::new();
    let mut ends = Vec::new();
    let mut variant = 0;
    while costs.len() < LEAST_EVENTS {
        let stream = performance(&part, variant);
        variant += 1;
        let end = stream.last().map_or(Micros(0), |event| event.at);
        let mut least = vec![u128::MAX; stream.len()];
        for _ in 0..RUNS {
            let mut engine = Engine::new(Arc::clone(&part), settings(click));
            for (event, least) in stream.iter().zip(&mut least) {
                let begun = Instant::now();
                engine.push(black_box(event));
                black_box(engine.take_decisions());
                let cost = begun.elapsed().as_nanos();
                as_they_came.push(cost);
                *least = cost.min(*least);
            }
            let begun = Instant::now();
            black_box(engine.finish(end));
            ends.push(begun.elapsed().as_nanos());
        }
        costs.append(&mut least);
        reference.extend(stream.iter().map(decoding));
    }
    let (count, median, reference) = (costs.len(), part_of(&mut costs, 0.5), part_of(&mut reference, 0.5));
    println!(
        "{notes:<9} {:<6} {count:>8} {median:>9} {:>9} {:>9} {:>9.2}ms {reference:>9} {:>11.1} {:>9}",
        if click { "on" } else { "off" },
        part_of(&mut costs, 0.999),
        part_of(&mut costs, 1.0),
        part_of(&mut ends, 0.5) as f64 / 1e6,
        median as f64 / reference.max(1) as f64,
        part_of(&mut as_they_came, 0.999),
    );
}

/// The reference: the bytes of one event decoded, timed in the same way.
fn decoding(event: &Timed<Input>) -> u128 {
    let What::Bytes(bytes) = &event.what.what else { return 0 };
    (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            let _ = black_box(wmidi::MidiMessage::try_from(black_box(bytes.as_slice())));
            begun.elapsed().as_nanos()
        })
        .min()
        .unwrap_or(0)
}

/// The value below which this share of the values lies.
fn part_of(values: &mut [u128], share: f64) -> u128 {
    values.sort_unstable();
    let place = (values.len() as f64 * share).ceil() as usize;
    values.get(place.saturating_sub(1)).copied().unwrap_or(0)
}
