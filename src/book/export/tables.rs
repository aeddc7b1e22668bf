//! Which tables and columns leave a book. `tools/export/SCHEMA.md` explains each; a test holds it against this list.

use super::{Column, Kind, Table};

const fn column(name: &'static str, kind: Kind, from: &'static str) -> Column {
    Column { name, kind, is_optional: false, from, without_names: from }
}

/// A column whose cells may be empty.
const fn optional(name: &'static str, kind: Kind, from: &'static str) -> Column {
    Column { is_optional: true, ..column(name, kind, from) }
}

/// A column that looks otherwise where names are left out.
const fn private(column: Column, without_names: &'static str) -> Column {
    Column { without_names, ..column }
}

pub(super) const TABLES: [Table; 7] = [
    Table { name: "players", columns: &PLAYERS, from: "player ORDER BY id" },
    Table { name: "exercises", columns: &EXERCISES, from: "exercise ORDER BY id" },
    Table { name: "takes", columns: &TAKES, from: "take ORDER BY id" },
    Table { name: "flags", columns: &FLAGS, from: "flag ORDER BY take, number" },
    Table { name: "practice", columns: &PRACTICE, from: "tally ORDER BY take, what, name" },
    Table { name: "marks", columns: &MARKS, from: "mark ORDER BY player, exercise, row" },
    Table { name: "absences", columns: &ABSENCES, from: "absence ORDER BY marked_us, player" },
];

const PLAYERS: [Column; 6] = [
    column("player_id", Kind::Whole, "id"),
    private(column("name", Kind::Text, "name"), "'P' || id"),
    optional("instrument", Kind::Text, "instrument"),
    optional("section", Kind::Text, "section"),
    optional("level", Kind::Text, "level"),
    private(optional("outside_id", Kind::Text, "outside_id"), "NULL"),
];

const EXERCISES: [Column; 5] = [
    column("exercise_id", Kind::Whole, "id"),
    column("title", Kind::Text, "title"),
    private(optional("file_name", Kind::Text, "file_name"), "NULL"),
    column("sha256", Kind::Text, "lower(hex(hash))"),
    column("added_at", Kind::Time, "added_us"),
];

const TAKES: [Column; 27] = [
    column("take_id", Kind::Whole, "id"),
    column("player_id", Kind::Whole, "player"),
    column("exercise_id", Kind::Whole, "exercise"),
    column("begun_at", Kind::Time, "begun_us"),
    column("part", Kind::Text, "part"),
    optional("instrument", Kind::Text, "instrument"),
    column("level", Kind::Text, "level"),
    column("sends", Kind::Text, "sends"),
    column("family", Kind::Text, "family"),
    column("with_click", Kind::Truth, "click IS NOT NULL"),
    optional("delay_us", Kind::Whole, "delay_us"),
    column("finished", Kind::Truth, "engine IS NOT NULL"),
    optional("engine", Kind::Text, "engine"),
    optional("fits", Kind::Truth, "fits"),
    optional("notes", Kind::Whole, "notes"),
    optional("right_pitches", Kind::Whole, "right_pitches"),
    optional("right_pitches_of", Kind::Whole, "right_pitches_of"),
    optional("changed_notes", Kind::Whole, "changed"),
    optional("changed_notes_of", Kind::Whole, "changed_of"),
    optional("full_releases", Kind::Whole, "releases"),
    optional("full_releases_of", Kind::Whole, "releases_of"),
    optional("entrances", Kind::Whole, "entrances"),
    optional("entrances_of", Kind::Whole, "entrances_of"),
    optional("extra", Kind::Whole, "extra"),
    optional("restarts", Kind::Whole, "restarts"),
    optional("close", Kind::Whole, "close"),
    column("played_level", Kind::Text, "coalesce(played_level, level)"),
];

const FLAGS: [Column; 16] = [
    column("take_id", Kind::Whole, "take"),
    column("number", Kind::Whole, "number"),
    column("counts", Kind::Truth, "counts"),
    column("note", Kind::Whole, "note"),
    column("flag", Kind::Text, "kind"),
    column("measure", Kind::Text, "measure"),
    column("beat", Kind::Real, "beat"),
    column("written", Kind::Text, "written"),
    optional("played", Kind::Text, "json_extract(content, '$.played')"),
    optional("off_beats", Kind::Real, "CAST(json_extract(content, '$.off_beats') AS REAL)"),
    optional("off_ms", Kind::Real, "CAST(json_extract(content, '$.off_ms') AS REAL)"),
    optional("beats_given", Kind::Real, "CAST(json_extract(content, '$.beats_given') AS REAL)"),
    optional("beats_due", Kind::Real, "CAST(json_extract(content, '$.beats_due') AS REAL)"),
    optional("alteration", Kind::Text, "json_extract(content, '$.alteration')"),
    optional("changed_note", Kind::Text, "json_extract(content, '$.changed_note')"),
    column("sentence", Kind::Text, "json_extract(content, '$.sentence')"),
];

const PRACTICE: [Column; 6] = [
    column("take_id", Kind::Whole, "take"),
    column("what", Kind::Text, "what"),
    column("name", Kind::Text, "name"),
    optional("hold_beats", Kind::Real, "CASE what WHEN 'hold' THEN CAST(name AS REAL) END"),
    column("good", Kind::Whole, "good"),
    column("good_of", Kind::Whole, "of"),
];

const MARKS: [Column; 5] = [
    column("player_id", Kind::Whole, "player"),
    column("exercise_id", Kind::Whole, "exercise"),
    column("row", Kind::Text, "row"),
    column("step", Kind::Whole, "step"),
    column("marked_at", Kind::Time, "marked_us"),
];

const ABSENCES: [Column; 2] =
    [column("player_id", Kind::Whole, "player"), column("marked_at", Kind::Time, "marked_us")];
