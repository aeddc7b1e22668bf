//! The tones a drill may use, and how well one follows another.

use crate::theory::{Key, Letter, Pitch};

/// A letter that a drill is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Target {
    pub(super) letter: Letter,
    /// What the nearest other key of the band makes of it, if that is a semitone off.
    pub(super) other: Option<i8>,
}

/// What a tone is to its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// As the signature has it.
    Plain,
    /// A changed note as another key of the band has it, with a printed accidental.
    Other,
    /// The leading tone of a minor key, raised by a printed accidental.
    Raised,
}

/// One tone of one key, in the drill's own pitch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Tone {
    pub(super) pitch: Pitch,
    /// Letters above C0.
    pub(super) place: i32,
    pub(super) midi: i16,
    /// Degree of the scale, 0 is the tonic.
    pub(super) degree: u8,
    pub(super) standing: Standing,
    /// Semitones by which it is altered against the signature: it leads on in that direction.
    pub(super) lean: i8,
    /// A changed note, as the key in force has it.
    pub(super) is_target: bool,
    /// One that the drill's figures go to.
    pub(super) is_aim: bool,
    /// Which of the drill's keys it belongs to.
    pub(super) segment: usize,
}

/// The tones of a key from `low` to `high`, MIDI numbers.
pub(super) fn tones(key: Key, targets: &[Target], low: i16, high: i16, segment: usize) -> Vec<Tone> {
    let mut tones = Vec::with_capacity(24);
    let octaves = low.div_euclid(12) - 2..=high.div_euclid(12);
    for octave in octaves {
        for letter in Letter::ALL {
            let target = targets.iter().find(|target| target.letter == letter);
            let mut add = |alter: i8, standing: Standing| {
                let pitch = Pitch::new(letter, alter, octave as i8);
                if (low..=high).contains(&pitch.midi()) {
                    tones.push(Tone {
                        pitch,
                        place: pitch.diatonic(),
                        midi: pitch.midi(),
                        degree: key.degree(letter) - 1,
                        standing,
                        lean: alter - key.alter(letter),
                        is_target: target.is_some() && standing == Standing::Plain,
                        is_aim: target.is_some() && standing == Standing::Plain,
                        segment,
                    });
                }
            };
            add(key.alter(letter), Standing::Plain);
            if let Some(other) = target.and_then(|target| target.other) {
                add(other, Standing::Other);
            }
            if let (None, Some((_, alter))) = (target, key.printed_leading_tone().filter(|leading| leading.0 == letter))
            {
                add(alter, Standing::Raised);
            }
        }
    }
    tones
}

/// What it costs to go from one tone to the next, 0 is easiest; `None`: not sung at this level. `widest` is in
/// semitones. Only intervals of the scale are sung, no augmented or diminished ones below the second year; which are
/// easy is common practice, no source.
pub(super) fn interval(from: &Tone, to: &Tone, widest: i16) -> Option<u32> {
    let (letters, semitones) = (to.place - from.place, to.midi - from.midi);
    let same_direction = i32::from(semitones.signum()) == letters.signum();
    if semitones.abs() > widest || !(same_direction || letters == 0) || !altered_rightly(from, to, letters) {
        return None;
    }
    let cost = match (letters.abs(), semitones.abs()) {
        (0, 0) => 5,
        // The two forms of a changed note side by side.
        (0, 1) if from.segment != to.segment || from.is_target || to.is_target => 1,
        (1, 1 | 2) => 0,
        (2, 3 | 4) => 1,
        (3, 5) => 3,
        (4, 7) => 4,
        (5, 8 | 9) => 6,
        (7, 12) => 6,
        // The tritone.
        (3 | 4, 6) if widest > 7 => 9,
        _ => return None,
    };
    // In minor the leading tone is raised on its way up.
    let unraised = from.standing == Standing::Plain && from.degree == 6 && to.degree == 0 && semitones == 2;
    Some(cost + if unraised && !from.is_target { 5 } else { 0 })
}

/// A tone with a printed accidental is come to by no leap and goes on where it leads: a raised one up, a lowered one
/// down, or to the other form of itself.
fn altered_rightly(from: &Tone, to: &Tone, letters: i32) -> bool {
    let arrives = to.standing == Standing::Plain || letters.abs() <= 2;
    let leaves = match from.standing {
        Standing::Plain => true,
        Standing::Raised => letters == 1,
        Standing::Other => letters == 0 || letters == i32::from(from.lean),
    };
    arrives && leaves
}
