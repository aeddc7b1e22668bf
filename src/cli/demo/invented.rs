//! The invented band of `config/demo-band.toml`.

use crate::exercise::Part;
use crate::judge::Level;
use crate::session::Habits;
use crate::theory::{Key, Letter, Pitch, Rank, changed_notes};
use clap::ValueEnum;
use serde::Deserialize;

/// The band.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Band {
    pub(super) name: String,
    #[serde(rename = "section")]
    pub(super) sections: Vec<Section>,
    #[serde(rename = "player")]
    pub(super) players: Vec<Invented>,
}

/// Those who rehearse together.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Section {
    pub(super) name: String,
    /// When its rehearsal begins, UTC.
    begins: String,
    never: Option<Never>,
}

/// A player.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Invented {
    pub(super) name: String,
    pub(super) id: Option<String>,
    pub(super) instrument: String,
    pub(super) section: String,
    pub(super) level: Option<String>,
    /// How often there.
    #[serde(default = "always")]
    pub(super) present: f64,
    changed: Course,
    holds: Course,
    entrances: Course,
    wrong: Course,
    never: Option<Never>,
}

/// A share of the notes in the first week and in the last.
type Course = [f64; 2];

/// A changed note, at concert pitch, that stays wrong.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Never {
    pitch: String,
    share: Course,
}

fn always() -> f64 {
    1.0
}

impl Band {
    /// The built-in band; a test reads it, so that it cannot fail here.
    pub(super) fn built_in() -> Band {
        toml::from_str(include_str!("../../../config/demo-band.toml")).unwrap_or_default()
    }

    /// When a player's rehearsal begins.
    pub(super) fn begins(&self, player: &Invented) -> jiff::civil::Time {
        self.section(player).and_then(|section| section.begins.parse().ok()).unwrap_or_default()
    }

    fn section(&self, player: &Invented) -> Option<&Section> {
        self.sections.iter().find(|section| section.name == player.section)
    }

    /// What goes wrong with a player at a point of the term, 0 at its beginning to 1 at its end.
    pub(super) fn habits(&self, player: &Invented, part: &Part, point: f64) -> Habits {
        let now = |[first, last]: Course| first + (last - first) * point;
        let of_section = self.section(player).and_then(|section| section.never.as_ref());
        let stubborn = player.never.iter().chain(of_section).filter_map(|never| {
            let concert = Pitch::parse(&never.pitch)?;
            let written = part.transposition.unwrap_or_default().to_written(concert);
            Some((written.letter, written.alter, now(never.share)))
        });
        Habits {
            missed_changes: now(player.changed),
            stubborn: stubborn.collect(),
            short_holds: now(player.holds),
            late_entrances: now(player.entrances),
            wrong_notes: now(player.wrong),
        }
    }
}

impl Invented {
    /// How strictly this player is judged.
    pub(super) fn level(&self) -> Level {
        self.level.as_ref().and_then(|name| Level::from_str(name, false).ok()).unwrap_or_default()
    }
}

/// The changed letters of a part in all its keys.
pub(super) fn changed_letters(part: &Part, family: &[Key]) -> Vec<(Letter, i8)> {
    let transposition = part.transposition.unwrap_or_default();
    let family: Vec<Key> = family.iter().map(|&key| transposition.key_to_written(key)).collect();
    let mut letters: Vec<(Letter, i8)> = Vec::new();
    for measure in &part.measures {
        for changed in changed_notes(measure.key, &family) {
            let letter = (changed.letter, changed.alter);
            if changed.rank != Rank::Other && !letters.contains(&letter) {
                letters.push(letter);
            }
        }
    }
    letters
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::catalogue;

    #[test]
    fn the_built_in_band_is_read() {
        let band: Band = toml::from_str(include_str!("../../../config/demo-band.toml")).unwrap();
        assert_eq!((band.players.len(), band.sections.len()), (30, 4));
        for section in &band.sections {
            assert!(section.begins.parse::<jiff::civil::Time>().is_ok(), "{}", section.begins);
        }
        for player in &band.players {
            assert_eq!(catalogue().get(&player.instrument).unwrap().id, player.instrument);
            assert!(band.section(player).is_some(), "{}", player.name);
            assert!(player.level.as_ref().is_none_or(|level| Level::from_str(level, false).is_ok()));
        }
        let never = band.sections.iter().filter_map(|section| section.never.as_ref());
        let never = never.chain(band.players.iter().filter_map(|player| player.never.as_ref()));
        assert_eq!(never.filter(|never| Pitch::parse(&never.pitch).is_some()).count(), 2);
    }
}
