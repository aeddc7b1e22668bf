//! `restward demo --screen`: simulated players hand round two controllers.

use super::super::Outcome;
use super::super::lanes::lane;
use super::super::stage::{self, Report, Setting};
use super::{TITLE, simulated};
use crate::exercise::Micros;
use crate::listen::{Input, Pace, Replay, Seats, Timed, What};
use crate::session::{Plan, Plays, Silent, Student};
use crate::theory::default_family;
use std::sync::Arc;

/// A simulated player: name, instrument, missed changed notes, short holds.
type Waits = (&'static str, &'static str, usize, usize);

/// The controllers, and who waits for them.
const CONTROLLERS: [(&str, [Waits; 3]); 2] = [
    ("simulated wind", [("Ada", "flute", 1, 0), ("Zoë", "flute", 0, 1), ("Maximiliane", "flute", 0, 0)]),
    ("simulated pad", [("Ben", "trumpet", 1, 1), ("Cleo", "alto-sax", 0, 1), ("Olek", "trumpet", 2, 0)]),
];

pub(super) fn run(fast: bool, seed: u64, report: Report) -> Outcome {
    let (mut players, mut students) = (Vec::new(), Vec::new());
    let (mut lanes, mut queues) = (Vec::new(), Vec::new());
    for (channel, (port, waiting)) in (0..).zip(CONTROLLERS) {
        lanes.push(lane(port, Plays::Queue(queues.len())));
        queues.push((players.len()..players.len() + waiting.len()).collect());
        for (name, instrument, missed_changes, short_holds) in waiting {
            let number = seed.wrapping_add(1_000 * players.len() as u64);
            let (player, student) = simulated(
                name,
                instrument,
                Student { number, channel, missed_changes, short_holds, ..Student::default() },
            )?;
            students.push(student);
            players.push(player);
        }
    }
    let tempo = players.first().map(|player| player.part.tempo.clone()).unwrap_or_default();
    let parts: Vec<_> = players.iter().map(|player| Arc::clone(&player.part)).collect();
    let pause = Micros::from_seconds(if fast { 0.0 } else { 4.0 });
    let plan = Plan {
        exercise: TITLE.into(),
        players,
        lanes,
        queues,
        click: Some(tempo.clone()),
        count_in: 1,
        takes: None,
        pause,
        handover: pause,
        lingers: false,
        family: default_family(),
        save: None,
    };
    let seats = Seats::default();
    let seated = Arc::clone(&seats);
    let performance = move |_: usize, zero: Micros| {
        let seated = seated.lock().map(|seated| seated.clone()).unwrap_or_default();
        let mut arrivals = Vec::new();
        for (port, player) in (0..).zip(seated) {
            let Some((student, part)) = player.and_then(|player| students.get(player).zip(parts.get(player))) else {
                continue;
            };
            let played = student.play(part, &tempo, zero).into_iter();
            arrivals.extend(played.map(|(at, bytes)| Timed { at, what: Input { port, what: What::Bytes(bytes) } }));
        }
        arrivals
    };
    let names = CONTROLLERS.iter().map(|(port, _)| (*port).into()).collect();
    let pace = if fast { Pace::Fast } else { Pace::Real };
    let mut source = Replay::new(names, pace, Box::new(performance)).with_seats(seats);
    let setting = Setting {
        report,
        // Nobody presses a key on a clock that does not wait.
        keys: !fast,
        screen: true,
        opening: vec![
            "The Lantern Hill Band has a sectional: two controllers go from hand to hand. The players are simulated, \
             nothing is kept."
                .into(),
        ],
        ..Setting::default()
    };
    stage::run(&plan, &mut source, &mut Silent, None, None, setting)?;
    if report == Report::Text {
        stage::print(&[
            "",
            "Now with real controllers and a section of your own roster:",
            "  restward listen EXERCISE.musicxml --book band.db --queue @SECTION --screen",
        ])?;
    }
    Ok(())
}
