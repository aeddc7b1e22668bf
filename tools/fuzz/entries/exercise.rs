//! Exercises: sums in what is read are exact, it can be judged with nothing played, prepared and written.

use super::marked;
use restward::exercise::{Micros, Part, Quarters};
use restward::judge::{Engine, Level, Sends, Settings};
use restward::prepare::Sheet;
use restward::read::{Choice, read_exercise};
use restward::theory::default_family;
use restward::write::{self, MarkedPart};
use std::sync::Arc;

/// MusicXML, or whatever the bytes are.
pub(crate) fn musicxml(bytes: &[u8]) {
    read(bytes);
}

/// Compressed MusicXML.
pub(crate) fn mxl(bytes: &[u8]) {
    read(&marked(b"PK\x03\x04", &[b"PK"], bytes));
}

/// A Standard MIDI File as an exercise.
pub(crate) fn smf(bytes: &[u8]) {
    read(&marked(b"MThd", &[b"MThd", b"RIFF"], bytes));
}

/// ABC; the header that every tune has stands before.
pub(crate) fn abc(bytes: &[u8]) {
    read(&marked(b"X:1\n", &[b"X:", b"%abc"], bytes));
}

/// Parts longer than this are read, not judged, prepared and written as well: that is a matter of time, measured
/// by `tools/fuzz/large.py`.
const MOST_NOTES: usize = 400;

fn read(bytes: &[u8]) {
    let Ok(exercise) = read_exercise(bytes, &Choice::default()) else { return };
    let part = exercise.part;
    assert!(!exercise.parts.is_empty());
    exact(&part);
    if part.notes.len() > MOST_NOTES {
        return;
    }
    let marked = [MarkedPart::new(&part)];
    if let Ok(written) = write::musicxml(exercise.title.as_deref(), &marked) {
        let again = read_exercise(written.as_bytes(), &Choice::default());
        assert!(again.is_ok(), "what was written is not read: {:?}", again.err());
    }
    let _ = write::abc(exercise.title.as_deref(), &marked);
    let part = Arc::new(part);
    let sheet = Sheet::new(Part::clone(&part), None, None, &default_family());
    assert!(sheet.releases.len() <= part.notes.len());
    let settings = Settings {
        level: Level::FirstYear,
        sends: Sends::Auto,
        grid: None,
        delay: None,
        instrument: None,
        family: default_family(),
        stamp_error: Settings::stamp_error(Micros(0)),
    };
    let (report, _) = Engine::new(Arc::clone(&part), settings).finish(Micros(1_000_000));
    assert_eq!(report.notes.len(), part.notes.len());
}

/// What holds for every part that was read.
fn exact(part: &Part) {
    let mut onset = Quarters::ZERO;
    for measure in &part.measures {
        assert_eq!(measure.onset, onset);
        onset += measure.duration;
    }
    for (index, note) in part.notes.iter().enumerate() {
        assert_eq!(note.index, index);
        assert!(note.duration > Quarters::ZERO);
        let measure = &part.measures[note.measure];
        assert!(note.onset >= measure.onset && note.onset <= measure.onset + measure.duration);
        assert!(part.beat_of(note).to_f64().is_finite());
    }
    assert!(part.notes.windows(2).all(|pair| pair[0].onset <= pair[1].onset));
}
