//! The tables of a book, version by version.

/// `PRAGMA application_id`: "RWBK" tells a book from other SQLite files (SQLite file format, offset 68).
pub(super) const APPLICATION: i32 = 0x5257_424B;

/// What brings a book from one version to the next; `PRAGMA user_version` counts those that were done. Never changed
/// once released: a new version is a new line.
pub(super) const MIGRATIONS: [&str; 4] = [VERSION_1, ABSENCES, READ_WITHOUT_RECORDS, PLAYED_LEVEL];

const VERSION_1: &str = "
CREATE TABLE player (
    id INTEGER PRIMARY KEY,
    -- A name or an alias: what the director calls the child.
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    instrument TEXT,
    section TEXT COLLATE NOCASE,
    level TEXT,
    -- The school's own id, for gradebooks.
    outside_id TEXT UNIQUE
) STRICT;

CREATE TABLE exercise (
    id INTEGER PRIMARY KEY,
    -- SHA-256 of the content, so that a file edited later is another exercise and old takes keep theirs.
    hash BLOB NOT NULL UNIQUE,
    title TEXT NOT NULL,
    file_name TEXT NOT NULL,
    content BLOB NOT NULL,
    added_us INTEGER NOT NULL
) STRICT;

CREATE TABLE take (
    id INTEGER PRIMARY KEY,
    player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
    exercise INTEGER NOT NULL REFERENCES exercise (id),
    -- Microseconds since 1970 when it began.
    begun_us INTEGER NOT NULL,
    part TEXT NOT NULL,
    instrument TEXT,
    level TEXT NOT NULL,
    sends TEXT NOT NULL,
    -- The band's concert keys, as names.
    family TEXT NOT NULL,
    -- The click while it is not yet in a record: JSON; null without a click.
    click TEXT,
    -- The measured delay that was taken off, in microseconds.
    delay_us INTEGER,
    -- All that arrived, as a Standard MIDI File; null while it is played.
    record BLOB,
    -- The version of the program that judged it; null until it is judged.
    engine TEXT,
    fits INTEGER,
    notes INTEGER, right_pitches INTEGER, right_pitches_of INTEGER, changed INTEGER, changed_of INTEGER,
    releases INTEGER, releases_of INTEGER, entrances INTEGER, entrances_of INTEGER,
    extra INTEGER, restarts INTEGER, close INTEGER
) STRICT;
CREATE INDEX take_by_player ON take (player, begun_us);
CREATE INDEX take_by_exercise ON take (exercise, begun_us);
CREATE INDEX take_by_time ON take (begun_us);

-- What arrives while a take is played, in the order written; moved into its record at its end.
CREATE TABLE arrival (
    take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    content BLOB NOT NULL,
    PRIMARY KEY (take, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE flag (
    take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    -- 0: too close to call, not counted.
    counts INTEGER NOT NULL,
    note INTEGER NOT NULL,
    kind TEXT NOT NULL,
    measure TEXT NOT NULL,
    beat REAL NOT NULL,
    written TEXT NOT NULL,
    -- The flag as reports have it, JSON.
    content TEXT NOT NULL,
    PRIMARY KEY (take, number)
) STRICT, WITHOUT ROWID;

-- Takes in numbers by what was practised: 'changed' with a written letter such as F#, 'hold' with beats such as 3.
CREATE TABLE tally (
    take INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    what TEXT NOT NULL,
    name TEXT NOT NULL,
    good INTEGER NOT NULL,
    of INTEGER NOT NULL,
    PRIMARY KEY (take, what, name)
) STRICT, WITHOUT ROWID;

-- What the director marks by hand: a row of the rubric and the step given.
CREATE TABLE mark (
    player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
    exercise INTEGER NOT NULL REFERENCES exercise (id),
    row TEXT NOT NULL,
    step INTEGER NOT NULL,
    marked_us INTEGER NOT NULL,
    PRIMARY KEY (player, exercise, row)
) STRICT, WITHOUT ROWID;
";

/// A row of `take` has its record in the middle, some ten kilobytes on pages of their own: whoever reads what stands behind
/// it reads the whole file. So what reviews ask of finished takes stands in an index too, in the order in which they
/// want it, and the few takes that are not finished in another.
const READ_WITHOUT_RECORDS: &str = "
CREATE INDEX take_in_numbers ON take (
    player, begun_us, id, exercise, instrument, level, fits, notes, right_pitches, right_pitches_of, changed, changed_of,
    releases, releases_of, entrances, entrances_of, extra, restarts, close, engine
) WHERE engine IS NOT NULL;
CREATE INDEX take_unfinished ON take (id) WHERE record IS NULL;
";

const PLAYED_LEVEL: &str = "
-- The level at which it was played, where it was judged again at another; null: at the same.
ALTER TABLE take ADD COLUMN played_level TEXT;
";

const ABSENCES: &str = "
-- Who was not there when a queue was called up.
CREATE TABLE absence (
    player INTEGER NOT NULL REFERENCES player (id) ON DELETE CASCADE,
    -- Microseconds since 1970.
    marked_us INTEGER NOT NULL,
    PRIMARY KEY (player, marked_us)
) STRICT, WITHOUT ROWID;
CREATE INDEX absence_by_time ON absence (marked_us);
";
