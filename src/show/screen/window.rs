//! The terminal: the alternate screen, rows that changed, and everything as it was afterwards.

use super::Screen;
use super::draw::{Row, SIZE, Tone};
use anstyle::Style;
use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::terminal::{Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, size};
use crossterm::{execute, queue};
use std::io::{self, Write};

/// The alternate screen of a terminal; left when this is dropped.
pub struct Window<W: Write> {
    out: W,
    /// The rows as they stand there.
    rows: Vec<Row>,
    size: (usize, usize),
    styles: bool,
}

impl<W: Write> Window<W> {
    /// Takes the screen over. Without colours (`NO_COLOR`, a terminal that has none) there is no style at all.
    pub fn open(mut out: W) -> io::Result<Window<W>> {
        let styles = anstream::AutoStream::choice(&io::stdout()) != anstream::ColorChoice::Never;
        execute!(out, EnterAlternateScreen, Hide, Clear(ClearType::All))?;
        Ok(Window { out, rows: Vec::new(), size: SIZE, styles })
    }

    /// Forgets what stands there: all is drawn next time.
    pub fn clear(&mut self) {
        self.rows.clear();
    }

    /// Shows it, as large as the window is now.
    pub fn show(&mut self, screen: &mut Screen) -> io::Result<()> {
        let (width, height) = size().map_or(SIZE, |(width, height)| (usize::from(width), usize::from(height)));
        if self.rows.is_empty() || self.size != (width, height) {
            queue!(self.out, Clear(ClearType::All))?;
            self.rows.clear();
            self.size = (width, height);
        }
        let rows = screen.draw(width, height);
        for (place, row) in rows.iter().enumerate().filter(|(place, row)| self.rows.get(*place) != Some(row)) {
            let style = if self.styles { style(row.tone) } else { Style::new() };
            // Cleared first: behind a full row the cursor stands on its last letter.
            let at = MoveTo(0, u16::try_from(place).unwrap_or(u16::MAX));
            queue!(self.out, at, Clear(ClearType::UntilNewLine))?;
            write!(self.out, "{style}{}{style:#}", row.text)?;
        }
        self.rows = rows;
        self.out.flush()
    }
}

impl<W: Write> Drop for Window<W> {
    fn drop(&mut self) {
        // A terminal that is gone needs nothing.
        let _ = execute!(self.out, Show, LeaveAlternateScreen);
    }
}

/// Strength alone: no colour says anything here.
fn style(tone: Tone) -> Style {
    match tone {
        Tone::Plain => Style::new(),
        Tone::Strong => Style::new().bold(),
        Tone::Heading => Style::new().dimmed(),
    }
}
