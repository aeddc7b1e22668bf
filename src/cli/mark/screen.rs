//! A round of marking on the terminal.

use super::round::{Change, Key, Round};
use crate::book::plain;
use crate::grade::{Graded, Rubric};
use crate::show::wrapped;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, read};
use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use std::io::{self, Write};

/// The terminal hands over single keys while it lives.
struct Raw;

impl Raw {
    fn begin() -> io::Result<Raw> {
        enable_raw_mode().map(|()| Raw)
    }
}

impl Drop for Raw {
    fn drop(&mut self) {
        let _ = disable_raw_mode();
    }
}

/// Asks for mark after mark; each is given to `change` as soon as its key is pressed.
pub(super) fn ask<E: From<io::Error>>(
    out: &mut impl Write,
    round: &mut Round,
    graded: &[&Graded],
    rubric: &Rubric,
    mut change: impl FnMut(Change) -> Result<(), E>,
) -> Result<(), E> {
    let mut shown = None;
    while let Some(place) = round.asked() {
        let Some(of) = graded.get(place.of) else { break };
        if shown != Some(place.of) {
            let title = format!("\n{}: {}", plain(&of.player.name), plain(&of.exercise.title));
            lines(out, &title, "")?;
            shown = Some(place.of);
        }
        question(out, round, rubric)?;
        let key = {
            // Only while a key is waited for, so that everything printed goes to a terminal as it was.
            let _raw = Raw::begin()?;
            next_key()?
        };
        if key == Key::Back {
            shown = None;
        }
        let done = round.press(key);
        match (key, done) {
            (Key::Step(step), Some(_)) => writeln!(out, "{step}")?,
            (Key::Step(step), None) => writeln!(out, "{step}: there is no such step")?,
            (Key::Skip, _) => writeln!(out, "skipped")?,
            (Key::Back, _) => writeln!(out, "back")?,
            (Key::End, _) => writeln!(out, "end")?,
        }
        if let Some(done) = done {
            change(done)?;
        }
    }
    Ok(())
}

fn question(out: &mut impl Write, round: &Round, rubric: &Rubric) -> io::Result<()> {
    let Some((place, row)) = round.asked().and_then(|place| Some((place, rubric.rows.get(place.row)?))) else {
        return Ok(());
    };
    let now = place.step.map_or(String::new(), |step| format!(", marked {step}"));
    writeln!(out)?;
    lines(out, &format!("  {} ({} of {}{now})", row.title, round.at + 1, round.places.len()), "    ")?;
    for step in 1..=rubric.steps.len() {
        lines(out, &format!("    {step}  {}", rubric.words(row, step)), "       ")?;
    }
    write!(out, "  1 to {}, s skip, b back, q end: ", rubric.steps.len())?;
    out.flush()
}

fn lines(out: &mut impl Write, text: &str, indent: &str) -> io::Result<()> {
    wrapped(text, 80, indent).iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// Waits for a key that means something.
fn next_key() -> io::Result<Key> {
    loop {
        if let Event::Key(event) = read()?
            && let Some(key) = meaning(event)
        {
            return Ok(key);
        }
    }
}

fn meaning(event: KeyEvent) -> Option<Key> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    if event.modifiers.contains(KeyModifiers::CONTROL) {
        // In this mode the terminal hands Ctrl-C over as a key.
        return matches!(event.code, KeyCode::Char('c' | 'C' | 'd' | 'D')).then_some(Key::End);
    }
    match event.code {
        KeyCode::Char(digit @ '0'..='9') => {
            digit.to_digit(10).and_then(|digit| u8::try_from(digit).ok()).map(Key::Step)
        }
        KeyCode::Char('s' | 'S') => Some(Key::Skip),
        KeyCode::Char('b' | 'B') | KeyCode::Backspace => Some(Key::Back),
        KeyCode::Char('q' | 'Q') | KeyCode::Esc => Some(Key::End),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_mean_what_the_screen_says() {
        let key = |code, modifiers| meaning(KeyEvent::new(code, modifiers));
        assert_eq!(key(KeyCode::Char('3'), KeyModifiers::NONE), Some(Key::Step(3)));
        assert_eq!(key(KeyCode::Char('S'), KeyModifiers::SHIFT), Some(Key::Skip));
        assert_eq!(key(KeyCode::Char('b'), KeyModifiers::NONE), Some(Key::Back));
        assert_eq!(key(KeyCode::Char('q'), KeyModifiers::NONE), Some(Key::End));
        assert_eq!(key(KeyCode::Char('c'), KeyModifiers::CONTROL), Some(Key::End));
        assert_eq!(key(KeyCode::Char('x'), KeyModifiers::NONE), None);
    }
}
