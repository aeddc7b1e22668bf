//! What a roster changes in a book: new players, gaps filled, and, only where that is asked for, the roster's values in
//! place of the book's.

use super::super::{Entry, Player, same};
use super::Roster;
use std::collections::HashMap;

/// What is to be done with a book, and what to say about it beforehand.
#[derive(Debug, Default)]
pub struct Changes {
    /// Players that the book does not know.
    pub new: Vec<Entry>,
    /// Players that it knows, as they are to be.
    pub changed: Vec<Player>,
    /// For each entry of the roster, in its order.
    pub fates: Vec<Fate>,
    /// What is different, a sentence each.
    pub differences: Vec<String>,
    /// Why it cannot be done, a sentence each.
    pub problems: Vec<String>,
}

/// What becomes of one entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// Entered.
    New,
    /// Known, and nothing changes.
    Known,
    /// Known, and something changes.
    Changed,
}

impl Roster {
    /// Holds the roster against the players that a book knows. `over`: the roster's values count, also its spelling of a
    /// name whose id the book knows; otherwise the book's stay. An empty cell never takes anything away.
    pub fn changes(&self, known: &[Player], over: bool) -> Changes {
        let mut changes = Changes::default();
        // Who has which name and id afterwards: the players that the roster does not speak of keep theirs.
        let mut after: HashMap<i64, Player> = known.iter().map(|player| (player.id, player.clone())).collect();
        let mut meant: HashMap<i64, u64> = HashMap::new();
        for (line, entry) in &self.entries {
            let Some(player) = find(known, entry, over) else {
                changes.fates.push(Fate::New);
                changes.new.push(entry.clone());
                continue;
            };
            if let Some(first) = meant.insert(player.id, *line) {
                changes.problems.push(format!(
                    "line {line}: {} is {} in the book, whom line {first} means too",
                    entry.name, player.name
                ));
            }
            let changed = merged(player, entry, over, *line, &mut changes.differences);
            changes.fates.push(if changed == *player { Fate::Known } else { Fate::Changed });
            if changed != *player {
                after.insert(player.id, changed.clone());
                changes.changed.push(changed);
            }
        }
        self.collisions(&after, over, &mut changes);
        changes
    }

    /// Two players cannot have one name or one id.
    fn collisions(&self, after: &HashMap<i64, Player>, over: bool, changes: &mut Changes) {
        for (line, entry) in &self.entries {
            let is_self = |player: &Player| same(&player.name, &entry.name);
            let other = after
                .values()
                .find(|player| !is_self(player) && entry.outside_id.is_some() && player.outside_id == entry.outside_id);
            if let (Some(player), Some(id)) = (other, &entry.outside_id) {
                let hint = if over { "" } else { "; if it is the same child under a new name: --over" };
                changes.problems.push(format!(
                    "line {line}: {} has the id {id}, which {} has in the book{hint}",
                    entry.name, player.name
                ));
            }
            if after.values().filter(|player| is_self(player)).count() > 1 {
                changes
                    .problems
                    .push(format!("line {line}: the book has another {} already; tell them apart", entry.name));
            }
        }
    }
}

/// Whom an entry means: where the roster counts, first of all the one with its id.
fn find<'a>(known: &'a [Player], entry: &Entry, over: bool) -> Option<&'a Player> {
    let by_id = known.iter().find(|player| over && entry.outside_id.is_some() && player.outside_id == entry.outside_id);
    by_id.or_else(|| known.iter().find(|player| same(&player.name, &entry.name)))
}

/// A player with what the roster says, and a sentence for each difference.
fn merged(player: &Player, entry: &Entry, over: bool, line: u64, differences: &mut Vec<String>) -> Player {
    let mut changed = player.clone();
    if over && player.name != entry.name {
        differences.push(format!("Line {line}: {} becomes {}.", player.name, entry.name));
        changed.name.clone_from(&entry.name);
    }
    for (what, place, theirs) in [
        ("instrument", &mut changed.instrument, &entry.instrument),
        ("section", &mut changed.section, &entry.section),
        ("level", &mut changed.level, &entry.level),
        ("id", &mut changed.outside_id, &entry.outside_id),
    ] {
        let Some(theirs) = theirs else { continue };
        match place.as_ref() {
            Some(ours) if ours == theirs => continue,
            Some(ours) if over => {
                differences.push(format!("Line {line}: {}'s {what} was {ours} and becomes {theirs}.", entry.name))
            }
            Some(ours) => {
                differences.push(format!(
                    "Line {line}: {}'s {what} is {theirs} here and {ours} in the book; the book's stays.",
                    player.name
                ));
                continue;
            }
            None => {}
        }
        *place = Some(theirs.clone());
    }
    changed
}
