//! The term of the invented band: who is there on which day, and what is played.

use super::super::Failure;
use super::invented::{Band, Invented, changed_letters};
use super::performed::{Performed, perform};
use crate::book::TakeStart;
use crate::exercise::Part;
use crate::judge::Sends;
use crate::session::Student;
use crate::theory::default_family;
use jiff::civil::Date;
use jiff::{Span, tz::TimeZone};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use std::sync::Arc;

/// How long the term is.
pub(super) const WEEKS: usize = 8;
/// So many weeks an exercise is rehearsed.
const WEEKS_EACH: usize = 2;
/// Rehearsals are so many days before the last day of each week.
const DAYS_BEFORE: [i64; 2] = [3, 1];
/// A take below this share of right pitches, or of full values, is played again on the second day.
const GOOD_ENOUGH: f64 = 0.75;
/// Which of the generator's sequences is ours: any number, but always the same.
const STREAM: u64 = 71;

/// A rehearsal: one day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Day {
    week: usize,
    date: Date,
    /// Which of the days of its week.
    place: usize,
}

/// All rehearsals of the eight weeks up to a day.
pub(super) fn days(until: Date) -> Result<Vec<Day>, Failure> {
    let mut days = Vec::new();
    for week in 0..WEEKS {
        for (place, before) in DAYS_BEFORE.into_iter().enumerate() {
            let back = before + 7 * (WEEKS - 1 - week) as i64;
            let date = until.checked_sub(Span::new().days(back));
            days.push(Day { week, date: date.map_err(|error| Failure::Usage(format!("--until: {error}")))?, place });
        }
    }
    Ok(days)
}

/// A player of the band with their number in the book, and the parts they play from.
pub(super) struct Seat<'a> {
    pub(super) invented: &'a Invented,
    /// Their place in the band: the same accidents for the same seed.
    pub(super) place: usize,
    pub(super) player: i64,
    /// Of each exercise its number in the book and the part.
    pub(super) parts: Vec<(i64, Arc<Part>)>,
}

impl Day {
    pub(super) fn date(self) -> Date {
        self.date
    }

    /// Microseconds since 1970 at noon, UTC.
    pub(super) fn noon_us(self) -> i64 {
        self.at(jiff::civil::time(12, 0, 0, 0), 0)
    }

    /// Microseconds since 1970 so many minutes after a time of day, UTC.
    fn at(self, begins: jiff::civil::Time, minutes: i64) -> i64 {
        // A date near the end of the calendar has no such time: the first microsecond of all will do.
        let begun = TimeZone::UTC.to_timestamp(self.date.to_datetime(begins));
        begun.map_or(0, |begun| begun.as_microsecond()) + minutes * 60_000_000
    }

    /// What is played, minutes after the beginning: places of exercises.
    fn plays(self) -> Vec<(usize, i64)> {
        let rehearsed = self.week / WEEKS_EACH;
        match (self.place, self.week + 1 == WEEKS) {
            (0, _) => vec![(rehearsed, 4), (rehearsed, 12)],
            (_, false) => vec![(rehearsed, 5)],
            // At the very end the first exercise again.
            (_, true) => vec![(rehearsed, 5), (0, 18)],
        }
    }

    /// All takes of a player on this day.
    pub(super) fn takes(self, band: &Band, seat: &Seat<'_>, seed: u64) -> Vec<Performed> {
        let (place, day) = (seat.place as u64, (self.week * DAYS_BEFORE.len() + self.place) as u64);
        // Every player has a row of their own on every day.
        let own = seed.wrapping_mul(1_000_003).wrapping_add(1_000 * place + day);
        let mut accidents = Pcg32::new(own, STREAM);
        let present = f64::from(accidents.next_u32()) < seat.invented.present * f64::from(u32::MAX);
        if !present {
            return Vec::new();
        }
        let mut takes = Vec::new();
        for (piece, minutes) in self.plays() {
            let Some((exercise, part)) = seat.parts.get(piece) else { continue };
            let mut play = |minutes| self.play(band, seat, (*exercise, part), minutes, accidents.next_u64());
            let take = play(minutes);
            let again = self.place > 0 && is_poor(&take);
            takes.push(take);
            // One after the other, while the others wait.
            takes.extend(again.then(|| play(minutes + 2 + seat.place as i64 % 8)));
        }
        takes
    }

    fn play(
        self,
        band: &Band,
        seat: &Seat<'_>,
        (exercise, part): (i64, &Arc<Part>),
        minutes: i64,
        number: u64,
    ) -> Performed {
        let family = default_family();
        let point = self.week as f64 / (WEEKS - 1) as f64;
        let student = Student {
            number,
            channel: 0,
            sends_written: true,
            changed: changed_letters(part, &family),
            habits: band.habits(seat.invented, part, point),
            ..Student::default()
        };
        let start = TakeStart {
            player: seat.player,
            exercise,
            begun_us: self.at(band.begins(seat.invented), minutes),
            part: part.name.id.clone(),
            instrument: Some(seat.invented.instrument.clone()),
            level: seat.invented.level(),
            sends: Sends::Written,
            family,
            click: None,
            delay: None,
        };
        perform(&student, part, start)
    }
}

fn is_poor(take: &Performed) -> bool {
    let totals = &take.report.totals;
    let below = |count: crate::judge::Count| (count.good as f64) < GOOD_ENOUGH * count.of as f64;
    below(totals.right_pitches) || below(totals.full_releases)
}
