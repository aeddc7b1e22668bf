//! Fingerings: brass against published facts, woodwinds against what their acoustics tie together.
//!
//! That a single entry of `config/fingerings.toml` is the usual one is common practice, no source, except where the
//! file names one; here stands what would show a slip in it.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::instrument::{Charts, Family, Hand, Hole, Holes, Instrument, Press, catalogue};
use restward::theory::{Key, Letter, Pitch};

fn instrument(id: &str) -> &'static Instrument {
    catalogue().get(id).unwrap()
}

fn midi(name: &str) -> i16 {
    Pitch::parse(name).unwrap().midi()
}

/// The ways to play a note, in short, the alternates with their names.
fn ways(id: &str, note: &str) -> Vec<String> {
    let ways = instrument(id).ways(midi(note)).into_iter();
    ways.map(|way| way.name.map_or_else(|| way.press.short(), |name| format!("{name}: {}", way.press.short())))
        .collect()
}

/// The usual way of a woodwind note.
fn holes(id: &str, written: i16) -> Option<Holes> {
    match instrument(id).ways(written).into_iter().next()?.press {
        Press::Holes(holes) => Some(holes),
        _ => None,
    }
}

/// OEIS A309909, after Kennan, "The Technique of Orchestration" (1952): open, 2, 1, 1-2, 2-3, 1-3, 1-2-3 lower by 0 to
/// 6 semitones, and so do the slide positions 1 to 7. Taken downward from the second harmonic, below which no shorter
/// tube has a note that beginners are asked for.
#[test]
fn valves_and_positions_lower_by_semitones() {
    let valves = ["C4", "B3", "Bb3", "A3", "Ab3", "G3", "F#3"].map(|note| ways("trumpet", note)[0].clone());
    assert_eq!(valves, ["open", "2", "1", "1-2", "2-3", "1-3", "1-2-3"]);
    let positions = ["Bb2", "A2", "Ab2", "G2", "Gb2", "F2", "E2"].map(|note| ways("trombone", note)[0].clone());
    let numbers = ["1st", "2nd", "3rd", "4th", "5th", "6th", "7th"].map(|number| format!("{number} position"));
    assert_eq!(positions, numbers);
}

/// Alternates of the trombone, Wikibooks, "Trombone/Slide Positions": the entries marked "(alt)" within the beginner's
/// range that stand on the harmonics it starts with. Of the trumpet and for a fourth valve: common practice, no source.
#[test]
fn alternates() {
    for (note, positions) in [
        ("F3", ["1st position", "6th position"]),
        ("Bb3", ["1st position", "5th position"]),
        ("D4", ["1st position", "4th position"]),
        ("A3", ["2nd position", "6th position"]),
        ("E3", ["2nd position", "7th position"]),
        ("C4", ["3rd position", "6th position"]),
    ] {
        assert_eq!(ways("trombone", note), positions, "{note}");
    }
    assert_eq!(ways("trumpet", "E5"), ["open", "1-2", "3"]);
    assert_eq!(ways("trumpet", "D5"), ["1", "1-3"]);
    assert_eq!(ways("trumpet", "A4"), ["1-2", "3"]);
    assert_eq!(ways("trumpet", "D4"), ["1-3"]);
    assert_eq!(ways("euphonium", "C3"), ["1-3", "4 valves: 4"]);
    assert_eq!(ways("tuba", "B1"), ["1-2-3", "4 valves: 2-4"]);
    let partial = |note: &str| match instrument("trombone").ways(midi(note))[0].press {
        Press::Slide { partial, .. } => partial,
        _ => 0,
    };
    // Harmonics of the trombone's first position: B♭2 is the second, F3 the third, B♭3 the fourth, D4 the fifth.
    assert_eq!(["Bb2", "F3", "Bb3", "D4"].map(partial), [2, 3, 4, 5]);
}

/// The B♭ side of the horn: from A♭4 to C5 it is fingered as the F side (scribd.com 570094472, "French Horn Fingering
/// Chart"); F♯5 to C6 as in hornoverdrive.wikidot.com, "Fingering and tuning"; F♯4 with 1-2 as told there. The rest:
/// common practice, no source.
#[test]
fn both_sides_of_the_horn() {
    let side = |note: &str| ways("horn", note)[1].strip_prefix("B♭ side: T ").unwrap().to_owned();
    for note in ["Ab4", "A4", "Bb4", "B4", "C5"] {
        assert_eq!(ways("horn", note)[0].strip_prefix("F horn: ").unwrap(), side(note), "{note}");
    }
    assert_eq!(["F#5", "G5", "Ab5", "A5", "Bb5", "B5", "C6"].map(side), ["2", "open", "2-3", "1-2", "1", "2", "open"]);
    assert_eq!(["Bb3", "C4", "D4", "Eb4", "F4", "F#4", "G4"].map(side), ["1", "open", "1-2", "1", "open", "1-2", "1"]);
}

