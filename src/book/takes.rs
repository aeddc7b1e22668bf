//! Takes: what arrived before it is judged, then the record, the findings and the numbers.

use super::{Book, BookError, BookProblem, tally};
use crate::exercise::{Micros, Part};
use crate::judge::{Count, Flag, Grid, Level, Report, Sends};
use crate::listen::take::{decode, encode, write_take};
use crate::listen::{Input, Timed};
use crate::theory::Key;
use clap::ValueEnum;
use rusqlite::{OptionalExtension, Row, Transaction, params};
use std::borrow::Borrow;

/// What is known of a take when it begins, and what is needed to judge it again.
#[derive(Debug, Clone)]
pub struct TakeStart {
    /// The player's number.
    pub player: i64,
    /// The exercise's number.
    pub exercise: i64,
    /// Microseconds since 1970.
    pub begun_us: i64,
    /// The part's id in the exercise.
    pub part: String,
    /// The id of the instrument, where it is known.
    pub instrument: Option<String>,
    /// The tolerances.
    pub level: Level,
    /// Which pitch the controller sends.
    pub sends: Sends,
    /// The band's concert keys.
    pub family: Vec<Key>,
    /// The click, if there is one.
    pub click: Option<Grid>,
    /// The measured delay that was taken off, if there is one.
    pub delay: Option<Micros>,
}

/// A take that was begun and never ended: the program or the computer stopped.
#[derive(Debug, Clone)]
pub struct Unfinished {
    /// The take's number.
    pub take: i64,
    /// The player's name.
    pub player: String,
    /// The title of the exercise.
    pub title: String,
    /// How it was begun.
    pub start: TakeStart,
    /// All that arrived.
    pub record: Vec<Timed<Input>>,
}

/// A take as the book keeps it.
#[derive(Debug, Clone)]
pub struct KeptTake {
    /// How it was begun.
    pub start: TakeStart,
    /// All that arrived, as a Standard MIDI File, if it was ended.
    pub record: Option<Vec<u8>>,
}

impl Book {
    /// Begins a take and returns its number. From here on what arrives is safe.
    pub fn begin_take(&mut self, start: &TakeStart) -> Result<i64, BookError> {
        let click = start.click.as_ref().map(serde_json::to_string).transpose();
        let path = self.path.clone();
        let click = click.map_err(|error| BookProblem::Refused(error.to_string()).of(&path))?;
        let family: Vec<String> = start.family.iter().map(|key| key.ascii()).collect();
        self.with(|sql| {
            sql.prepare_cached(
                "INSERT INTO take (player, exercise, begun_us, part, instrument, level, sends, family, click, delay_us)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            )?
            .execute(params![
                start.player,
                start.exercise,
                start.begun_us,
                start.part,
                start.instrument,
                name(start.level),
                name(start.sends),
                family.join(","),
                click,
                start.delay.map(|delay| delay.0)
            ])?;
            Ok(sql.last_insert_rowid())
        })
    }

    /// Writes down what arrived, for several takes at once: each with its number of pieces so far.
    pub fn arrived(&mut self, pieces: &[(i64, i64, &[Timed<Input>])]) -> Result<(), BookError> {
        self.with(|sql| {
            let transaction = sql.transaction()?;
            {
                let mut insert =
                    transaction.prepare_cached("INSERT INTO arrival (take, number, content) VALUES (?1, ?2, ?3)")?;
                for (take, number, piece) in pieces {
                    insert.execute(params![take, number, encode(piece)])?;
                }
            }
            Ok(transaction.commit()?)
        })
    }

    /// Ends a take: the record takes the place of the pieces, the findings are written, all or nothing.
    pub fn finish_take(
        &mut self,
        take: i64,
        record: impl IntoIterator<Item = impl Borrow<Timed<Input>>>,
        start: &TakeStart,
        end: Micros,
        part: &Part,
        report: &Report,
    ) -> Result<(), BookError> {
        let file = write_take(record, start.click.as_ref().map(|grid| (grid.start, &grid.tempo)), start.delay, end);
        self.with(|sql| {
            let transaction = sql.transaction()?;
            transaction.execute("UPDATE take SET record = ?2 WHERE id = ?1", params![take, file])?;
            transaction.execute("DELETE FROM arrival WHERE take = ?1", [take])?;
            write_report(&transaction, take, start.level, part, report)?;
            Ok(transaction.commit()?)
        })
    }

    /// Writes the findings of takes judged again, each at a level, over the old ones.
    pub(super) fn judged_again(&mut self, judged: &[(i64, Level, &Part, &Report)]) -> Result<(), BookError> {
        self.with(|sql| {
            let transaction = sql.transaction()?;
            for (take, level, part, report) in judged {
                write_report(&transaction, *take, *level, part, report)?;
            }
            Ok(transaction.commit()?)
        })
    }

    /// Throws a take away.
    pub fn discard_take(&mut self, take: i64) -> Result<(), BookError> {
        self.with(|sql| {
            sql.execute("DELETE FROM take WHERE id = ?1", [take])?;
            Ok(())
        })
    }

    /// The takes that were begun and never ended.
    pub fn unfinished(&mut self) -> Result<Vec<Unfinished>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare(&format!(
                "SELECT take.id, player.name, exercise.title, {START}
                 FROM take JOIN player ON player.id = take.player JOIN exercise ON exercise.id = take.exercise
                 WHERE record IS NULL ORDER BY take.id"
            ))?;
            let rows = query.query_map([], |row| {
                let start = start(row, 3)?;
                Ok(Unfinished { take: row.get(0)?, player: row.get(1)?, title: row.get(2)?, start, record: Vec::new() })
            })?;
            let mut found: Vec<Unfinished> = rows.collect::<rusqlite::Result<_>>()?;
            for unfinished in &mut found {
                let mut query = sql.prepare_cached("SELECT content FROM arrival WHERE take = ?1 ORDER BY number")?;
                let pieces = query.query_map([unfinished.take], |row| row.get::<_, Vec<u8>>(0))?;
                for piece in pieces {
                    unfinished.record.extend(decode(&piece?));
                }
            }
            Ok(found)
        })
    }

    /// The finished takes with a number above that, by their numbers, at most so many.
    pub(super) fn finished_after(&mut self, last: i64, most: usize) -> Result<Vec<Finished>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(&format!(
                "SELECT take.id, {START}, record, coalesce(played_level, level) FROM take
                 WHERE id > ?1 AND record IS NOT NULL ORDER BY id LIMIT ?2"
            ))?;
            let found = |row: &Row| {
                let played_at: String = row.get(12)?;
                let (take, start, record) = (row.get(0)?, start(row, 1)?, row.get(11)?);
                Ok(Finished { take, start, record, played_at: from_name(&played_at) })
            };
            let rows = query.query_map(params![last, most], found)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// A take.
    pub fn take(&mut self, take: i64) -> Result<Option<KeptTake>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(&format!("SELECT {START}, record FROM take WHERE id = ?1"))?;
            let found = query.query_row([take], |row| {
                let start = start(row, 0)?;
                Ok(KeptTake { start, record: row.get(10)? })
            });
            Ok(found.optional()?)
        })
    }
}

