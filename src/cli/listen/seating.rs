//! Who plays where: `--player` and `--queue`, with the roster of the book.

use super::super::book::Opened;
use super::super::lanes::{Found, lane, player, player_part};
use super::super::{Failure, book::Known};
use super::asked::{Asked, Name, Queue};
use crate::book::same;
use crate::exercise::Exercise;
use crate::judge::{Level, Sends};
use crate::listen::PortError;
use crate::read::Choice;
use crate::session::{LanePlan, PlayerPlan, Plays};
use std::collections::BTreeMap;

/// What is given for all players.
pub(super) struct Given<'a> {
    pub(super) read: &'a dyn Fn(&Choice) -> Result<Exercise, Failure>,
    pub(super) part: Option<&'a str>,
    pub(super) instrument: Option<&'a str>,
    pub(super) level: Option<Level>,
    pub(super) sends: Sends,
}

/// Players and lanes of the session to come.
#[derive(Default)]
pub(super) struct Seating {
    pub(super) players: Vec<PlayerPlan>,
    pub(super) lanes: Vec<LanePlan>,
    pub(super) queues: Vec<Vec<usize>>,
    /// What is said of it, a sentence each.
    pub(super) said: Vec<String>,
    pub(super) title: Option<String>,
    /// The part of each instrument, read once.
    parts: BTreeMap<Option<String>, Found>,
}

impl Seating {
    /// One player on one lane.
    pub(super) fn player(&mut self, given: &Given, asked: &Asked, book: Option<&mut Opened>) -> Result<(), Failure> {
        let known = book.map(|book| book.known(asked.name.player)).transpose()?;
        let known = known.unwrap_or_else(|| Known::new(asked.name.player));
        let player = self.enter(given, &asked.name, known)?;
        self.lanes.push(lane(asked.port, Plays::Always(player)));
        Ok(())
    }

    /// A queue on one or several lanes. `inputs`: those there are, for a queue that names none.
    pub(super) fn queue(
        &mut self,
        given: &Given,
        asked: &Queue,
        mut book: Option<&mut Opened>,
        inputs: &mut dyn FnMut() -> Result<Vec<String>, Failure>,
    ) -> Result<(), Failure> {
        // Who is named stands at that place, whatever the section says.
        let mut named = Vec::new();
        for name in asked.names.iter().filter(|name| !name.player.starts_with('@')) {
            named.push(match &mut book {
                Some(book) => book.known_of_roster(name.player)?,
                None => Known::new(name.player),
            });
        }
        let full_names: Vec<String> = named.iter().map(|known| known.name.clone()).collect();
        let mut named = named.into_iter();
        let (mut players, mut absent) = (Vec::new(), Vec::new());
        for name in &asked.names {
            let Some(section) = name.player.strip_prefix('@') else {
                if let Some(known) = named.next() {
                    players.push(self.enter(given, name, known)?);
                }
                continue;
            };
            let Some(book) = &mut book else {
                let sentence = format!("--queue {}: a section stands in a book: add --book FILE", name.player);
                return Err(Failure::Usage(sentence));
            };
            for known in book.section(section)?.into_iter().filter(|known| !full_names.contains(&known.name)) {
                if known.is_absent {
                    absent.push(known.name);
                } else {
                    players.push(self.enter(given, name, known)?);
                }
            }
        }
        if !absent.is_empty() {
            let names = absent.join(", ");
            self.said.push(format!(
                "Marked absent today, so not in the queue: {names}. Who has come after all is named beside the section, as \
                 in @flutes,Mia."
            ));
        }
        let ports = if asked.ports.is_empty() {
            inputs()?
        } else {
            asked.ports.iter().map(|port| (*port).to_owned()).collect()
        };
        if ports.is_empty() {
            return Err(PortError::NoPort("input").into());
        }
        if players.is_empty() {
            return Err(Failure::Input("--queue: nobody is left in it".into()));
        }
        let queue = self.queues.len();
        self.lanes.extend(ports.iter().map(|port| lane(port, Plays::Queue(queue))));
        self.queues.push(players);
        Ok(())
    }

    fn is_entered(&self, name: &str) -> bool {
        self.players.iter().any(|player| same(&player.player, name))
    }

