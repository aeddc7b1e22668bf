//! Moves what a session wrote from the write-ahead log into the book, beside the session.
//!
//! A commit into the log takes a fraction of a millisecond. To move a grown log into the file can take some hundred on a
//! slow disk, and SQLite does that in whichever commit finds a thousand pages in it: in the middle of somebody's take. Here it
//! is moved before it has grown so far. Commits that find it grown nevertheless still move it, so that it never fills a disk.

use super::{Book, BookError};
use crossbeam_channel::{RecvTimeoutError, Sender, bounded};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often the log is moved: at 16 lanes with 500 messages a second each it grows by some four hundred pages meanwhile.
const EVERY: Duration = Duration::from_millis(500);

/// Goes on until it is dropped.
pub(super) struct Checkpoints {
    /// Closed to end it.
    end: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Checkpoints {
    /// From here on the log of this book is moved.
    pub(super) fn begin(book: &Book) -> Result<Checkpoints, BookError> {
        Checkpoints::begin_every(EVERY, book)
    }

    fn begin_every(wait: Duration, book: &Book) -> Result<Checkpoints, BookError> {
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
        Ok(Checkpoints { end: Some(end), thread })
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
    fn the_log_is_moved_before_a_commit_has_to() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let mut book = Book::open_or_begin(&path).unwrap();
        let size = || std::fs::metadata(&path).unwrap().len();
        let before = size();
        book.keep_exercise("Hills", "hills.abc", &vec![7; 2_000_000], 0).unwrap();
        assert_eq!(size(), before, "a commit of 2 MB stays in the log");
        let _goes_on = Checkpoints::begin_every(Duration::from_millis(5), &book).unwrap();
        let begun = Instant::now();
        while size() < 2_000_000 {
            assert!(begun.elapsed() < Duration::from_secs(60), "nothing is moved");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}
