//! MusicXML, by our own reader. The same is done with music21 and partitura in tools/reference.

use crate::same::{difference, exercises};
use restward::exercise::{Alteration, Exercise, FollowedBy, Part, for_instrument};
use restward::instrument::catalogue;
use restward::read::{Choice, read_exercise};
use restward::write::{MarkedPart, held_over, musicxml, printed_ids};
use std::path::Path;

#[test]
fn every_exercise_is_read_again_as_it_was() {
    let mut wrong = Vec::new();
    let mut count = 0;
    for (name, exercise) in exercises() {
        let text = match musicxml(exercise.title.as_deref(), &[MarkedPart::new(&exercise.part)]) {
            Ok(text) => text,
            Err(error) => {
                wrong.push(format!("{name}: {error}"));
                continue;
            }
        };
        let again = match read_exercise(text.as_bytes(), &Choice::default()) {
            Ok(again) => again,
            Err(error) => {
                wrong.push(format!("{name}: {error}"));
                continue;
            }
        };
        count += 1;
        // Two notes at once cannot be one line: the writer says so (smf-same-pitch-overlap).
        if held_over(&exercise.part) > 0 {
            continue;
        }
        if let Some(difference) = difference(&exercise.part, &again.part) {
            wrong.push(format!("{name}: {difference}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {count}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(count > 60, "{count}");
}

/// All exercises with every kind of mark, for their own and for other instruments: the same music, and files for the
/// checks in tools/reference, which read them with other programs.
#[test]
fn marks_change_nothing() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("marked");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let mut wrong = Vec::new();
    for (number, (name, exercise)) in exercises().into_iter().enumerate() {
        if held_over(&exercise.part) > 0 {
            continue;
        }
        let mut parts = vec![(name.clone(), exercise.part.clone())];
        // A few exercises are printed for everybody.
        if number < 3 {
            parts.extend(catalogue().instruments().map(|instrument| {
                (format!("{name} {}", instrument.id), for_instrument(&exercise.part, instrument).unwrap().part)
            }));
        }
        for (name, part) in parts {
            let text = musicxml(exercise.title.as_deref(), &[marked(&part)]).unwrap();
            let again = read_exercise(text.as_bytes(), &Choice::default()).unwrap();
            if let Some(difference) = difference(&part, &again.part) {
                wrong.push(format!("{name}: {difference}"));
            }
            let plain: String = name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
            std::fs::write(folder.join(format!("{plain}.musicxml")), text).unwrap();
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every note a courtesy, every note before a rest a release.
fn marked(part: &Part) -> MarkedPart<'_> {
    let before_rest = part.notes.iter().filter(|note| note.followed_by != FollowedBy::Note);
    let instrument = catalogue().recognise_printed(&[&part.name.name], part.transposition);
    MarkedPart {
        instrument,
        courtesy: (0..part.notes.len()).collect(),
        releases: before_rest.map(|note| (note.index, "→4".to_owned())).collect(),
        ..MarkedPart::new(part)
    }
}

/// Where a repeat is printed as a sign, what is marked at a note of the second pass stands at the note that is printed.
#[test]
fn marks_stand_at_what_is_printed() {
    let exercise = exercise("repeat-endings-times");
    let part = &exercise.part;
    let ids = printed_ids(part);
    assert!(
        ids.iter().any(|id| ids.iter().filter(|other| *other == id).count() > 1),
        "a note is played twice: {ids:?}"
    );
    for note in &part.notes {
        let marked = MarkedPart { releases: vec![(note.index, "→4".to_owned())], ..MarkedPart::new(part) };
        let text = musicxml(None, &[marked]).unwrap();
        let document = roxmltree::Document::parse(&text).unwrap();
        let lyrics: Vec<_> = document.descendants().filter(|node| node.has_tag_name("lyric")).collect();
        assert_eq!(lyrics.len(), 1);
        let at = lyrics[0].parent().unwrap().attribute("id").unwrap();
        assert_eq!(at, ids[note.index], "note {}", note.index);
    }
}

/// A printed accidental is no courtesy, and is printed once; a courtesy stands in parentheses (MusicXML 4.0
/// `accidental`).
#[test]
fn accidentals_are_printed_once() {
    let exercise = exercise("alter-not-accidental");
    let part = &exercise.part;
    let marked = MarkedPart { courtesy: (0..part.notes.len()).collect(), ..MarkedPart::new(part) };
    let text = musicxml(None, &[marked]).unwrap();
    let document = roxmltree::Document::parse(&text).unwrap();
    for note in &part.notes {
        let id = format!("n{}", note.index);
        let element = document.descendants().find(|node| node.attribute("id") == Some(&id)).unwrap();
        let accidentals: Vec<_> = element.children().filter(|child| child.has_tag_name("accidental")).collect();
        assert_eq!(accidentals.len(), 1, "{id}");
        let in_parentheses = accidentals[0].attribute("parentheses") == Some("yes");
        assert_eq!(in_parentheses, note.alteration != Alteration::Printed, "{id}");
    }
}

/// Several parts in one score keep apart, with identifiers of their own (MusicXML 4.0: an `id` is unique in its file).
#[test]
fn several_parts_in_one_score() {
    let exercise = exercise("ties-and-slurs");
    let clarinet = for_instrument(&exercise.part, catalogue().get("clarinet").unwrap()).unwrap().part;
    let text =
        musicxml(Some("Two <parts> & more"), &[MarkedPart::new(&exercise.part), MarkedPart::new(&clarinet)]).unwrap();
    let document = roxmltree::Document::parse(&text).unwrap();
    let notes = document.descendants().filter(|node| node.has_tag_name("note"));
    let mut ids: Vec<_> = notes.filter_map(|node| node.attribute("id")).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count);
    assert!(ids.contains(&"P2-n0"));
    for (number, part) in [("1", &exercise.part), ("2", &clarinet)] {
        let choice = Choice { part: Some(number.to_owned()), ..Choice::default() };
        let again = read_exercise(text.as_bytes(), &choice).unwrap();
        assert_eq!(again.title.as_deref(), Some("Two <parts> & more"));
        assert_eq!(difference(part, &again.part), None);
    }
}

/// The exercise of a case of tests/data/cases.
fn exercise(case: &str) -> Exercise {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/cases").join(case).join("in.musicxml");
    read_exercise(&std::fs::read(path).unwrap(), &Choice::default()).unwrap()
}
