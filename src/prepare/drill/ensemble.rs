//! Who plays: in which keys the drill is composed, and which stretch of notes everybody can play.
//!
//! For one instrument a drill is composed as it is printed in its part. A section plays in unison and octaves: its
//! drill is composed at concert pitch, and each instrument plays it in an octave of its own.

use super::DrillError;
use crate::instrument::Instrument;
use crate::theory::Key;

/// The narrowest stretch of notes that a drill is made of, in semitones: a fifth.
const NARROWEST: i16 = 7;
/// Where the lowest note of a section's stretch is counted, a MIDI number; octaves do not matter.
const SECTION_FROM: i16 = 60;

/// The instruments of a drill.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ensemble<'a>(pub(super) &'a [&'a Instrument]);

/// A stretch of notes, MIDI numbers of the pitch in which the drill is composed.
pub(super) type Window = (i16, i16);

impl Ensemble<'_> {
    /// The key in which the drill is composed.
    pub(super) fn home_key(self, concert: Key) -> Key {
        match self.0 {
            [instrument] => instrument.transposition.key_to_written(concert),
            _ => concert,
        }
    }

    /// That they have too little in common.
    pub(super) fn no_common_range(self, span: i16) -> DrillError {
        let instruments: Vec<&str> = self.0.iter().map(|instrument| instrument.name.as_str()).collect();
        DrillError::NoCommonRange { instruments: instruments.join(", "), advice: self.advice(span) }
    }

    /// Every stretch that lies in everybody's beginner range, each as wide as can be up to `span` semitones.
    pub(super) fn windows(self, span: i16) -> Vec<Window> {
        let widths: Vec<(i16, i16)> = match self.0 {
            [instrument] => {
                let (low, high) = instrument.beginner_range;
                (low.midi()..=high.midi()).map(|from| (from, high.midi() - from)).collect()
            }
            players => {
                let width = |from: i16| players.iter().map(|player| widest_above(player, from)).min().unwrap_or(0);
                (SECTION_FROM..SECTION_FROM + 12).map(|from| (from, width(from))).collect()
            }
        };
        let wide_enough = widths.into_iter().filter(|&(_, width)| width >= NARROWEST);
        wide_enough.map(|(from, width)| (from, from + width.min(span))).collect()
    }

    /// Whom to leave out so that the others have most in common.
    fn advice(self, span: i16) -> String {
        let others = |left_out: usize| -> Vec<&Instrument> {
            self.0.iter().enumerate().filter(|&(index, _)| index != left_out).map(|(_, player)| *player).collect()
        };
        let width = |index: usize| {
            let windows = Ensemble(&others(index)).windows(span);
            windows.iter().map(|(low, high)| high - low).max().unwrap_or(0)
        };
        let best = (0..self.0.len()).max_by_key(|&index| width(index)).filter(|&index| width(index) > 0);
        best.and_then(|index| self.0.get(index)).map_or_else(
            || "make one drill for each instrument".to_owned(),
            |player| format!("make a drill of its own for {}", player.id),
        )
    }
}

/// The beginner range at concert pitch, MIDI numbers.
fn concert_range(player: &Instrument) -> (i16, i16) {
    let sounding = |pitch| player.transposition.to_concert(pitch).midi();
    (sounding(player.beginner_range.0), sounding(player.beginner_range.1))
}

/// Semitones that the player has above a pitch, in the octave in which that is most.
fn widest_above(player: &Instrument, from: i16) -> i16 {
    let (low, high) = concert_range(player);
    high - (low + (from - low).rem_euclid(12))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::catalogue;

    fn players(ids: &str) -> Vec<&'static Instrument> {
        ids.split(' ').map(|id| catalogue().get(id).unwrap()).collect()
    }

    /// By hand, from config/instruments.toml: the trumpet's A3 to D5 sound G3 to C5, the horn's B♭3 to C5 sound E♭3 to F4:
    /// from G there is a seventh for both (to F), from E♭ a sixth (the trumpet's from E♭4 to C5), from B♭ a fifth.
    #[test]
    fn what_trumpet_and_horn_have_in_common() {
        let players = players("trumpet horn");
        let windows = Ensemble(&players).windows(12);
        for expected in [(67, 77), (63, 72), (70, 77)] {
            assert!(windows.contains(&expected), "{windows:?}");
        }
    }

    #[test]
    fn the_whole_band_plays_a_seventh_together() {
        let everybody: Vec<&Instrument> = catalogue().instruments().collect();
        let windows = Ensemble(&everybody).windows(12);
        assert_eq!(windows.iter().map(|(low, high)| high - low).max(), Some(10));
    }

    #[test]
    fn one_instrument_plays_its_written_range() {
        let players = players("alto-sax");
        let windows = Ensemble(&players).windows(12);
        assert_eq!((windows.first(), windows.last()), (Some(&(62, 74)), Some(&(74, 81))));
        assert_eq!(Ensemble(&players).home_key(Key::major(-3)), Key::major(0));
    }
}
