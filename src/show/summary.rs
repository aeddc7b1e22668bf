//! The closing summary for grading: a row for each player and take, as CSV or JSON.

use super::advice;
use super::cells::guarded;
use crate::judge::{Count, FlagKind};
use crate::session::Outcome;
use std::sync::Arc;

/// Who played, for the rows of one player.
#[derive(Debug, Clone)]
pub struct Who {
    /// The player's name.
    pub player: String,
    /// The id of the instrument, where it is known.
    pub instrument: Option<String>,
}

/// One take of one player in numbers.
#[derive(serde::Serialize)]
struct Row<'a> {
    player: &'a str,
    instrument: Option<&'a str>,
    exercise: &'a str,
    take: usize,
    played: bool,
    notes: usize,
    right_pitches: Count,
    changed_notes: Count,
    full_releases: Count,
    entrances: Count,
    extra: usize,
    restarts: usize,
    flags: &'a std::collections::BTreeMap<FlagKind, usize>,
    next: String,
    file: Option<String>,
}

fn rows<'a>(exercise: &'a str, who: &'a [Who], outcomes: &'a [Arc<Outcome>]) -> Vec<Row<'a>> {
    let row = |outcome: &'a Arc<Outcome>| {
        let who = who.get(outcome.turn.player)?;
        let totals = &outcome.report.totals;
        Some(Row {
            player: &who.player,
            instrument: who.instrument.as_deref(),
            exercise,
            take: outcome.turn.take,
            played: outcome.played,
            notes: totals.notes,
            right_pitches: totals.right_pitches,
            changed_notes: totals.changed_notes,
            full_releases: totals.full_releases,
            entrances: totals.entrances,
            extra: totals.extra,
            restarts: totals.restarts,
            flags: &totals.flags,
            next: advice(&outcome.report, outcome.played),
            file: outcome.saved.as_ref().map(|file| file.display().to_string()),
        })
    };
    outcomes.iter().filter_map(row).collect()
}

/// The summary as JSON: a list of takes.
pub fn summary_json(exercise: &str, who: &[Who], outcomes: &[Arc<Outcome>]) -> serde_json::Result<Vec<u8>> {
    let mut text = serde_json::to_vec_pretty(&rows(exercise, who, outcomes))?;
    text.push(b'\n');
    Ok(text)
}

/// The summary as CSV (RFC 4180, UTF-8, a header row). A cell that a spreadsheet would take for a formula begins
/// with an apostrophe.
pub fn summary_csv(exercise: &str, who: &[Who], outcomes: &[Arc<Outcome>]) -> Result<Vec<u8>, csv::Error> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record([
        "player",
        "instrument",
        "exercise",
        "take",
        "played",
        "notes",
        "right_pitches",
        "right_pitches_of",
        "changed_notes",
        "changed_notes_of",
        "full_releases",
        "full_releases_of",
        "entrances",
        "entrances_of",
        "extra",
        "restarts",
        "next",
        "file",
    ])?;
    for row in rows(exercise, who, outcomes) {
        let count = |number: usize| number.to_string();
        table.write_record([
            guarded(row.player),
            guarded(row.instrument.unwrap_or("")),
            guarded(row.exercise),
            count(row.take),
            if row.played { "yes".into() } else { "no".into() },
            count(row.notes),
            count(row.right_pitches.good),
            count(row.right_pitches.of),
            count(row.changed_notes.good),
            count(row.changed_notes.of),
            count(row.full_releases.good),
            count(row.full_releases.of),
            count(row.entrances.good),
            count(row.entrances.of),
            count(row.extra),
            count(row.restarts),
            guarded(&row.next),
            guarded(row.file.as_deref().unwrap_or("")),
        ])?;
    }
    table.into_inner().map_err(|error| csv::Error::from(std::io::Error::other(error.to_string())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exercise::Micros;
    use crate::judge::{Report, Totals};
    use crate::session::Turn;

    fn outcome() -> Vec<Arc<Outcome>> {
        let totals = Totals { notes: 8, right_pitches: Count { good: 7, of: 8 }, ..Totals::default() };
        let (notes, flags, close, extra, restarts, remarks) = (vec![], vec![], vec![], vec![], vec![], vec![]);
        let report = Report { notes, flags, close, extra, restarts, remarks, totals, ended: Micros(0) };
        let turn = Turn { lane: 0, player: 0, take: 1 };
        vec![Arc::new(Outcome { turn, round: 1, played: true, report, saved: None, is_kept: true })]
    }

    #[test]
    fn formulas_are_guarded() {
        let who = [Who { player: "=cmd()".into(), instrument: None }];
        let text = String::from_utf8(summary_csv("-1", &who, &outcome()).unwrap()).unwrap();
        assert!(text.contains("\n'=cmd(),,'-1,1,yes,8,7,8,"), "{text}");
    }

    #[test]
    fn counts_are_n_of_m() {
        let who = [Who { player: "Mia".into(), instrument: Some("flute".into()) }];
        let text = summary_json("Hills", &who, &outcome()).unwrap();
        let rows: serde_json::Value = serde_json::from_slice(&text).unwrap();
        assert_eq!(rows[0]["player"], "Mia");
        assert_eq!(rows[0]["right_pitches"], serde_json::json!({"good": 7, "of": 8}));
    }
}
