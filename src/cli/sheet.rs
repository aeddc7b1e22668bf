//! `restward sheet`.

use super::printed::{Asked, Found, Printed};
use super::{Failure, Outcome, named, output};
use crate::book::{Book, now_us};
use crate::instrument::catalogue;
use crate::prepare::Sheet;
use crate::prepare::plan::{Rules, Share, kept_missing};
use crate::show::engraver::{Engraved, Engraver, Paper, Request};
use crate::show::file_name;
use crate::show::sheet::{self, SheetOrWhy, Staff};
use crate::theory::{Letter, default_family, parse_family};
use crate::write::{MarkedPart, WriteError, musicxml};
use clap::ValueEnum;
use std::path::{Path, PathBuf};

/// Prepares a sheet for each instrument: the key, the changed notes with their fingerings, the count.
///
/// For the parts of a file as they are, or one line printed for other instruments of the band.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  restward sheet lesson12.musicxml --part \"Alto Saxophone\"
  restward sheet line.musicxml --instrument clarinet --instrument horn
  restward sheet line.musicxml --all --format html -o tomorrow.html
  restward sheet line.musicxml --book band.db --player Ines --player Olek
  restward sheet line.musicxml --all --card --format html -o card.html")]
pub(super) struct Arguments {
    /// The exercise: MusicXML, .mxl or a Standard MIDI File
    exercise: PathBuf,
    /// Only this part: its identifier, name or number; may be given several times
    #[arg(long, value_name = "PART")]
    part: Vec<String>,
    /// A sheet for this instrument: of its own part where the file has one, else of the first part or --part; may be
    /// given several times
    #[arg(long, value_name = "ID", conflicts_with = "all")]
    instrument: Vec<String>,
    /// A sheet for every instrument of the catalogue
    #[arg(long)]
    all: bool,
    /// One player's own sheet, on which what the player keeps missing comes first; may be given several times
    #[arg(long, value_name = "NAME", requires = "book", conflicts_with_all = ["all", "instrument"])]
    player: Vec<String>,
    /// The book that knows the players
    #[arg(long, value_name = "FILE", requires = "player")]
    book: Option<PathBuf>,
    /// One page for the stand or the projector instead: find your key, your changed note, the count
    #[arg(long)]
    card: bool,
    /// The concert keys that the band plays, with commas between them [default: F,Bb,Eb,Ab]
    #[arg(long, value_name = "KEY,KEY,..", value_delimiter = ',')]
    family: Vec<String>,
    /// How to write it [default: what the name after -o says, else text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// HTML only: the paper that the staff is engraved for
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
    /// The file to write [default: the console]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For the console, 80 columns
    Text,
    /// For programs
    Json,
    /// A page to print, each instrument on a sheet of its own
    Html,
    /// For a notation program: the parts with courtesy accidentals and releases marked
    Musicxml,
}

