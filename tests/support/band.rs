//! A flute, a trumpet and an alto saxophone with the built-in exercise, for tests of sessions.

use restward::exercise::Micros;
use restward::judge::{Level, Sends};
use restward::read::{Choice, read_exercise};
use restward::session::{LanePlan, Plan, PlayerPlan, Plays};
use restward::{instrument, theory};
use std::sync::Arc;

pub(crate) const EXERCISE: &[u8] = include_bytes!("../../config/exercises/lantern-walk.musicxml");

/// Player, part, instrument.
pub(crate) const PLAYERS: [(&str, &str, &str); 3] =
    [("Ada", "P1", "flute"), ("Ben", "P2", "trumpet"), ("Cleo", "P3", "alto-sax")];

fn player((player, part, instrument): (&str, &str, &str)) -> PlayerPlan {
    let instrument = instrument::catalogue().get(instrument).unwrap().clone();
    let exercise = read_exercise(EXERCISE, &Choice { part: Some(part.into()), ..Choice::default() }).unwrap();
    PlayerPlan {
        player: player.into(),
        part: Arc::new(exercise.part),
        instrument: Some(instrument),
        sends: Sends::Written,
        level: Level::FirstYear,
    }
}

/// With a click at the printed tempo, or without.
pub(crate) fn plan(click: bool, takes: usize) -> Plan {
    let players: Vec<PlayerPlan> = PLAYERS.map(player).into();
    let lane = |(place, (player, ..)): (usize, (&str, &str, &str))| LanePlan {
        port: player.into(),
        plays: Plays::Always(place),
        delay: None,
    };
    Plan {
        exercise: "Lantern Walk".into(),
        click: click.then(|| players[0].part.tempo.clone()),
        players,
        lanes: PLAYERS.into_iter().enumerate().map(lane).collect(),
        queues: Vec::new(),
        count_in: 1,
        takes: Some(takes),
        pause: Micros(0),
        handover: Micros(0),
        lingers: false,
        family: theory::default_family(),
        save: None,
    }
}
