//! `restward book player`: what is known of one player, shown or changed.

use super::super::{Failure, Outcome, named};
use super::{Which, known_of};
use crate::book::{Book, LONGEST_NAME, Player, level, plain, too_long};
use crate::instrument::catalogue;
use crate::show::wrapped;
use std::io::{self, Write};

/// Shows or changes what is known of one player: a name mistyped, another instrument, a new section.
///
/// All takes stay with the player. Empty quotes take a value away: --section "".
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book player --book band.db Ines
  restward book player --book band.db Ines --instrument clarinet --section reeds
  restward book player --book band.db Ines --rename \"Inés Novak\"")]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// The player's name as it is in the book
    player: String,
    /// The name from now on
    #[arg(long, value_name = "NAME")]
    rename: Option<String>,
    /// What is played from now on
    #[arg(long, value_name = "ID")]
    instrument: Option<String>,
    /// The section
    #[arg(long)]
    section: Option<String>,
    /// The level: first-year, second-year, third-year
    #[arg(long)]
    level: Option<String>,
    /// The school's own id
    #[arg(long)]
    id: Option<String>,
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let mut book = Book::open(&arguments.which.book)?;
    let player = named::player(&mut book, &arguments.player)?;
    let changed = changed(&player, arguments)?;
    let mut out = io::stdout().lock();
    let mut say = |text: &str| writeln!(out, "{}", wrapped(text, 80, "").join("\n"));
    if changed == player {
        return Ok(say(&line(&player))?);
    }
    book.change(&changed)?;
    say(&format!("Was: {}", line(&player)))?;
    Ok(say(&format!("Now: {}", line(&changed)))?)
}

fn line(player: &Player) -> String {
    let known = known_of(player);
    format!("{}: {}.", plain(&player.name), if known.is_empty() { "nothing more is known" } else { &known })
}

fn changed(player: &Player, arguments: &Arguments) -> Result<Player, Failure> {
    let mut changed = player.clone();
    if let Some(name) = &arguments.rename {
        changed.name = plain(name);
        if changed.name.chars().count() > LONGEST_NAME {
            return Err(Failure::Input(format!("--rename: {}", too_long(&changed.name))));
        }
    }
    if let Some(instrument) = &arguments.instrument {
        changed.instrument = given(instrument)
            .map(|id| catalogue().get(&id).map(|instrument| instrument.id.clone()))
            .transpose()
            .map_err(Failure::input)?;
    }
    if let Some(section) = &arguments.section {
        changed.section = given(section);
    }
    if let Some(level) = &arguments.level {
        changed.level = given(level).map(|name| known_level(&name)).transpose()?;
    }
    if let Some(id) = &arguments.id {
        changed.outside_id = given(id);
    }
    Ok(changed)
}

/// Nothing takes a value away.
fn given(text: &str) -> Option<String> {
    Some(plain(text)).filter(|text| !text.is_empty())
}

fn known_level(name: &str) -> Result<String, Failure> {
    level(name).ok_or_else(|| {
        Failure::Usage(format!("--level \"{name}\": write first-year, second-year or third-year, or 1, 2, 3"))
    })
}
