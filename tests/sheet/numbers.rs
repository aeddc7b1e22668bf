//! Keys, changed notes and numbers of a sheet, counted by hand in small exercises of our own.

use super::score;
use restward::exercise::{Exercise, for_instrument};
use restward::instrument::catalogue;
use restward::prepare::{Moved, Reason, Sheet};
use restward::read::{Choice, read_exercise};
use restward::theory::{Key, default_family};

/// The sheet of the one part, for its own instrument.
fn sheet(exercise: Exercise, id: &str) -> Sheet {
    Sheet::new(exercise.part, Some(catalogue().get(id).unwrap().clone()), None, &default_family())
}

fn read(part: &str, transpose: Option<(i8, i8)>, keys: &[(usize, i8)], measures: &[&str]) -> Exercise {
    let xml = score::xml(part, transpose, keys, (4, 4), measures);
    read_exercise(xml.as_bytes(), &Choice::default()).unwrap()
}

/// `F♮ primary 2`: the changed notes of a section with their number.
fn changed(sheet: &Sheet, section: usize) -> Vec<String> {
    let notes = sheet.sections[section].changed.iter();
    notes
        .map(|it| format!("{}{:+} {:?} {}", it.changed.letter, it.changed.alter, it.changed.rank, it.notes.len()))
        .collect()
}

fn reasons(sheet: &Sheet) -> Vec<String> {
    let words = |reason: &Reason| match reason {
        Reason::Leap(letters) => format!("leap {letters}"),
        Reason::OtherForm(note) => format!("other form at {note}"),
        Reason::Break => "break".into(),
        Reason::Held(beats) => format!("held {beats}"),
    };
    let spots = sheet.hard_spots.iter();
    spots
        .map(|spot| format!("{}: {}", spot.note, spot.reasons.iter().map(words).collect::<Vec<_>>().join(", ")))
        .collect()
}

/// DESIGN.md §2: concert E♭ is C for an alto, whose changed note is F♮; concert A♭ is F, with B♭ and F♮.
#[test]
fn two_keys_and_their_changed_notes() {
    let measures = ["C5:1 F5:1 F4:1 B4:1", "C5:4", "Bb4:2 F5:1 Bb4:1", "F4:4"];
    let sheet = sheet(read("Alto Saxophone", Some((-5, -9)), &[(0, 0), (2, -1)], &measures), "alto-sax");
    assert_eq!(sheet.sections.len(), 2);
    let keys = |section: usize| (sheet.sections[section].written.ascii(), sheet.sections[section].concert.ascii());
    assert_eq!(keys(0), ("C major".into(), "Eb major".into()));
    assert_eq!(keys(1), ("F major".into(), "Ab major".into()));
    // C against D, G and F: F♯ in two of them, B♭ in one, C♯ in one.
    assert_eq!(changed(&sheet, 0), ["F+0 Primary 2", "B+0 Other 1", "C+0 Other 2"]);
    assert_eq!(changed(&sheet, 1), ["B-1 Primary 2", "F+0 Secondary 2", "C+0 Other 0"]);
    assert_eq!(sheet.sections[0].shared_by, ["alto saxophone", "baritone saxophone"]);
    // Two octaves of F, each beside the F♯ that it is mistaken for, with other fingerings.
    let fingered = &sheet.sections[0].changed[0].fingered;
    assert_eq!(fingered.iter().map(|it| it.written.ascii()).collect::<Vec<_>>(), ["F4", "F5"]);
    for it in fingered {
        assert_eq!(it.mistaken_for.ascii(), it.written.ascii().replace('F', "F#"));
        assert_ne!(it.ways[0].press.short(), it.mistaken_ways[0].press.short());
    }
}

/// An important changed note that does not occur is shown once, where a beginner has it; an unimportant one is not.
#[test]
fn changed_notes_that_do_not_occur() {
    let sheet = sheet(read("Flute", None, &[(0, -1)], &["F4:2 G4:2"]), "flute");
    assert_eq!(changed(&sheet, 0), ["E+0 Primary 0", "A+0 Secondary 0", "D+0 Other 0"]);
    let shown = |place: usize| {
        let fingered = &sheet.sections[0].changed[place].fingered;
        fingered.iter().map(|it| it.written.ascii()).collect::<Vec<_>>().join(" ")
    };
    assert_eq!((shown(0).as_str(), shown(1).as_str(), shown(2).as_str()), ("E4", "A4", ""));
}

/// In concert E♭ the flute's changed note is A♭. By hand: note 1 comes by step, note 3 after a leap of a fifth down and
/// after the A♮ before it, note 5 is held three beats.
#[test]
fn hard_spots() {
    let measures = ["G4:1 Ab4:1 A4:1 G4:1", "Eb5:1 Ab4:1 r:2", "G4:1 Ab4:3"];
    let sheet = sheet(read("Flute", None, &[(0, -3)], &measures), "flute");
    assert_eq!(reasons(&sheet), ["5: leap -4, other form at 2", "7: held 3/1"]);
}

