//! The live log: what the session tells, as lines of at most 80 columns that a class can read from a screen.
//!
//! In: [`Told`], in order. Out: lines; on a terminal also one status line with the beat, which is rubbed out before
//! each line. Symbols say what colour says, so nothing is lost without it.

mod closing;
mod turns;

use super::advice;
use super::ascii::ascii;
use super::finding::{CLOSE, PITCH, TOO_CLOSE, count_lines, place, symbol};
use super::phrases::{beat_line, counted, wrapped};
use crate::judge::{Decision, Flag, FlagKind, Sends};
use crate::session::{Beat, Outcome, Plan, Told, Turn};
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
#[derive(Debug, Clone, Default)]
pub struct Look {
    /// A terminal: the beat is shown, and names of those who take turns in large letters.
    pub terminal: bool,
    /// Keys are read one by one, so a line must end with a carriage return, too, and the keys are named.
    pub keys: bool,
    /// Nothing but ASCII.
    pub ascii: bool,
    /// The name of the book that keeps the takes.
    pub kept_in: Option<String>,
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
    /// The flags that stand, by player, so that one withdrawn can be named.
    standing: Vec<(usize, Flag)>,
    /// The takes so far, for the closing summary.
    outcomes: Vec<Arc<Outcome>>,
    /// Who is at each lane, as it was said last.
    seats: Vec<Option<Turn>>,
    /// Who comes next, as it was said last.
    next: Vec<String>,
    absent: Vec<usize>,
    /// What was said of whole takes that are played now.
    remarked: Vec<(usize, String)>,
    /// The last line, if it was about a note left out.
    unplayed: Option<Unplayed>,
}

