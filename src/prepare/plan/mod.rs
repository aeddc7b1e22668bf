//! The next rehearsal: what which section misses, who plays what again, which drill to print, what is due for a look.
//!
//! In: a book and [`Rules`]. Out: a [`Plan`]. Next is [`crate::show`]. A take of one player with a thing is one observation,
//! however many notes of it were in the take: they are not missed independently. What leads is not what looks worst but
//! what one can be sure of ([`Share::low`]).

mod limits;
mod rules;
mod seen;

pub use rules::Rules;
pub use seen::Thing;

use super::drill::{Brief, Kind};
use crate::book::{Absence, Attempt, Book, BookError, Parts, Player, Wanted};
use crate::exercise::Meter;
use crate::instrument::{Instrument, catalogue};
use crate::judge::Level;
use crate::theory::{Key, Letter, Rank, changed_notes, default_family};
use clap::ValueEnum;
use seen::{Place, Seen, seen};
use std::collections::BTreeMap;

/// Microseconds of a day.
const DAY_US: i64 = 86_400_000_000;

/// How much of something was missed, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Takes' worth that was missed: a take in which half of the notes were missed counts 0.5.
    pub missed: f64,
    /// Takes in which it was met.
    pub takes: usize,
    /// The lower limit of the share that is missed, 0 to 1.
    pub low: f64,
    /// The upper limit.
    pub high: f64,
    /// Players who met it.
    pub players: usize,
    /// Players who missed it at least once.
    pub players_who_missed: usize,
}

/// A thing that a section misses.
#[derive(Debug, Clone)]
pub struct Topic {
    /// The section; none for players without one.
    pub section: Option<String>,
    /// What.
    pub thing: Thing,
    /// How much.
    pub share: Share,
    /// How the instruments of the section read it: written note (ASCII, without octave), ids of instruments.
    pub readings: Vec<(String, Vec<String>)>,
    /// What to print for it, where a drill can be made.
    pub drill: Option<DrillFor>,
}

/// A drill that would help.
#[derive(Debug, Clone)]
pub struct DrillFor {
    /// What it is for.
    pub kind: Kind,
    /// The concert key.
    pub key: Key,
    /// The concert keys of the band.
    pub family: Vec<Key>,
    /// Who plays it.
    pub instruments: Vec<&'static Instrument>,
    /// How hard it may be.
    pub level: Level,
}

impl DrillFor {
    /// What to ask of the composer: the first drill of as many measures as `restward drill` makes.
    pub fn brief(&self) -> Brief<'_> {
        Brief {
            kind: self.kind,
            key: self.key,
            family: &self.family,
            instruments: &self.instruments,
            level: self.level,
            meter: Meter::COMMON,
            measures: self.kind.usual_measures(),
            seed: 1,
        }
    }
}

/// A thing that one player misses, though the section does not.
#[derive(Debug, Clone)]
pub struct PlayerTopic {
    /// The player's name.
    pub player: String,
    /// The section.
    pub section: Option<String>,
    /// What.
    pub thing: Thing,
    /// How the player reads it: the written note, ASCII, without octave.
    pub written: Option<String>,
    /// How much.
    pub share: Share,
}

/// What a section has mastered.
#[derive(Debug, Clone)]
pub struct Mastered {
    /// The section.
    pub section: Option<String>,
    /// What.
    pub thing: Thing,
    /// How much was missed in the latest takes.
    pub share: Share,
    /// Days since it was played last.
    pub days: i64,
    /// Whether it is time to look again.
    pub is_due: bool,
}

/// A player who was not heard lately.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unheard {
    /// The player's name.
    pub player: String,
    /// The section.
    pub section: Option<String>,
    /// The last take in the time that is looked at, in microseconds since 1970.
    pub last_us: Option<i64>,
    /// When the player was last marked absent while a queue was called up, in that time.
    pub absent_us: Option<i64>,
}

/// The plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The day that it is made for, in microseconds since 1970.
    pub day_us: i64,
    /// From here to that day takes are looked at.
    pub since_us: i64,
    /// The newest take that was looked at; none: nobody has played in that time.
    pub newest_us: Option<i64>,
    /// The newest take of the whole book, whenever it was; none: nobody has played.
    pub newest_of_book_us: Option<i64>,
    /// From here on takes are recent.
    pub recent_us: i64,
    /// Recent takes.
    pub takes: usize,
    /// In so many of 100 cases a share lies between its limits.
    pub certain_percent: f64,
    /// What sections miss, the surest first.
    pub topics: Vec<Topic>,
    /// What single players miss besides.
    pub players: Vec<PlayerTopic>,
    /// What sections have mastered, the longest unplayed first.
    pub mastered: Vec<Mastered>,
    /// Who was not heard lately.
    pub unheard: Vec<Unheard>,
}

