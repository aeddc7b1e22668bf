//! The takes of a session as they are kept: in a book, in files. Beside `band.rs`.

#![allow(dead_code)] // each test that includes this file uses its part of it

use crate::band::{EXERCISE, PLAYERS};
use restward::book::{Book, Keeping};
use restward::judge::{Engine, FlagKind, Grid, Settings};
use restward::listen::take;
use restward::session::Plan;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

/// A book that keeps the takes of the band's players.
pub(crate) fn keeping(path: &Path) -> Keeping {
    let mut book = Book::open_or_begin(path).unwrap();
    let players = PLAYERS.map(|(player, ..)| book.player_or_new(player).unwrap().id);
    let exercise = book.keep_exercise("Lantern Walk", "lantern-walk.musicxml", EXERCISE, 1).unwrap();
    Keeping::new(book, exercise, players.into())
}

/// The flags of a saved take, as `check` finds them.
pub(crate) fn flags_of_file(file: &Path, plan: &Plan, lane: usize) -> BTreeSet<(usize, FlagKind)> {
    let take = take::read_file(file).unwrap();
    let player = &plan.players[lane];
    let settings = Settings {
        level: player.level,
        sends: player.sends,
        grid: take.start.map(|start| Grid::new(start, take.tempo.clone())),
        delay: take.delay,
        instrument: player.instrument.clone(),
        family: plan.family.clone(),
        stamp_error: Settings::stamp_error(take.resolution),
    };
    let mut engine = Engine::new(Arc::clone(&player.part), settings);
    take.inputs.iter().for_each(|input| engine.push(input));
    engine.finish(take.end).0.flags.iter().map(|flag| (flag.index, flag.kind)).collect()
}
