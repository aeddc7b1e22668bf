//! A judged take as text: the findings in order, then the take in numbers.

use super::advice;
use super::finding::{CLOSE, TOO_CLOSE, count_lines, place, symbol};
use super::key_check::signature;
use super::phrases::wrapped;
use crate::exercise::Part;
use crate::judge::{Delay, DelayFrom, Level, Report, Settings};
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
        let level = match settings.level {
            Level::FirstYear => "first-year level",
            Level::SecondYear => "second-year level",
            Level::ThirdYear => "third-year level",
        };
        let delay = match report.totals.delay {
            Some(Delay { ms, from: DelayFrom::Measured }) => format!(", {ms} ms of delay taken off"),
            _ => String::new(),
        };
        let (key, signature) = (first.key, signature(first.key));
        lines(out, &format!("written key {key} ({signature}), {beat}{delay}, {level}"), "")?;
    }
    writeln!(out)?;
    for remark in &report.remarks {
        lines(out, remark, "")?;
    }
    for flag in &report.flags {
        let (symbol, _) = symbol(flag.kind);
        let begin = format!("{symbol} {}  ", place(flag));
        let indent = " ".repeat(begin.chars().count());
        lines(out, &format!("{begin}{}", flag.sentence), &indent)?;
    }
    if report.flags.is_empty() && report.totals.fits {
        writeln!(out, "Nothing to correct: every note right and held to its full value.")?;
    }
    for flag in &report.close {
        let begin = format!("{CLOSE} {}  ", place(flag));
        let indent = " ".repeat(begin.chars().count());
        lines(out, &format!("{begin}{TOO_CLOSE}: {}", flag.sentence), &indent)?;
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
        lines(out, &line, "  ")?;
    }
    for line in count_lines(&report.totals) {
        writeln!(out, "  {line}")?;
    }
    let played = report.notes.iter().any(|note| note.onset_s.is_some());
    lines(out, &format!("Next: {}", advice(report, played)), "  ")
}

/// A sentence on lines of 80 columns.
fn lines(out: &mut dyn Write, text: &str, indent: &str) -> io::Result<()> {
    wrapped(text, 80, indent).iter().try_for_each(|line| writeln!(out, "{line}"))
}