/// Makes the plan for a day, in microseconds since 1970. What came later does not count.
pub fn plan(book: &mut Book, rules: &Rules, day_us: i64) -> Result<Plan, BookError> {
    let since = day_us.saturating_sub(i64::from(rules.forgotten_days) * DAY_US);
    let wanted = Wanted { since_us: Some(since), until_us: Some(day_us), ..Wanted::default() };
    let players = book.players()?;
    let attempts = book.attempts(&wanted)?;
    let practice = book.practice(&wanted)?;
    let mut absences = book.absences(since)?;
    absences.retain(|it| it.marked_us < day_us);
    let newest_us = attempts.iter().map(|attempt| attempt.begun_us).max();
    let recent_us = newest_us.unwrap_or(day_us) - i64::from(rules.recent_days) * DAY_US;
    let all = seen(&players, &attempts, &practice);
    let found = topics(&all, recent_us, rules);
    let mut parts = Parts::default();
    let mut topics = Vec::new();
    for (place, share) in found {
        // Every place comes from the map.
        let Some(seen) = all.get(&place) else { continue };
        let drill = drill(book, &mut parts, &place, seen, &attempts, &players, recent_us)?;
        let readings = seen.readings.iter().map(|(note, who)| (note.clone(), who.iter().cloned().collect()));
        topics.push(Topic { readings: readings.collect(), section: place.0, thing: place.1, share, drill });
    }
    Ok(Plan {
        day_us,
        since_us: since,
        newest_us,
        newest_of_book_us: book.newest_us()?,
        recent_us,
        takes: attempts.iter().filter(|attempt| attempt.begun_us >= recent_us).count(),
        certain_percent: 100.0 - 2.0 * rules.error_percent,
        players: of_players(&all, &topics, &players, &attempts, recent_us, rules),
        mastered: mastered(&all, day_us, since, rules),
        unheard: unheard(&players, &attempts, &absences, recent_us),
        topics,
    })
}

/// What is missed for sure, the surest first.
fn topics(all: &BTreeMap<Place, Seen>, recent_us: i64, rules: &Rules) -> Vec<(Place, Share)> {
    let shares = all.iter().map(|(place, seen)| (place.clone(), seen.missed(recent_us, rules)));
    let mut topics: Vec<(Place, Share)> = shares
        .filter(|(_, share)| {
            share.takes >= rules.least_takes
                && share.players_who_missed >= rules.least_players
                && share.low * 100.0 >= rules.missed_percent
        })
        .collect();
    topics.sort_by(|(_, a), (_, b)| b.low.total_cmp(&a.low));
    topics.truncate(rules.most_topics);
    topics
}

fn of_players(
    all: &BTreeMap<Place, Seen>,
    topics: &[Topic],
    players: &[Player],
    attempts: &[Attempt],
    recent_us: i64,
    rules: &Rules,
) -> Vec<PlayerTopic> {
    let mut found = Vec::new();
    for ((section, thing), seen) in all {
        if topics.iter().any(|topic| topic.section == *section && topic.thing == *thing) {
            continue;
        }
        for id in seen.players() {
            let share = seen.missed_by(id, recent_us, rules);
            let is_sure = keeps_missing(&share, rules);
            let Some(player) = players.iter().find(|player| player.id == id).filter(|_| is_sure) else { continue };
            let instrument = attempts
                .iter()
                .rev()
                .find(|attempt| attempt.player == id)
                .and_then(|attempt| attempt.instrument.clone());
            let reads = |(_, who): &(&String, &std::collections::BTreeSet<String>)| {
                instrument.as_ref().is_some_and(|instrument| who.contains(instrument))
            };
            let written = seen.readings.iter().find(reads).map(|(note, _)| note.clone());
            found.push(PlayerTopic {
                player: player.name.clone(),
                section: section.clone(),
                thing: thing.clone(),
                written,
                share,
            });
        }
    }
    found.sort_by(|a, b| b.share.low.total_cmp(&a.share.low).then(a.player.cmp(&b.player)));
    found
}

fn keeps_missing(share: &Share, rules: &Rules) -> bool {
    share.takes >= rules.player_least_takes && share.low * 100.0 >= rules.player_missed_percent
}

/// The changed notes that a player keeps missing up to a time, as concert pitches, the surest first.
pub fn kept_missing(
    book: &mut Book,
    player: &Player,
    rules: &Rules,
    now_us: i64,
) -> Result<Vec<(Letter, i8, Share)>, BookError> {
    let since_us = now_us.saturating_sub(i64::from(rules.forgotten_days) * DAY_US);
    let wanted =
        Wanted { player: Some(player.id), since_us: Some(since_us), until_us: Some(now_us), ..Wanted::default() };
    let (attempts, practice) = (book.attempts(&wanted)?, book.practice(&wanted)?);
    let all = seen(std::slice::from_ref(player), &attempts, &practice);
    let shares = all.into_iter().filter_map(|((_, thing), seen)| match thing {
        Thing::Changed(letter, alter) => Some((letter, alter, seen.missed_by(player.id, since_us, rules))),
        Thing::Hold(_) => None,
    });
    let mut missed: Vec<_> = shares.filter(|(.., share)| keeps_missing(share, rules)).collect();
    missed.sort_by(|(.., a), (.., b)| b.low.total_cmp(&a.low));
    Ok(missed)
}

