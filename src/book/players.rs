//! Players: a name or an alias, and what is known of them.

use super::{Book, BookError, BookProblem, Changes, same};
use crate::plain::plain;
use rusqlite::{OptionalExtension, Row, Transaction, TransactionBehavior, params};

/// A player as the book knows them.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Player {
    /// The book's own number.
    pub id: i64,
    /// The name or alias: unique in a book, capitals aside.
    pub name: String,
    /// The id of the instrument.
    pub instrument: Option<String>,
    /// The section.
    pub section: Option<String>,
    /// The level, by its name.
    pub level: Option<String>,
    /// The school's own id.
    pub outside_id: Option<String>,
}

/// What a roster says of a player; nothing in it takes away what the book knows already.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Entry {
    /// The name or alias.
    pub name: String,
    /// The id of the instrument.
    pub instrument: Option<String>,
    /// The section.
    pub section: Option<String>,
    /// The level, by its name.
    pub level: Option<String>,
    /// The school's own id.
    pub outside_id: Option<String>,
}

const COLUMNS: &str = "id, name, instrument, section, level, outside_id";

fn player(row: &Row) -> rusqlite::Result<Player> {
    Ok(Player {
        id: row.get(0)?,
        name: row.get(1)?,
        instrument: row.get(2)?,
        section: row.get(3)?,
        level: row.get(4)?,
        outside_id: row.get(5)?,
    })
}

impl Book {
    /// All players, by section and name.
    pub fn players(&mut self) -> Result<Vec<Player>, BookError> {
        self.with(|sql| {
            let mut query = sql.prepare_cached(&format!("SELECT {COLUMNS} FROM player ORDER BY section, name"))?;
            let rows = query.query_map([], player)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// The player of this name, capitals aside.
    pub fn player(&mut self, name: &str) -> Result<Option<Player>, BookError> {
        let name = plain(name);
        let found = self.with(|sql| {
            let query = format!("SELECT {COLUMNS} FROM player WHERE name = ?1");
            Ok(sql.prepare_cached(&query)?.query_row([&name], player).optional()?)
        })?;
        if found.is_some() || name.is_ascii() {
            return Ok(found);
        }
        // SQLite, "NOCASE": it knows the capitals of ASCII alone.
        Ok(self.players()?.into_iter().find(|player| same(&player.name, &name)))
    }

    /// The player of this name; a new one is entered if there is none.
    pub fn player_or_new(&mut self, name: &str) -> Result<Player, BookError> {
        if let Some(player) = self.player(name)? {
            return Ok(player);
        }
        self.enter(&[Entry { name: plain(name), ..Entry::default() }])?;
        let path = self.path.clone();
        self.player(name)?.ok_or_else(|| BookProblem::Refused(format!("{name} could not be entered")).of(&path))
    }

    /// Enters new players and fills in what was not known of others, all or none. Whatever the book knows already
    /// stays. Returns how many are new.
    pub fn enter(&mut self, entries: &[Entry]) -> Result<usize, BookError> {
        self.with(|sql| {
            let transaction = sql.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let mut new = 0;
            for entry in entries {
                let name = plain(&entry.name);
                if name.is_empty() {
                    return Err(BookProblem::Refused("a player needs a name".into()));
                }
                let known =
                    transaction.query_row("SELECT 1 FROM player WHERE name = ?1", [&name], |_| Ok(())).optional()?;
                new += usize::from(known.is_none());
                transaction
                    .execute(
                        "INSERT INTO player (name, instrument, section, level, outside_id) VALUES (?1, ?2, ?3, ?4, ?5)
                         ON CONFLICT (name) DO UPDATE SET instrument = coalesce(instrument, excluded.instrument),
                             section = coalesce(section, excluded.section), level = coalesce(level, excluded.level),
                             outside_id = coalesce(outside_id, excluded.outside_id)",
                        params![name, entry.instrument, entry.section, entry.level, entry.outside_id],
                    )
                    .map_err(|error| taken(error, &name, entry.outside_id.as_deref()))?;
            }
            transaction.commit()?;
            Ok(new)
        })
    }

    /// Writes over what the book knows of a player.
    pub fn change(&mut self, player: &Player) -> Result<(), BookError> {
        self.with(|sql| {
            let transaction = sql.transaction_with_behavior(TransactionBehavior::Immediate)?;
            write_over(&transaction, std::slice::from_ref(player))?;
            Ok(transaction.commit()?)
        })
    }

    /// Does what a roster changes, all or nothing.
    pub fn enter_roster(&mut self, changes: &Changes) -> Result<(), BookError> {
        self.with(|sql| {
            let transaction = sql.transaction_with_behavior(TransactionBehavior::Immediate)?;
            write_over(&transaction, &changes.changed)?;
            changes.new.iter().try_for_each(|entry| insert(&transaction, entry))?;
            Ok(transaction.commit()?)
        })
    }
}

fn insert(transaction: &Transaction, entry: &Entry) -> Result<(), BookProblem> {
    let name = plain(&entry.name);
    if name.is_empty() {
        return Err(BookProblem::Refused("a player needs a name".into()));
    }
    transaction
        .prepare_cached(
            "INSERT INTO player (name, instrument, section, level, outside_id) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![name, entry.instrument, entry.section, entry.level, entry.outside_id])
        .map_err(|error| taken(error, &name, entry.outside_id.as_deref()))?;
    Ok(())
}

/// Writes over what is known of players, of all at once: two may exchange their names or ids.
fn write_over(transaction: &Transaction, players: &[Player]) -> Result<(), BookProblem> {
    // No name has a control sign: see `plain`.
    let mut free =
        transaction.prepare_cached("UPDATE player SET name = char(1) || id, outside_id = NULL WHERE id = ?1")?;
    for player in players {
        free.execute([player.id])?;
    }
    let mut write = transaction.prepare_cached(
        "UPDATE player SET name = ?2, instrument = ?3, section = ?4, level = ?5, outside_id = ?6 WHERE id = ?1",
    )?;
    for player in players {
        let name = plain(&player.name);
        if name.is_empty() {
            return Err(BookProblem::Refused("a player needs a name".into()));
        }
        write
            .execute(params![player.id, name, player.instrument, player.section, player.level, player.outside_id])
            .map_err(|error| taken(error, &name, player.outside_id.as_deref()))?;
    }
    Ok(())
}

/// A name, and the school's id, belong to one player only.
fn taken(error: rusqlite::Error, name: &str, outside_id: Option<&str>) -> BookProblem {
    if error.sqlite_error_code() != Some(rusqlite::ErrorCode::ConstraintViolation) {
        return error.into();
    }
    // SQLite names the column that must be unique.
    BookProblem::Refused(match outside_id {
        Some(id) if error.to_string().contains("outside_id") => {
            format!("the id {id} of {name} belongs to another player already; nothing was changed")
        }
        _ => format!("another player is called {name} already; nothing was changed"),
    })
}
