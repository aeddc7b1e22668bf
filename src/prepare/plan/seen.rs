//! What was seen of each thing that is practised, by section: the latest takes of each player.

use super::limits::limits;
use super::{Rules, Share};
use crate::book::{Attempt, Player, Practice, Practised};
use crate::instrument::catalogue;
use crate::theory::{Letter, Pitch};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A thing that is practised, the same for all instruments.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Thing {
    /// A changed note at concert pitch: letter and alteration in semitones.
    Changed(Letter, i8),
    /// A hold before a rest, in beats: `3`, `1.5`.
    Hold(String),
}

/// One player's take with a thing.
#[derive(Debug, Clone, Copy)]
struct Once {
    begun_us: i64,
    exercise: i64,
    /// The part that was missed, 0 to 1.
    missed: f64,
}

/// What was seen of one thing in one section.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen {
    /// By player, the latest take first.
    players: BTreeMap<i64, Vec<Once>>,
    /// How each instrument reads the note.
    pub(super) readings: BTreeMap<String, BTreeSet<String>>,
}

/// A section and a thing.
pub(super) type Place = (Option<String>, Thing);

/// Sorts what was practised by section and thing.
pub(super) fn seen(players: &[Player], attempts: &[Attempt], practice: &[Practice]) -> BTreeMap<Place, Seen> {
    let sections: HashMap<i64, Option<&String>> =
        players.iter().map(|player| (player.id, player.section.as_ref())).collect();
    let instruments: HashMap<i64, Option<&String>> =
        attempts.iter().map(|attempt| (attempt.take, attempt.instrument.as_ref())).collect();
    // Sections are the same whatever their capitals; the first spelling is shown.
    let mut spelled: HashMap<String, String> = HashMap::new();
    let mut all: BTreeMap<Place, Seen> = BTreeMap::new();
    for it in practice.iter().filter(|it| it.count.of > 0) {
        let section = sections.get(&it.player).copied().flatten();
        let section = section.map(|name| spelled.entry(name.to_lowercase()).or_insert_with(|| name.clone()).clone());
        let instrument = instruments.get(&it.take).copied().flatten();
        let thing = match &it.what {
            Practised::Hold(beats) => Thing::Hold(beats.clone()),
            Practised::Changed(written) => match concert(written, instrument) {
                Some((letter, alter)) => Thing::Changed(letter, alter),
                None => continue,
            },
        };
        let seen = all.entry((section, thing)).or_default();
        let missed = 1.0 - it.count.good as f64 / it.count.of as f64;
        let once = Once { begun_us: it.begun_us, exercise: it.exercise, missed };
        seen.players.entry(it.player).or_default().push(once);
        if let (Practised::Changed(written), Some(instrument)) = (&it.what, instrument) {
            seen.readings.entry(written.clone()).or_default().insert(instrument.clone());
        }
    }
    for takes in all.values_mut().flat_map(|seen| seen.players.values_mut()) {
        takes.sort_by_key(|once| std::cmp::Reverse(once.begun_us));
    }
    all
}

/// A written changed note at concert pitch; for an unknown instrument as it is.
fn concert(written: &str, instrument: Option<&String>) -> Option<(Letter, i8)> {
    let pitch = Pitch::parse(&format!("{written}4"))?;
    let transposition = instrument.and_then(|id| catalogue().get(id).ok()).map(|instrument| instrument.transposition);
    let sounding = transposition.unwrap_or_default().to_concert(pitch);
    // A part in a respelled key: as the flat keys of bands spell it.
    let sounding = if (-1..=1).contains(&sounding.alter) {
        sounding
    } else {
        Pitch::spelled_in(sounding.midi(), crate::theory::Key::major(-4))
    };
    Some((sounding.letter, sounding.alter))
}

impl Seen {
    /// The share that was missed since a time, in the latest takes of each player.
    pub(super) fn missed(&self, since_us: i64, rules: &Rules) -> Share {
        self.share(self.players.keys(), since_us, rules.takes_a_player, rules)
    }

    /// The same of one player alone.
    pub(super) fn missed_by(&self, player: i64, since_us: i64, rules: &Rules) -> Share {
        self.share(std::iter::once(&player), since_us, rules.player_takes, rules)
    }

    fn share<'a>(&self, players: impl Iterator<Item = &'a i64>, since_us: i64, most: usize, rules: &Rules) -> Share {
        let (mut takes, mut missed, mut all, mut who) = (0, 0.0, 0, 0);
        for player in players {
            let latest = self.players.get(player).into_iter().flatten().filter(|once| once.begun_us >= since_us);
            let latest: Vec<f64> = latest.take(most).map(|once| once.missed).collect();
            takes += latest.len();
            missed += latest.iter().sum::<f64>();
            all += usize::from(!latest.is_empty());
            who += usize::from(latest.iter().any(|&missed| missed > 0.0));
        }
        let (low, high) = limits(missed, takes as f64, rules.error_percent / 100.0);
        Share { missed, takes, low, high, players: all, players_who_missed: who }
    }

    pub(super) fn players(&self) -> impl Iterator<Item = i64> {
        self.players.keys().copied()
    }

    /// When it was played last, in microseconds since 1970.
    pub(super) fn last_us(&self) -> Option<i64> {
        self.players.values().filter_map(|takes| takes.first()).map(|once| once.begun_us).max()
    }

    /// The exercise in which it was missed most since a time, else played last.
    pub(super) fn exercise(&self, since_us: i64) -> Option<i64> {
        let mut by_exercise: BTreeMap<i64, (f64, i64)> = BTreeMap::new();
        for once in self.players.values().flatten().filter(|once| once.begun_us >= since_us) {
            let (missed, last) = by_exercise.entry(once.exercise).or_default();
            *missed += once.missed;
            *last = (*last).max(once.begun_us);
        }
        let most = by_exercise.into_iter().max_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        most.map(|(exercise, _)| exercise)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DESIGN.md §2: the changed note of concert E♭ is A♭; B♭ on B♭ instruments, F♮ on E♭ ones, E♭ on the horn.
    #[test]
    fn a_section_of_several_instruments_misses_one_note() {
        for (instrument, written) in
            [("flute", "Ab"), ("clarinet", "Bb"), ("alto-sax", "F"), ("horn", "Eb"), ("tuba", "Ab")]
        {
            assert_eq!(concert(written, Some(&instrument.into())), Some((Letter::A, -1)), "{instrument}");
        }
        assert_eq!(concert("nonsense", None), None);
    }
}
