//! `restward clean`.

use super::{Failure, Outcome};
use crate::listen::{CleanNote, clean_notes, take};
use crate::theory::{Key, Pitch};
use serde::Serialize;
use std::io::{self, Write};
use std::path::PathBuf;

/// Turns raw timed MIDI bytes into the notes that were meant.
///
/// Glitches between fingerings, bouncing contacts, floods of breath data, lost note-offs and pulled cables are
/// taken care of. To see what a controller really sends, and what restward makes of it.
#[derive(clap::Args)]
#[command(after_help = "Examples:\n  restward clean stream.json --json\n  restward clean take.mid")]
pub(super) struct Arguments {
    /// A list of [seconds, [bytes]] in JSON, or a take (Standard MIDI File)
    #[arg(value_name = "STREAM")]
    stream: PathBuf,
    /// For programs: one JSON object
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let take = take::read_any_file(&arguments.stream).map_err(Failure::input)?;
    let notes = clean_notes(&take.inputs);
    let mut out = io::BufWriter::new(io::stdout().lock());
    if arguments.json {
        let listing = Listing { notes: notes.iter().map(Row::of).collect() };
        serde_json::to_writer(&mut out, &listing).map_err(io::Error::from)?;
        writeln!(out)?;
    } else {
        table(&mut out, &notes)?;
        for notice in &take.notices {
            writeln!(out, "\nPlease note: {notice}")?;
        }
    }
    out.flush()?;
    Ok(())
}

#[derive(Serialize)]
struct Listing {
    notes: Vec<Row>,
}

/// Times in seconds from the start of the take or stream.
#[derive(Serialize)]
struct Row {
    midi: u8,
    on_s: f64,
    off_s: f64,
}

impl Row {
    fn of(note: &CleanNote) -> Row {
        Row { midi: note.midi, on_s: note.on.seconds(), off_s: note.off.seconds() }
    }
}

fn table(out: &mut impl Write, notes: &[CleanNote]) -> io::Result<()> {
    match notes {
        [] => return writeln!(out, "No notes."),
        [_] => writeln!(out, "1 note. Times in seconds, pitches as sent.\n")?,
        _ => writeln!(out, "{} notes. Times in seconds, pitches as sent.\n", notes.len())?,
    }
    writeln!(out, "{:>5}  {:<5} {:>4} {:>11} {:>11} {:>9}", "", "note", "MIDI", "begins", "ends", "lasts")?;
    for (number, note) in (1..).zip(notes) {
        let name = Pitch::spelled_in(i16::from(note.midi), Key::major(0)).to_string();
        let (on, off) = (note.on.seconds(), note.off.seconds());
        writeln!(out, "{number:>5}  {name:<5} {:>4} {on:>11.3} {off:>11.3} {:>9.3}", note.midi, off - on)?;
    }
    Ok(())
}
