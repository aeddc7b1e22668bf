//! All takes judged again, on all processors: with the engine of today, or at another level.

use super::parts::{Parts, judge};
use super::{Book, BookError, TakeStart};
use crate::exercise::Part;
use crate::judge::{FlagKind, Grid, Level, Report};
use crate::listen::take::read_take;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What came of judging again.
#[derive(Debug, Clone, Default)]
pub struct Again {
    /// How many takes were judged.
    pub takes: usize,
    /// Takes whose findings are others now.
    pub differences: Vec<Difference>,
    /// Takes that could not be judged; they stay as they are.
    pub troubles: Vec<NotJudged>,
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

/// So many takes are in memory at a time.
const AT_A_TIME: usize = 512;

/// A take to be judged.
struct Job {
    take: i64,
    start: TakeStart,
    level: Level,
    record: Vec<u8>,
    part: Result<Arc<Part>, String>,
}

/// A finding as it is compared, and as it is read.
type Found = (bool, usize, String, String);

impl Book {
    /// Judges all finished takes again and lists what is different; `write`: the book takes over the new findings,
    /// and the level, if one is given. `progress` is told how many of how many are done.
    pub fn judge_again(
        &mut self,
        level: Option<Level>,
        write: bool,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<Again, BookError> {
        let ids: Vec<i64> = self.with(|sql| {
            let mut query = sql.prepare("SELECT id FROM take WHERE record IS NOT NULL ORDER BY id")?;
            let rows = query.query_map([], |row| row.get(0))?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })?;
        let mut parts = Parts::default();
        let mut again = Again::default();
        for (number, ids_now) in ids.chunks(AT_A_TIME).enumerate() {
            let mut jobs = Vec::with_capacity(ids_now.len());
            for &take in ids_now {
                // One that was thrown away meanwhile is not missed.
                let Some(kept) = self.take(take)? else { continue };
                let Some(record) = kept.record else { continue };
                let part = parts.of(&kept.start, || self.exercise_content(kept.start.exercise))?;
                let level = level.unwrap_or(kept.start.level);
                jobs.push(Job { take, start: kept.start, level, record, part });
            }
            let reports = judged(&jobs);
            let mut written = Vec::new();
            for (job, report) in jobs.iter().zip(&reports) {
                match (&job.part, report) {
                    (Ok(part), Ok(report)) => {
                        again.takes += 1;
                        again.differences.extend(self.difference(job.take, report)?);
                        written.push((job.take, job.level, &**part, report));
                    }
                    (Err(trouble), _) | (_, Err(trouble)) => {
                        let (player, title, begun_us) = self.title(job.take)?;
                        again.troubles.push(NotJudged { player, title, begun_us, because: trouble.clone() });
                    }
                }
            }
            if write {
                self.judged_again(&written)?;
            }
            progress(ids.len().min((number + 1) * AT_A_TIME), ids.len());
        }
        Ok(again)
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
    format!("m{measure} b{beat} {written} {kind}{close}")
}

/// The reports of the jobs, in their order.
fn judged(jobs: &[Job]) -> Vec<Result<Report, String>> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(job) = jobs.get(place) else { return done };
            done.push((place, report(job)));
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(jobs.len().max(1));
    let mut all = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        let done =
            workers.into_iter().map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        done.flatten().collect::<Vec<_>>()
    });
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().map(|(_, report)| report).collect()
}

fn report(job: &Job) -> Result<Report, String> {
    let part = job.part.as_ref().map_err(Clone::clone)?;
    let record = read_take(&job.record).map_err(|problem| problem.to_string())?;
    let grid = record.start.map(|start| Grid::new(start, record.tempo.clone()));
    Ok(judge(part, &job.start, job.level, grid, &record.inputs, record.end))
}