    /// Enters a player who is in no other place yet, with the part for the instrument.
    fn enter(&mut self, given: &Given, asked: &Name, known: Known) -> Result<usize, Failure> {
        if self.is_entered(&known.name) {
            return Err(Failure::Usage(format!(
                "{} is asked for twice: several controllers share one queue if they are named together, as in --queue \
                 wind,pad=@flutes",
                known.name
            )));
        }
        if known.name != asked.player && !asked.player.starts_with('@') {
            self.said.push(format!("{} is {}.", asked.player, known.name));
        }
        let instrument = asked.instrument.or(given.instrument).map(str::to_owned).or(known.instrument);
        let found = match self.parts.get(&instrument) {
            Some(found) => found.clone(),
            None => {
                let found = player_part(given.read, given.part, instrument.as_deref())?;
                self.said.extend(found.exercise.notices.iter().cloned());
                self.parts.insert(instrument, found.clone());
                found
            }
        };
        if self.title.is_none() {
            self.title = found.exercise.title.clone();
        }
        let level = given.level.or(known.level).unwrap_or_default();
        self.players.push(player(&known.name, found, given.sends, level));
        Ok(self.players.len() - 1)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a test that cannot go on fails

    use super::super::asked;
    use super::*;
    use crate::book::{Absence, Book, Entry, now_us};
    use crate::read::read_exercise;

    const EXERCISE: &[u8] = include_bytes!("../../../config/exercises/lantern-walk.musicxml");

    fn read(choice: &Choice) -> Result<Exercise, Failure> {
        read_exercise(EXERCISE, choice).map_err(Failure::input)
    }

    const GIVEN: Given = Given { read: &read, part: None, instrument: None, level: None, sends: Sends::Auto };

    /// A book with a roster in which one is absent today.
    fn opened() -> (tempfile::TempDir, Opened) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.db");
        let mut book = Book::open_or_begin(&path).unwrap();
        let entries = [
            ("Ines Berg", "flute", "Flutes", "second-year"),
            ("Ines Toth", "flute", "Flutes", "first-year"),
            ("\u{c9}va", "flute", "Flutes", "first-year"),
            ("Tom Ash", "trumpet", "Brass", "third-year"),
        ]
        .map(|(name, instrument, section, level)| Entry {
            name: name.into(),
            instrument: Some(instrument.into()),
            section: Some(section.into()),
            level: Some(level.into()),
            outside_id: None,
        });
        book.enter(&entries).unwrap();
        let player = book.player("\u{c9}va").unwrap().unwrap().id;
        book.mark_absent(Absence { player, marked_us: now_us() }).unwrap();
        drop(book);
        let opened = Opened::open(&path).ok().unwrap();
        (folder, opened)
    }

    /// Seats these queues in a band with two inputs.
    fn seated(queues: &[&str]) -> Result<Seating, String> {
        let (_folder, mut opened) = opened();
        let mut seating = Seating::default();
        for text in queues {
            let asked = asked::queue(text, |id| id == "flute").map_err(|failure| format!("{failure:?}"))?;
            let mut inputs = || Ok(vec!["#1".into(), "#3".into()]);
            let seated = seating.queue(&GIVEN, &asked, Some(&mut opened), &mut inputs);
            seated.map_err(|failure| format!("{failure:?}"))?;
        }
        Ok(seating)
    }

    fn names(seating: &Seating) -> Vec<&str> {
        seating.players.iter().map(|player| player.player.as_str()).collect()
    }

    #[test]
    fn a_section_has_its_players_with_part_and_level() {
        let seating = seated(&["wind, pad = @flute, Tom"]).unwrap();
        assert_eq!(names(&seating), ["Ines Berg", "Ines Toth", "Tom Ash"]);
        assert_eq!((seating.queues.len(), seating.queues[0].len(), seating.lanes.len()), (1, 3, 2));
        assert!(seating.lanes.iter().all(|lane| lane.plays == Plays::Queue(0)));
        let levels: Vec<Level> = seating.players.iter().map(|player| player.level).collect();
        assert_eq!(levels, [Level::SecondYear, Level::FirstYear, Level::ThirdYear]);
        let parts: Vec<&str> = seating.players.iter().map(|player| player.part.name.id.as_str()).collect();
        assert_eq!(parts, ["P1", "P1", "P2"], "flute and trumpet");
        assert!(
            seating.said.iter().any(|sentence| sentence.contains("not in the queue: \u{c9}va")),
            "{:?}",
            seating.said
        );
        assert!(seating.said.contains(&"Tom is Tom Ash.".to_string()));
    }

    #[test]
    fn who_came_after_all_is_named_beside_the_section() {
        let seating = seated(&["@Flutes,\u{e9}va"]).unwrap();
        assert_eq!(names(&seating), ["Ines Berg", "Ines Toth", "\u{c9}va"]);
        let ports: Vec<&str> = seating.lanes.iter().map(|lane| lane.port.as_str()).collect();
        assert_eq!(ports, ["#1", "#3"], "all inputs, as none is named");
        assert_eq!(names(&seated(&["wind=@trumpet"]).unwrap()), ["Tom Ash"], "by the instrument");
    }

    #[test]
    fn what_cannot_be_meant_is_refused_with_what_can() {
        for (queues, expected) in [
            (&["wind=Ines"][..], "Ines Berg, Ines Toth"),
            (&["wind=Tim"], "do you mean Tom Ash"),
            (&["wind=@tubas"], "sections: Brass, Flutes"),
            (&["wind=@flutes", "pad=@flutes"], "--queue wind,pad=@flutes"),
            (&["wind=Tom,Tom Ash"], "asked for twice"),
        ] {
            let refused = seated(queues).err().unwrap_or_default();
            assert!(refused.contains(expected), "{queues:?}: {refused}");
        }
    }
}
