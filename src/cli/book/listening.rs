//! The book while `restward listen` runs.

use super::super::Failure;
use super::when;
use crate::book::{Book, CutOff, Keeping, Listening, now_us, plain};
use crate::session::Plan;
use std::path::Path;

/// A book taken for a session.
pub(in crate::cli) struct Opened {
    book: Book,
    listening: Listening,
}

impl Opened {
    /// Opens or begins it; refused while another session listens into it.
    pub(in crate::cli) fn open(path: &Path) -> Result<Opened, Failure> {
        let book = Book::open_or_begin(path)?;
        let listening = book.listening()?;
        Ok(Opened { book, listening })
    }

    /// The id of the instrument that the book knows of a player.
    pub(in crate::cli) fn instrument(&mut self, player: &str) -> Result<Option<String>, Failure> {
        Ok(self.book.player(player)?.and_then(|player| player.instrument))
    }

    /// Makes it the keeper of a session: finishes what was cut off, enters new players, keeps the exercise; what was
    /// done is said. The second value holds the book for this session while it lives.
    pub(in crate::cli) fn keep(
        mut self,
        plan: &Plan,
        exercise: &Path,
        title: Option<&str>,
        opening: &mut Vec<String>,
    ) -> Result<(Keeping, Listening), Failure> {
        opening.extend(self.book.finish_cut_off()?.iter().map(sentence));
        let mut players = Vec::new();
        for lane in &plan.lanes {
            let is_new = self.book.player(&lane.player)?.is_none();
            let player = self.book.player_or_new(&lane.player)?;
            if is_new {
                let book = self.book.path().display();
                opening.push(format!("{} is new in {book}.", player.name));
            }
            players.push(player.id);
        }
        let content =
            std::fs::read(exercise).map_err(|error| Failure::input(format!("{}: {error}", exercise.display())))?;
        let file_name = exercise.file_name().unwrap_or(exercise.as_os_str()).to_string_lossy();
        let title = plain(title.unwrap_or(&plan.exercise));
        let kept = self.book.keep_exercise(&title, &file_name, &content, now_us())?;
        Ok((Keeping::new(self.book, kept, players), self.listening))
    }
}

fn sentence(cut_off: &CutOff) -> String {
    let CutOff { player, title, begun_us, notes, trouble } = cut_off;
    let count = if *notes == 1 { "1 note".into() } else { format!("{notes} notes") };
    let begun = when(*begun_us);
    match trouble {
        None => format!("{player}'s take of {title} from {begun} was cut off: kept with {count}."),
        Some(trouble) => format!(
            "{player}'s take of {title} from {begun} was cut off with {count} and cannot be judged ({trouble}); it stays \
             in the book as it is."
        ),
    }
}
