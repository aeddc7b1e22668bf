//! Which part a player plays, on which instrument.

use super::Failure;
use crate::exercise::{Exercise, PartName};
use crate::instrument::{Instrument, catalogue};
use crate::judge::{Level, Sends};
use crate::plain::plain;
use crate::read::Choice;
use crate::session::{LanePlan, PlayerPlan, Plays};
use crate::theory::Transposition;
use std::sync::Arc;

/// A player's part and instrument.
#[derive(Clone)]
pub(super) struct Found {
    /// The exercise, with that part chosen.
    pub(super) exercise: Exercise,
    /// The instrument: the one that was given, else what the part's name says.
    pub(super) instrument: Option<Instrument>,
}

/// The part that was asked for; else the part of a score whose name fits the instrument; else the first. A score at
/// concert pitch is read for the instrument.
pub(super) fn player_part(
    read: impl Fn(&Choice) -> Result<Exercise, Failure>,
    part: Option<&str>,
    instrument: Option<&str>,
) -> Result<Found, Failure> {
    let given = instrument.map(|id| catalogue().get(id)).transpose().map_err(Failure::input)?;
    let mut choice =
        Choice { part: part.map(Into::into), instrument: given.map(|given| given.transposition), ..Choice::default() };
    let mut exercise = read(&choice)?;
    if let (None, Some(given)) = (part, given)
        && let Some(own) = exercise.parts.iter().find(|name| is_for(name, given))
        && own.id != exercise.part.name.id
    {
        choice.part = Some(own.id.clone());
        exercise = read(&choice)?;
    }
    let instrument = given.or_else(|| recognised(&exercise.part.name, exercise.part.transposition)).cloned();
    if let (None, Some(instrument)) = (given, &instrument)
        && exercise.part.transposition.is_none()
        && instrument.transposition != Default::default()
    {
        choice.instrument = Some(instrument.transposition);
        exercise = read(&choice)?;
    }
    Ok(Found { exercise, instrument })
}

/// Whether a part's name means an instrument.
pub(super) fn is_for(name: &PartName, instrument: &Instrument) -> bool {
    recognised(name, None).is_some_and(|recognised| recognised.id == instrument.id)
}

/// The instrument that a part's name and hints mean, with the transposition that the part prints.
pub(super) fn recognised(name: &PartName, printed: Option<Transposition>) -> Option<&'static Instrument> {
    let hints: Vec<&str> = std::iter::once(&name.name).chain(&name.hints).map(String::as_str).collect();
    catalogue().recognise_printed(&hints, printed)
}

/// A player of a session.
pub(super) fn player(name: &str, found: Found, sends: Sends, level: Level) -> PlayerPlan {
    let Found { exercise, instrument } = found;
    PlayerPlan { player: plain(name), part: Arc::new(exercise.part), instrument, sends, level }
}

/// A lane of a session.
pub(super) fn lane(port: &str, plays: Plays) -> LanePlan {
    LanePlan { port: port.into(), plays, delay: None }
}
