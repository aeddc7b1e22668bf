//! All takes judged again, on all processors: with the engine of today, or at another level.
//!
//! This thread reads takes and writes findings, the others judge: while they judge some, the next are read and those
//! before are written. So never more than three times [`AT_A_TIME`] takes are in memory, however many there are.

use super::parts::{Parts, judge};
use super::takes::Finished;
use super::{Book, BookError, TakeStart};
use crate::exercise::Part;
use crate::judge::{FlagKind, Grid, Level, Report};
use crate::listen::take::read_take;
use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use std::sync::Arc;

/// What came of judging again.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Again {
    /// How many takes were judged.
    pub takes: usize,
    /// Of them, those whose findings are others now.
    pub different: usize,
    /// Takes that could not be judged; they stay as they are.
    pub not_judged: usize,
}

/// What is told while takes are judged again, by their numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judging {
    /// So many of so many are done.
    Done(usize, usize),
    /// The findings of a take are others now.
    Different(Difference),
    /// A take could not be judged.
    NotJudged(NotJudged),
}

/// A take that could not be judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotJudged {
    /// The player.
    pub player: String,
    /// The title of the exercise.
    pub title: String,
    /// Microseconds since 1970 when the take was begun.
    pub begun_us: i64,
    /// Why.
    pub because: String,
}

/// A take whose findings are others now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// The player.
    pub player: String,
    /// The title of the exercise.
    pub title: String,
    /// Microseconds since 1970 when the take was begun.
    pub begun_us: i64,
    /// Findings that stood in the book and do not stand now.
    pub gone: Vec<String>,
    /// Findings that are new.
    pub new: Vec<String>,
}

/// The level at which takes are judged again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum At {
    /// Each at that of its findings in the book.
    Judged,
    /// Each at that at which it was played.
    Played,
    /// All at this one.
    Level(Level),
}

/// So many takes are read, judged and written together.
const AT_A_TIME: usize = 256;

/// A take to be judged.
struct Job {
    take: i64,
    start: TakeStart,
    level: Level,
    record: Vec<u8>,
    part: Result<Arc<Part>, String>,
}

/// A take that was judged, or why it could not be.
struct Judged {
    take: i64,
    level: Level,
    report: Result<(Arc<Part>, Report), String>,
}

/// A finding as it is compared, and as it is read.
type Found = (bool, usize, String, String);

impl Book {
    /// Judges all finished takes again and tells what is different; `write`: the book takes over the new findings,
    /// and the level; at which one each was played it keeps.
    pub fn judge_again(&mut self, at: At, write: bool, tell: &mut dyn FnMut(Judging)) -> Result<Again, BookError> {
        let of = self.with(|sql| {
            let finished = "SELECT (SELECT count(*) FROM take) - (SELECT count(*) FROM take WHERE record IS NULL)";
            Ok(sql.query_row(finished, [], |row| row.get::<_, i64>(0))?)
        })?;
        let of = usize::try_from(of).unwrap_or(0);
        let mut again = Again::default();
        std::thread::scope(|scope| {
            let (give, jobs) = bounded(AT_A_TIME);
            let (hand_back, judged) = unbounded();
            for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
                let (jobs, hand_back) = (jobs.clone(), hand_back.clone());
                scope.spawn(move || work(&jobs, &hand_back));
            }
            drop((jobs, hand_back));
            let (mut parts, mut last, mut under_way) = (Parts::default(), i64::MIN, 0);
            loop {
                let next = self.jobs(last, at, &mut parts)?;
                last = next.last().map_or(last, |job| job.take);
                let mut done = Vec::with_capacity(under_way);
                for judged in judged.iter().take(under_way) {
                    done.push(judged.unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
                }
                under_way = next.len();
                for job in next {
                    let _ = give.send(job);
                }
                done.sort_by_key(|judged| judged.take);
                self.settle(&done, write, &mut again, tell)?;
                if !done.is_empty() {
                    tell(Judging::Done(of.min(again.takes + again.not_judged), of));
                }
                if under_way == 0 {
                    return Ok(again);
                }
            }
        })
    }

    /// The next takes after one, by their numbers.
    fn jobs(&mut self, last: i64, at: At, parts: &mut Parts) -> Result<Vec<Job>, BookError> {
        let mut jobs = Vec::with_capacity(AT_A_TIME);
        for Finished { take, start, record, played_at } in self.finished_after(last, AT_A_TIME)? {
            let part = parts.of(&start, || self.exercise_content(start.exercise))?;
            let level = match at {
                At::Judged => start.level,
                At::Played => played_at,
                At::Level(level) => level,
            };
            jobs.push(Job { take, level, start, record, part });
        }
        Ok(jobs)
    }