/// Every note of a woodwind's beginner range, and a semitone beyond it where the instrument goes on: that is every
/// changed note of any key and the note that it is mistaken for.
#[test]
fn the_beginner_ranges_are_covered() {
    for instrument in catalogue().instruments().filter(|instrument| instrument.family == Family::Woodwind) {
        let low = (instrument.beginner_range.0.midi() - 1).max(instrument.full_range.0.midi());
        // The bassoon's E♭4 is beyond the first years' charts, and no key changes its neighbour D4 upward.
        let above = if instrument.id == "bassoon" { 0 } else { 1 };
        for written in low..=instrument.beginner_range.1.midi() + above {
            assert!(!instrument.ways(written).is_empty(), "{} {written}", instrument.id);
        }
    }
}

/// The changed notes of concert keys from C to D♭ and to D, by name, within everybody's beginner range, and the form
/// that each is mistaken for.
#[test]
fn changed_notes_are_covered() {
    let mut asked = 0;
    let family: Vec<Key> = (-5..=2).map(Key::major).collect();
    for instrument in catalogue().instruments() {
        for &key in &family {
            let (_, changed) = instrument.changed_notes(key, &family);
            let (low, high) = instrument.beginner_range;
            for (changed, octave) in changed.iter().flat_map(|changed| (0..8).map(move |octave| (changed, octave))) {
                let pitch = Pitch::new(changed.letter, changed.alter, octave);
                if (low.midi()..=high.midi()).contains(&pitch.midi()) {
                    assert!(!instrument.ways(pitch.midi()).is_empty(), "{} {pitch}", instrument.id);
                    asked += 1;
                }
            }
        }
    }
    assert!(asked > 500, "{asked}");
}

/// Two notes a semitone apart are never fingered alike: or else the one would sound as the other.
#[test]
fn neighbours_differ() {
    for instrument in catalogue().instruments().filter(|i| matches!(i.family, Family::Woodwind | Family::Brass)) {
        let (low, high) = instrument.full_range;
        for written in low.midi()..high.midi() {
            let (here, above) = (instrument.ways(written), instrument.ways(written + 1));
            for way in here.iter().filter(|way| way.usual) {
                let same = above.iter().filter(|other| other.name == way.name);
                same.for_each(|other| assert_ne!(way.press, other.press, "{} {written}", instrument.id));
            }
        }
    }
}

/// The same keys but for those named, in both hands.
fn without(holes: &Holes, labels: &[&str]) -> Vec<String> {
    let hands = [&holes.left, &holes.right];
    let keys = hands.iter().flat_map(|hand| hand.thumb.iter().chain(&hand.keys));
    let mut pressed: Vec<String> =
        keys.filter(|key| key.pressed && !labels.contains(&key.label.as_str())).map(|key| key.label.clone()).collect();
    pressed.extend(hands.iter().map(|hand| format!("{:?}", hand.fingers)));
    pressed.sort();
    pressed
}

/// A conical tube overblows the octave, a cylinder closed at the mouthpiece the twelfth (Fletcher and Rossing, "The
/// Physics of Musical Instruments"): the upper register is the lower one with the vent.
#[test]
fn upper_registers_repeat_the_lower_ones() {
    for (ids, from, to, interval, vents) in [
        ("clarinet bass-clarinet", "B4", "C6", 19, &["R"][..]),
        ("alto-sax tenor-sax bari-sax", "D5", "C#6", 12, &["8ve"]),
        ("oboe", "E5", "C6", 12, &["1st 8ve", "2nd 8ve"]),
        ("flute piccolo", "E5", "C#6", 12, &[]),
        ("bassoon", "A3", "D4", 12, &["W"]),
    ] {
        for id in ids.split(' ') {
            for written in midi(from)..=midi(to) {
                let (upper, lower) = (holes(id, written), holes(id, written - interval));
                let (Some(upper), Some(lower)) = (upper, lower) else { panic!("{id} {written}") };
                assert_eq!(without(&upper, vents), without(&lower, vents), "{id} {written}");
                let open = |holes: &Holes| {
                    vents.iter().all(|vent| !holes.left.thumb.iter().any(|key| key.pressed && key.label == *vent))
                };
                if !vents.is_empty() {
                    assert_ne!(open(&upper), open(&lower), "{id} {written}: the vent tells them apart");
                }
            }
        }
    }
}

/// On every woodwind the first, second and third finger of the left hand give three notes downward, and the right hand
/// goes on: B A G, then down to D (flute, oboe, saxophone); the clarinet a fifth lower, the bassoon E D C, then G.
/// Common practice, no source.
#[test]
fn six_fingers_go_down_the_scale() {
    for (ids, notes) in [
        ("flute piccolo oboe alto-sax tenor-sax bari-sax", "B4 A4 G4 E4 D4"),
        ("clarinet bass-clarinet", "E4 D4 C4 A3 G3"),
        ("bassoon", "E3 D3 C3 A2 G2"),
    ] {
        for id in ids.split(' ') {
            let fingers = notes.split(' ').map(|note| {
                let holes = holes(id, midi(note)).unwrap();
                let down = |hand: &Hand| hand.fingers.iter().filter(|hole| **hole == Hole::Covered).count();
                (down(&holes.left), down(&holes.right))
            });
            assert_eq!(fingers.collect::<Vec<_>>(), [(1, 0), (2, 0), (3, 0), (3, 2), (3, 3)], "{id}");
        }
    }
}

