//! What stands on the page, in words.

use super::super::dates::{day, day_as};
use super::super::phrases::{and, counted, without_octave};
use crate::instrument::catalogue;
use crate::judge::Level;
use crate::prepare::drill::Kind;
use crate::prepare::plan::{DrillFor, Mastered, Plan, PlayerTopic, Share, Thing, Topic};
use crate::theory::default_family;
use crate::theory::sign::symbol;
use clap::ValueEnum;

/// Somebody who plays an exercise again.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Retake {
    /// The player's name.
    pub player: String,
    /// The title of the exercise.
    pub exercise: String,
    /// What is wanted: a row of the rubric, or why there is nothing to go by.
    pub because: String,
}

/// The plan as it is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// The heading.
    pub title: String,
    /// What the plan rests on.
    pub rests_on: String,
    /// What to work on, the surest first.
    pub work: Vec<Item>,
    /// Single players, a sentence each.
    pub players: Vec<String>,
    /// Who plays again, a sentence each.
    pub retakes: Vec<String>,
    /// What is due for a spot check, a sentence each.
    pub due: Vec<String>,
    /// What is mastered and not due.
    pub mastered: Option<String>,
    /// Who was not heard lately.
    pub unheard: Option<String>,
}

/// One thing to work on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Who, and what: `Low brass: A♭ (concert)`.
    pub what: String,
    /// How each instrument reads it.
    pub readings: Option<String>,
    /// How much is missed, and how sure that is.
    pub evidence: String,
    /// The command that makes the drill.
    pub drill: Option<String>,
}

impl Page {
    /// The page of a plan; `book` is the name of the file, for the commands.
    pub fn new(plan: &Plan, retakes: &[Retake]) -> Page {
        let due = plan.mastered.iter().filter(|mastered| mastered.is_due).map(due_sentence).collect();
        let fresh: Vec<String> = plan.mastered.iter().filter(|mastered| !mastered.is_due).map(fresh_name).collect();
        Page {
            title: format!("Plan for {}", day_as(plan.day_us, "%A, %-d %B %Y")),
            rests_on: rests_on(plan),
            work: plan.topics.iter().enumerate().map(|(place, topic)| item(place, topic)).collect(),
            players: plan.players.iter().map(player_sentence).collect(),
            retakes: by_exercise(retakes),
            due,
            mastered: (!fresh.is_empty()).then(|| ended(and(&fresh))),
            unheard: unheard(plan),
        }
    }
}

fn rests_on(plan: &Plan) -> String {
    let date = |us| day_as(us, "%-d %B %Y");
    match (plan.newest_us, plan.newest_of_book_us) {
        (Some(newest), _) => format!(
            "From {} between {} and {}. Few takes tell only so much: each range below holds in {} of 100 cases.",
            counted(plan.takes, "take"),
            day_as(plan.recent_us, "%-d %B"),
            date(newest),
            plan.certain_percent
        ),
        (None, Some(newest)) => format!(
            "Nobody played in the days that this plan looks at, {} to {}. The newest take in the book is of {}: for a \
             plan from there add --on {}.",
            date(plan.since_us),
            date(plan.day_us),
            date(newest),
            day(newest)
        ),
        (None, None) => "Nobody has played into this book yet: listen with --book first.".to_owned(),
    }
}

fn of(section: Option<&String>) -> String {
    section.cloned().unwrap_or_else(|| "no section".into())
}

/// `A♭ (concert)`, `holds of 3 beats`.
fn thing(thing: &Thing) -> String {
    match thing {
        Thing::Changed(letter, alter) => format!("{letter}{} (concert)", symbol(*alter)),
        Thing::Hold(beats) if beats == "1" => "holds of 1 beat".into(),
        Thing::Hold(beats) => format!("holds of {beats} beats"),
    }
}

fn percent(share: f64) -> i64 {
    (share * 100.0).round() as i64
}

fn evidence(share: &Share) -> String {
    let Share { missed, takes, low, high, players, players_who_missed } = *share;
    let percent_missed = percent(missed / takes as f64);
    format!(
        "missed {percent_missed} times in 100, most likely between {} and {} ({}, {players_who_missed} of {})",
        percent(low),
        percent(high),
        counted(takes, "take"),
        counted(players, "player"),
    )
}