    /// Compares, tells and writes.
    fn settle(
        &mut self,
        done: &[Judged],
        write: bool,
        again: &mut Again,
        tell: &mut dyn FnMut(Judging),
    ) -> Result<(), BookError> {
        let mut written = Vec::new();
        for judged in done {
            match &judged.report {
                Ok((part, report)) => {
                    again.takes += 1;
                    if let Some(difference) = self.difference(judged.take, report)? {
                        again.different += 1;
                        tell(Judging::Different(difference));
                    }
                    written.push((judged.take, judged.level, &**part, report));
                }
                Err(trouble) => {
                    again.not_judged += 1;
                    let (player, title, begun_us) = self.title(judged.take)?;
                    tell(Judging::NotJudged(NotJudged { player, title, begun_us, because: trouble.clone() }));
                }
            }
        }
        if write { self.judged_again(&written) } else { Ok(()) }
    }

    fn title(&mut self, take: i64) -> Result<(String, String, i64), BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(
                // A damaged book may have lost either.
                "SELECT coalesce(player.name, 'somebody'), coalesce(exercise.title, 'an exercise'), begun_us FROM take
                 LEFT JOIN player ON player.id = take.player LEFT JOIN exercise ON exercise.id = take.exercise
                 WHERE take.id = ?1",
            )?;
            Ok(query.query_row([take], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?)
        })
    }

    fn difference(&mut self, take: i64, report: &Report) -> Result<Option<Difference>, BookError> {
        let before = self.found(take)?;
        let flags = report.flags.iter().map(|flag| (true, flag)).chain(report.close.iter().map(|flag| (false, flag)));
        let now: Vec<Found> = flags
            .map(|(counts, flag)| {
                let place = place(&flag.measure, flag.beat, &flag.written, flag.kind.name(), counts);
                (counts, flag.index, FlagKind::name(flag.kind).to_owned(), place)
            })
            .collect();
        let missing = |these: &[Found], those: &[Found]| -> Vec<String> {
            let is_there = |it: &Found| those.iter().any(|other| (it.0, it.1, &it.2) == (other.0, other.1, &other.2));
            these.iter().filter(|it| !is_there(it)).map(|it| it.3.clone()).collect()
        };
        let (gone, new) = (missing(&before, &now), missing(&now, &before));
        if gone.is_empty() && new.is_empty() {
            return Ok(None);
        }
        let (player, title, begun_us) = self.title(take)?;
        Ok(Some(Difference { player, title, begun_us, gone, new }))
    }

    fn found(&mut self, take: i64) -> Result<Vec<Found>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(
                "SELECT counts, note, kind, measure, beat, written FROM flag WHERE take = ?1 ORDER BY number",
            )?;
            let rows = query.query_map([take], |row| {
                let (counts, kind): (bool, String) = (row.get(0)?, row.get(2)?);
                let (measure, written): (String, String) = (row.get(3)?, row.get(5)?);
                let place = place(&measure, row.get(4)?, &written, &kind, counts);
                Ok((counts, row.get(1)?, kind, place))
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }
}

fn place(measure: &str, beat: f64, written: &str, kind: &str, counts: bool) -> String {
    let close = if counts { "" } else { " (too close to call)" };
    // Three places are enough for every beat that is played.
    let beat = format!("{beat:.3}");
    let beat = beat.trim_end_matches('0').trim_end_matches('.');
    format!("m{measure} b{beat} {written} {kind}{close}")
}

/// Judges until there is nothing more to judge. A panic is handed back too, or the take would be waited for for ever.
fn work(jobs: &Receiver<Job>, hand_back: &Sender<std::thread::Result<Judged>>) {
    for job in jobs {
        let Job { take, level, .. } = job;
        let judge = || Judged { take, level, report: report(&job) };
        let judged = std::panic::catch_unwind(std::panic::AssertUnwindSafe(judge));
        if hand_back.send(judged).is_err() {
            return;
        }
    }
}

fn report(job: &Job) -> Result<(Arc<Part>, Report), String> {
    let part = job.part.as_ref().map_err(Clone::clone)?;
    let record = read_take(&job.record).map_err(|problem| problem.to_string())?;
    let grid = record.start.map(|start| Grid::new(start, record.tempo.clone()));
    Ok((Arc::clone(part), judge(part, &job.start, job.level, grid, &record.inputs, record.end)))
}
