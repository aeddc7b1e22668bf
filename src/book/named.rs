//! The player that a director means by a first name, or by as much of the name as tells.

use super::players::Player;
use super::{Book, BookError, BookProblem, plain};

impl Book {
    /// The player of exactly this name, capitals aside; else the only one whose name has all these words, of which the
    /// last of several may be cut short: `Ines` and `Ines B` for `Ines Berg`. `None`: nobody; several are refused by name.
    pub fn player_called(&mut self, typed: &str) -> Result<Option<Player>, BookError> {
        let typed = plain(typed);
        let players = self.players()?;
        let lower = typed.to_lowercase();
        if let Some(exact) = players.iter().find(|player| player.name.to_lowercase() == lower) {
            return Ok(Some(exact.clone()));
        }
        let mut fitting: Vec<Player> = players.into_iter().filter(|player| fits(&player.name, &lower)).collect();
        if fitting.len() > 1 {
            let names: Vec<&str> = fitting.iter().map(|player| player.name.as_str()).collect();
            let sentence = format!("\"{typed}\" fits several players: {}; type more of the name", names.join(", "));
            return Err(BookProblem::Refused(sentence).of(&self.path));
        }
        Ok(fitting.pop())
    }
}

/// Whether two names are the same, capitals aside.
pub fn same(one: &str, other: &str) -> bool {
    one.to_lowercase() == other.to_lowercase()
}

/// The sections of these players, in the order of the alphabet, each once.
pub fn sections(players: &[Player]) -> Vec<&str> {
    let mut names: Vec<&str> = players.iter().filter_map(|player| player.section.as_deref()).collect();
    names.sort_by_key(|name| name.to_lowercase());
    names.dedup_by(|one, other| same(one, other));
    names
}

/// The section of a name, capitals aside; else the only one that begins so.
pub fn section_called<'a>(sections: &[&'a str], typed: &str) -> Option<&'a str> {
    let typed = plain(typed).to_lowercase();
    let is_exact = |name: &&&str| plain(name).to_lowercase() == typed;
    if let Some(exact) = sections.iter().find(is_exact) {
        return Some(exact);
    }
    let mut beginning = sections.iter().filter(|name| plain(name).to_lowercase().starts_with(&typed));
    beginning.next().filter(|_| beginning.next().is_none() && !typed.is_empty()).copied()
}

/// Whether a name has all words that were typed in lower case.
fn fits(name: &str, typed: &str) -> bool {
    let name = name.to_lowercase();
    let mut words: Vec<&str> = name.split([' ', ',']).filter(|word| !word.is_empty()).collect();
    let typed: Vec<&str> = typed.split([' ', ',']).filter(|word| !word.is_empty()).collect();
    let last = typed.len().saturating_sub(1);
    !typed.is_empty()
        && typed.iter().enumerate().all(|(place, typed)| {
            let is_meant = |word: &&str| word == typed || (place == last && place > 0 && word.starts_with(typed));
            words.iter().position(is_meant).map(|found| words.remove(found)).is_some()
        })
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn whole_words_count_and_the_last_may_be_cut_short() {
        for (name, typed, expected) in [
            ("Ines Berg", "ines", true),
            ("Berg, Ines", "ines", true),
            ("Ines Berg", "ines b", true),
            ("Ines Berg", "berg ines", true),
            ("Ines Berg", "ine", false),
            ("Ines Berg", "ines ines", false),
            ("Ines Berg", "ines t", false),
            ("Ines Berg", "", false),
            ("\u{c9}va T\u{f3}th", "\u{e9}va", true),
        ] {
            assert_eq!(fits(name, typed), expected, "{name}: {typed}");
        }
    }
}