/// Fingerings that published pages spell out; the pages are named.
#[test]
fn as_published() {
    for (id, note, fingering) in [
        // drcatesflutetips.wordpress.com, "The 5 most common fingering mistakes" (2014): F♯ is T123|003E♭, D above the
        // staff T023|000E♭, middle D and E♭ with the first finger up.
        ("flute", "F#4", "T 123 | --3 E♭"),
        ("flute", "F#5", "T 123 | --3 E♭"),
        ("flute", "D6", "T -23 | --- E♭"),
        ("flute", "D5", "T -23 | 123"),
        ("flute", "Eb5", "T -23 | 123 E♭"),
        // scribd.com 166125419, "Fingering of Sax".
        ("alto-sax", "B4", "1-- | ---"),
        ("alto-sax", "C5", "-2- | ---"),
        ("alto-sax", "A4", "12- | ---"),
        ("alto-sax", "G4", "123 | ---"),
        ("alto-sax", "F#4", "123 | -2-"),
        ("alto-sax", "E4", "123 | 12-"),
        ("alto-sax", "D4", "123 | 123"),
        // oboeinsight.com, "The F Words" (2006): regular, left, forked.
        ("oboe", "F4", "123 | 12- F"),
        // bretpimentel.com, "Commonly fudged woodwind fingerings": half hole, no octave key; B needs one little finger.
        ("oboe", "D5", "½23 | 123"),
        ("clarinet", "B4", "R T 123 | 123 E/B"),
        // C. Lowe, open textbook for bassoon (SUNY): thumb F♯, F goes down by itself; A♭ is G with the little finger.
        ("bassoon", "F#2", "W 123 | thumb F♯ 123"),
        ("bassoon", "Ab2", "W 123 | 123 A♭"),
    ] {
        assert_eq!(ways(id, note)[0], fingering, "{id} {note}");
    }
    assert_eq!(ways("oboe", "F4")[1..], ["left F: 123 left F | 12-", "forked F: 123 | 1-3"]);
}

#[test]
fn words_for_a_child() {
    let words = |id: &str, note: &str| instrument(id).ways(midi(note))[0].press.words();
    assert_eq!(words("flute", "Bb4"), "left thumb; left 1; right 1; right little finger, E♭ key");
    assert_eq!(words("clarinet", "G4"), "all fingers up");
    assert_eq!(words("bassoon", "G3"), "left thumb, whisper key; left half of 1 2 3; right 1 2 3");
    assert_eq!(words("trumpet", "D4"), "valves 1 and 3");
    assert_eq!(words("trombone", "C4"), "slide in 3rd position, 5th partial");
    assert_eq!(words("bells", "F#4"), "a bar of the back row");
    assert_eq!(words("keyboard", "F4"), "a white key");
}

/// E♭3 is below the clarinet, D♭4 below the piccolo.
#[test]
fn notes_that_are_not_there() {
    assert!(ways("clarinet", "Eb3").is_empty());
    assert_eq!(ways("bass-clarinet", "Eb3"), ["T 123 | 123 low E♭"]);
    assert!(ways("piccolo", "C#4").is_empty());
    assert_eq!(ways("flute", "C#4"), ["T 123 | 123 C♯"]);
}

#[test]
fn a_bad_file_is_refused_with_its_place() {
    let file = |notes: &str| {
        format!("[[chart]]\ninstruments = [\"flute\"]\n[chart.keys]\nT = [\"T\", \"thumb\"]\n[chart.notes]\n{notes}")
    };
    let refused = |notes: &str| Charts::from_toml(&file(notes)).unwrap_err().to_string();
    assert!(Charts::from_toml(&file("C4 = \"T 123 | 12-\"")).is_ok());
    assert!(refused("H4 = \"T 123 | 123\"").contains("'H4'"));
    assert!(refused("\"B#3\" = \"123 | 123\"\nC4 = \"123 | 123\"").contains("twice"));
    assert!(refused("C4 = \"T 123 | 123 Q\"").contains("at 'Q'"));
    assert!(refused("C4 = \"T 123\"").contains("fingering of C4 on flute"));
    assert!(refused("C4 = \"T 132 | 123\"").contains("at '132'"));
    assert!(refused("C4 = 7").contains("line"));
}

/// The check of coverage asks all seven letters.
#[test]
fn every_letter_is_changed_somewhere() {
    let family: Vec<Key> = (-5..=2).map(Key::major).collect();
    for letter in Letter::ALL {
        let changed = family.iter().any(|&key| {
            instrument("flute").changed_notes(key, &family).1.iter().any(|changed| changed.letter == letter)
        });
        assert!(changed, "{letter}");
    }
}