/// Notes found left out in one moment.
struct Unplayed {
    player: usize,
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
            seats: Vec::new(),
            next: Vec::new(),
            absent: Vec::new(),
            remarked: Vec::new(),
            unplayed: None,
        }
    }

    /// Where it is written.
    pub(super) fn written(&mut self) -> &mut W {
        &mut self.out
    }

    /// Writes one thing down.
    pub fn tell(&mut self, told: &Told) -> io::Result<()> {
        if !self.is_more_unplayed(told) {
            self.tell_unplayed()?;
        }
        match told {
            Told::Listening { ports } => self.listening(ports),
            Told::Ahead { turns, waiting } => self.ahead(turns, waiting),
            Told::Cued { score_zero, .. } => {
                self.standing.clear();
                self.remarked.clear();
                match score_zero {
                    Some(_) => self.line("Count-in, then play."),
                    None => self.line("Play when you are ready: the take begins with the first note."),
                }
            }
            Told::Beat(beat) => self.beat(beat),
            Told::Decided { turn, decision } => self.decided(turn.player, decision),
            Told::Waiting => {
                let key = if self.look.keys { ", or press n" } else { "" };
                self.line(&format!("Nobody played. To go on, play any note{key}."))
            }
            Told::Through => self.through(),
            Told::CheckNote { player, sends } => self.said(
                *player,
                "i",
                match sends {
                    Some(Sends::Written) => "that was a written C, sent as written pitch.",
                    Some(_) => "that was a written C, sent as concert pitch.",
                    None => {
                        "that was no written C. If it was meant to be: look at the transposition of the controller."
                    }
                },
            ),
            Told::Unplugged { lane } => {
                self.cable(*lane, "the cable is out, or the controller is off: notes end here. Put it back to go on.")
            }
            Told::Replugged { lane } => self.cable(*lane, "connected again."),
            Told::Over(outcome) => {
                // In a queue a turn in which nothing was played is no take.
                if outcome.played || !self.plan.takes_turns(outcome.turn.lane) {
                    self.outcomes.push(Arc::clone(outcome));
                }
                self.over(outcome)
            }
            Told::Discarded { turns, is_kept } => {
                self.standing.clear();
                self.outcomes.retain(|outcome| !turns.contains(&outcome.turn));
                self.discarded(turns, *is_kept)
            }
            Told::Step(step) => self.step(*step),
            Told::Undone(step) => self.undone(*step),
            Told::Back(outcomes) => {
                self.outcomes.extend(outcomes.iter().cloned());
                self.back(outcomes)
            }
            Told::Trouble(sentence) => self.line(&format!("! {sentence}")),
            Told::End { unplayed } => self.closing(unplayed),
        }?;
        self.out.flush()
    }

    /// Whether this is one more note left out, found in the same moment as the one before.
    fn is_more_unplayed(&self, told: &Told) -> bool {
        let (Some(unplayed), Told::Decided { turn, decision: Decision::Flag { at_s, flag } }) = (&self.unplayed, told)
        else {
            return false;
        };
        flag.kind == FlagKind::MissedNote && unplayed.player == turn.player && unplayed.at_s == *at_s
    }

    /// Where many notes are found left out at once, as at the end of a take, one line stands for all after the first.
    fn tell_unplayed(&mut self) -> io::Result<()> {
        match self.unplayed.take() {
            Some(Unplayed { player, more, last, .. }) if more > 0 => {
                let notes = counted(more, "more note");
                self.marked(player, "o", PITCH, &format!("and {notes} not played, up to {}", last.trim_end()))
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
            let line = self.spelled(&line);
            write!(self.out, "{line}{end}")?;
        }
        Ok(())
    }

    /// As this terminal can show it.
    fn spelled<'t>(&self, text: &'t str) -> std::borrow::Cow<'t, str> {
        if self.look.ascii { ascii(text).into() } else { text.into() }
    }

    fn rub_out(&mut self) -> io::Result<()> {
        if std::mem::take(&mut self.status) {
            write!(self.out, "\r\x1b[K")?;
        }
        Ok(())
    }

    fn beat(&mut self, beat: &Beat) -> io::Result<()> {
        if !self.look.terminal {
            return Ok(());
        }
        self.status_line(&beat_line(beat))
    }

    /// Shows which lane the next key is about.
    pub fn chosen(&mut self, lane: Option<usize>) -> io::Result<()> {
        self.rub_out()?;
        if let (Some(lane), true) = (lane, self.look.terminal) {
            self.status_line(&format!("controller {}: d discard, r retake, x absent, s skip", lane + 1))?;
        }
        self.out.flush()
    }

    fn status_line(&mut self, text: &str) -> io::Result<()> {
        write!(self.out, "\r\x1b[K{text}")?;
        self.status = true;
        Ok(())
    }

    fn decided(&mut self, player: usize, decision: &Decision) -> io::Result<()> {
        match decision {
            Decision::Flag { at_s, flag } => {
                self.standing.push((player, flag.clone()));
                if flag.kind == FlagKind::MissedNote {
                    let last = place(flag);
                    match &mut self.unplayed {
                        Some(unplayed) => {
                            unplayed.more += 1;
                            unplayed.last = last;
                            return Ok(());
                        }
                        None => self.unplayed = Some(Unplayed { player, at_s: *at_s, more: 0, last }),
                    }
                }
                let (symbol, style) = symbol(flag.kind);
                self.marked(player, symbol, style, &format!("{}  {}", place(flag), flag.sentence))
            }
            Decision::Close { flag, .. } => {
                self.marked(player, CLOSE, QUIET, &format!("{}  {TOO_CLOSE}: {}", place(flag), flag.sentence))
            }
            Decision::Withdrawn { index, flag, because, .. } => {
                let found = self
                    .standing
                    .iter()
                    .position(|(of, standing)| *of == player && standing.index == *index && standing.kind == *flag);
                let found = found.map(|at| self.standing.remove(at).1);
                let about = found.map_or(String::new(), |flag| format!("{}  ", place(&flag)));
                self.marked(player, "<", QUIET, &format!("{about}taken back: {because}"))
            }
            Decision::Restart { .. } => self.marked(player, "^", QUIET, "begun again: the last try counts"),
            Decision::Remark { sentence, .. } => {
                self.remarked.push((player, sentence.clone()));
                self.marked(player, "i", QUIET, sentence)
            }
            Decision::Placed { .. } | Decision::Summary { .. } => Ok(()),
        }
    }

    /// A line about one player that is no flag.
    fn said(&mut self, player: usize, symbol: &str, sentence: &str) -> io::Result<()> {
        self.marked(player, symbol, Style::new(), sentence)
    }

    /// `Name  symbol sentence`; what does not fit goes on below the sentence.
    fn marked(&mut self, player: usize, symbol: &str, style: Style, sentence: &str) -> io::Result<()> {
        let name = if self.column == 0 { String::new() } else { self.name(player) };
        let begin = format!("{name:<column$}{symbol} ", column = self.column);
        let indent = " ".repeat(begin.chars().count() + 2);
        self.rub_out()?;
        let end = if self.look.keys { "\r\n" } else { "\n" };
        for line in wrapped(&format!("{begin}{sentence}"), WIDTH, &indent) {
            let line = self.spelled(&line);
            write!(self.out, "{style}{line}{style:#}{end}")?;
        }
        Ok(())
    }

    fn styled_line(&mut self, style: Style, text: &str) -> io::Result<()> {
        self.rub_out()?;
        let end = if self.look.keys { "\r\n" } else { "\n" };
        for line in wrapped(text, WIDTH, "  ") {
            let line = self.spelled(&line);
            write!(self.out, "{style}{line}{style:#}{end}")?;
        }
        Ok(())
    }

    /// A name for the column of names.
    fn name(&self, player: usize) -> String {
        self.full_name(player).chars().take(LONGEST_NAME).collect()
    }

    fn full_name(&self, player: usize) -> String {
        self.faces.get(player).map_or(String::new(), |face| face.player.clone())
    }

    /// A word about a lane's cable, under the name of whoever is at it.
    fn cable(&mut self, lane: usize, sentence: &str) -> io::Result<()> {
        match self.seats.get(lane).copied().flatten() {
            Some(turn) => self.said(turn.player, "!", sentence),
            None => self.line(&format!("! controller {}: {sentence}", lane + 1)),
        }
    }

    fn over(&mut self, outcome: &Outcome) -> io::Result<()> {
        let player = self.full_name(outcome.turn.player);
        if !outcome.played && self.plan.takes_turns(outcome.turn.lane) {
            return self.line(&format!("{player} has not played yet, and keeps the turn."));
        }
        self.styled_line(BOLD, &format!("{player}, take {}", outcome.turn.take))?;
        let kept = match &self.look.kept_in {
            _ if !outcome.played => None,
            _ if !outcome.is_kept => Some("Not saved: see above.".to_owned()),
            kept_in => kept_in.as_ref().map(|book| format!("Kept in {book}")),
        };
        let told: Vec<&String> =
            self.remarked.iter().filter(|(of, _)| *of == outcome.turn.player).map(|it| &it.1).collect();
        for line in take_lines(outcome, &told).into_iter().chain(kept) {
            for line in wrapped(&format!("  {line}"), WIDTH, "    ") {
                self.line(&line)?;
            }
        }
        Ok(())
    }
}

/// The summary of a take, a line for each count that has something to count. `told`: remarks that stand above already.
fn take_lines(outcome: &Outcome, told: &[&String]) -> Vec<String> {
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
        lines.extend(outcome.report.remarks.iter().filter(|remark| !told.contains(remark)).cloned());
    }
    lines.push(format!("Next: {}", advice(&outcome.report, outcome.played)));
    if let Some(file) = &outcome.saved {
        lines.push(format!("Saved as {}", file.display()));
    }
    lines
}
