//! The live log: what the session tells, as lines of at most 80 columns that a class can read from a screen.
//!
//! In: [`Told`], in order. Out: lines; on a terminal also one status line with the beat, which is rubbed out before
//! each line. Symbols say what colour says, so nothing is lost without it.

use super::finding::{CLOSE, PITCH, TOO_CLOSE, count_lines, place, symbol};
use super::phrases::{beat_line, counted, wrapped};
use super::{advice, key_check};
use crate::judge::{Count, Decision, Flag, FlagKind, Sends};
use crate::plain::harmless;
use crate::session::{Beat, Outcome, Plan, Told};
use crate::theory::Letter;
use anstyle::Style;
use std::io::{self, Write};
use std::sync::Arc;

/// The width that every console has.
const WIDTH: usize = 80;
/// A name longer than this is cut in the column of names.
const LONGEST_NAME: usize = 10;

/// One player as the log shows them.
#[derive(Debug, Clone)]
pub struct Face {
    /// The player's name.
    pub player: String,
    /// The instrument, as people say it.
    pub instrument: Option<String>,
    /// The changed notes of the written key, the most changed first.
    pub changed: Vec<(Letter, i8)>,
}

/// How the log is shown.
#[derive(Debug, Clone, Copy, Default)]
pub struct Look {
    /// A terminal: the beat is shown.
    pub terminal: bool,
    /// Keys are read one by one, so a line must end with a carriage return, too, and the keys are named.
    pub keys: bool,
}

/// The log.
pub struct Console<W: Write> {
    out: W,
    look: Look,
    plan: Plan,
    faces: Vec<Face>,
    /// Width of the column of names; 0 with one player.
    column: usize,
    status: bool,
    /// The flags that stand, by lane, so that one withdrawn can be named.
    standing: Vec<(usize, Flag)>,
    /// The takes so far, for the closing summary.
    outcomes: Vec<Arc<Outcome>>,
    /// The last line, if it was about a note left out.
    unplayed: Option<Unplayed>,
}

/// Notes found left out in one moment.
struct Unplayed {
    lane: usize,
    at_s: f64,
    /// How many after the one that was told.
    more: usize,
    /// The place of the last.
    last: String,
}

const BOLD: Style = Style::new().bold();
const QUIET: Style = Style::new().dimmed();

impl<W: Write> Console<W> {
    /// A log of a session with these players.
    pub fn new(out: W, look: Look, plan: Plan, faces: Vec<Face>) -> Console<W> {
        let longest = faces.iter().map(|face| face.player.chars().count().min(LONGEST_NAME)).max().unwrap_or(0);
        let column = if faces.len() > 1 { longest + 2 } else { 0 };
        Console {
            out,
            look,
            plan,
            faces,
            column,
            status: false,
            standing: Vec::new(),
            outcomes: Vec::new(),
            unplayed: None,
        }
    }

    /// Writes one thing down.
    pub fn tell(&mut self, told: &Told) -> io::Result<()> {
        if !self.is_more_unplayed(told) {
            self.tell_unplayed()?;
        }
        match told {
            Told::Listening { ports } => self.listening(ports),
            Told::Ahead { take } => self.ahead(*take),
            Told::Cued { score_zero, .. } => match score_zero {
                Some(_) => self.line("Count-in, then play."),
                None => self.line("Play when you are ready: the take begins with the first note."),
            },
            Told::Beat(beat) => self.beat(beat),
            Told::Decided { lane, decision, .. } => self.decided(*lane, decision),
            Told::Waiting => {
                let key = if self.look.keys { ", or press n" } else { "" };
                self.line(&format!("Nobody played. To go on, play any note{key}."))
            }
            Told::CheckNote { lane, sends } => self.said(
                *lane,
                "i",
                match sends {
                    Some(Sends::Written) => "that was a written C, sent as written pitch.",
                    Some(_) => "that was a written C, sent as concert pitch.",
                    None => {
                        "that was no written C. If it was meant to be: look at the transposition of the controller."
                    }
                },
            ),
            Told::Unplugged { lane } => self.said(
                *lane,
                "!",
                "the cable is out, or the controller is off: notes end here. Put it back to go on.",
            ),
            Told::Replugged { lane } => self.said(*lane, "!", "connected again."),
            Told::Over(outcome) => {
                self.outcomes.push(Arc::clone(outcome));
                self.over(outcome)
            }
            Told::Discarded { take } => {
                self.standing.clear();
                self.outcomes.retain(|outcome| outcome.take != *take);
                self.line(&format!("Take {take} is thrown away."))
            }
            Told::Trouble(sentence) => self.line(&format!("! {sentence}")),
            Told::End => self.closing(),
        }?;
        self.out.flush()
    }

