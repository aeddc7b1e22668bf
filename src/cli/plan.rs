//! `restward plan`.

use super::{Failure, Outcome, given, output};
use crate::book::{Book, Wanted, now_us};
use crate::grade::{Retake as Again, grades};
use crate::prepare::plan::{Plan, Rules, plan};
use crate::show::plan::{Page, Retake, html, json, write_text};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

/// Plans the next rehearsal from the book, on one page.
///
/// Which changed notes and which holds a section misses most, as far as that is sure; who plays alone once; who plays again;
/// what is mastered and was not played for long. For each topic the drill to print.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward plan --book band.db
  restward plan --book band.db -o plan.html
  restward plan --book band.db --on 2026-03-27 --drills friday")]
pub(super) struct Arguments {
    /// The book
    #[arg(long, value_name = "FILE")]
    book: PathBuf,
    /// The day to plan for, as 2026-03-27 [default: today, or the day of the newest take if that is long ago]
    #[arg(long, value_name = "DATE", value_parser = super::choose::date)]
    on: Option<Date>,
    /// Other rules than those built in: a copy of config/plan.toml
    #[arg(long, value_name = "FILE")]
    rules: Option<PathBuf>,
    /// Your own rubric: it says who plays again
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// How it is written [default: by the name of the file, else text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// The file to write, readable by you alone [default: the console]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Make the drills, too: drill-1.musicxml and so on, in this folder
    #[arg(long, value_name = "DIR")]
    drills: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Format {
    /// For the console
    Text,
    /// For programs
    Json,
    /// A page to print
    Html,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    for source in [Some(&arguments.book), arguments.rules.as_ref(), arguments.rubric.as_ref()].into_iter().flatten() {
        output::not_over(source, arguments.output.as_deref())?;
    }
    let rules =
        arguments.rules.as_deref().map_or_else(|| Ok(Rules::default()), |file| given::text(file, Rules::read))?;
    let mut book = Book::open(&arguments.book)?;
    let day_us = match arguments.on {
        Some(date) => end_of(date)?,
        None => today_or_newest(&mut book, &rules)?,
    };
    let plan = plan(&mut book, &rules, day_us)?;
    let retakes = retakes(&mut book, &plan, arguments.rubric.as_deref())?;
    let known = [("txt", Format::Text), ("json", Format::Json), ("html", Format::Html), ("htm", Format::Html)];
    let format = output::format(arguments.format, arguments.output.as_deref(), &known, Format::Text)?;
    let internal = |error: &dyn std::fmt::Display| Failure::Machine(format!("the plan could not be written: {error}"));
    let page = Page::new(&plan, &retakes);
    let content = match format {
        Format::Text => {
            let mut text = Vec::new();
            write_text(&mut text, &page)?;
            text
        }
        Format::Json => json(&plan, &retakes).map_err(|error| internal(&error))?,
        Format::Html => html(&page).map_err(|error| internal(&error))?.into_bytes(),
    };
    output::put_private(arguments.output.as_deref(), &content)?;
    arguments.drills.as_deref().map_or(Ok(()), |folder| drills(folder, &plan))
}

/// Who is asked by the rubric to play again, in exercises that the section has played lately.
fn retakes(book: &mut Book, plan: &Plan, rubric: Option<&Path>) -> Result<Vec<Retake>, Failure> {
    let rubric = super::grades::rubric(rubric)?;
    let recent = Wanted { since_us: Some(plan.recent_us), until_us: Some(plan.day_us), ..Wanted::default() };
    let sections: HashMap<i64, Option<String>> =
        book.players()?.into_iter().map(|player| (player.id, player.section)).collect();
    let played = book.attempts(&recent)?;
    let lately: HashSet<(Option<&String>, i64)> = played
        .iter()
        .map(|attempt| (sections.get(&attempt.player).and_then(Option::as_ref), attempt.exercise))
        .collect();
    let all = grades(book, &Wanted { since_us: None, ..recent }, &rubric)?;
    let again = all.iter().filter(|graded| lately.contains(&(graded.player.section.as_ref(), graded.exercise.id)));
    let mut retakes = Vec::new();
    for graded in again.filter(|graded| !graded.retake.is_empty()) {
        let title = |place: &usize| rubric.rows.get(*place).map_or("", |row| row.title.as_str());
        let wanted: Vec<String> = match graded.takes.is_empty() {
            true => vec!["no take that counts".into()],
            false => graded
                .retake
                .iter()
                .map(|retake| match retake {
                    Again::Below(place) => title(place).to_owned(),
                    Again::Evidence(place) => format!("{}, too few notes yet", title(place)),
                })
                .collect(),
        };
        retakes.extend(wanted.into_iter().map(|because| Retake {
            player: graded.player.name.clone(),
            exercise: graded.exercise.title.clone(),
            because,
        }));
    }
    // The exercise and row that most are asked for comes first.
    let mut count: HashMap<(String, String), usize> = HashMap::new();
    retakes.iter().for_each(|it| *count.entry((it.exercise.clone(), it.because.clone())).or_default() += 1);
    retakes.sort_by_key(|it| std::cmp::Reverse(count.get(&(it.exercise.clone(), it.because.clone())).copied()));
    Ok(retakes)
}

/// The end of a day where this computer stands, in microseconds since 1970.
fn end_of(date: Date) -> Result<i64, Failure> {
    let next = date.tomorrow().and_then(|next| next.to_zoned_datetime(TimeZone::system()));
    let next = next.map_err(|error| Failure::Input(format!("--on {date}: {error}")))?;
    Ok(next.timestamp().as_microsecond() - 1)
}

/// Now; of a book in which nobody has played for long, the end of the day of its newest take.
fn today_or_newest(book: &mut Book, rules: &Rules) -> Result<i64, Failure> {
    let now = now_us();
    let recent = i64::from(rules.recent_days) * 86_400_000_000;
    let newest = book.newest_us()?.filter(|&newest| newest < now.saturating_sub(recent));
    let Some(newest) = newest else { return Ok(now) };
    let stamp = jiff::Timestamp::from_microsecond(newest).map_err(Failure::input)?;
    end_of(stamp.to_zoned_datetime(TimeZone::system()).date())
}

/// Makes the drill of each topic that has one.
fn drills(folder: &Path, plan: &Plan) -> Outcome {
    std::fs::create_dir_all(folder)
        .map_err(|error| Failure::Machine(format!("{}: no folder for the drills: {error}", folder.display())))?;
    for (place, topic) in plan.topics.iter().enumerate() {
        let Some(wanted) = &topic.drill else { continue };
        super::drill::write(&wanted.brief(), &folder.join(format!("drill-{}.musicxml", place + 1)))?;
    }
    Ok(())
}
