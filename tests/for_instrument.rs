//! A line printed for other instruments: keys, spelling, octave.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use restward::exercise::{Alteration, Part, for_instrument};
use restward::instrument::{Instrument, catalogue};
use restward::read::{Choice, read_exercise};
use restward::theory::Key;

/// A concert line of quarters in MusicXML.
fn concert(fifths: i8, notes: &[(&str, i8, i8)]) -> Part {
    let notes: String = notes
        .iter()
        .map(|(step, alter, octave)| {
            format!(
                "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>\
                 <duration>1</duration><type>quarter</type></note>"
            )
        })
        .collect();
    let text = format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>Flute</part-name></score-part></part-list>\
         <part id='P1'><measure number='1'><attributes><divisions>1</divisions><key><fifths>{fifths}</fifths></key>\
         <time><beats>4</beats><beat-type>4</beat-type></time></attributes>{notes}</measure></part></score-partwise>"
    );
    read_exercise(text.as_bytes(), &Choice::default()).unwrap().part
}

fn instrument(id: &str) -> &'static Instrument {
    catalogue().get(id).unwrap()
}

fn written(part: &Part, id: &str) -> (String, String, i8) {
    let fitted = for_instrument(part, instrument(id)).unwrap();
    let names: Vec<String> = fitted.part.notes.iter().map(|note| note.written.ascii()).collect();
    (fitted.part.measures[0].key.ascii(), names.join(" "), fitted.octaves)
}

/// By hand: up a whole tone for B♭ instruments, a major sixth for E♭ instruments, a fifth for the horn. The octaves are
/// those of the beginner ranges in config/instruments.toml.
#[test]
fn a_concert_line_by_hand() {
    let part = concert(-2, &[("B", -1, 4), ("C", 0, 5), ("D", 0, 5), ("E", -1, 5)]);
    for (id, key, notes, octaves) in [
        ("flute", "Bb major", "Bb4 C5 D5 Eb5", 0),
        ("clarinet", "C major", "C4 D4 E4 F4", -1),
        ("alto-sax", "G major", "G4 A4 B4 C5", -1),
        ("horn", "F major", "F4 G4 A4 Bb4", -1),
        ("trombone", "Bb major", "Bb2 C3 D3 Eb3", -2),
        ("tuba", "Bb major", "Bb1 C2 D2 Eb2", -3),
        ("bells", "Bb major", "Bb4 C5 D5 Eb5", 2),
    ] {
        assert_eq!(written(&part, id), (key.to_owned(), notes.to_owned(), octaves), "{id}");
    }
}

/// Concert E major would be C♯ major for an alto saxophone: printed as D♭ major, E as D♭, G♯ as F. Concert B major for a
/// clarinet likewise.
#[test]
fn keys_beyond_six_accidentals_are_respelled_with_their_notes() {
    let part = concert(4, &[("E", 0, 4), ("G", 1, 4), ("A", 0, 4), ("D", 1, 4)]);
    assert_eq!(written(&part, "alto-sax"), ("Db major".into(), "Db5 F5 Gb5 C5".into(), 0));
    let part = concert(5, &[("B", 0, 4), ("A", 1, 4)]);
    assert_eq!(written(&part, "clarinet"), ("Db major".into(), "Db4 C4".into(), -1));
}

#[test]
fn what_sounds_moves_by_whole_octaves_and_accidentals_keep_their_source() {
    for fifths in -7..=7 {
        let key = Key::major(fifths);
        let notes: Vec<(String, i8)> = restward::theory::Letter::ALL
            .into_iter()
            .flat_map(|letter| [(letter.to_string(), key.alter(letter)), (letter.to_string(), key.alter(letter) + 1)])
            .collect();
        let notes: Vec<(&str, i8, i8)> = notes.iter().map(|(step, alter)| (step.as_str(), *alter, 4)).collect();
        let part = concert(fifths, &notes);
        for instrument in catalogue().instruments() {
            let fitted = for_instrument(&part, instrument).unwrap();
            assert!(fitted.part.measures[0].key.fifths.abs() <= 7);
            for (old, new) in part.notes.iter().zip(&fitted.part.notes) {
                let id = &instrument.id;
                assert_eq!(i16::from(new.sounding), i16::from(old.sounding) + 12 * i16::from(fitted.octaves), "{id}");
                assert_eq!(instrument.transposition.to_concert(new.written).midi(), i16::from(new.sounding), "{id}");
                assert_eq!(new.alteration, old.alteration);
                let is_signature = new.key.alter(new.written.letter) == new.written.alter;
                assert_eq!(is_signature, old.alteration == Alteration::Signature, "{id} {}", new.written);
            }
        }
    }
}

/// Printing a part for its own instrument again, or back, changes nothing.
#[test]
fn there_and_back() {
    let part = concert(-3, &[("E", -1, 4), ("F", 1, 4), ("A", -1, 4), ("C", 0, 5)]);
    let flute = for_instrument(&part, instrument("flute")).unwrap();
    assert_eq!(flute.octaves, 0);
    for there in catalogue().instruments() {
        let other = for_instrument(&part, there).unwrap();
        let again = for_instrument(&other.part, there).unwrap();
        assert_eq!(again.octaves, 0, "{}", there.id);
        let back = for_instrument(&other.part, instrument("flute")).unwrap();
        for ((other, again), (flute, back)) in
            other.part.notes.iter().zip(&again.part.notes).zip(flute.part.notes.iter().zip(&back.part.notes))
        {
            assert_eq!((other.written, other.key), (again.written, again.key), "{}", there.id);
            assert_eq!((flute.written, flute.key), (back.written, back.key), "{}", there.id);
        }
    }
}

/// The new part's name says for whom it is, also to this program.
#[test]
fn the_name_is_recognised() {
    let part = concert(0, &[("C", 0, 5)]);
    for instrument in catalogue().instruments() {
        let name = for_instrument(&part, instrument).unwrap().part.name.name;
        let found = catalogue().recognise_printed(&[&name], Some(instrument.transposition));
        assert_eq!(found.map(|found| found.id.as_str()), Some(instrument.id.as_str()), "{name}");
    }
}

/// A line wider than any beginner range: the notes outside are counted.
#[test]
fn a_line_too_wide_is_counted() {
    let part = concert(0, &[("C", 0, 2), ("C", 0, 4), ("D", 0, 4), ("C", 0, 7)]);
    let fitted = for_instrument(&part, instrument("trumpet")).unwrap();
    assert_eq!(fitted.outside, 2);
}
