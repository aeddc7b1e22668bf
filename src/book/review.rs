//! What reviews, grades and plans ask of a book: finished takes in numbers, what was practised, findings.

use super::{Book, BookError};
use crate::judge::{Count, Flag};
use rusqlite::{OptionalExtension, Row, named_params};

/// Which takes are asked for; what is not given is no limit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Wanted {
    /// The player's number.
    pub player: Option<i64>,
    /// The section, capitals aside.
    pub section: Option<String>,
    /// The exercise's number.
    pub exercise: Option<i64>,
    /// Begun at or after this time, in microseconds since 1970.
    pub since_us: Option<i64>,
    /// Begun before this time.
    pub until_us: Option<i64>,
}

/// A finished take in numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attempt {
    /// The take's number.
    pub take: i64,
    /// The player's number.
    pub player: i64,
    /// The exercise's number.
    pub exercise: i64,
    /// Microseconds since 1970 when it began.
    pub begun_us: i64,
    /// The id of the instrument, where it is known.
    pub instrument: Option<String>,
    /// The level it was judged at, by its name.
    pub level: String,
    /// Whether it belongs to the exercise at all; if not, nothing is counted.
    pub fits: bool,
    /// Notes of the part.
    pub notes: usize,
    /// Notes with the right pitch, of all notes.
    pub right_pitches: Count,
    /// Changed notes (primary and secondary) played right, of those met.
    pub changed_notes: Count,
    /// Releases at full value, of those judged.
    pub full_releases: Count,
    /// Entrances on time, of those judged.
    pub entrances: Count,
    /// Notes that belong to no note of the part.
    pub extra: usize,
    /// Passages begun again.
    pub restarts: usize,
    /// Findings too close to call.
    pub close: usize,
}

/// What is practised: one changed note, or one length of hold.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Practised {
    /// A written changed note, ASCII, without its octave: `F#`, `Bb`, `E`.
    Changed(String),
    /// A hold before a rest, in beats: `3`, `1.5`.
    Hold(String),
}

/// How one player did in one thing that is practised, in one take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Practice {
    /// The take's number.
    pub take: i64,
    /// The player's number.
    pub player: i64,
    /// The exercise's number.
    pub exercise: i64,
    /// Microseconds since 1970 when the take began.
    pub begun_us: i64,
    /// What.
    pub what: Practised,
    /// So many of so many.
    pub count: Count,
}

/// A finding as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Whether it counts; else it is too close to call.
    pub counts: bool,
    /// The flag.
    pub flag: Flag,
}

/// Which takes, for `take` beside `player`.
const WHERE: &str = "engine IS NOT NULL
    AND (:player IS NULL OR take.player = :player) AND (:section IS NULL OR player.section = :section)
    AND (:exercise IS NULL OR take.exercise = :exercise)
    AND begun_us >= coalesce(:since, -9223372036854775808) AND begun_us < coalesce(:until, 9223372036854775807)";

macro_rules! asked {
    ($wanted:expr) => {
        named_params! {
            ":player": $wanted.player,
            ":section": $wanted.section,
            ":exercise": $wanted.exercise,
            ":since": $wanted.since_us,
            ":until": $wanted.until_us,
        }
    };
}

impl Book {
    /// The finished takes, by player and time.
    pub fn attempts(&mut self, wanted: &Wanted) -> Result<Vec<Attempt>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(&format!(
                "SELECT take.id, take.player, exercise, begun_us, take.instrument, take.level, fits, notes, right_pitches,
                     right_pitches_of, changed, changed_of, releases, releases_of, entrances, entrances_of, extra,
                     restarts, close
                 FROM take JOIN player ON player.id = take.player WHERE {WHERE} ORDER BY take.player, begun_us, take.id"
            ))?;
            let rows = query.query_map(asked!(wanted), attempt)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// When the newest finished take began, in microseconds since 1970.
    pub fn newest_us(&mut self) -> Result<Option<i64>, BookError> {
        self.with(|sql| {
            let newest = "SELECT begun_us FROM take WHERE engine IS NOT NULL ORDER BY begun_us DESC LIMIT 1";
            Ok(sql.prepare_cached(newest)?.query_row([], |row| row.get(0)).optional()?)
        })
    }

    /// What was practised in the finished takes that belong to their exercise, by player and time.
    pub fn practice(&mut self, wanted: &Wanted) -> Result<Vec<Practice>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(&format!(
                "SELECT take.id, take.player, exercise, begun_us, what, tally.name, good, of
                 FROM take JOIN player ON player.id = take.player JOIN tally ON tally.take = take.id
                 WHERE {WHERE} ORDER BY take.player, begun_us, take.id, what, tally.name"
            ))?;
            let rows = query.query_map(asked!(wanted), practice)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// The findings of a take, in the order of its notes; first those that count.
    pub fn findings(&mut self, take: i64) -> Result<Vec<Finding>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached("SELECT counts, content FROM flag WHERE take = ?1 ORDER BY number")?;
            let rows = query.query_map([take], |row| {
                let content: String = row.get(1)?;
                let flag = serde_json::from_str(&content).map_err(|error| {
                    rusqlite::Error::FromSqlConversionFailure(1, rusqlite::types::Type::Text, Box::new(error))
                })?;
                Ok(Finding { counts: row.get(0)?, flag })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}

fn attempt(row: &Row) -> rusqlite::Result<Attempt> {
    let count = |place| Ok::<Count, rusqlite::Error>(Count { good: row.get(place)?, of: row.get(place + 1)? });
    Ok(Attempt {
        take: row.get(0)?,
        player: row.get(1)?,
        exercise: row.get(2)?,
        begun_us: row.get(3)?,
        instrument: row.get(4)?,
        level: row.get(5)?,
        fits: row.get(6)?,
        notes: row.get(7)?,
        right_pitches: count(8)?,
        changed_notes: count(10)?,
        full_releases: count(12)?,
        entrances: count(14)?,
        extra: row.get(16)?,
        restarts: row.get(17)?,
        close: row.get(18)?,
    })
}

fn practice(row: &Row) -> rusqlite::Result<Practice> {
    let (what, name): (String, String) = (row.get(4)?, row.get(5)?);
    Ok(Practice {
        take: row.get(0)?,
        player: row.get(1)?,
        exercise: row.get(2)?,
        begun_us: row.get(3)?,
        what: if what == "hold" { Practised::Hold(name) } else { Practised::Changed(name) },
        count: Count { good: row.get(6)?, of: row.get(7)? },
    })
}