/// A finished take, to be judged again.
pub(super) struct Finished {
    pub(super) take: i64,
    /// How it was begun; the level is that of its findings.
    pub(super) start: TakeStart,
    pub(super) record: Vec<u8>,
    /// The level at which it was played.
    pub(super) played_at: Level,
}

/// The columns that [`start`] reads.
const START: &str =
    "take.player, take.exercise, begun_us, part, take.instrument, take.level, sends, family, click, delay_us";

/// How a take was begun, from the columns of [`START`] of which the first has this number.
fn start(row: &Row, first: usize) -> rusqlite::Result<TakeStart> {
    let text = |column| row.get::<_, String>(first + column);
    Ok(TakeStart {
        player: row.get(first)?,
        exercise: row.get(first + 1)?,
        begun_us: row.get(first + 2)?,
        part: row.get(first + 3)?,
        instrument: row.get(first + 4)?,
        level: from_name(&text(5)?),
        sends: from_name(&text(6)?),
        family: family(&text(7)?),
        click: row.get::<_, Option<String>>(first + 8)?.and_then(|json| serde_json::from_str(&json).ok()),
        delay: row.get::<_, Option<i64>>(first + 9)?.map(Micros),
    })
}

fn write_report(
    transaction: &Transaction,
    take: i64,
    level: Level,
    part: &Part,
    report: &Report,
) -> Result<(), BookProblem> {
    let totals = &report.totals;
    let [pitches, changed, releases, entrances] =
        [totals.right_pitches, totals.changed_notes, totals.full_releases, totals.entrances];
    let Count { good, of } = pitches;
    transaction
        .prepare_cached(
            "UPDATE take SET engine = ?2, fits = ?3, notes = ?4, right_pitches = ?5, right_pitches_of = ?6, changed = ?7,
                 changed_of = ?8, releases = ?9, releases_of = ?10, entrances = ?11, entrances_of = ?12, extra = ?13,
                 restarts = ?14, close = ?15, level = ?16,
                 played_level = nullif(coalesce(played_level, level), ?16)
             WHERE id = ?1",
        )?
        .execute(params![
            take,
            env!("CARGO_PKG_VERSION"),
            totals.fits,
            totals.notes,
            good,
            of,
            changed.good,
            changed.of,
            releases.good,
            releases.of,
            entrances.good,
            entrances.of,
            totals.extra,
            totals.restarts,
            totals.close,
            name(level)
        ])?;
    transaction.prepare_cached("DELETE FROM flag WHERE take = ?1")?.execute([take])?;
    transaction.prepare_cached("DELETE FROM tally WHERE take = ?1")?.execute([take])?;
    let all = report.flags.iter().map(|flag| (true, flag)).chain(report.close.iter().map(|flag| (false, flag)));
    for (number, (counts, flag)) in all.enumerate() {
        write_flag(transaction, take, number, counts, flag)?;
    }
    let mut insert =
        transaction.prepare_cached("INSERT INTO tally (take, what, name, good, of) VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for ((what, name), Count { good, of }) in tally::of(part, report) {
        insert.execute(params![take, what, name, good, of])?;
    }
    Ok(())
}

fn write_flag(
    transaction: &Transaction,
    take: i64,
    number: usize,
    counts: bool,
    flag: &Flag,
) -> Result<(), BookProblem> {
    let content = serde_json::to_string(flag).map_err(|error| BookProblem::Refused(error.to_string()))?;
    transaction
        .prepare_cached(
            "INSERT INTO flag (take, number, counts, note, kind, measure, beat, written, content)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        )?
        .execute(params![
            take,
            number,
            counts,
            flag.index,
            flag.kind.name(),
            flag.measure,
            flag.beat,
            flag.written,
            content
        ])?;
    Ok(())
}

/// The name of a choice as the command line has it.
fn name(choice: impl ValueEnum) -> String {
    choice.to_possible_value().map(|value| value.get_name().to_owned()).unwrap_or_default()
}

fn from_name<T: ValueEnum + Default>(name: &str) -> T {
    T::from_str(name, false).unwrap_or_default()
}

fn family(names: &str) -> Vec<Key> {
    names.split(',').filter_map(|name| Key::parse(name).ok()).collect()
}
