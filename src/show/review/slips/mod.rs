//! Slips: half a page for each player, in a child's words. What went well, one thing to do, where, and a drill for it.
//!
//! No bare number, no mark, nobody beside anybody else.

mod drill;
mod praise;

use super::dates::{day, named};
use super::pages::instrument;
use super::{Review, Reviewed, Shown};
use crate::judge::{Flag, FlagKind};
use crate::show::advice::{NOTHING_TO_MEND, Next, next};
use askama::Template;

/// Slips on a page: two halves.
const ON_A_PAGE: usize = 2;

#[derive(Template)]
#[template(config = "config/askama.toml", path = "slips.html")]
struct Document<'a> {
    pages: Vec<Vec<Slip<'a>>>,
}

struct Slip<'a> {
    name: &'a str,
    instrument: &'a str,
    /// The exercise and the day; none where nothing was played.
    played: Option<(&'a str, String)>,
    well: Vec<String>,
    /// One thing to do.
    to_do: String,
    /// The drill for it, by its name.
    drill: Option<String>,
    /// For the director: the command that makes the drill.
    command: Option<String>,
}

/// The document: each player's latest take.
pub fn slips(review: &Review) -> Result<String, askama::Error> {
    let mut files = drill::Files::default();
    let slips = review.players.iter().map(|reviewed| slip(review, reviewed, &mut files));
    let mut pages: Vec<Vec<Slip<'_>>> = Vec::new();
    for slip in slips {
        match pages.last_mut() {
            Some(page) if page.len() < ON_A_PAGE => page.push(slip),
            _ => pages.push(vec![slip]),
        }
    }
    Document { pages }.render()
}

fn slip<'a>(review: &'a Review, reviewed: &'a Reviewed, files: &mut drill::Files) -> Slip<'a> {
    let mut slip = Slip {
        name: &reviewed.player.name,
        instrument: instrument(reviewed),
        played: None,
        well: Vec::new(),
        to_do: "We have not heard you play this time. That is all right: the next rehearsal is a good time to begin."
            .into(),
        drill: None,
        command: None,
    };
    let is_heard = |shown: &&Shown| !is_silent(shown);
    let Some(latest) = reviewed.takes.iter().find(is_heard) else { return slip };
    slip.played = Some((&latest.title, named(day(latest.attempt.begun_us, &review.zone))));
    if !latest.attempt.fits {
        slip.to_do = "What we heard is not this piece, or only a little of it. Look at the title and the part once \
                      more, and play it for us again."
            .into();
        return slip;
    }
    let next = next(flags(latest));
    slip.well = praise::praise(reviewed, latest, next.as_ref().map(|next| next.task));
    match next {
        None => slip.to_do = NOTHING_TO_MEND.into(),
        Some(next) => {
            slip.to_do = next.sentence();
            let part = review.part(latest);
            slip.drill = Some(drill::name(&next, part));
            slip.command = part.and_then(|part| drill::command(&next, part, &latest.attempt, slip.name, files));
        }
    }
    slip
}

/// What counts of a take's findings.
fn flags(shown: &Shown) -> impl Iterator<Item = &Flag> + Clone {
    shown.findings.iter().filter(|finding| finding.counts).map(|finding| &finding.flag)
}

/// Whether every note of it was missed.
fn is_silent(shown: &Shown) -> bool {
    let missed = flags(shown).filter(|flag| flag.kind == FlagKind::MissedNote).count();
    shown.attempt.fits && missed > 0 && missed == shown.attempt.notes
}

/// Where it is to be done.
fn measures(next: &Next<'_>) -> String {
    crate::show::advice::measures(&next.flags)
}