    /// Whether this is one more note left out, found in the same moment as the one before.
    fn is_more_unplayed(&self, told: &Told) -> bool {
        let (Some(unplayed), Told::Decided { lane, decision: Decision::Flag { at_s, flag }, .. }) =
            (&self.unplayed, told)
        else {
            return false;
        };
        flag.kind == FlagKind::MissedNote && unplayed.lane == *lane && unplayed.at_s == *at_s
    }

    /// Where many notes are found left out at once, as at the end of a take, one line stands for all after the first.
    fn tell_unplayed(&mut self) -> io::Result<()> {
        match self.unplayed.take() {
            Some(Unplayed { lane, more, last, .. }) if more > 0 => {
                let notes = counted(more, "more note");
                self.marked(lane, "o", PITCH, &format!("and {notes} not played, up to {}", last.trim_end()))
            }
            _ => Ok(()),
        }
    }

    /// A line of its own.
    pub fn line(&mut self, text: &str) -> io::Result<()> {
        self.rub_out()?;
        let end = if self.look.keys { "\r\n" } else { "\n" };
        if text.is_empty() {
            return write!(self.out, "{end}");
        }
        for line in wrapped(text, WIDTH, "") {
            write!(self.out, "{line}{end}")?;
        }
        Ok(())
    }

    fn rub_out(&mut self) -> io::Result<()> {
        if std::mem::take(&mut self.status) {
            write!(self.out, "\r\x1b[K")?;
        }
        Ok(())
    }

    fn listening(&mut self, ports: &[String]) -> io::Result<()> {
        for (face, port) in self.faces.clone().iter().zip(ports) {
            let instrument = face.instrument.as_ref().map_or(String::new(), |name| format!(", {name}"));
            self.line(&format!("Listening to {}{instrument} on {port}.", face.player))?;
        }
        if self.look.keys {
            self.line("Keys: a again, n next, d discard, q quit.")?;
        }
        Ok(())
    }

    fn ahead(&mut self, take: usize) -> io::Result<()> {
        self.standing.clear();
        self.line("")?;
        self.styled_line(BOLD, &format!("{}, take {take}", self.plan.exercise))?;
        for (face, lane) in self.faces.clone().iter().zip(self.plan.lanes.clone()) {
            // Without a click the first note begins the take.
            let check_note = take == 1 && self.plan.click.is_some() && lane.asks_check_note();
            let name = if self.faces.len() > 1 { format!("{}: ", face.player) } else { String::new() };
            for (place, line) in key_check(&lane.part, &face.changed, check_note).into_iter().enumerate() {
                let begin = if place == 0 { name.clone() } else { " ".repeat(name.chars().count()) };
                for line in wrapped(&format!("{begin}{line}"), WIDTH, &" ".repeat(name.chars().count() + 2)) {
                    self.line(&line)?;
                }
            }
        }
        Ok(())
    }

    fn beat(&mut self, beat: &Beat) -> io::Result<()> {
        if !self.look.terminal {
            return Ok(());
        }
        write!(self.out, "\r\x1b[K{}", beat_line(beat))?;
        self.status = true;
        Ok(())
    }

    fn decided(&mut self, lane: usize, decision: &Decision) -> io::Result<()> {
        match decision {
            Decision::Flag { at_s, flag } => {
                self.standing.push((lane, flag.clone()));
                if flag.kind == FlagKind::MissedNote {
                    let last = place(flag);
                    match &mut self.unplayed {
                        Some(unplayed) => {
                            unplayed.more += 1;
                            unplayed.last = last;
                            return Ok(());
                        }
                        None => self.unplayed = Some(Unplayed { lane, at_s: *at_s, more: 0, last }),
                    }
                }
                let (symbol, style) = symbol(flag.kind);
                self.marked(lane, symbol, style, &format!("{}  {}", place(flag), flag.sentence))
            }
            Decision::Close { flag, .. } => {
                self.marked(lane, CLOSE, QUIET, &format!("{}  {TOO_CLOSE}: {}", place(flag), flag.sentence))
            }
            Decision::Withdrawn { index, flag, because, .. } => {
                let found = self
                    .standing
                    .iter()
                    .position(|(of, standing)| *of == lane && standing.index == *index && standing.kind == *flag);
                let found = found.map(|at| self.standing.remove(at).1);
                let about = found.map_or(String::new(), |flag| format!("{}  ", place(&flag)));
                self.marked(lane, "<", QUIET, &format!("{about}taken back: {because}"))
            }
            Decision::Restart { .. } => self.marked(lane, "^", QUIET, "begun again: the last try counts"),
            Decision::Remark { sentence, .. } => self.marked(lane, "i", QUIET, sentence),
            Decision::Placed { .. } | Decision::Summary { .. } => Ok(()),
        }
    }

