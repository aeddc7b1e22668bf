//! What a page needs of a book: players, their takes in numbers, and the takes to be shown note by note.

use crate::book::{Attempt, Book, BookError, Finding, Parts, Player, Practice, Wanted, same};
use crate::exercise::Part;
use crate::instrument::{Instrument, catalogue};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a page is asked to show.
pub struct Asked<'a> {
    /// Which takes.
    pub wanted: &'a Wanted,
    /// Only these players, by number; none: all that `wanted` lets through.
    pub players: &'a [i64],
    /// Only these exercises, by number; none: all that `wanted` lets through.
    pub exercises: &'a [i64],
    /// Takes that grades come from, each with the titles of the rubric's rows that do; of each player and exercise the one
    /// with the most is shown note by note besides the latest.
    pub counting: &'a BTreeMap<i64, Vec<String>>,
    /// How many of the latest takes of each player and exercise are shown note by note.
    pub latest: usize,
    /// Whose days and weeks.
    pub zone: TimeZone,
}

/// Everything that pages and slips show.
pub struct Review {
    /// The players, by section and name, also those who did not play.
    pub players: Vec<Reviewed>,
    /// The parts of the takes shown, each once; what is shown counts in them.
    pub parts: Vec<(Arc<Part>, Option<&'static Instrument>)>,
    /// Whose days and weeks.
    pub zone: TimeZone,
}

/// A player and what was played.
pub struct Reviewed {
    /// Who.
    pub player: Player,
    /// Finished takes, the first first.
    pub attempts: Vec<Attempt>,
    /// What was practised in them.
    pub practice: Vec<Practice>,
    /// Takes shown note by note, the latest first.
    pub takes: Vec<Shown>,
}

/// A take shown note by note.
pub struct Shown {
    /// In numbers.
    pub attempt: Attempt,
    /// The title of the exercise.
    pub title: String,
    /// The rows of the grade that come from it.
    pub counts_for: Vec<String>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// The part, an index into [`Review::parts`]; or why it cannot be read. Only asked for where something was found.
    pub part: Option<Result<usize, String>>,
}

impl Review {
    /// Reads it from a book.
    pub fn of(book: &mut Book, asked: &Asked<'_>) -> Result<Review, BookError> {
        let mut players: BTreeMap<i64, usize> = BTreeMap::new();
        let mut review = Review { players: Vec::new(), parts: Vec::new(), zone: asked.zone.clone() };
        for player in book.players()? {
            if is_asked(&player, asked) {
                players.insert(player.id, review.players.len());
                let none = (Vec::new(), Vec::new(), Vec::new());
                review.players.push(Reviewed { player, attempts: none.0, practice: none.1, takes: none.2 });
            }
        }
        let is_asked = |exercise: i64| asked.exercises.is_empty() || asked.exercises.contains(&exercise);
        for attempt in book.attempts(asked.wanted)?.into_iter().filter(|it| is_asked(it.exercise)) {
            if let Some(&place) = players.get(&attempt.player) {
                review.players[place].attempts.push(attempt);
            }
        }
        for practice in book.practice(asked.wanted)?.into_iter().filter(|it| is_asked(it.exercise)) {
            if let Some(&place) = players.get(&practice.player) {
                review.players[place].practice.push(practice);
            }
        }
        let titles = book.exercises()?.into_iter().map(|exercise| (exercise.id, exercise.title)).collect();
        let mut read = Parts::default();
        for place in 0..review.players.len() {
            for attempt in chosen(&review.players[place].attempts, asked) {
                let shown = review.shown(book, &mut read, &titles, attempt, asked)?;
                review.players[place].takes.push(shown);
            }
        }
        Ok(review)
    }

    fn shown(
        &mut self,
        book: &mut Book,
        read: &mut Parts,
        titles: &BTreeMap<i64, String>,
        attempt: Attempt,
        asked: &Asked<'_>,
    ) -> Result<Shown, BookError> {
        let findings = book.findings(attempt.take)?;
        let mut part = None;
        if !findings.is_empty()
            && let Some(kept) = book.take(attempt.take)?
        {
            let instrument = kept.start.instrument.as_ref().and_then(|id| catalogue().get(id).ok());
            part = Some(book.part_of(read, &kept.start)?.map(|part| self.place(part, instrument)));
        }
        Ok(Shown {
            title: titles.get(&attempt.exercise).cloned().unwrap_or_default(),
            counts_for: asked.counting.get(&attempt.take).cloned().unwrap_or_default(),
            findings,
            part,
            attempt,
        })
    }

    /// Where a part stands among those that are shown.
    fn place(&mut self, part: Arc<Part>, instrument: Option<&'static Instrument>) -> usize {
        let known = self.parts.iter().position(|(known, _)| Arc::ptr_eq(known, &part));
        known.unwrap_or_else(|| {
            self.parts.push((part, instrument));
            self.parts.len() - 1
        })
    }

    /// The part of a take, where it could be read.
    pub(super) fn part(&self, shown: &Shown) -> Option<&Part> {
        let place = shown.part.as_ref()?.as_ref().ok()?;
        self.parts.get(*place).map(|(part, _)| part.as_ref())
    }
}

fn is_asked(player: &Player, asked: &Asked<'_>) -> bool {
    let is_same = |section: &String| player.section.as_ref().is_some_and(|own| same(own, section));
    (asked.players.is_empty() || asked.players.contains(&player.id))
        && asked.wanted.player.is_none_or(|wanted| wanted == player.id)
        && asked.wanted.section.as_ref().is_none_or(is_same)
}

/// Of the takes of a player those that are shown note by note, the latest first.
fn chosen(attempts: &[Attempt], asked: &Asked<'_>) -> Vec<Attempt> {
    let rows = |attempt: &Attempt| asked.counting.get(&attempt.take).map_or(0, Vec::len);
    let mut most: BTreeMap<i64, &Attempt> = BTreeMap::new();
    for attempt in attempts {
        let best = most.entry(attempt.exercise).or_insert(attempt);
        if rows(attempt) >= rows(best) {
            *best = attempt;
        }
    }
    let mut seen: BTreeMap<i64, usize> = BTreeMap::new();
    let mut is_chosen = |attempt: &&Attempt| {
        let seen = seen.entry(attempt.exercise).or_default();
        *seen += 1;
        let is_most = most.get(&attempt.exercise).is_some_and(|best| best.take == attempt.take);
        *seen <= asked.latest || is_most && rows(attempt) > 0
    };
    attempts.iter().rev().filter(|attempt| is_chosen(attempt)).cloned().collect()
}
