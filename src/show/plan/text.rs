//! The plan as text.

use super::super::phrases::wrapped;
use super::page::Page;
use std::io::{self, Write};

const WIDTH: usize = 80;

pub(super) fn write(out: &mut dyn Write, page: &Page) -> io::Result<()> {
    writeln!(out, "{}\n{}", page.title, "=".repeat(page.title.chars().count().min(WIDTH)))?;
    say(out, &page.rests_on, "")?;
    if !page.work.is_empty() {
        writeln!(out, "\nWork on")?;
    }
    for (place, item) in page.work.iter().enumerate() {
        say(out, &format!("{:>2}. {}", place + 1, item.what), "    ")?;
        if let Some(readings) = &item.readings {
            say(out, &format!("    {readings}"), "    ")?;
        }
        say(out, &format!("    {}", item.evidence), "    ")?;
        if let Some(drill) = &item.drill {
            // A command is one line, however long, so that it can be copied.
            writeln!(out, "    {drill}")?;
        }
    }
    for (title, lines) in [
        ("One player at a time", &page.players),
        ("Play again", &page.retakes),
        ("Mastered, and due for a spot check", &page.due),
    ] {
        if !lines.is_empty() {
            writeln!(out, "\n{title}")?;
        }
        lines.iter().try_for_each(|line| say(out, &format!("  {line}"), "    "))?;
    }
    for (title, line) in [("Mastered lately", &page.mastered), ("Not heard lately", &page.unheard)] {
        if let Some(line) = line {
            writeln!(out, "\n{title}")?;
            say(out, &format!("  {line}"), "  ")?;
        }
    }
    Ok(())
}

fn say(out: &mut dyn Write, text: &str, indent: &str) -> io::Result<()> {
    wrapped(text, WIDTH, indent).iter().try_for_each(|line| writeln!(out, "{line}"))
}