fn item(place: usize, topic: &Topic) -> Item {
    let names = |ids: &[String]| -> Vec<String> {
        ids.iter().map(|id| catalogue().get(id).map_or_else(|_| id.clone(), |it| it.name.clone())).collect()
    };
    let readings: Vec<String> = topic
        .readings
        .iter()
        .map(|(note, ids)| format!("{} for {}", without_octave(&format!("{note}4")), and(&names(ids))))
        .collect();
    let drill = topic.drill.as_ref();
    Item {
        what: format!("{}: {}", of(topic.section.as_ref()), thing(&topic.thing)),
        readings: (!readings.is_empty()).then(|| readings.join(", ")),
        evidence: evidence(&topic.share),
        drill: drill.map(|drill| format!("restward {}", drill_arguments(drill, place + 1).join(" "))),
    }
}

/// The arguments that make a drill: `drill --kind changed --key Eb ..`.
fn drill_arguments(drill: &DrillFor, number: usize) -> Vec<String> {
    let ids: Vec<&str> = drill.instruments.iter().map(|instrument| instrument.id.as_str()).collect();
    let mut arguments: Vec<String> = vec!["drill".into(), "--kind".into()];
    match drill.kind {
        Kind::Changed(letter) => {
            arguments.push("changed".into());
            arguments.extend(letter.map(|letter| format!("--changed-note {letter}")));
        }
        Kind::Hold => arguments.push("hold".into()),
        Kind::TwoKeys(to) => arguments.extend(["two-keys".into(), format!("--to {}", key_name(to))]),
    }
    arguments.push(format!("--key {}", key_name(drill.key)));
    let who = if ids.len() == 1 { "--instrument" } else { "--section" };
    arguments.push(format!("{who} {}", ids.join(",")));
    if let Some(level) = drill.level.to_possible_value().filter(|_| drill.level != Level::default()) {
        arguments.push(format!("--level {}", level.get_name()));
    }
    if drill.family != default_family() {
        let family: Vec<String> = drill.family.iter().map(|&key| key_name(key)).collect();
        arguments.push(format!("--family {}", family.join(",")));
    }
    arguments.push(format!("-o drill-{number}.musicxml"));
    arguments
}

/// A key as one word of a command: `Eb`, `g`.
fn key_name(key: crate::theory::Key) -> String {
    let name = key.ascii();
    match name.split_once(' ') {
        Some((tonic, "minor")) => tonic.to_lowercase(),
        Some((tonic, _)) => tonic.to_owned(),
        None => name,
    }
}

fn player_sentence(topic: &PlayerTopic) -> String {
    let what = match (&topic.thing, &topic.written) {
        (Thing::Changed(..), Some(written)) => without_octave(&format!("{written}4")),
        _ => thing(&topic.thing),
    };
    let missed = percent(topic.share.missed / topic.share.takes as f64);
    let section = topic.section.as_ref().map(|section| format!(" ({section})")).unwrap_or_default();
    format!("{}{section}: {what}, missed {missed} times in 100 ({}).", topic.player, counted(topic.share.takes, "take"))
}

/// `March, Rhythm: Ines, Olek.`
fn by_exercise(retakes: &[Retake]) -> Vec<String> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for Retake { player, exercise, because } in retakes {
        let what = format!("{exercise}, {because}");
        match groups.iter_mut().find(|(known, _)| *known == what) {
            Some((_, names)) => names.push(player.clone()),
            None => groups.push((what, vec![player.clone()])),
        }
    }
    groups.iter().map(|(what, names)| ended(format!("{what}: {}", and(names)))).collect()
}

fn due_sentence(mastered: &Mastered) -> String {
    let days = usize::try_from(mastered.days).unwrap_or_default();
    let section = of(mastered.section.as_ref());
    format!("{section}: {}, not played for {}.", thing(&mastered.thing), counted(days, "day"))
}

fn fresh_name(mastered: &Mastered) -> String {
    format!("{}: {}", of(mastered.section.as_ref()), thing(&mastered.thing))
}

/// With a full stop, unless a name has brought one.
fn ended(text: String) -> String {
    if text.ends_with('.') { text } else { text + "." }
}

fn unheard(plan: &Plan) -> Option<String> {
    let names: Vec<String> = plan
        .unheard
        .iter()
        .map(|it| {
            let last = it.last_us.map(|us| format!("last on {}", day_as(us, "%-d %B")));
            let absent = it.absent_us.map(|us| format!("absent on {}", day_as(us, "%-d %B")));
            let known: Vec<String> = last.into_iter().chain(absent).collect();
            if known.is_empty() { it.player.clone() } else { format!("{} ({})", it.player, known.join(", ")) }
        })
        .collect();
    (!names.is_empty() && plan.newest_us.is_some()).then(|| ended(and(&names)))
}