/// A letter in its other form three measures back is forgotten; an octave does not matter.
#[test]
fn the_other_form_is_remembered_for_two_measures() {
    let near = ["A5:4", "G4:4", "G4:1 Ab4:1 G4:2"];
    let far = ["A5:4", "G4:4", "G4:4", "G4:1 Ab4:1 G4:2"];
    let at = |measures: &[&str]| reasons(&sheet(read("Flute", None, &[(0, -3)], measures), "flute"));
    assert_eq!(at(&near), ["3: other form at 0"]);
    assert_eq!(at(&far), [] as [String; 0]);
}

/// The clarinet in concert F: G major, F♯ and B♮ are changed. From A4 to B4 the fingers cross the break; after a rest
/// there is time.
#[test]
fn over_the_break() {
    let measures = ["A4:1 B4:1 A4:1 r:1", "r:1 B4:1 C5:2"];
    let sheet = sheet(read("Clarinet in B♭", Some((-1, -2)), &[(0, 1)], &measures), "clarinet");
    assert_eq!(reasons(&sheet), ["1: break"]);
}

#[test]
fn longest_hold_and_breath() {
    let measures = ["C5:1 D5:1 E5:2", "C5:4'", "G4:4", "G4:4", "C5:3 r:1", "C5:2 D5:2~", "D5:4~", "D5:2 r:2"];
    let sheet = sheet(read("Flute", None, &[(0, 0)], &measures), "flute");
    let longest = &sheet.part.notes[sheet.longest.unwrap()];
    assert_eq!((longest.measure, longest.duration.to_string().as_str()), (5, "8/1"));
    let stretches: Vec<(usize, usize)> = sheet.breathless.iter().map(|it| (it.first, it.last)).collect();
    assert_eq!(stretches, [(0, 0), (2, 3), (5, 6)]);
}

/// Who strikes needs no breath and has no release.
#[test]
fn bars_ring_by_themselves() {
    let sheet = sheet(read("Bells", Some((14, 24)), &[(0, 0)], &["C5:2 r:2", "C5:4"]), "bells");
    assert!(sheet.releases.is_empty());
    assert!(sheet.breathless.is_empty());
}

/// Beginner range of the clarinet: E3 to C5 (config/instruments.toml).
#[test]
fn range_and_octave() {
    let check = |notes: &str| {
        let sheet = sheet(read("Clarinet in B♭", Some((-1, -2)), &[(0, 0)], &[notes]), "clarinet");
        let range = sheet.range.unwrap();
        (range.notes_outside, range.playable, range.octaves)
    };
    assert_eq!(check("E3:2 C5:2"), (0, true, None));
    assert_eq!(check("D5:1 E5:1 G5:2"), (3, true, Some(-1)));
    assert_eq!(check("C5:1 D5:1 E3:2"), (1, true, None), "no octave helps");
    assert_eq!(check("C3:1 D3:1 E3:2"), (2, false, Some(1)));
    assert_eq!(check("C2:2 C7:2"), (2, false, None));
}

/// Concert E for an alto would be C♯ major: printed as D♭ major (by hand), and the sheet says so.
#[test]
fn a_key_beyond_six_accidentals_is_respelled() {
    let line = read("Flute", None, &[(0, 4)], &["E4:2 G#4:2"]);
    let alto = catalogue().get("alto-sax").unwrap();
    let fitted = for_instrument(&line.part, alto).unwrap();
    let moved = Moved { octaves: fitted.octaves, concert_keys: vec![Key::major(4)] };
    let sheet = Sheet::new(fitted.part, Some(alto.clone()), Some(moved), &default_family());
    assert_eq!(sheet.sections[0].written.ascii(), "Db major");
    assert_eq!(sheet.sections[0].concert.ascii(), "E major");
    assert!(sheet.sections[0].respelled);
    assert_eq!(sheet.sections[0].shared_by, ["alto saxophone", "baritone saxophone"]);
    // A publisher who prints seven sharps is taken at his word.
    let printed = super::numbers::sheet(read("Alto Saxophone", Some((-5, -9)), &[(0, 7)], &["C#5:4"]), "alto-sax");
    assert_eq!(printed.sections[0].written.ascii(), "C# major");
    assert!(!printed.sections[0].respelled);
}

/// Concert G minor is A minor for a clarinet: G♯ is printed.
#[test]
fn minor_tells_its_leading_tone() {
    let xml = score::xml("Clarinet in B♭", Some((-1, -2)), &[(0, 0)], (4, 4), &["A3:2 G#3:2"])
        .replace("<fifths>0</fifths>", "<fifths>0</fifths><mode>minor</mode>");
    let sheet = sheet(read_exercise(xml.as_bytes(), &Choice::default()).unwrap(), "clarinet");
    let (letter, alter) = sheet.sections[0].printed.unwrap();
    assert_eq!((letter.to_string().as_str(), alter), ("G", 1));
    assert_eq!(sheet.sections[0].concert.ascii(), "G minor");
}

/// Repeats are played: a changed note between repeat signs counts twice.
#[test]
fn occurrences_are_counted_as_played() {
    let xml = score::xml("Flute", None, &[(0, -3)], (2, 4), &["Ab4:2"]).replacen(
        "</measure></part>",
        "<barline location=\"right\"><repeat direction=\"backward\"/></barline></measure></part>",
        1,
    );
    let sheet = sheet(read_exercise(xml.as_bytes(), &Choice::default()).unwrap(), "flute");
    assert_eq!(changed(&sheet, 0)[0], "A-1 Primary 2");
}
