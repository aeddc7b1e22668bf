//! Grades for the console: a table for each section, then how each mark came about.

use super::super::dates::zone;
use super::super::phrases::wrapped;
use super::super::table::table;
use super::{row_words, total_words};
use crate::book::plain;
use crate::grade::{Graded, Rounding, Rubric, TakesCount, Total};
use std::io::{self, Write};

/// Writes grades for people: 80 columns, no colour. `graded` is by section and player.
pub fn grades_text(out: &mut impl Write, graded: &[Graded], rubric: &Rubric) -> io::Result<()> {
    if graded.is_empty() {
        return lines(out, "There is nothing to grade: no take and no mark of those asked for is in the book.", "");
    }
    lines(out, &how_it_counts(rubric), "")?;
    let section = |graded: &Graded| graded.player.section.as_ref().map(|name| name.to_lowercase());
    for of_section in graded.chunk_by(|one, other| section(one) == section(other)) {
        let name = of_section.first().and_then(|graded| graded.player.section.as_deref());
        writeln!(out)?;
        lines(out, &name.map_or("Players without a section".into(), |name| format!("Section: {}", plain(name))), "")?;
        writeln!(out)?;
        table(out, ["player", "exercise", "grade", "percent", ""], of_section.iter().map(in_short))?;
        for of_player in of_section.chunk_by(|one, other| one.player.id == other.player.id) {
            player(out, of_player, rubric)?;
        }
    }
    Ok(())
}

fn how_it_counts(rubric: &Rubric) -> String {
    let which = match rubric.takes_count {
        TakesCount::Best => "For each row the best take counts, or the best together where one is too short.",
        TakesCount::Last => "For each row the last take counts.",
        TakesCount::Mean => "For each row all takes count together.",
    };
    let rounding = match rubric.rounding {
        Rounding::Down => "Percent are rounded down.",
        Rounding::HalfUp => "Percent are rounded, halves up.",
    };
    format!("{which} {rounding} Days are those of {}.", zone())
}

fn in_short(graded: &Graded) -> [String; 5] {
    let (grade, percent) = match &graded.total {
        Total::Grade { name, percent, .. } => (name.clone(), percent.to_string()),
        Total::None(_) => ("not enough evidence".into(), "-".into()),
    };
    let again = match (graded.retake.is_empty(), graded.takes.is_empty()) {
        (true, _) => "",
        (false, true) => "please play",
        (false, false) => "please play again",
    };
    [plain(&graded.player.name), plain(&graded.exercise.title), grade, percent, again.into()]
}

fn player(out: &mut impl Write, graded: &[Graded], rubric: &Rubric) -> io::Result<()> {
    let Some(first) = graded.first() else { return Ok(()) };
    writeln!(out)?;
    let instrument = first.player.instrument.as_ref().map_or(String::new(), |id| format!(", {}", plain(id)));
    lines(out, &format!("{}{instrument}", plain(&first.player.name)), "")?;
    let widest = rubric.rows.iter().map(|row| row.title.chars().count()).max().unwrap_or(0);
    for graded in graded {
        if graded.takes.is_empty() && graded.unfit == 0 && graded.rows.iter().all(|row| row.step().is_none()) {
            // The same for every row: said once.
            lines(out, &format!("  {}: not enough evidence: no take yet", plain(&graded.exercise.title)), "    ")?;
            continue;
        }
        let total = total_words(graded, rubric);
        lines(out, &format!("  {}: {}", plain(&graded.exercise.title), total.grade), "    ")?;
        for (place, row) in rubric.rows.iter().enumerate() {
            let words = row_words(graded, place, rubric);
            let step = words.step.unwrap_or_else(|| "-".into());
            let head = format!("    {:<widest$}  {step:<6}  ", row.title);
            // A title that leaves no room for words has them below it.
            let indent = if head.chars().count() > 50 { 8 } else { head.chars().count() };
            lines(out, &format!("{head}{}", words.how), &" ".repeat(indent))?;
        }
        for sentence in std::iter::once(&total.how).chain(&total.remarks).chain(&total.retake) {
            lines(out, &format!("    {sentence}"), "      ")?;
        }
    }
    Ok(())
}

/// A sentence on lines of 80 columns.
fn lines(out: &mut impl Write, text: &str, indent: &str) -> io::Result<()> {
    wrapped(text, 80, indent).iter().try_for_each(|line| writeln!(out, "{line}"))
}
