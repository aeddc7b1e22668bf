//! Wrong pitches: `wrong-accidental`, `wrong-octave`, `wrong-partial`, `wrong-note`.

use super::FlagKind;
use super::findings::{Amount, Finding, Scene, Sounded};
use crate::theory::{Key, Letter, Pitch};

/// The finding about a note's pitch, if it is not the right one.
pub(super) fn judge(scene: &Scene, sounded: &Sounded) -> Option<Finding> {
    let note = scene.note(sounded.note);
    let off = sounded.off_pitch;
    if off == 0 {
        return None;
    }
    let kind = if is_other_accidental(note.written, off, note.key) {
        FlagKind::WrongAccidental
    } else if off % 12 == 0 {
        FlagKind::WrongOctave
    } else if scene.settings.instrument.as_ref().is_some_and(|instrument| {
        let expected = note.written.midi();
        instrument.is_wrong_partial(expected, expected + off)
    }) {
        FlagKind::WrongPartial
    } else {
        FlagKind::WrongNote
    };
    Some(Finding { note: sounded.note, kind, amount: Amount::Pitch(off) })
}

/// Whether `off` semitones from a written note is the same letter with another accidental: exactly a
/// semitone away, flat, natural or sharp, and not the pitch that the neighbouring letter has in the key
/// in force. E♯, B♯, C♭ and F♭ count only where they are printed (DESIGN.md §3).
pub(super) fn is_other_accidental(written: Pitch, off: i16, key: Key) -> bool {
    let alter = i16::from(written.alter) + off;
    if off.abs() != 1 || !(-1..=1).contains(&alter) {
        return false;
    }
    let white_key_spelled_oddly =
        matches!((written.letter, alter), (Letter::E | Letter::B, 1) | (Letter::C | Letter::F, -1));
    let neighbour = Letter::from_step(i32::from(written.letter.step()) + i32::from(off));
    let to_neighbour = match (written.letter, neighbour) {
        (Letter::E, Letter::F) | (Letter::B, Letter::C) => 1,
        (Letter::F, Letter::E) | (Letter::C, Letter::B) => -1,
        _ => 2 * off,
    };
    let is_neighbour = to_neighbour + i16::from(key.alter(neighbour)) == alter;
    !white_key_spelled_oddly && !is_neighbour
}

#[cfg(test)]
mod tests {
    use super::is_other_accidental;
    use crate::theory::{Key, Letter, Pitch};

    fn other(letter: Letter, alter: i8, off: i16, fifths: i8) -> bool {
        is_other_accidental(Pitch::new(letter, alter, 4), off, Key::major(fifths))
    }

    /// The definition of `wrong-accidental` in DESIGN.md §3, case by case.
    #[test]
    fn a_semitone_of_the_same_letter_is_another_accidental() {
        assert!(other(Letter::F, 1, -1, 1), "F for F sharp in G major");
        assert!(other(Letter::B, -1, 1, -1), "B for B flat in F major");
        assert!(other(Letter::A, 0, -1, -2), "A flat for A in B flat major");
        assert!(other(Letter::C, 0, 1, 0), "C sharp for C in C major");
        assert!(other(Letter::E, 1, -1, 0), "E for a printed E sharp");
    }

    #[test]
    fn a_neighbour_is_a_wrong_note() {
        assert!(!other(Letter::E, 0, 1, 0), "F for E");
        assert!(!other(Letter::B, -1, -1, -1), "A for B flat");
        assert!(!other(Letter::B, 0, 1, 2), "C for B");
        assert!(!other(Letter::C, 0, -1, -6), "B for C: C flat is not printed");
        assert!(!other(Letter::G, 0, 1, -3), "A flat for G in E flat major");
        assert!(!other(Letter::D, 0, -1, 2), "C sharp for D in D major");
        assert!(!other(Letter::F, 1, -2, 1), "two semitones");
        assert!(!other(Letter::F, 1, 1, 1), "G for F sharp");
    }
}