    /// A line about one player that is no flag.
    fn said(&mut self, lane: usize, symbol: &str, sentence: &str) -> io::Result<()> {
        self.marked(lane, symbol, Style::new(), sentence)
    }

    /// `Name  symbol sentence`; what does not fit goes on below the sentence.
    fn marked(&mut self, lane: usize, symbol: &str, style: Style, sentence: &str) -> io::Result<()> {
        let name = if self.column == 0 { String::new() } else { self.name(lane) };
        let begin = format!("{name:<column$}{symbol} ", column = self.column);
        let indent = " ".repeat(begin.chars().count() + 2);
        self.rub_out()?;
        let end = if self.look.keys { "\r\n" } else { "\n" };
        for line in wrapped(&format!("{begin}{sentence}"), WIDTH, &indent) {
            write!(self.out, "{style}{line}{style:#}{end}")?;
        }
        Ok(())
    }

    fn styled_line(&mut self, style: Style, text: &str) -> io::Result<()> {
        self.rub_out()?;
        let end = if self.look.keys { "\r\n" } else { "\n" };
        write!(self.out, "{style}{}{style:#}{end}", harmless(text))
    }

    fn name(&self, lane: usize) -> String {
        let name = self.faces.get(lane).map_or("", |face| face.player.as_str());
        name.chars().take(LONGEST_NAME).collect()
    }

    fn over(&mut self, outcome: &Outcome) -> io::Result<()> {
        let player = self.faces.get(outcome.lane).map_or(String::new(), |face| face.player.clone());
        self.styled_line(BOLD, &format!("{player}, take {}", outcome.take))?;
        for line in take_lines(outcome) {
            for line in wrapped(&format!("  {line}"), WIDTH, "    ") {
                self.line(&line)?;
            }
        }
        Ok(())
    }

    /// All takes in numbers, where there was more than one to compare.
    fn closing(&mut self) -> io::Result<()> {
        let outcomes = std::mem::take(&mut self.outcomes);
        if outcomes.len() < 2 {
            return self.rub_out();
        }
        self.line("")?;
        let width = outcomes.iter().map(|outcome| self.name(outcome.lane).chars().count()).max().unwrap_or(0).max(6);
        let head = ["pitches", "changed", "releases", "entrances"].map(|title| format!("{title:>10}")).concat();
        self.styled_line(BOLD, &format!("{:width$}  take{head}", "player"))?;
        for outcome in &outcomes {
            let totals = &outcome.report.totals;
            let counts = [totals.right_pitches, totals.changed_notes, totals.full_releases, totals.entrances];
            let cell = |Count { good, of }: Count| if of == 0 { "-".into() } else { format!("{good} of {of}") };
            let cells = if outcome.played {
                counts.map(|count| format!("{:>10}", cell(count))).concat()
            } else {
                "   nothing was heard".into()
            };
            self.line(&format!("{:width$}  {:>4}{cells}", self.name(outcome.lane), outcome.take))?;
        }
        Ok(())
    }
}

/// The summary of a take, a line for each count that has something to count.
fn take_lines(outcome: &Outcome) -> Vec<String> {
    let totals = &outcome.report.totals;
    let mut lines = Vec::new();
    if outcome.played {
        lines.extend(count_lines(totals));
        let mut also = Vec::new();
        if totals.extra > 0 {
            also.push(format!("{} besides the part", counted(totals.extra, "note")));
        }
        if totals.restarts > 0 {
            also.push(format!("begun again {}", counted(totals.restarts, "time")));
        }
        if !also.is_empty() {
            lines.push(also.join(", "));
        }
        lines.extend(outcome.report.remarks.iter().cloned());
    }
    lines.push(format!("Next: {}", advice(&outcome.report, outcome.played)));
    if let Some(file) = &outcome.saved {
        lines.push(format!("Saved as {}", file.display()));
    }
    lines
}
