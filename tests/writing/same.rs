//! All exercises at hand, and whether two parts are the same music.

use restward::exercise::{Exercise, Part};
use restward::read::{Choice, read_exercise};
use std::path::{Path, PathBuf};

/// Every exercise of the project that is read, with its name: each part of each file.
pub(crate) fn exercises() -> Vec<(String, Exercise)> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    for folder in ["config/exercises", "tests/data"] {
        collect(&top.join(folder), &mut found);
    }
    found.sort();
    let mut exercises = Vec::new();
    for path in found {
        let bytes = std::fs::read(&path).unwrap();
        let name = path.strip_prefix(top).unwrap().display().to_string();
        // Some of the files are there to be refused.
        let Ok(first) = read_exercise(&bytes, &Choice::default()) else { continue };
        for part in &first.parts {
            let choice = Choice { part: Some(part.id.clone()), ..Choice::default() };
            let Ok(exercise) = read_exercise(&bytes, &choice) else { continue };
            exercises.push((format!("{name} {}", part.id), exercise));
        }
    }
    exercises
}

fn collect(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let ending = path.extension().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() {
            collect(&path, found);
        } else if ["musicxml", "xml", "mxl"].contains(&ending.as_str()) || (is_midi(&ending) && !has_takes(folder)) {
            found.push(path);
        }
    }
}

fn is_midi(ending: &str) -> bool {
    ["mid", "rmi"].contains(&ending)
}

/// Takes are played, not written: their values are no notation.
fn has_takes(folder: &Path) -> bool {
    folder.components().any(|part| ["takes", "performances"].iter().any(|name| part.as_os_str() == *name))
}

/// Everything of a part that its players see and hear, one line each.
pub(crate) fn music(part: &Part) -> Vec<String> {
    let mut lines = vec![format!("transposes by {:?}", part.transposition.unwrap_or_default())];
    for measure in &part.measures {
        let (meter, key) = (measure.meter, measure.key.ascii());
        lines.push(format!(
            "measure {} at {} lasts {}, {}/{}, {key}, implicit {}",
            measure.label, measure.onset, measure.duration, meter.count, meter.unit, measure.implicit
        ));
    }
    for note in &part.notes {
        lines.push(format!(
            "note {} {} sounds {} at {} lasts {} in {}, accidental {:?}, then {:?}, staccato {}, fermata {}, slurred {}, \
             breath {}, chord {:?}, graces {:?}, {} quarters a minute",
            note.index,
            note.written.ascii(),
            note.sounding,
            note.onset,
            note.duration,
            note.key.ascii(),
            note.alteration,
            note.followed_by,
            note.staccato,
            note.fermata,
            note.slurred,
            note.breath,
            sorted(&note.chord),
            note.graces,
            (60_000_000_000.0 / part.tempo.micros_per_quarter(note.onset)).round() / 1000.0,
        ));
    }
    lines
}

fn sorted(midi: &[u8]) -> Vec<u8> {
    let mut midi = midi.to_vec();
    midi.sort_unstable();
    midi
}

/// The first difference between two parts.
pub(crate) fn difference(a: &Part, b: &Part) -> Option<String> {
    let (a, b) = (music(a), music(b));
    let differing = a.iter().zip(&b).find(|(a, b)| a != b).map(|(a, b)| format!("\n  {a}\n  {b}"));
    differing.or_else(|| (a.len() != b.len()).then(|| format!("{} lines, {} lines", a.len(), b.len())))
}
