//! A judged take as text: the findings in order, then the take in numbers.

use super::words;
use crate::exercise::Part;
use crate::judge::{Count, Report, Settings};
use std::io::{self, Write};

/// What stands over a report.
pub struct Heading<'a> {
    /// The exercise.
    pub title: &'a str,
    /// The take.
    pub take: &'a str,
}

/// Writes a report for people: 80 columns, no colour.
pub fn write(
    out: &mut dyn Write,
    heading: &Heading,
    part: &Part,
    settings: &Settings,
    report: &Report,
) -> io::Result<()> {
    let player = settings.instrument.as_ref().map_or(part.name.name.as_str(), |instrument| instrument.name.as_str());
    writeln!(out, "{}", [heading.title, player, heading.take].join(" · "))?;
    if let Some(first) = part.notes.first() {
        let beat = if settings.grid.is_some() { "with a click" } else { "no click" };
        writeln!(
            out,
            "written key {}, {beat}, {}",
            words::key_with_signature(first.key),
            words::level(settings.level)
        )?;
    }
    writeln!(out)?;
    for remark in &report.remarks {
        writeln!(out, "{}", words::wrapped(remark, "", 80))?;
    }
    for flag in &report.flags {
        writeln!(out, "{}", words::flag_line(flag, ""))?;
    }
    if report.flags.is_empty() {
        writeln!(out, "Nothing to correct: every note right and held to its full value.")?;
    }
    writeln!(out)?;
    for restart in &report.restarts {
        let measure = |index: usize| report.notes.get(index).map_or("?", |note| note.measure.as_str());
        writeln!(
            out,
            "begun again: from measure {} back to measure {} (no fault; the last attempt counts)",
            measure(restart.from_index),
            measure(restart.to_index)
        )?;
    }
    if !report.extra.is_empty() {
        let times: Vec<String> = report.extra.iter().map(|extra| format!("{:.1} s", extra.onset_s)).collect();
        let line = format!("notes that are not in the part: {} (at {})", report.extra.len(), times.join(", "));
        writeln!(out, "{}", words::wrapped(&line, "  ", 80))?;
    }
    write_totals(out, report)
}

/// The take in numbers, one line each; what was not judged is left out.
pub fn write_totals(out: &mut dyn Write, report: &Report) -> io::Result<()> {
    let totals = &report.totals;
    let rows = [
        ("right notes", totals.right_pitches),
        ("changed notes right", totals.changed_notes),
        ("notes held to full value", totals.full_releases),
        ("entrances on the beat", totals.entrances),
    ];
    for (name, Count { good, of }) in rows {
        if of > 0 {
            writeln!(out, "  {name:26} {good:>3} of {of}")?;
        }
    }
    Ok(())
}
