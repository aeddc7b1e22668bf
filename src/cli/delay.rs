//! A delay as people type it, and the kept delays of a session's players.

use super::Failure;
use crate::exercise::Micros;
use crate::listen::take::LONGEST_DELAY;
use crate::listen::{choose, port_stem};
use crate::session::{KeptDelays, KeptError, Plan, Plays};

/// Milliseconds, whole or not, late is positive.
pub(super) fn milliseconds(text: &str) -> Result<Micros, String> {
    let ms: f64 = text.parse().map_err(|_| "not a number of milliseconds, as in 42".to_string())?;
    let most = LONGEST_DELAY.0 as f64 / 1e3;
    if ms.abs() <= most { Ok(Micros((ms * 1e3).round() as i64)) } else { Err(format!("between -{most} and {most} ms")) }
}

/// Gives each lane the delay that is kept for its port with this click, and says so, a sentence for each. Delays that
/// cannot be read do not stop a rehearsal.
pub(super) fn give_kept(plan: &mut Plan, ports: &[String], click: &str) -> Vec<String> {
    let kept = match KeptDelays::of_user() {
        Ok(kept) => kept,
        Err(KeptError::NoFolder) => return Vec::new(),
        Err(error) => return vec![format!("{error}\nUntil then no kept delay is taken off.")],
    };
    give(plan, ports, click, &kept)
}

fn give(plan: &mut Plan, ports: &[String], click: &str, kept: &KeptDelays) -> Vec<String> {
    let mut said = Vec::new();
    let Plan { lanes, players, .. } = plan;
    for lane in lanes {
        // A port that is not there is told of when it is opened.
        let Some(port) = choose("input", ports, &lane.port).ok().and_then(|place| ports.get(place)) else { continue };
        let who = match lane.plays {
            Plays::Always(player) => players.get(player).map_or("", |player| player.player.as_str()),
            Plays::Queue(_) => port_stem(port),
        };
        if let Some(found) = kept.of(port, click) {
            lane.delay = Some(found.delay());
            said.push(format!("{who}: {} (measured on {}).", taken_off(found.ms), found.port));
        } else if let Some(other) = kept.all().iter().find(|other| kept.of(port, &other.click) == Some(*other)) {
            said.push(format!(
                "{who}: the delay of {} was measured with the click on {}, not on {click}. Measure it again with: \
                 restward latency",
                other.port, other.click
            ));
        }
    }
    said
}

/// `42 ms of delay are taken off`.
pub(super) fn taken_off(ms: i64) -> String {
    match ms {
        0 => "no delay is taken off".into(),
        1.. => format!("{ms} ms of delay are taken off"),
        _ => format!("{} ms are added, as notes come before the click", -ms),
    }
}

/// A file of one's own that cannot be used is bad input where it is damaged, else the machine's matter.
impl From<KeptError> for Failure {
    fn from(error: KeptError) -> Failure {
        match error {
            KeptError::Damaged { .. } => Failure::Input(error.to_string()),
            _ => Failure::Machine(error.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot go on fails

    use super::super::lanes;
    use super::*;
    use crate::judge::{Level, Sends};
    use crate::read::{Choice, read_exercise};
    use crate::session::KeptDelay;

    const EXERCISE: &[u8] = include_bytes!("../../config/exercises/lantern-walk.musicxml");

    #[test]
    fn each_player_gets_the_delay_of_the_port() {
        let folder = tempfile::tempdir().unwrap();
        let mut kept = KeptDelays::read(&folder.path().join("delays.toml")).unwrap();
        for (port, click, ms) in [("Wind 24:0", "speakers", 42), ("Pad", "speakers", -5), ("Horn", "midi:Drums", 8)] {
            let new = KeptDelay { port: port.into(), click: click.into(), ms, spread_ms: 9, notes: 8 };
            kept.keep(new).unwrap();
        }
        let read = |choice: &Choice| read_exercise(EXERCISE, choice).map_err(Failure::input);
        let found = || lanes::player_part(read, None, None).ok().unwrap();
        let who = [("Mia", "wind"), ("Tom", "#2"), ("Eva", "horn"), ("Jo", "keys"), ("Al", "gone")];
        let mut plan = Plan {
            exercise: String::new(),
            players: who.map(|(name, _)| lanes::player(name, found(), Sends::Auto, Level::default())).into(),
            lanes: (0..).zip(who).map(|(player, (_, port))| lanes::lane(port, Plays::Always(player))).collect(),
            queues: Vec::new(),
            click: None,
            count_in: 1,
            takes: None,
            pause: Micros(0),
            handover: Micros(0),
            lingers: false,
            family: Vec::new(),
            save: None,
        };
        let ports = ["Wind 28:0", "Pad", "Horn", "Keys"].map(String::from);
        let said = give(&mut plan, &ports, "speakers", &kept);
        let delays: Vec<_> = plan.lanes.iter().map(|lane| lane.delay.map(|delay| delay.0)).collect();
        assert_eq!(delays, [Some(42_000), Some(-5_000), None, None, None]);
        assert_eq!(
            said,
            [
                "Mia: 42 ms of delay are taken off (measured on Wind).",
                "Tom: 5 ms are added, as notes come before the click (measured on Pad).",
                "Eva: the delay of Horn was measured with the click on midi:Drums, not on speakers. Measure it again \
                 with: restward latency",
            ]
        );
    }

    #[test]
    fn milliseconds_have_limits() {
        assert_eq!(milliseconds("41.5"), Ok(Micros(41_500)));
        assert_eq!(milliseconds("-500"), Ok(Micros(-500_000)));
        for wrong in ["501", "-500.1", "inf", "NaN", "fast"] {
            assert!(milliseconds(wrong).is_err(), "{wrong}");
        }
    }
}
