//! The review as one page to print: sections in tables, then each player.

use super::dates::{day, named};
use super::given::{Given, Overview, given, overview};
use super::marks::{self, Item, Sample, items, legend, marks};
use super::progress::progress;
use super::staves::prefix;
use super::system::System;
use super::table::{Table, changed_notes, releases};
use super::{Review, Reviewed, Shown, Staves};
use crate::grade::{Graded, Rubric};
use crate::instrument::catalogue;
use crate::show::finding::counted;
use crate::show::phrases::and;
use askama::Template;
use jiff::civil::Date;
use std::collections::BTreeSet;

#[derive(Template)]
#[template(config = "config/askama.toml", path = "review.html")]
struct Document<'a> {
    title: &'a str,
    /// From when to when.
    period: String,
    sections: Vec<Section<'a>>,
    samples: Vec<Sample>,
    players: Vec<Player<'a>>,
    /// Pictures of systems that takes show, each once.
    pictures: Vec<(String, &'a str)>,
    /// Why there are no staves.
    no_staff: Option<String>,
}

struct Section<'a> {
    name: &'a str,
    grades: Option<Overview>,
    /// What each is of.
    tables: Vec<(Table, &'static str)>,
}

struct Player<'a> {
    name: &'a str,
    instrument: &'a str,
    /// HTML of our own template.
    progress: Option<String>,
    exercises: Vec<Exercise<'a>>,
    /// Where nothing was played.
    silent: bool,
}

/// What a player has in one exercise.
struct Exercise<'a> {
    id: i64,
    title: &'a str,
    given: Option<Given>,
    takes: Vec<Take<'a>>,
}

struct Take<'a> {
    date: String,
    /// The rows of the grade that come from it.
    counts_for: String,
    fits: bool,
    /// Pictures with their marks, SVG.
    systems: Vec<String>,
    /// Lines that have no mark are not shown.
    leaves_out: bool,
    /// Why this one has no staff.
    no_staff: Option<&'a str>,
    items: Vec<Item>,
    counted: Vec<String>,
}

/// What a page is made of.
pub struct Contents<'a> {
    /// Stands on top.
    pub title: &'a str,
    /// The takes.
    pub review: &'a Review,
    /// The staves of their parts.
    pub staves: &'a Staves,
    /// The grades.
    pub graded: &'a [Graded],
    /// What they are by.
    pub rubric: &'a Rubric,
}

/// The document.
pub fn pages(contents: &Contents<'_>) -> Result<String, askama::Error> {
    let &Contents { title, review, staves, .. } = contents;
    let systems: Vec<Vec<System>> = (0..review.parts.len()).map(|part| read(part, staves)).collect();
    let mut used = BTreeSet::new();
    let mut players = Vec::new();
    for reviewed in &review.players {
        players.push(player(contents, reviewed, &systems, &mut used)?);
    }
    let pictures = used.iter().map(|&(part, system)| (id(part, system), systems[part][system].picture.as_str()));
    let document = Document {
        title,
        period: period(review),
        sections: sections(contents),
        samples: if used.is_empty() { Vec::new() } else { legend() },
        players,
        pictures: pictures.collect(),
        no_staff: if used.is_empty() { staves.all().find_map(|it| it.as_ref().err().cloned()) } else { None },
    };
    document.render()
}

fn id(part: usize, system: usize) -> String {
    format!("e{part}-s{system}")
}

fn read(part: usize, staves: &Staves) -> Vec<System> {
    let Some(Ok(systems)) = staves.get(part) else { return Vec::new() };
    systems.iter().filter_map(|svg| System::read(svg, &prefix(part))).collect()
}

/// `takes from 2 Mar 2026 to 24 Apr 2026`.
fn period(review: &Review) -> String {
    let days: Vec<Date> =
        review.players.iter().flat_map(|it| &it.attempts).map(|it| day(it.begun_us, &review.zone)).collect();
    let count = days.len();
    match (days.iter().min(), days.iter().max()) {
        (Some(first), Some(last)) if first == last => format!("{} of {}", takes(count), named(*first)),
        (Some(first), Some(last)) => format!("{} from {} to {}", takes(count), named(*first), named(*last)),
        _ => "no takes".into(),
    }
}

fn takes(count: usize) -> String {
    crate::show::phrases::counted(count, "take")
}

