//! A sheet as text: 80 columns, no colour.

use super::super::phrases::wrapped;
use super::grid::{Row, rows};
use super::remarks::remarks;
use super::words;
use crate::instrument::{Press, Way};
use crate::prepare::{ChangedNote, Fingered, Sheet};
use crate::theory::{Pitch, Rank};
use std::io::{self, Write};

const WIDTH: usize = 80;

/// Hard spots that fit a page.
const MOST_SPOTS: usize = 6;

/// Writes one sheet.
pub(super) fn write(out: &mut dyn Write, title: &str, sheet: &Sheet) -> io::Result<()> {
    let who = super::who(sheet);
    let heading = format!("{title} · {who}");
    writeln!(out, "{heading}\n{}", "=".repeat(heading.chars().count().min(WIDTH)))?;
    for remark in remarks(sheet) {
        sentence(out, &format!("Note: {remark}"), "  ")?;
    }
    for (place, section) in sheet.sections.iter().enumerate() {
        writeln!(out)?;
        sentence(out, &words::key(sheet, section), "")?;
        for line in words::shared(sheet, place).into_iter().chain(words::printed(section)) {
            sentence(out, &line, "  ")?;
        }
        for changed in section.changed.iter().filter(|changed| words::is_shown(changed)) {
            changed_note(out, sheet, changed)?;
        }
    }
    if sheet.sections.iter().flat_map(|section| &section.changed).any(|changed| has_holes(&changed.fingered)) {
        sentence(out, "  (Left hand | right hand: 123 fingers down, - up; keys by name.)", "  ")?;
    }
    if let Some(remark) = sheet.instrument.as_ref().and_then(|instrument| instrument.fingering_remark()) {
        sentence(out, &format!("  ({remark})"), "  ")?;
    }
    writeln!(out, "\nCount (changed notes in parentheses; off: silence begins here)\n")?;
    for row in rows(sheet) {
        count_row(out, &row)?;
    }
    writeln!(out, "\nFor the director")?;
    for (title, text) in super::director(sheet) {
        sentence(out, &format!("  {title}: {text}"), "    ")?;
    }
    for (place, spot) in sheet.hard_spots.iter().take(MOST_SPOTS).enumerate() {
        let title = if place == 0 { "  hardest:  " } else { "            " };
        sentence(out, &format!("{title}{}", words::spot(&sheet.part, spot)), "            ")?;
    }
    if sheet.hard_spots.len() > MOST_SPOTS {
        writeln!(out, "            and {} more", sheet.hard_spots.len() - MOST_SPOTS)?;
    }
    Ok(())
}

fn changed_note(out: &mut dyn Write, sheet: &Sheet, changed: &ChangedNote) -> io::Result<()> {
    let name = words::changed_name(changed);
    let what = match changed.changed.rank {
        Rank::Other => format!("Also {name}"),
        rank => format!("Changed note {name} ({})", words::rank(rank)),
    };
    sentence(out, &format!("  {what}: {}", words::occurrences(&sheet.part, changed)), "    ")?;
    if let Some(missed) = words::kept_missing(sheet, changed) {
        sentence(out, &format!("    {missed}"), "    ")?;
    }
    for fingered in &changed.fingered {
        let own = fingering(sheet, fingered.written, &fingered.ways);
        let other = fingering(sheet, fingered.mistaken_for, &fingered.mistaken_ways);
        side_by_side(out, &own, &other)?;
        let alternates = words::alternates(fingered);
        if !alternates.is_empty() {
            sentence(out, &format!("         or {}", alternates.join(", or ")), "         ")?;
        }
    }
    Ok(())
}

/// What to play, and beside it what not; below it where the line is too short for both.
fn side_by_side(out: &mut dyn Write, own: &[String], other: &[String]) -> io::Result<()> {
    let longest = |lines: &[String]| lines.iter().map(|line| line.chars().count()).max().unwrap_or(0);
    let width = longest(own).max(30);
    if width + longest(other) + 9 > WIDTH {
        own.iter().try_for_each(|line| writeln!(out, "    {line}"))?;
        let mut joins = std::iter::once("not").chain(std::iter::repeat("   "));
        return other.iter().try_for_each(|line| writeln!(out, "    {} {line}", joins.next().unwrap_or_default()));
    }
    for line in 0..own.len().max(other.len()) {
        let cell = |lines: &[String]| lines.get(line).cloned().unwrap_or_default();
        let join = if line == 0 { "not" } else { "   " };
        writeln!(out, "{}", format!("    {:<width$} {join} {}", cell(own), cell(other)).trim_end())?;
    }
    Ok(())
}

/// `F♮5  O 123 | 1--`, a line for each usual way.
fn fingering(sheet: &Sheet, pitch: Pitch, ways: &[Way]) -> Vec<String> {
    let name = words::with_sign(pitch);
    let mut lines: Vec<String> = words::usual_ways(ways).map(words::way).collect();
    if lines.is_empty() {
        lines.push(words::no_fingering(sheet, pitch).into());
    }
    let name = format!("{name:<4} ");
    lines
        .into_iter()
        .enumerate()
        .map(|(place, line)| if place == 0 { format!("{name}{line}") } else { format!("     {line}") })
        .collect()
}

fn has_holes(fingered: &[Fingered]) -> bool {
    fingered.iter().flat_map(|fingered| &fingered.ways).any(|way| matches!(way.press, Press::Holes(_)))
}

fn count_row(out: &mut dyn Write, row: &Row) -> io::Result<()> {
    let label = format!("  m{}", row.measure);
    if row.rests > 0 {
        let measures = if row.rests == 1 { "measure" } else { "measures" };
        return writeln!(out, "{label:<7} {} {measures} of rest", row.rests);
    }
    // As wide as the cells need; a long measure goes on below.
    let widest = row.cells.iter().map(|cell| cell.heard.chars().count().max(cell.spoken.chars().count())).max();
    let width = (widest.unwrap_or(1) + 1).max(if row.cells.len() <= 4 { 7 } else { 5 });
    let fits = ((WIDTH - 8) / width).max(1);
    for (place, cells) in row.cells.chunks(fits).enumerate() {
        let label = if place == 0 { label.as_str() } else { "" };
        let line = |text: fn(&super::grid::Cell) -> &str| -> String {
            cells.iter().map(|cell| format!("{:<width$}", text(cell))).collect()
        };
        writeln!(out, "{}", format!("{label:<7} {}", line(|cell| &cell.spoken)).trim_end())?;
        writeln!(out, "{}", format!("        {}", line(|cell| &cell.heard)).trim_end())?;
    }
    Ok(())
}

fn sentence(out: &mut dyn Write, text: &str, indent: &str) -> io::Result<()> {
    wrapped(text, WIDTH, indent).iter().try_for_each(|line| writeln!(out, "{line}"))
}
