//! Brass: which tube a note is usually played on, from acoustics alone.
//!
//! A tube of one length sounds the harmonics of its first one. Valves and slide lengthen it by 0 to 6
//! semitones. Of the ways to play a note the one with the shortest tube is preferred: that is what
//! fingering charts print first (checked against published charts in the tests below).

use crate::theory::Pitch;
use serde::Deserialize;

/// Harmonics in use, with their distance above the first one in semitones (12 × log2 of the number,
/// rounded). Left out: the first (a pedal note, which beginners are not asked for), the 7th and those
/// that are as much out of tune (11th, 13th, 14th), and the 9th and 15th, whose notes charts finger
/// otherwise: D5 on the horn in F is printed with valve 1, as 10th harmonic.
const HARMONICS: [(u8, i16); 9] = [(2, 12), (3, 19), (4, 24), (5, 28), (6, 31), (8, 36), (10, 40), (12, 43), (16, 48)];

/// The most semitones by which three valves or the slide lengthen the tube: the second valve 1, the first 2, both 3,
/// 2-3 4, 1-3 5, all 6 (Wikipedia, "Brass instrument", table of valve combinations); each slide position 1.
const LONGEST: i16 = 6;

/// What makes the tube longer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Lengthening {
    /// Three valves; a fourth equals 1 and 3 together.
    Valves,
    /// A slide with seven positions.
    Slide,
}

/// The harmonics of the horn's B♭ side that charts use, with the fewest semitones of valves from which on they do. A♭4
/// and A4 are fingered as on the F side, not on the flat 5th harmonic (scribd.com 570094472, "French Horn Fingering
/// Chart": from A♭4 to C5 both sides have identical fingerings); F♯5 and G5 are on the 9th, A♭5 and above on the 12th
/// (hornoverdrive.wikidot.com, "Fingering and tuning").
const THUMB_SIDE: [(u8, i16, i16); 8] =
    [(2, 12, 0), (3, 19, 0), (4, 24, 0), (5, 28, 2), (6, 31, 0), (8, 36, 0), (9, 38, 0), (12, 43, 0)];

/// The tube of a brass instrument. For the horn that is the F side, on which beginners start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Brass {
    /// The first harmonic of the open tube, as written.
    pub first_harmonic: Pitch,
    /// What makes it longer.
    pub lengthened_by: Lengthening,
    /// The first harmonic, as written, of a second tube that a thumb valve switches to: the B♭ side of a horn.
    pub thumb_side: Option<Pitch>,
    /// Whether many of these instruments have a fourth valve, which stands for the first and third together.
    pub fourth_valve: bool,
}

/// A way to play a note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fingering {
    /// How far the tube is lengthened: 0 (open, first position) to 6 semitones.
    pub semitones: u8,
    /// Which harmonic of that tube sounds.
    pub harmonic: u8,
}

impl Brass {
    /// The ways to play a written pitch (a MIDI number), the shortest tube first: the preferred one, then its
    /// alternates. None where no tube has it.
    pub fn ways(&self, written: i16) -> impl Iterator<Item = Fingering> + use<> {
        let first = self.first_harmonic.midi();
        (0..=LONGEST).filter_map(move |semitones| {
            let above = written + semitones - first;
            let &(harmonic, _) = HARMONICS.iter().find(|&&(_, distance)| distance == above)?;
            Some(Fingering { semitones: semitones as u8, harmonic })
        })
    }

    /// The preferred way to play a written pitch: the shortest tube. `None` where no tube has it.
    pub fn preferred(&self, written: i16) -> Option<Fingering> {
        self.ways(written).next()
    }

    /// The preferred way on the side of the thumb valve, if there is one.
    pub fn on_thumb_side(&self, written: i16) -> Option<Fingering> {
        let first = self.thumb_side?.midi();
        (0..=LONGEST).find_map(|semitones| {
            let above = written + semitones - first;
            let fits = |&&(_, distance, least): &&(u8, i16, i16)| distance == above && semitones >= least;
            let &(harmonic, ..) = THUMB_SIDE.iter().find(fits)?;
            Some(Fingering { semitones: semitones as u8, harmonic })
        })
    }

    /// As a chart prints it: `open`, `1-2`; `1st position`.
    pub fn name(&self, fingering: Fingering) -> &'static str {
        let names = match self.lengthened_by {
            Lengthening::Valves => ["open", "2", "1", "1-2", "2-3", "1-3", "1-2-3"],
            Lengthening::Slide => [
                "1st position",
                "2nd position",
                "3rd position",
                "4th position",
                "5th position",
                "6th position",
                "7th position",
            ],
        };
        names[usize::from(fingering.semitones).min(names.len() - 1)]
    }

    /// See [`super::Instrument::is_wrong_partial`].
    pub(super) fn is_wrong_partial(&self, expected: i16, played: i16) -> bool {
        let octaves_apart = (expected - played) % 12 == 0;
        let tube = |written| self.preferred(written).map(|fingering| fingering.semitones);
        !octaves_apart && tube(expected).is_some() && tube(expected) == tube(played)
    }
}

#[cfg(test)]
mod tests {
    use super::super::catalogue;
    use super::*;

    fn brass(id: &str) -> Brass {
        catalogue().get(id).unwrap().brass.unwrap()
    }

