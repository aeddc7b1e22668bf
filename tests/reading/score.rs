//! Small scores for tests, and short ways to say what was read.

use restward::exercise::Exercise;
use restward::read::{Choice, ReadError, read_exercise};
use std::io::Write;

/// The beginning of a part in 4/4 with four divisions.
pub(crate) const START: &str = "<attributes><divisions>4</divisions><key><fifths>0</fifths></key>\
    <time><beats>4</beats><beat-type>4</beat-type></time></attributes>";

/// A partwise score of one part; each text is the inside of one measure.
pub(crate) fn partwise(measures: &[&str]) -> String {
    let inside: String =
        measures.iter().enumerate().map(|(i, m)| format!("<measure number=\"{}\">{m}</measure>\n", i + 1)).collect();
    format!(
        "<?xml version=\"1.0\"?>\n<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\">\
         <part-name>Line</part-name></score-part></part-list><part id=\"P1\">\n{inside}</part></score-partwise>"
    )
}

/// A note; `more` stands after its duration.
pub(crate) fn note(step: char, alter: i8, octave: u8, duration: u32, more: &str) -> String {
    format!(
        "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>\
         <duration>{duration}</duration>{more}</note>"
    )
}

/// A whole note for each letter, each in its own measure, with what stands before and after it.
pub(crate) fn whole_notes(measures: &[(char, &str, &str)]) -> String {
    let inside: Vec<String> = measures
        .iter()
        .enumerate()
        .map(|(i, (step, before, after))| {
            let start = if i == 0 { START } else { "" };
            format!("{start}{before}{}{after}", note(*step, 0, 4, 16, ""))
        })
        .collect();
    partwise(&inside.iter().map(String::as_str).collect::<Vec<_>>())
}

pub(crate) fn read(bytes: impl AsRef<[u8]>) -> Result<Exercise, ReadError> {
    read_exercise(bytes.as_ref(), &Choice::default())
}

/// `C4@0/1+4/1` for each note: written pitch, onset, value.
pub(crate) fn notes(bytes: impl AsRef<[u8]>) -> String {
    let exercise = read(bytes).unwrap();
    let shown = |note: &restward::exercise::Note| format!("{}@{}+{}", note.written.ascii(), note.onset, note.duration);
    exercise.part.notes.iter().map(shown).collect::<Vec<_>>().join(" ").replace("/1", "")
}

/// The letters played, in order.
pub(crate) fn letters(bytes: impl AsRef<[u8]>) -> String {
    read(bytes).unwrap().part.notes.iter().map(|note| note.written.letter.to_string()).collect()
}

/// An archive of files.
pub(crate) fn mxl(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in files {
        archive.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// A MIDI file: format, division bytes and the events of each track, end-of-track included by the caller.
pub(crate) fn smf(format: u8, division: [u8; 2], tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0".to_vec();
    bytes.extend([format, 0, tracks.len() as u8]);
    bytes.extend(division);
    for track in tracks {
        bytes.extend(b"MTrk");
        bytes.extend((track.len() as u32).to_be_bytes());
        bytes.extend(*track);
    }
    bytes
}
