//! How many takes are judged in a second inside one process: `cargo bench --bench judging`.

#![allow(clippy::unwrap_used)] // a program for developers, run by hand

mod exercise;

use divan::counter::ItemsCount;
use exercise::{part, performance, settings};
use restward::exercise::Micros;
use restward::judge::{Engine, Report};
use std::sync::Arc;

fn main() {
    divan::main();
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
