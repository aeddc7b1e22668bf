//! Moves what a session wrote from the write-ahead log into the book, beside the session.
//!
//! A commit into the log takes a fraction of a millisecond. To move a grown log into the file can take some hundred on a
//! slow disk, and SQLite would do that in whichever commit finds it grown: in the middle of somebody's take.

use super::{Book, BookError};
use crossbeam_channel::{RecvTimeoutError, Sender, bounded};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often the log is moved: at 16 lanes with 500 messages a second each it grows by some megabytes meanwhile.
const EVERY: Duration = Duration::from_secs(2);

/// Goes on until it is dropped.
pub(super) struct Checkpoints {
    /// Closed to end it.
    end: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Checkpoints {
    /// From here on commits of this connection no longer move the log.
    pub(super) fn begin(book: &mut Book) -> Result<Checkpoints, BookError> {
        Checkpoints::begin_every(EVERY, book)
    }

    fn begin_every(wait: Duration, book: &mut Book) -> Result<Checkpoints, BookError> {
        let mut other = Book::open(book.path())?;
        let (end, ended) = bounded(0);
        let thread = std::thread::Builder::new().name("checkpoints".into()).spawn(move || {
            while ended.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                // What cannot be moved now stays in the log, where it is just as safe; the next time will do. Passive: waits
                // for nobody, and nobody waits for it (SQLite, "PRAGMA wal_checkpoint").
                let _ = other.with(|sql| Ok(sql.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()))?));
            }
        });
        let thread = Some(thread.map_err(|error| super::BookProblem::from(error).of(book.path()))?);
        let checkpoints = Checkpoints { end: Some(end), thread };
        book.with(|sql| Ok(sql.pragma_update(None, "wal_autocheckpoint", 0)?))?;
        Ok(checkpoints)
    }
}

impl Drop for Checkpoints {
    fn drop(&mut self) {
        self.end.take();
        // A panic in there was told by the thread itself.
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot go on fails

    use super::*;
    use std::time::Instant;

    #[test]
    fn the_log_is_moved_by_the_thread_and_not_by_commits() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let mut book = Book::open_or_begin(&path).unwrap();
        let size = || std::fs::metadata(&path).unwrap().len();
        let large = vec![7; 8_000_000];
        let waits = Checkpoints::begin_every(Duration::from_secs(3600), &mut book).unwrap();
        let before = size();
        book.keep_exercise("Hills", "hills.abc", &large, 0).unwrap();
        assert_eq!(size(), before, "a commit of 8 MB stays in the log");
        drop(waits);
        let _goes_on = Checkpoints::begin_every(Duration::from_millis(5), &mut book).unwrap();
        let begun = Instant::now();
        while size() < 8_000_000 {
            assert!(begun.elapsed() < Duration::from_secs(60), "nothing is moved");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}
