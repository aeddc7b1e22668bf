//! The book while `restward listen` runs.

use super::super::{Failure, given, named};
use super::when;
use crate::book::{
    Absence, Book, BookProblem, CutOff, Keeping, Listening, Player, now_us, plain, same, section_called, sections,
};
use crate::instrument::catalogue;
use crate::judge::Level;
use crate::session::{Plan, Step, Told};
use clap::ValueEnum;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// An absence holds for the rest of the day: so long after it was marked. No time zone is needed for that.
const DAY_US: i64 = 12 * 3_600 * 1_000_000;

/// A book taken for a session.
pub(in crate::cli) struct Opened {
    book: Book,
    listening: Listening,
}

/// What the book knows of a player.
pub(in crate::cli) struct Known {
    pub(in crate::cli) name: String,
    pub(in crate::cli) instrument: Option<String>,
    pub(in crate::cli) level: Option<Level>,
    pub(in crate::cli) is_absent: bool,
}

impl Known {
    /// Nothing but the name.
    pub(in crate::cli) fn new(name: &str) -> Known {
        Known { name: plain(name), instrument: None, level: None, is_absent: false }
    }

    fn of(player: Player, is_absent: bool) -> Known {
        let level = player.level.and_then(|level| Level::from_str(&level, true).ok());
        Known { name: player.name, instrument: player.instrument, level, is_absent }
    }
}

/// What a session is given of a book.
pub(in crate::cli) struct Kept {
    pub(in crate::cli) keeping: Keeping,
    /// Holds the book for this session while it lives.
    pub(in crate::cli) listening: Listening,
    pub(in crate::cli) absences: Absences,
}

impl Opened {
    /// Opens or begins it; refused while another session listens into it.
    pub(in crate::cli) fn open(path: &Path) -> Result<Opened, Failure> {
        let book = Book::open_or_begin(path)?;
        let listening = book.listening()?;
        Ok(Opened { book, listening })
    }

    /// What the book knows of a player by the name or as much of it as tells; a stranger is new.
    pub(in crate::cli) fn known(&mut self, player: &str) -> Result<Known, Failure> {
        Ok(self.book.player_called(player)?.map_or_else(|| Known::new(player), |player| Known::of(player, false)))
    }

    /// The same; a stranger is refused, as a slip of the finger would be a new player.
    pub(in crate::cli) fn known_of_roster(&mut self, player: &str) -> Result<Known, Failure> {
        Ok(Known::of(named::player(&mut self.book, player)?, false))
    }

    /// The players of a section, in the order of the roster: by its name, the beginning of it, or an instrument.
    pub(in crate::cli) fn section(&mut self, wanted: &str) -> Result<Vec<Known>, Failure> {
        let players = self.book.players()?;
        let absent = self.book.absences(now_us() - DAY_US)?;
        let sections = sections(&players);
        let instrument = catalogue().recognise(&[&plain(wanted)]).map(|instrument| instrument.id.clone());
        let section = section_called(&sections, wanted);
        let is_in =
            |player: &&Player| section.zip(player.section.as_ref()).is_some_and(|(one, other)| same(one, other));
        let mut found: Vec<Player> = players.iter().filter(is_in).cloned().collect();
        if let (true, Some(id)) = (found.is_empty(), instrument) {
            found = players.iter().filter(|player| player.instrument.as_ref() == Some(&id)).cloned().collect();
        }
        if found.is_empty() {
            let there = if sections.is_empty() { "none yet".into() } else { sections.join(", ") };
            let sentence = format!("there is no section \"{wanted}\", and nobody plays that; sections: {there}");
            return Err(BookProblem::Refused(sentence).of(self.book.path()).into());
        }
        let is_absent = |player: &Player| absent.iter().any(|absence| absence.player == player.id);
        Ok(found
            .into_iter()
            .map(|player| (is_absent(&player), player))
            .map(|(absent, player)| Known::of(player, absent))
            .collect())
    }

    /// Makes it the keeper of a session: finishes what was cut off, enters new players, keeps the exercise; what was
    /// done is said.
    pub(in crate::cli) fn keep(
        mut self,
        plan: &Plan,
        exercise: &Path,
        title: Option<&str>,
        opening: &mut Vec<String>,
    ) -> Result<Kept, Failure> {
        opening.extend(self.book.finish_cut_off()?.iter().map(sentence));
        let mut players = Vec::new();
        for asked in &plan.players {
            let is_new = self.book.player(&asked.player)?.is_none();
            let player = self.book.player_or_new(&asked.player)?;
            if is_new {
                let book = self.book.path().display();
                opening.push(format!("{} is new in {book}.", player.name));
            }
            players.push(player.id);
        }
        let content = std::fs::read(exercise)
            .map_err(|error| Failure::Input(format!("{}: {}", exercise.display(), given::unread(&error))))?;
        let file_name = exercise.file_name().unwrap_or(exercise.as_os_str()).to_string_lossy();
        let title = plain(title.unwrap_or(&plan.exercise));
        let kept = self.book.keep_exercise(&title, &file_name, &content, now_us())?;
        let absences = Absences::new(self.book.path().into(), players.clone());
        Ok(Kept { keeping: Keeping::new(self.book, kept, players), listening: self.listening, absences })
    }
}

/// Writes down who is not there while a session runs, beside its keeper.
pub(in crate::cli) struct Absences {
    path: PathBuf,
    /// The players of the session, by their numbers in the book.
    players: Vec<i64>,
    /// When those who were marked absent were marked, by player: whoever plays has come.
    absent: BTreeMap<i64, i64>,
}

impl Absences {
    fn new(path: PathBuf, players: Vec<i64>) -> Absences {
        let since = now_us() - DAY_US;
        // Nothing known is nothing to take back.
        let known = Book::open(&path).and_then(|mut book| book.absences(since)).unwrap_or_default();
        let absent = known.into_iter().map(|absence| (absence.player, since)).collect();
        Absences { path, players, absent }
    }

    /// Sees what a session tells; a sentence if it could not be written down.
    pub(in crate::cli) fn see(&mut self, told: &Told) -> Option<String> {
        let (player, is_absent) = match told {
            Told::Step(Step::Absent(player)) => (*player, true),
            Told::Undone(Step::Absent(player)) => (*player, false),
            Told::Over(outcome) if outcome.played => (outcome.turn.player, false),
            _ => return None,
        };
        let player = *self.players.get(player)?;
        if !is_absent && !self.absent.contains_key(&player) {
            return None;
        }
        let marked_us = now_us();
        let written = Book::open(&self.path).and_then(|mut book| match is_absent {
            true => book.mark_absent(Absence { player, marked_us }),
            false => book.has_come(player, self.absent.get(&player).copied().unwrap_or(marked_us)),
        });
        match is_absent {
            true => self.absent.insert(player, marked_us),
            false => self.absent.remove(&player),
        };
        written.err().map(|error| format!("who is absent cannot be written down: {error}"))
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
