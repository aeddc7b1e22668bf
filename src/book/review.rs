//! What reviews, grades and plans ask of a book: finished takes in numbers, what was practised, findings.

use super::{Book, BookError, BookProblem};
use crate::judge::{Count, Flag};
use rusqlite::{Connection, OptionalExtension, Row, named_params};
use std::collections::HashMap;

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

/// A join that keeps this order (SQLite, "CROSS JOIN": the planner does not turn it round), so that takes come from their
/// index as they are wanted, without sorting; and which takes.
macro_rules! of_takes {
    ($what:literal) => {
        concat!(
            "SELECT ",
            $what,
            " FROM take INDEXED BY take_in_numbers CROSS JOIN player ON player.id = take.player
             WHERE engine IS NOT NULL
                 AND (:player IS NULL OR take.player = :player) AND (:section IS NULL OR player.section = :section)
                 AND (:exercise IS NULL OR take.exercise = :exercise)
                 AND begun_us >= coalesce(:since, -9223372036854775808)
                 AND begun_us < coalesce(:until, 9223372036854775807)
             ORDER BY take.player, begun_us, take.id"
        )
    };
}

const ATTEMPTS: &str = of_takes!(
    "take.id, take.player, exercise, begun_us, take.instrument, take.level, fits, notes, right_pitches, right_pitches_of,
     changed, changed_of, releases, releases_of, entrances, entrances_of, extra, restarts, close"
);

const TAKES: &str = of_takes!("take.id, take.player, exercise, begun_us");

/// Where so many takes are asked for it is quicker to walk through what was practised in all of them than to look for
/// each: the table is in the order of takes, not of players (measured by tools/bench/big_book.rs).
const MANY_TAKES: usize = 8_000;

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
            let mut query = sql.prepare_cached(ATTEMPTS)?;
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
        self.practice_of(wanted, MANY_TAKES)
    }

    fn practice_of(&mut self, wanted: &Wanted, many: usize) -> Result<Vec<Practice>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(TAKES)?;
            let rows = query.query_map(asked!(wanted), |row| {
                Ok((row.get(0)?, OfTake { player: row.get(1)?, exercise: row.get(2)?, begun_us: row.get(3)? }))
            })?;
            let takes: Vec<(i64, OfTake)> = rows.collect::<rusqlite::Result<_>>()?;
            if takes.len() >= many {
                return through_all(sql, &takes.into_iter().collect());
            }
            let mut query =
                sql.prepare_cached("SELECT what, name, good, of FROM tally WHERE take = ?1 ORDER BY what, name")?;
            let mut found = Vec::with_capacity(4 * takes.len());
            for (take, of) in &takes {
                let mut rows = query.query([take])?;
                while let Some(row) = rows.next()? {
                    found.push(of.practice(*take, row, 0)?);
                }
            }
            Ok(found)
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

/// What is known of a take beside what was practised in it.
struct OfTake {
    player: i64,
    exercise: i64,
    begun_us: i64,
}

/// What was practised in these takes, by walking through all of the table once.
fn through_all(sql: &Connection, takes: &HashMap<i64, OfTake>) -> Result<Vec<Practice>, BookProblem> {
    let mut query = sql.prepare_cached("SELECT take, what, name, good, of FROM tally ORDER BY take, what, name")?;
    let mut rows = query.query([])?;
    let mut found = Vec::with_capacity(4 * takes.len());
    while let Some(row) = rows.next()? {
        let take = row.get(0)?;
        let Some(of) = takes.get(&take) else { continue };
        found.push(of.practice(take, row, 1)?);
    }
    // Stable: what was practised in a take stays in its order.
    found.sort_by_key(|it| (it.player, it.begun_us, it.take));
    Ok(found)
}

impl OfTake {
    /// What was practised, from four columns of which the first has this number: what, name, good, of.
    fn practice(&self, take: i64, row: &Row, first: usize) -> rusqlite::Result<Practice> {
        // Half a million rows are asked for at once: no text is copied only to be compared.
        let name = row.get(first + 1)?;
        let is_hold = row.get_ref(first)?.as_bytes()? == b"hold";
        Ok(Practice {
            take,
            player: self.player,
            exercise: self.exercise,
            begun_us: self.begun_us,
            what: if is_hold { Practised::Hold(name) } else { Practised::Changed(name) },
            count: Count { good: row.get(first + 2)?, of: row.get(first + 3)? },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What stands behind the records must not be read through them: SQLite says which way it goes ("EXPLAIN QUERY
    /// PLAN", a covering index: the table is not read).
    #[test]
    fn reviews_do_not_read_records() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
        for question in [ATTEMPTS, TAKES] {
            let plan = book.with(|sql| {
                let mut query = sql.prepare(&format!("EXPLAIN QUERY PLAN {question}"))?;
                let rows = query.query_map(asked!(Wanted::default()), |row| row.get::<_, String>(3))?;
                Ok(rows.collect::<rusqlite::Result<Vec<_>>>()?.join("; "))
            });
            let plan = plan.unwrap();
            assert!(plan.contains("take USING COVERING INDEX take_in_numbers"), "{plan}");
            assert!(!plan.contains("TEMP B-TREE"), "{plan}");
        }
    }

    /// Both ways to what was practised lead to the same.
    #[test]
    fn many_takes_are_answered_as_few() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open_or_begin(&folder.path().join("band.db")).unwrap();
        let rows =
            "INSERT INTO exercise (hash, title, file_name, content, added_us) VALUES (x'00', 'March', '', x'', 1);
            INSERT INTO player (name, section) VALUES ('Olek', 'brass'), ('Ines', 'flutes');
            WITH RECURSIVE number (it) AS (VALUES (1) UNION ALL SELECT it + 1 FROM number WHERE it < 40)
            INSERT INTO take (player, exercise, begun_us, part, level, sends, family, engine)
                SELECT 1 + it % 2, 1, 1000 - 7 * it % 60, '', '', '', '', CASE WHEN it % 9 THEN '1' END FROM number;
            INSERT INTO tally (take, what, name, good, of)
                SELECT id, what, name, id % 3, 3 FROM take
                JOIN (SELECT 'hold' AS what, '3' AS name UNION SELECT 'changed', 'Ab' UNION SELECT 'changed', 'E')";
        book.with(|sql| Ok(sql.execute_batch(rows)?)).unwrap();
        for wanted in [
            Wanted::default(),
            Wanted { section: Some("Brass".into()), ..Wanted::default() },
            Wanted { player: Some(2), since_us: Some(960), until_us: Some(990), ..Wanted::default() },
        ] {
            let (few, many) = (book.practice_of(&wanted, usize::MAX).unwrap(), book.practice_of(&wanted, 0).unwrap());
            assert!(!few.is_empty());
            assert_eq!(few, many);
        }
    }
}
