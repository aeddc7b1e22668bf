//! The book as the keeper of a session: what arrives is in the file within [`LONGEST_WAIT`], whatever happens then.

use super::checkpoints::Checkpoints;
use super::{Book, BookError, BookProblem, LONGEST_WAIT, TakeStart};
use crate::exercise::{Micros, Part};
use crate::judge::Report;
use crate::listen::take::Record;
use crate::listen::{Input, Timed};
use crate::session::{Begun, Keeper, Kept, Outcome, Turn};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, SystemTime};

/// So old is what waits when it is written: the session looks every 10 ms and stays 5 ms behind the clock.
const WRITTEN_AFTER: Micros = Micros(LONGEST_WAIT.0 - 15_000);
/// Music does not wait for another writer; what could not be written is tried again with the next piece.
const NO_PATIENCE: Duration = Duration::from_millis(5);
/// Another writer that takes so many attempts is told of: about a second.
const MANY_ATTEMPTS: u32 = 40;

/// Keeps the takes of one session in a book.
pub struct Keeping {
    shared: Rc<RefCell<Shared>>,
    exercise: i64,
    players: Vec<i64>,
    /// Where there is none, commits move the log themselves.
    _checkpoints: Option<Checkpoints>,
}

/// What all running takes share: one transaction writes what arrived on all lanes.
struct Shared {
    book: Book,
    running: BTreeMap<i64, Running>,
    /// When the first arrived of those that wait.
    oldest: Option<Micros>,
    attempts: u32,
    is_told: bool,
    /// Takes that ended, with their numbers in the book.
    ended: Vec<(Turn, i64)>,
}

/// A take that is played.
#[derive(Default)]
struct Running {
    pieces: i64,
    waiting: Vec<Timed<Input>>,
}

impl Keeping {
    /// Keeps takes of an exercise, played by these players of the book, in the order of the session's plan.
    pub fn new(book: Book, exercise: i64, players: Vec<i64>) -> Keeping {
        let checkpoints = Checkpoints::begin(&book).ok();
        let shared =
            Shared { book, running: BTreeMap::new(), oldest: None, attempts: 0, is_told: false, ended: Vec::new() };
        Keeping { shared: Rc::new(RefCell::new(shared)), exercise, players, _checkpoints: checkpoints }
    }
}

impl Keeper for Keeping {
    fn begin(&mut self, begun: &Begun) -> io::Result<Box<dyn Kept>> {
        let player = self.players.get(begun.turn.player).copied();
        let settings = begun.settings;
        let start = TakeStart {
            player: player.ok_or_else(|| io::Error::other("this player is not in the book"))?,
            exercise: self.exercise,
            begun_us: begun.unix_s.map_or_else(now_us, |seconds| (seconds * 1e6) as i64),
            part: begun.plan.part.name.id.clone(),
            instrument: settings.instrument.as_ref().map(|instrument| instrument.id.clone()),
            level: settings.level,
            sends: settings.sends,
            family: settings.family.clone(),
            click: settings.grid.clone(),
            delay: settings.delay,
        };
        let mut shared = self.shared.borrow_mut();
        let (take, trouble) = match shared.book.begin_take(&start) {
            Ok(take) => {
                shared.running.insert(take, Running::default());
                (Some(take), None)
            }
            // What is wrong is told with the first arrival; perhaps the take can be kept at its end.
            Err(error) => (None, Some(io::Error::other(error))),
        };
        drop(shared);
        Ok(Box::new(BookTake {
            shared: Rc::clone(&self.shared),
            start,
            part: Arc::clone(&begun.plan.part),
            turn: begun.turn,
            take,
            trouble,
        }))
    }

    fn throw_away(&mut self, outcome: &Outcome) -> io::Result<()> {
        let mut shared = self.shared.borrow_mut();
        let Some(place) = shared.ended.iter().position(|(turn, _)| *turn == outcome.turn) else {
            return Ok(());
        };
        let (_, id) = shared.ended.remove(place);
        shared.book.discard_take(id).map_err(io::Error::other)
    }
}