/// The players by section, in the order of the sections' names; who has none comes last.
fn sections<'a>(contents: &Contents<'a>) -> Vec<Section<'a>> {
    let review = contents.review;
    let mut names: Vec<Option<&str>> = review.players.iter().map(|it| it.player.section.as_deref()).collect();
    names.sort_by_key(|name| (name.is_none(), name.map(str::to_lowercase)));
    names.dedup_by_key(|name| name.map(str::to_lowercase));
    let of = |name: Option<&str>| -> Vec<&'a Reviewed> {
        let lower = name.map(str::to_lowercase);
        review.players.iter().filter(|it| it.player.section.as_ref().map(|own| own.to_lowercase()) == lower).collect()
    };
    let mut sections = Vec::new();
    for name in names {
        let players = of(name);
        let changed = changed_notes(&players).map(|table| (table, "Changed notes, at concert pitch"));
        let releases = releases(&players).map(|table| (table, "Releases before a rest, by the length of the note"));
        let tables: Vec<_> = changed.into_iter().chain(releases).collect();
        let grades = overview(&players, contents.graded);
        if !tables.is_empty() || grades.is_some() {
            sections.push(Section { name: name.unwrap_or("Players without a section"), grades, tables });
        }
    }
    sections
}

fn player<'a>(
    contents: &Contents<'a>,
    reviewed: &'a Reviewed,
    systems: &[Vec<System>],
    used: &mut BTreeSet<(usize, usize)>,
) -> Result<Player<'a>, askama::Error> {
    let Contents { review, graded, rubric, .. } = *contents;
    let mut exercises: Vec<Exercise<'a>> = Vec::new();
    let mut place = |id: i64, title: &'a str| match exercises.iter().position(|it| it.id == id) {
        Some(place) => place,
        None => {
            exercises.push(Exercise { id, title, given: None, takes: Vec::new() });
            exercises.len() - 1
        }
    };
    // Exercises in the order of their latest takes; then those with nothing but a grade.
    let places: Vec<usize> = reviewed.takes.iter().map(|it| place(it.attempt.exercise, &it.title)).collect();
    let own: Vec<&Graded> = graded.iter().filter(|it| it.player.id == reviewed.player.id).collect();
    let graded_places: Vec<usize> = own.iter().map(|it| place(it.exercise.id, &it.exercise.title)).collect();
    for (shown, place) in reviewed.takes.iter().zip(places) {
        exercises[place].takes.push(take(contents, shown, systems, used));
    }
    for (graded, place) in own.into_iter().zip(graded_places) {
        exercises[place].given = Some(given(graded, rubric));
    }
    Ok(Player {
        name: &reviewed.player.name,
        instrument: instrument(reviewed),
        progress: progress(review, reviewed).transpose()?,
        exercises,
        silent: reviewed.attempts.is_empty(),
    })
}

/// The id of a player's instrument: that of the latest take, else the book's.
pub(super) fn instrument_id(reviewed: &Reviewed) -> Option<&str> {
    let latest = reviewed.attempts.iter().rev().find_map(|attempt| attempt.instrument.as_deref());
    latest.or(reviewed.player.instrument.as_deref())
}

/// The name of a player's instrument: that of the latest take, else the book's; empty where it is not known.
pub(super) fn instrument(reviewed: &Reviewed) -> &str {
    let id = instrument_id(reviewed).unwrap_or_default();
    catalogue().get(id).map_or(id, |instrument| instrument.name.as_str())
}

fn take<'a>(
    &Contents { review, staves, .. }: &Contents<'a>,
    shown: &'a Shown,
    systems: &[Vec<System>],
    used: &mut BTreeSet<(usize, usize)>,
) -> Take<'a> {
    let attempt = &shown.attempt;
    let counts = [attempt.right_pitches, attempt.changed_notes, attempt.full_releases, attempt.entrances];
    let mut take = Take {
        date: named(day(attempt.begun_us, &review.zone)),
        counts_for: and(&shown.counts_for),
        fits: attempt.fits,
        systems: Vec::new(),
        leaves_out: false,
        no_staff: None,
        items: items(&shown.findings),
        counted: if attempt.fits { counted(counts) } else { Vec::new() },
    };
    match &shown.part {
        Some(Err(why)) => take.no_staff = Some(why),
        Some(Ok(part)) if attempt.fits => {
            if let (Some(own), Some(systems)) = (review.part(shown), systems.get(*part)) {
                let overlays = marks::draw(systems, &marks(own, &shown.findings), attempt.take);
                for (place, (system, overlay)) in systems.iter().zip(&overlays).enumerate() {
                    if overlay.body.is_empty() {
                        take.leaves_out = true;
                    } else {
                        used.insert((*part, place));
                        take.systems.push(overlay.picture(system, &id(*part, place)));
                    }
                }
            }
            take.no_staff = staves.get(*part).and_then(|it| it.as_ref().err()).map(String::as_str);
        }
        _ => {}
    }
    take
}
