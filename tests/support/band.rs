//! A flute, a trumpet and an alto saxophone with the built-in exercise, for tests of sessions.

use restward::exercise::Micros;
use restward::judge::{Level, Sends};
use restward::read::{Choice, read_exercise};
use restward::session::{LanePlan, Plan};
use restward::{instrument, theory};
use std::sync::Arc;

pub(crate) const EXERCISE: &[u8] = include_bytes!("../../config/exercises/lantern-walk.musicxml");

/// Player, part, instrument.
pub(crate) const PLAYERS: [(&str, &str, &str); 3] =
    [("Ada", "P1", "flute"), ("Ben", "P2", "trumpet"), ("Cleo", "P3", "alto-sax")];

fn lane((player, part, instrument): (&str, &str, &str)) -> LanePlan {
    let instrument = instrument::catalogue().get(instrument).unwrap().clone();
    let exercise = read_exercise(EXERCISE, &Choice { part: Some(part.into()), ..Choice::default() }).unwrap();
    LanePlan {
        player: player.into(),
        port: player.into(),
        part: Arc::new(exercise.part),
        instrument: Some(instrument),
        sends: Sends::Written,
        delay: None,
    }
}

/// With a click at the printed tempo, or without.
pub(crate) fn plan(click: bool, takes: usize) -> Plan {
    let lanes: Vec<LanePlan> = PLAYERS.map(lane).into();
    Plan {
        exercise: "Lantern Walk".into(),
        click: click.then(|| lanes[0].part.tempo.clone()),
        lanes,
        count_in: 1,
        takes: Some(takes),
        pause: Micros(0),
        level: Level::FirstYear,
        family: theory::default_family(),
        save: None,
    }
}