    fn names(id: &str, pitches: &str) -> Vec<&'static str> {
        let brass = brass(id);
        let of = |name: &str| brass.name(brass.preferred(Pitch::parse(name).unwrap().midi()).unwrap());
        pitches.split_whitespace().map(of).collect()
    }

    /// Slide positions: Wikibooks, "Trombone/Slide Positions" (columns 1 to 7, alternates "(alt)" left
    /// out). The notes that its chart also shows on the 7th harmonic are not asked here.
    #[test]
    fn trombone_positions_as_published() {
        let chart = [
            (1, "Bb2 F3 Bb3 D4 F4"),
            (2, "A2 E3 A3 C#4 E4"),
            (3, "Ab2 Eb3 Ab3 C4 Eb4"),
            (4, "G2 D3 G3 B3"),
            (5, "Gb2 Db3 Gb3"),
            (6, "F2 C3"),
            (7, "E2 B2"),
        ];
        let trombone = brass("trombone");
        for (position, pitches) in chart {
            for name in pitches.split(' ') {
                let fingering = trombone.preferred(Pitch::parse(name).unwrap().midi());
                assert_eq!(fingering.map(|f| f.semitones + 1), Some(position), "{name}");
            }
        }
    }

    /// The chromatic scale of the trumpet from F♯3 to C6: thewholehorn.com, "Trumpet Fingering Chart", written notes
    /// of its three registers, first fingering of each.
    #[test]
    fn trumpet_fingerings() {
        let scale = "F#3 G3 Ab3 A3 Bb3 B3 C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4 C5 C#5 D5 Eb5 E5 F5 F#5 G5 \
                     Ab5 A5 Bb5 B5 C6";
        let chart = "1-2-3 1-3 2-3 1-2 1 2 open 1-2-3 1-3 2-3 1-2 1 2 open 2-3 1-2 1 2 open 1-2 1 2 open 1 2 open \
                     2-3 1-2 1 2 open";
        assert_eq!(names("trumpet", scale), chart.split_whitespace().collect::<Vec<_>>());
        // The euphonium in treble clef is fingered as the trumpet: that is why the clef is used.
        assert_eq!(names("euphonium-tc", scale), names("trumpet", scale));
    }

    /// Single horn in F, middle C to G5, common practice (from memory).
    #[test]
    fn horn_fingerings() {
        let scale = "C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4 C5 C#5 D5 Eb5 E5 F5 F#5 G5";
        let chart = "open 1-2 1 2 open 1 2 open 2-3 1-2 1 2 open 1-2 1 2 open 1 2 open";
        assert_eq!(names("horn", scale), chart.split_whitespace().collect::<Vec<_>>());
    }

    /// B♭ tuba and euphonium, an octave apart, common practice (from memory; the harmonics of each valve combination
    /// of the tuba as in howtoplayyourinstrument.blogspot.com, "The Basic Tuba", 2009).
    #[test]
    fn low_brass_fingerings() {
        let chart = "1-2-3 1-3 2-3 1-2 1 2 open 1-2-3 1-3 2-3 1-2 1 2 open 2-3 1-2 1 2 open";
        let tuba = "E1 F1 Gb1 G1 Ab1 A1 Bb1 B1 C2 Db2 D2 Eb2 E2 F2 Gb2 G2 Ab2 A2 Bb2";
        let euphonium = "E2 F2 Gb2 G2 Ab2 A2 Bb2 B2 C3 Db3 D3 Eb3 E3 F3 Gb3 G3 Ab3 A3 Bb3";
        assert_eq!(names("tuba", tuba), chart.split_whitespace().collect::<Vec<_>>());
        assert_eq!(names("euphonium", euphonium), chart.split_whitespace().collect::<Vec<_>>());
    }

    #[test]
    fn wrong_partials_by_hand() {
        let midi = |name: &str| Pitch::parse(name).unwrap().midi();
        let wrong = |id: &str, expected: &str, played: &str| {
            catalogue().get(id).unwrap().is_wrong_partial(midi(expected), midi(played))
        };
        assert!(wrong("trumpet", "C4", "G4"), "both open");
        assert!(wrong("trumpet", "G4", "C5"), "both open");
        assert!(!wrong("trumpet", "C4", "C5"), "an octave apart");
        assert!(!wrong("trumpet", "C4", "C4"), "the note itself");
        assert!(!wrong("trumpet", "C4", "D4"), "open and 1-3");
        assert!(!wrong("trumpet", "G4", "Bb5"), "the 7th harmonic of the open tube is played with valve 1");
        assert!(!wrong("trumpet", "C3", "G4"), "pedal notes are on no chart");
        assert!(wrong("trombone", "F3", "Bb3"), "both in first position");
        assert!(!wrong("flute", "C4", "G4"), "no brass");
    }

    /// Every note of every brass instrument's full range can be played on some tube.
    #[test]
    fn ranges_can_be_played() {
        for instrument in catalogue().instruments() {
            let Some(brass) = instrument.brass else { continue };
            // The lowest fifth of the horn has gaps between its first two harmonics.
            let low = if instrument.id == "horn" { instrument.beginner_range.0 } else { instrument.full_range.0 };
            for written in low.midi()..=instrument.full_range.1.midi() {
                assert!(brass.preferred(written).is_some(), "{} {written}", instrument.id);
            }
        }
    }
}
