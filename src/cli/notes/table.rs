//! What `notes` prints for people, in 80 columns.

use super::value;
use crate::exercise::{Exercise, FollowedBy, Measure, Note, Part};
use crate::show::wrapped;
use crate::theory::Pitch;
use std::io::{self, Write};

pub(super) fn write(out: &mut impl Write, exercise: &Exercise) -> io::Result<()> {
    let part = &exercise.part;
    if let Some(title) = &exercise.title {
        writeln!(out, "{title}")?;
    }
    match part.name.name.as_str() {
        "" => writeln!(out, "Part {}: {} notes", part.name.id, part.notes.len())?,
        name => writeln!(out, "Part {} ({name}): {} notes", part.name.id, part.notes.len())?,
    }
    let mut in_force = String::new();
    for note in &part.notes {
        let Some(measure) = part.measure_of(note) else { continue };
        let now = surroundings(part, measure, note);
        if now != in_force {
            writeln!(out, "\n{now}\n")?;
            if in_force.is_empty() {
                writeln!(out, "{:<9}{:<7}{:<6}{:<24}then", "measure", "beat", "note", "value")?;
            }
            in_force = now;
        }
        writeln!(out, "{}", row(part, measure, note).trim_end())?;
    }
    for notice in &exercise.notices {
        writeln!(out, "\n{}", wrapped(&format!("Please note: {notice}"), 80, "").join("\n"))?;
    }
    Ok(())
}

/// Key, meter and tempo at a note.
fn surroundings(part: &Part, measure: &Measure, note: &Note) -> String {
    let meter = format!("{}/{}", measure.meter.count, measure.meter.unit);
    if part.tempo_given {
        let tempo = 60_000_000.0 / part.tempo.micros_per_quarter(note.onset);
        format!("{}, {meter}, {} quarter notes a minute", note.key, short(tempo))
    } else {
        format!("{}, {meter}", note.key)
    }
}

fn row(part: &Part, measure: &Measure, note: &Note) -> String {
    let mut then = vec![match note.followed_by {
        FollowedBy::Note => "note",
        FollowedBy::Rest => "rest",
        FollowedBy::End => "end",
    }];
    let marks =
        [(note.staccato, "staccato"), (note.slurred, "slur"), (note.fermata, "fermata"), (note.breath, "breath")];
    then.extend(marks.iter().filter(|(is_set, _)| *is_set).map(|(_, name)| *name));
    if !note.chord.is_empty() {
        then.push("top of a chord");
    }
    if !note.graces.is_empty() {
        then.push("grace notes before");
    }
    format!(
        "{:<9}{:<7}{:<6}{:<24}{}",
        fitting(&measure.label, 8),
        short(part.beat_of(note).to_f64()),
        spelled(note.written, note),
        fitting(&value::in_words(note.duration), 23),
        then.join(", ")
    )
}

/// `F♯5`; a natural is named where it is not what the signature says or the letter alone could mislead.
fn spelled(pitch: Pitch, note: &Note) -> String {
    let is_natural = pitch.alter == 0 && note.key.alter(pitch.letter) != 0;
    if is_natural { format!("{}♮{}", pitch.letter, pitch.octave) } else { pitch.to_string() }
}

fn fitting(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    text.chars().take(width.saturating_sub(1)).chain(['…']).collect()
}

/// At most two decimals, no zeros at the end.
fn short(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
