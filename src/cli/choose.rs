//! Which takes a command is about: players, section, exercises, days.

use super::{Failure, named};
use crate::book::{Book, KeptExercise, Player, Wanted, plain, same, section_called, sections};
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// Whose takes, of what, from when.
#[derive(clap::Args)]
pub(super) struct Chosen {
    /// Only this player; may be given several times
    #[arg(long, value_name = "NAME")]
    player: Vec<String>,
    /// Only this section
    #[arg(long)]
    section: Option<String>,
    /// Only this exercise: its title, its file's name or its number in the book; may be given several times
    #[arg(long, value_name = "TITLE")]
    exercise: Vec<String>,
    /// Only takes of this day and later: 2026-03-02
    #[arg(long, value_name = "DATE", value_parser = date)]
    since: Option<Date>,
    /// Only takes of this day and before
    #[arg(long, value_name = "DATE", value_parser = date)]
    until: Option<Date>,
}

/// What [`Chosen`] means in a book.
pub(super) struct Found {
    /// What to ask the book for.
    pub(super) wanted: Wanted,
    /// Several players and exercises, by number; none: all.
    pub(super) players: Vec<i64>,
    pub(super) exercises: Vec<i64>,
}

/// Why something was not found: a sentence for behind the book's name.
pub(super) type Refused = String;

/// Reads a day as a director types it.
pub(super) fn date(text: &str) -> Result<Date, String> {
    Date::strptime("%Y-%m-%d", text).map_err(|_| "a date is written 2026-03-02 (year, month, day)".into())
}

impl Chosen {
    /// Finds what was asked for; who or what is not in the book is refused with the nearest names.
    pub(super) fn find(&self, book: &mut Book) -> Result<Found, Failure> {
        if let (Some(since), Some(until)) = (self.since, self.until)
            && until < since
        {
            return Err(Failure::Usage(format!("--until {until} is before --since {since}")));
        }
        let all = book.players()?;
        let path = book.path().display().to_string();
        let refused = |why: Refused| Failure::Input(format!("{path}: {why}"));
        let players: Result<Vec<_>, _> =
            self.player.iter().map(|name| named::player(book, name).map(|player| player.id)).collect();
        let players = players?;
        let section = self.section.as_ref().map(|name| section(name, &all)).transpose().map_err(refused)?;
        let kept = if self.exercise.is_empty() { Vec::new() } else { book.exercises()? };
        let mut exercises = Vec::new();
        for asked in &self.exercise {
            exercises.extend(exercise(asked, &kept).map_err(refused)?);
        }
        let only = |numbers: &[i64]| if let [one] = numbers { Some(*one) } else { None };
        let wanted = Wanted {
            player: only(&players),
            section,
            exercise: only(&exercises),
            since_us: self.since.map(begin).transpose()?,
            until_us: self.until.and_then(|day| day.tomorrow().ok()).map(begin).transpose()?,
        };
        Ok(Found { wanted, players, exercises })
    }
}

impl Chosen {
    /// The last day, if one was given.
    pub(super) fn until(&self) -> Option<Date> {
        self.until
    }

    /// One player and one exercise, for what is done to nothing else.
    pub(super) fn one_of_each(&self, book: &mut Book) -> Result<(Player, KeptExercise), Failure> {
        let Found { players, exercises, .. } = self.find(book)?;
        let (kept, path) = (book.exercises()?, book.path().display().to_string());
        if exercises.len() > 1 && self.exercise.len() == 1 {
            let of = |id: &i64| kept.iter().find(|kept| kept.id == *id);
            let files: Vec<String> = exercises
                .iter()
                .filter_map(of)
                .map(|kept| format!("{} ({})", kept.id, plain(&kept.file_name)))
                .collect();
            let why = "is the title of several exercises; name one by its number";
            return Err(Failure::Input(format!("{path}: {} {why}: {}", plain(&self.exercise[0]), files.join(", "))));
        }
        let player = book.players()?.into_iter().find(|player| [player.id] == players[..]);
        let exercise = kept.into_iter().find(|exercise| [exercise.id] == exercises[..]);
        player.zip(exercise).ok_or_else(|| Failure::Usage("one --player and one --exercise are needed".into()))
    }
}

impl Found {
    /// Whether a player's doing in an exercise was asked for.
    pub(super) fn has(&self, player: i64, exercise: i64) -> bool {
        (self.players.is_empty() || self.players.contains(&player))
            && (self.exercises.is_empty() || self.exercises.contains(&exercise))
    }
}

/// Microseconds since 1970 when a day begins here.
fn begin(day: Date) -> Result<i64, Failure> {
    let begins =
        day.to_zoned_datetime(TimeZone::system()).map_err(|error| Failure::Usage(format!("{day}: {error}")))?;
    Ok(begins.timestamp().as_microsecond())
}

fn section(asked: &str, all: &[Player]) -> Result<String, Refused> {
    let names = sections(all);
    let name = section_called(&names, asked);
    name.map(str::to_owned).ok_or_else(|| named::unknown("section", asked, names.iter().map(|name| plain(name))))
}

/// The numbers of the exercises of a title (an exercise that was edited is another with the same title), a file's name
/// or a number.
pub(super) fn exercise(asked: &str, all: &[KeptExercise]) -> Result<Vec<i64>, Refused> {
    let same = |text: &str| same(&plain(text), &plain(asked));
    let by = |is: &dyn Fn(&KeptExercise) -> bool| -> Vec<i64> {
        all.iter().filter(|kept| is(kept)).map(|kept| kept.id).collect()
    };
    for found in [
        by(&|kept| same(&kept.title)),
        by(&|kept| same(&kept.file_name)),
        by(&|kept| kept.file_name.rsplit_once('.').is_some_and(|(name, _)| same(name))),
        by(&|kept| asked.trim().parse() == Ok(kept.id)),
    ] {
        if !found.is_empty() {
            return Ok(found);
        }
    }
    Err(named::unknown("exercise", asked, all.iter().map(|kept| plain(&kept.title))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exercise_is_found_by_its_file_with_or_without_the_ending() {
        let kept =
            |id, title: &str, file_name: &str| KeptExercise { id, title: title.into(), file_name: file_name.into() };
        let all = [kept(1, "Lantern Walk", "lantern-walk.musicxml"), kept(2, "March", "lantern-walk.v2.mxl")];
        for (asked, found) in
            [("lantern walk", 1), ("lantern-walk.musicxml", 1), ("Lantern-Walk", 1), ("lantern-walk.v2", 2), ("2", 2)]
        {
            assert_eq!(exercise(asked, &all), Ok(vec![found]), "{asked}");
        }
        assert_eq!(
            exercise("qqq", &all),
            Err("there is no exercise qqq in the book; there is Lantern Walk, March".into())
        );
        let many: Vec<KeptExercise> = (0..20).map(|id| kept(id, &format!("Etude {id:02}"), "x.abc")).collect();
        let refused = exercise("qqq", &many).unwrap_err();
        assert!(refused.ends_with("Etude 06, Etude 07, and 12 more"), "{refused}");
    }
}
