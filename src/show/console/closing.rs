//! The end of the log: all takes in numbers, and who has not played.

use super::{BOLD, Console};
use crate::judge::Count;
use std::io::{self, Write};

impl<W: Write> Console<W> {
    /// All takes in numbers, where there was more than one to compare; who has not played.
    pub(super) fn closing(&mut self, unplayed: &[usize]) -> io::Result<()> {
        let outcomes = std::mem::take(&mut self.outcomes);
        self.rub_out()?;
        if outcomes.len() >= 2 {
            self.line("")?;
            let name = |player| self.name(player);
            let width =
                outcomes.iter().map(|outcome| name(outcome.turn.player).chars().count()).max().unwrap_or(0).max(6);
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
                self.line(&format!("{:width$}  {:>4}{cells}", self.name(outcome.turn.player), outcome.turn.take))?;
            }
        }
        self.not_played(unplayed)
    }

    fn not_played(&mut self, unplayed: &[usize]) -> io::Result<()> {
        let (absent, left): (Vec<usize>, Vec<usize>) = unplayed.iter().partition(|player| self.absent.contains(player));
        for (what, players) in [("Absent", absent), ("Has not played", left)] {
            if !players.is_empty() {
                let names: Vec<String> = players.into_iter().map(|player| self.full_name(player)).collect();
                self.line(&format!("{what}: {}", names.join(", ")))?;
            }
        }
        Ok(())
    }
}