fn mastered(all: &BTreeMap<Place, Seen>, day_us: i64, since: i64, rules: &Rules) -> Vec<Mastered> {
    let mut found = Vec::new();
    for ((section, thing), seen) in all {
        let share = seen.missed(since, rules);
        let Some(last) = seen.last_us() else { continue };
        if (1.0 - share.high) * 100.0 < rules.mastered_percent {
            continue;
        }
        let days = (day_us - last) / DAY_US;
        let is_due = days >= i64::from(rules.due_days);
        found.push(Mastered { section: section.clone(), thing: thing.clone(), share, days, is_due });
    }
    found.sort_by_key(|mastered| std::cmp::Reverse(mastered.days));
    found
}

fn unheard(players: &[Player], attempts: &[Attempt], absences: &[Absence], recent_us: i64) -> Vec<Unheard> {
    let mut last: BTreeMap<i64, i64> = BTreeMap::new();
    for attempt in attempts {
        let last = last.entry(attempt.player).or_insert(attempt.begun_us);
        *last = (*last).max(attempt.begun_us);
    }
    let unheard = players.iter().filter(|player| last.get(&player.id).is_none_or(|&last| last < recent_us));
    unheard
        .map(|player| Unheard {
            player: player.name.clone(),
            section: player.section.clone(),
            last_us: last.get(&player.id).copied(),
            absent_us: absences.iter().filter(|it| it.player == player.id).map(|it| it.marked_us).max(),
        })
        .collect()
}

/// The drill for a topic: in the key of the exercise where it was missed, for the instruments that missed it.
fn drill(
    book: &mut Book,
    parts: &mut Parts,
    (_, thing): &Place,
    seen: &Seen,
    attempts: &[Attempt],
    players: &[Player],
    recent_us: i64,
) -> Result<Option<DrillFor>, BookError> {
    let of_topic = |attempt: &&Attempt| attempt.begun_us >= recent_us && seen.players().any(|id| id == attempt.player);
    let mut ids: Vec<&String> =
        attempts.iter().filter(of_topic).filter_map(|attempt| attempt.instrument.as_ref()).collect();
    ids.sort_unstable();
    ids.dedup();
    let instruments: Vec<&'static Instrument> = ids.into_iter().filter_map(|id| catalogue().get(id).ok()).collect();
    let exercise = seen.exercise(recent_us);
    let take = attempts.iter().filter(of_topic).find(|attempt| Some(attempt.exercise) == exercise);
    let Some(start) = take.map(|attempt| book.take(attempt.take)).transpose()?.flatten().map(|take| take.start) else {
        return Ok(None);
    };
    let Ok(part) = book.part_of(parts, &start)? else { return Ok(None) };
    let transposition = part.transposition.unwrap_or_default();
    let family = if start.family.is_empty() { default_family() } else { start.family.clone() };
    let mut keys = part.measures.iter().map(|measure| transposition.key_to_concert(measure.key));
    let key = match thing {
        Thing::Changed(letter, alter) => keys.find(|&key| changes(key, &family, *letter, *alter)),
        Thing::Hold(_) => keys.next(),
    };
    let Some(key) = key.filter(|_| !instruments.is_empty()) else { return Ok(None) };
    let kind = match (thing, &instruments[..]) {
        (Thing::Hold(_), _) => Kind::Hold,
        // A drill for one instrument names the note as its part has it.
        (Thing::Changed(letter, alter), [instrument]) => {
            let concert = crate::theory::Pitch::new(*letter, *alter, 4);
            Kind::Changed(Some(instrument.transposition.to_written(concert).letter))
        }
        (Thing::Changed(letter, _), _) => Kind::Changed(Some(*letter)),
    };
    let levels = players.iter().filter(|player| seen.players().any(|id| id == player.id));
    // Who has no level plays what the youngest play.
    let level = levels.map(|player| player.level.as_deref().and_then(|level| Level::from_str(level, false).ok()));
    let level = level.map(Option::unwrap_or_default).min().unwrap_or_default();
    Ok(Some(DrillFor { kind, key, family, instruments, level }))
}

fn changes(key: Key, family: &[Key], letter: Letter, alter: i8) -> bool {
    let found = changed_notes(key, family);
    found.iter().any(|it| it.rank != Rank::Other && (it.letter, it.alter) == (letter, alter))
}
