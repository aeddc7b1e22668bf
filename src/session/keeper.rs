//! What keeps takes while they are played: the session tells it each arrival before it is judged. The folder of
//! `--save` is one, the book another, which the session does not know.

use super::{Outcome, PlayerPlan, Turn};
use crate::exercise::Micros;
use crate::judge::{Report, Settings};
use crate::listen::take::Record;
use crate::listen::{Input, Timed};
use std::io;
use std::path::PathBuf;

/// Keeps the takes of a session.
pub trait Keeper {
    /// A take of one lane begins.
    fn begin(&mut self, begun: &Begun) -> io::Result<Box<dyn Kept>>;

    /// A take was thrown away after its end.
    fn throw_away(&mut self, outcome: &Outcome) -> io::Result<()>;
}

/// A take of one lane as it begins.
pub struct Begun<'a> {
    /// Who plays it, where, and which take of this player it is.
    pub turn: Turn,
    /// Who plays what.
    pub plan: &'a PlayerPlan,
    /// How it is judged.
    pub settings: &'a Settings,
    /// Seconds since 1970, where the source runs on the wall's clock.
    pub unix_s: Option<f64>,
}

/// One take that is kept. After a failure the take goes on, and so do the calls: a keeper says its trouble once, and
/// saves what can be saved.
pub trait Kept {
    /// Something arrived; it is judged next. Times from the start of the take.
    fn arrived(&mut self, arrival: &Timed<Input>) -> io::Result<()>;

    /// Time passed: what must not wait longer is written now.
    fn passed(&mut self, now: Micros) -> io::Result<()> {
        let _ = now;
        Ok(())
    }

    /// The take is over; the file that it became, if it became one.
    fn end(self: Box<Self>, record: &Record, end: Micros, report: &Report) -> io::Result<Option<PathBuf>>;

    /// The take is thrown away.
    fn discard(self: Box<Self>) -> io::Result<()>;
}