impl Shared {
    /// Writes all that waits; says once what is in the way, and keeps it for the next attempt.
    fn write(&mut self, now: Micros) -> io::Result<()> {
        let waiting = self.running.iter().filter(|(_, running)| !running.waiting.is_empty());
        let pieces: Vec<(i64, i64, &[Timed<Input>])> =
            waiting.map(|(take, running)| (*take, running.pieces, running.waiting.as_slice())).collect();
        match self.book.with_patience(NO_PATIENCE, |book| book.arrived(&pieces)) {
            Ok(()) => {
                for running in self.running.values_mut().filter(|running| !running.waiting.is_empty()) {
                    running.pieces += 1;
                    running.waiting.clear();
                }
                (self.oldest, self.attempts, self.is_told) = (None, 0, false);
                Ok(())
            }
            Err(error) => {
                self.oldest = Some(now);
                self.attempts += 1;
                let is_short = matches!(error.problem, BookProblem::Busy) && self.attempts < MANY_ATTEMPTS;
                if is_short || std::mem::replace(&mut self.is_told, true) {
                    return Ok(());
                }
                Err(io::Error::other(error))
            }
        }
    }

    fn write_if_due(&mut self, now: Micros) -> io::Result<()> {
        match self.oldest {
            Some(oldest) if now - oldest >= WRITTEN_AFTER => self.write(now),
            _ => Ok(()),
        }
    }
}

/// One take in the book.
struct BookTake {
    shared: Rc<RefCell<Shared>>,
    start: TakeStart,
    part: Arc<Part>,
    /// Who plays it.
    turn: Turn,
    /// Its number in the book; `None` where it could not be begun yet.
    take: Option<i64>,
    /// Why it could not be begun, until it is told.
    trouble: Option<io::Error>,
}

impl BookTake {
    fn told(&mut self) -> io::Result<()> {
        self.trouble.take().map_or(Ok(()), Err)
    }
}

impl Kept for BookTake {
    fn arrived(&mut self, arrival: &Timed<Input>) -> io::Result<()> {
        self.told()?;
        let mut shared = self.shared.borrow_mut();
        let Some(running) = self.take.and_then(|take| shared.running.get_mut(&take)) else { return Ok(()) };
        running.waiting.push(arrival.clone());
        shared.oldest.get_or_insert(arrival.at);
        shared.write_if_due(arrival.at)
    }

    fn passed(&mut self, now: Micros) -> io::Result<()> {
        self.told()?;
        self.shared.borrow_mut().write_if_due(now)
    }

    fn end(self: Box<Self>, record: &Record, end: Micros, report: &Report) -> io::Result<Option<PathBuf>> {
        let mut shared = self.shared.borrow_mut();
        let finish = |shared: &mut Shared| -> Result<i64, BookError> {
            let take = self.take.map_or_else(|| shared.book.begin_take(&self.start), Ok)?;
            shared.book.finish_take(take, record.iter(), &self.start, end, &self.part, report)?;
            Ok(take)
        };
        let finished = finish(&mut shared);
        if finished.is_err() {
            // Then at least all that arrived is there, for the next start.
            let _ = shared.write(end);
        }
        if let Some(take) = self.take {
            shared.running.remove(&take);
        }
        // One that could not be finished can be thrown away like any other.
        let id = finished.as_ref().ok().copied().or(self.take);
        shared.ended.extend(id.map(|id| (self.turn, id)));
        finished.map_err(io::Error::other)?;
        Ok(None)
    }

    fn discard(self: Box<Self>) -> io::Result<()> {
        let Some(take) = self.take else { return Ok(()) };
        let mut shared = self.shared.borrow_mut();
        shared.running.remove(&take);
        shared.book.discard_take(take).map_err(io::Error::other)
    }
}

/// Microseconds since 1970.
pub fn now_us() -> i64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_micros()).unwrap_or(i64::MAX)
}
