//! Whom and what a director means by a name; what is not in the book is refused with the nearest names.

use super::Failure;
use crate::book::{Book, Player, plain};

/// So many near names are offered.
const OFFERED: usize = 3;
/// So many names are listed where none is near.
const LISTED: usize = 8;
/// A name is near that shares at least so much, 1 is the same; or one of its words does.
const NEAR: f64 = 0.6;

/// The player of a name, a first name or as much of it as tells.
pub(super) fn player(book: &mut Book, typed: &str) -> Result<Player, Failure> {
    let found = book.player_called(typed)?;
    found.map_or_else(|| Err(nobody(book, typed)), Ok)
}

/// The player of exactly this name, where a wrong guess would do harm.
pub(super) fn exact_player(book: &mut Book, name: &str) -> Result<Player, Failure> {
    let found = book.player(name)?;
    found.map_or_else(|| Err(nobody(book, name)), Ok)
}

fn nobody(book: &mut Book, typed: &str) -> Failure {
    let (typed, path) = (plain(typed), book.path().display().to_string());
    let all = match book.players() {
        Ok(all) => all,
        Err(error) => return error.into(),
    };
    let near = match (all.is_empty(), nearest(&typed, all.iter().map(|player| plain(&player.name)))) {
        (true, _) => "there are no players in the book yet".into(),
        (false, near) if near.is_empty() => format!("restward book players --book {path} lists all names"),
        (false, near) => format!("do you mean {}?", near.join(" or ")),
    };
    Failure::Input(format!("{path}: nobody is called {typed}; {near}"))
}

/// Why something that was asked for is not there: a sentence for behind the book's name.
pub(super) fn unknown(what: &str, asked: &str, names: impl Iterator<Item = String>) -> String {
    let (asked, mut names) = (plain(asked), names.peekable());
    if names.peek().is_none() {
        return format!("there is no {what} in the book yet");
    }
    let mut all: Vec<String> = names.collect();
    match nearest(&asked, all.iter().cloned()).as_slice() {
        [] => {
            all.sort_by_key(|name| name.to_lowercase());
            all.dedup();
            let more = all.len().saturating_sub(LISTED);
            all.truncate(LISTED);
            let more = if more > 0 { format!(", and {more} more") } else { String::new() };
            format!("there is no {what} {asked} in the book; there is {}{more}", all.join(", "))
        }
        near => format!("there is no {what} {asked} in the book; do you mean {}?", near.join(" or ")),
    }
}

/// The names that are like what was typed, the likest first.
fn nearest(asked: &str, names: impl Iterator<Item = String>) -> Vec<String> {
    let alike = |one: &str, other: &str| strsim::normalized_damerau_levenshtein(one, other);
    let asked = asked.to_lowercase();
    let likeness = |name: &str| {
        let name = name.to_lowercase();
        name.split(' ').map(|word| alike(&asked, word)).fold(alike(&asked, &name), f64::max)
    };
    let mut near: Vec<(f64, String)> = names.map(|name| (likeness(&name), name)).collect();
    near.retain(|(likeness, _)| *likeness >= NEAR);
    near.sort_by(|one, other| other.0.total_cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
    near.dedup();
    near.into_iter().take(OFFERED).map(|(_, name)| name).collect()
}