impl Format {
    /// What the ending of a file's name says.
    const BY_NAME: [(&'static str, Format); 6] = [
        ("txt", Format::Text),
        ("json", Format::Json),
        ("html", Format::Html),
        ("htm", Format::Html),
        ("musicxml", Format::Musicxml),
        ("xml", Format::Musicxml),
    ];
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    for source in [Some(&arguments.exercise), arguments.book.as_ref()].into_iter().flatten() {
        output::not_over(source, arguments.output.as_deref())?;
    }
    let family = if arguments.family.is_empty() {
        default_family()
    } else {
        parse_family(&arguments.family).map_err(|error| Failure::input(format!("--family: {error}")))?
    };
    let all = || catalogue().instruments().map(|instrument| instrument.id.clone()).collect();
    let players = arguments.book.as_deref().map_or_else(|| Ok(Vec::new()), |book| players(book, &arguments.player))?;
    let instruments = match (&players[..], arguments.all) {
        ([], true) => all(),
        ([], false) => arguments.instrument.clone(),
        (players, _) => players.iter().map(|player| player.instrument.clone()).collect(),
    };
    let asked =
        Asked { exercise: &arguments.exercise, parts: &arguments.part, instruments: &instruments, for_players: true };
    let Printed { title, parts, notices } = asked.find()?;
    let mut sheets: Vec<SheetOrWhy> = parts
        .into_iter()
        .map(|found| match found {
            Found::Part(printed) => {
                SheetOrWhy::Sheet(Box::new(Sheet::new(printed.part, printed.instrument, printed.moved, &family)))
            }
            Found::NoNotes { part, name } => sheet::without_pitches(&part, &name),
            Found::TooFarApart(instrument) => sheet::too_far_apart(&instrument),
        })
        .collect();
    for (sheet, player) in sheets.iter_mut().zip(&players) {
        if let SheetOrWhy::Sheet(sheet) = sheet {
            sheet.for_player(&player.name, &player.missed);
        }
    }
    let title = title.unwrap_or_else(|| file_name(&arguments.exercise));
    let format = output::format(arguments.format, arguments.output.as_deref(), &Format::BY_NAME, Format::Text)?;
    if arguments.card && !matches!(format, Format::Text | Format::Html) {
        return Err(Failure::Usage("--card is a page: write it as text or html".into()));
    }
    let content = written(format, &arguments, &title, &sheets)?;
    // A sheet with a player's name and weaknesses is for nobody else.
    let put = if arguments.player.is_empty() { output::put } else { output::put_private };
    put(arguments.output.as_deref(), &content)?;
    output::tell(&notices);
    Ok(())
}

/// A player whose own sheet is asked for.
struct Player {
    name: String,
    instrument: String,
    missed: Vec<(Letter, i8, Share)>,
}

fn players(path: &Path, names: &[String]) -> Result<Vec<Player>, Failure> {
    let mut book = Book::open(path)?;
    let find = |name: &String| -> Result<Player, Failure> {
        let shown = path.display();
        let player = named::player(&mut book, name)?;
        let instrument = player.instrument.clone().ok_or_else(|| {
            Failure::Input(format!("{shown}: the instrument of {} is not known; enter it with a roster", player.name))
        })?;
        let missed = kept_missing(&mut book, &player, &Rules::default(), now_us())?;
        Ok(Player { name: player.name, instrument, missed })
    };
    names.iter().map(find).collect()
}

fn written(format: Format, arguments: &Arguments, title: &str, sheets: &[SheetOrWhy]) -> Result<Vec<u8>, Failure> {
    let internal = |error: &dyn std::fmt::Display| Failure::Machine(format!("the sheet could not be written: {error}"));
    match format {
        Format::Text => {
            let mut text = Vec::new();
            let write = if arguments.card { sheet::write_card } else { sheet::write_text };
            write(&mut text, title, sheets)?;
            Ok(text)
        }
        Format::Html if arguments.card => {
            sheet::html_card(title, sheets).map(String::into_bytes).map_err(|error| internal(&error))
        }
        Format::Json => sheet::json(title, sheets).map_err(|error| internal(&error)),
        Format::Html => {
            let staves = staves(sheets, arguments.paper);
            sheet::html(title, sheets, &staves).map(String::into_bytes).map_err(|error| internal(&error))
        }
        Format::Musicxml => {
            let parts: Vec<&Sheet> = sheets.iter().filter_map(SheetOrWhy::sheet).collect();
            let marked: Vec<_> = parts.into_iter().map(sheet::marked).collect();
            let text = musicxml(Some(title), &marked);
            let file = arguments.exercise.display();
            text.map(String::into_bytes).map_err(|error| Failure::Input(format!("{file}: {error}")))
        }
    }
}

/// The staff of each sheet; why there is none where the engraver is not built or cannot do it.
fn staves(sheets: &[SheetOrWhy], paper: Paper) -> Vec<Staff> {
    // Notes of different parts must not share an identifier on one page.
    let score = |(place, sheet): (usize, &SheetOrWhy)| {
        let marked = sheet.sheet().map(sheet::marked)?;
        Some(musicxml(None, &[MarkedPart { prefix: format!("s{place}-"), ..marked }]))
    };
    let scores: Vec<_> = sheets.iter().enumerate().map(score).collect();
    let written: Vec<String> = scores.iter().flatten().filter_map(|score| score.as_ref().ok().cloned()).collect();
    let engraved = match written.is_empty() {
        true => Ok(Vec::new()),
        false => Engraver::find().and_then(|engraver| engraver.engrave(&Request::systems(written, paper))).map(systems),
    };
    if let Err(error) = &engraved {
        output::tell(&[error.to_string()]);
    }
    let mut engraved = engraved.map(Vec::into_iter);
    let missing = |why: &dyn std::fmt::Display| Staff::Missing(format!("No staff here: {why}."));
    let staff = |score: Option<Result<String, WriteError>>| match (score, &mut engraved) {
        (None, _) => Staff::Systems(Vec::new()),
        (Some(Err(error)), _) => missing(&error),
        (Some(Ok(_)), Ok(engraved)) => Staff::Systems(engraved.next().unwrap_or_default()),
        (Some(Ok(_)), Err(error)) => missing(&error.on_paper()),
    };
    scores.into_iter().map(staff).collect()
}

fn systems(engraved: Engraved) -> Vec<Vec<String>> {
    match engraved {
        Engraved::Svg(parts) => parts,
        Engraved::Pdf(_) => Vec::new(),
    }
}
