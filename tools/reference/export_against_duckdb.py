#!/usr/bin/env python3
"""What `restward book export` writes, read by programs that share nothing with restward.

The book is filled here through Python's sqlite3 with invented rows (empty cells, negative numbers, formulas, commas and
line breaks in names). DuckDB reads the Parquet files, Python's csv module the CSV files. Then:

* each column has the kind that tools/export/SCHEMA.md gives it;
* each row of each table is the row in the book;
* the questions of a review, asked in SQL of the files, have the answers that plain Python counts from the book;
* without names, no name, school id or file name is left in any cell.

    export_against_duckdb.py --program target/debug/restward [--takes N]
"""

import argparse
import csv
import datetime
import json
import random
import re
import sqlite3
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import duckdb

TOP = Path(__file__).resolve().parents[2]
TABLES = ["players", "exercises", "takes", "flags", "practice", "marks", "absences"]
PLAYERS = ["Ines", "Olek", "=cmd|' /C calc'!A0", "+49 Nils", "-Mara", "@Jun", 'Anouk "the horn", B', "Zoë 🎺", "<script>",
           "O'Neil; DROP TABLE player", "Bo", "Tam"]
SECTIONS = ["Woodwinds", "low brass", None]
CHANGED = ["F#", "Bb", "E", "C#"]
HOLDS = ["1", "1.5", "3", "4"]
FLAGS = ["wrong-accidental", "missed-note", "early-release", "late-entrance"]
ROW_GROUP = 65_536
WEEK_US = 7 * 86_400_000_000
# 2026-01-05, a Monday (ISO 8601), 00:00 UTC.
FIRST_US = 1_767_571_200_000_000
EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)

# Parquet format, LogicalTypes.md: physical type and logical type as DuckDB names them.
PARQUET = {
    "whole": ("INT64", None),
    "real": ("DOUBLE", None),
    "text": ("BYTE_ARRAY", "StringType"),
    "truth": ("BOOLEAN", None),
    "time": ("INT64", "TimestampType(isAdjustedToUTC=1"),
}

# The rows of the book, column by column of SCHEMA.md, written here independently of the program.
IN_BOOK = {
    "players": "SELECT id, name, instrument, section, level, outside_id FROM player ORDER BY id",
    "exercises": "SELECT id, title, file_name, lower(hex(hash)), added_us FROM exercise ORDER BY id",
    "takes": """SELECT id, player, exercise, begun_us, part, instrument, level, sends, family, click IS NOT NULL, delay_us,
        engine IS NOT NULL, engine, fits, notes, right_pitches, right_pitches_of, changed, changed_of, releases,
        releases_of, entrances, entrances_of, extra, restarts, close, coalesce(played_level, level) FROM take ORDER BY id""",
    "flags": "SELECT take, number, counts, note, kind, measure, beat, written, content FROM flag ORDER BY take, number",
    "practice": "SELECT take, what, name, good, of FROM tally ORDER BY take, what, name",
    "marks": "SELECT player, exercise, row, step, marked_us FROM mark ORDER BY player, exercise, row",
    "absences": "SELECT player, marked_us FROM absence ORDER BY marked_us, player",
}


def fill(book, takes):
    """Rows that no musician played, but of every kind that a book may hold."""
    chance = random.Random(2026)
    with sqlite3.connect(book) as sql:
        for number, name in enumerate(PLAYERS, 1):
            sql.execute("INSERT INTO player VALUES (?, ?, ?, ?, ?, ?)",
                        (number, name, chance.choice(["flute", "tuba", None]), SECTIONS[number % 3],
                         chance.choice(["first-year", "third-year", None]), f"school-{number}" if number % 2 else None))
        for number, title in enumerate(["Hills", "=Scales", "Line\nbreak, and \"quotes\""], 1):
            sql.execute("INSERT INTO exercise VALUES (?, ?, ?, ?, ?, ?)",
                        (number, bytes([number]) * 32, title, f"private-{number}.xml", b"x", FIRST_US - number))
        for take in range(1, takes + 1):
            finished = take % 50 != 0
            begun = FIRST_US + chance.randrange(8 * WEEK_US)
            of = [chance.randint(1, 40) for _ in range(4)]
            good = [chance.randint(0, most) for most in of]
            numbers = [n for pair in zip(good, of) for n in pair]
            sql.execute(
                f"INSERT INTO take VALUES ({','.join('?' * 27)})",
                [take, chance.randint(1, len(PLAYERS) - 1), chance.randint(1, 3), begun, "P1",
                 chance.choice(["flute", None]), "first-year", "auto", "F major,Bb major", chance.choice(["{}", None]),
                 chance.choice([42_000, None]), b"x" if finished else None]
                + (["0.1.0", take % 20 != 0, 40, *numbers, 1, 0, 2, chance.choice(["third-year", None])] if finished else [None] * 15))
            if not finished:
                continue
            for number in range(chance.randint(30, 60)):
                content = {"sentence": chance.choice(["-late", "let go after 2 of 3 beats", "=1+1"])}
                for key, values in [("played", ["A4", None]), ("off_beats", [-0.25, 1, None]), ("off_ms", [-200.5, 7, None]),
                                    ("alteration", ["signature", None]), ("changed_note", ["primary", None])]:
                    if (value := chance.choice(values)) is not None:
                        content[key] = value
                sql.execute("INSERT INTO flag VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                            (take, number, chance.random() < 0.9, number, chance.choice(FLAGS), str(number // 4), 1.5, "Bb4",
                             json.dumps(content)))
            for what, names in [("changed", CHANGED), ("hold", HOLDS)]:
                for name in chance.sample(names, 2):
                    most = chance.randint(1, 6)
                    sql.execute("INSERT INTO tally VALUES (?, ?, ?, ?, ?)", (take, what, name, chance.randint(0, most), most))
        for player in range(1, 7):
            sql.execute("INSERT INTO mark VALUES (?, 1, 'tone', ?, ?)", (player, player % 4 + 1, FIRST_US + player))
            sql.execute("INSERT INTO absence VALUES (?, ?)", (player, FIRST_US + player % 3 * WEEK_US))


def expected(sql, table):
    """The rows of a table as SCHEMA.md describes them."""
    for row in sql.execute(IN_BOOK[table]):
        row = list(row)
        if table == "flags":
            content = json.loads(row.pop())
            row += [content.get(key) for key in
                    ["played", "off_beats", "off_ms", "beats_given", "beats_due", "alteration", "changed_note", "sentence"]]
        elif table == "practice":
            row.insert(3, float(row[2]) if row[1] == "hold" else None)
        yield tuple(row)


def schema():
    """Table, column, kind, whether optional: as the page says."""
    page, table = defaultdict(list), None
    for line in (TOP / "tools/export/SCHEMA.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            table = line[3:]
        elif table in TABLES and (row := re.match(r"\| (\w+) \| (\w+) \| (yes|no) \|", line)):
            page[table].append((row[1], row[2], row[3] == "yes"))
    return page


def cell_in_csv(value, kind):
    """What a cell looks like, by SCHEMA.md."""
    if value is None:
        return ""
    if kind == "truth":
        return "true" if value else "false"
    if kind == "time":
        return (EPOCH + datetime.timedelta(microseconds=value)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if kind == "text":
        return "'" + value if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
    return value


class Check:
    """Counts what agrees and says what does not."""

    def __init__(self):
        self.done, self.wrong = 0, []

    def same(self, what, found, wanted):
        self.done += 1
        if found != wanted:
            self.wrong.append(f"{what}: {str(found)[:300]} is not {str(wanted)[:300]}")


def columns_and_rows(check, sql, files):
    page = schema()
    for table in TABLES:
        parquet = files / f"{table}.parquet"
        found = duckdb.sql(f"SELECT name, type, repetition_type, logical_type FROM parquet_schema('{parquet}')").fetchall()[1:]
        check.same(f"{table}: columns", [row[0] for row in found], [column[0] for column in page[table]])
        for (name, physical, repetition, logical), (_, kind, optional) in zip(found, page[table]):
            wanted = PARQUET[kind]
            check.same(f"{table}.{name}: type", physical, wanted[0])
            check.same(f"{table}.{name}: optional", repetition, "OPTIONAL" if optional else "REQUIRED")
            agrees = (logical or "").startswith(wanted[1]) if wanted[1] else logical in (None, "")
            check.same(f"{table}.{name}: {logical}", agrees, True)
        check.same(f"{table}: unit of time", all("MICROS" in (row[3] or "") for row in found if "Timestamp" in (row[3] or "")), True)
        columns = ", ".join(f"epoch_us({name})" if kind == "time" else name for name, kind, _ in page[table])
        rows = duckdb.sql(f"SELECT {columns} FROM '{parquet}'").fetchall()
        wanted = list(expected(sql, table))
        check.same(f"{table}: rows in Parquet", rows, wanted)
        with open(files / f"{table}.csv", encoding="utf-8", newline="") as file:
            header, *rows = csv.reader(file)
        check.same(f"{table}: header", header, [column[0] for column in page[table]])
        check.same(f"{table}: number of rows in CSV", len(rows), len(wanted))
        for row, values in zip(rows, wanted):
            cells = [cell_in_csv(value, kind) for value, (_, kind, _) in zip(values, page[table])]
            read = [type(cell)(text) if isinstance(cell, (int, float)) else text for text, cell in zip(row, cells)]
            if read != cells:
                check.same(f"{table}: a row in CSV", read, cells)
        groups = duckdb.sql(f"SELECT DISTINCT row_group_id, row_group_num_rows FROM parquet_metadata('{parquet}')").fetchall()
        check.same(f"{table}: row groups", all(0 < rows <= ROW_GROUP for _, rows in groups), True)
        check.same(f"{table}: rows of its groups", sum(rows for _, rows in groups), len(wanted))
        for suffix in ("csv", "parquet"):
            check.same(f"{table}.{suffix}: rights", (files / f"{table}.{suffix}").stat().st_mode & 0o777, 0o600)
    flags = len(list(expected(sql, "flags")))
    groups = duckdb.sql(f"SELECT count(DISTINCT row_group_id) FROM parquet_metadata('{files}/flags.parquet')").fetchall()[0][0]
    check.same("flags: number of row groups", groups, -(-flags // ROW_GROUP))
    return flags


def questions(check, sql, files):
    """What a review asks, of the files in SQL and of the book in Python."""
    base = duckdb.connect()
    for table in TABLES:
        base.execute(f"CREATE VIEW {table} AS SELECT * FROM '{files}/{table}.parquet'")
    ask = lambda question: base.execute(question).fetchall()  # noqa: E731
    players = {row[0]: row for row in expected(sql, "players")}
    takes = {row[0]: row for row in expected(sql, "takes")}
    tally = list(expected(sql, "practice"))
    since, until = FIRST_US + 2 * WEEK_US, FIRST_US + 4 * WEEK_US

    check.same(
        "a player's takes in a span",
        ask(f"""SELECT take_id, epoch_us(begun_at) FROM takes JOIN players USING (player_id) WHERE name = 'Ines' AND finished
                AND begun_at >= make_timestamptz({since}) AND begun_at < make_timestamptz({until}) ORDER BY begun_at, take_id"""),
        sorted(((take[0], take[3]) for take in takes.values()
                if players[take[1]][1] == "Ines" and take[11] and since <= take[3] < until), key=lambda it: (it[1], it[0])))

    for what, title in [("changed", "a section, its players by changed notes"), ("hold", "players by lengths of hold")]:
        counted = defaultdict(lambda: [0, 0])
        for take, kind, name, _, good, of in tally:
            player = players[takes[take][1]]
            if kind == what and (player[3] or "").lower() == "low brass":
                counted[player[1], name][0] += good
                counted[player[1], name][1] += of
        check.same(
            title,
            ask(f"""SELECT players.name, practice.name, sum(good)::BIGINT, sum(good_of)::BIGINT FROM practice
                    JOIN takes USING (take_id) JOIN players USING (player_id)
                    WHERE what = '{what}' AND lower(section) = 'low brass' GROUP BY ALL ORDER BY ALL"""),
            sorted((*key, *value) for key, value in counted.items()))

    results = defaultdict(list)
    for take in takes.values():
        if take[2] == 2 and take[11] and take[13]:
            results[players[take[1]][1]].append((take[15], take[16]))
    check.same(
        "an exercise: takes and best share of right pitches by player",
        ask("""SELECT name, count(*), max(right_pitches / right_pitches_of) FROM takes JOIN players USING (player_id)
               JOIN exercises USING (exercise_id) WHERE title = '=Scales' AND finished AND fits GROUP BY name ORDER BY name"""),
        sorted((name, len(found), max(good / of for good, of in found)) for name, found in results.items()))

    weeks = defaultdict(lambda: [0, 0, 0])
    for take in takes.values():
        if take[11] and take[13]:
            week = weeks[(take[3] - FIRST_US) // WEEK_US]
            week[0], week[1], week[2] = week[0] + 1, week[1] + take[17], week[2] + take[18]
    check.same(
        "progress by week, with how many",
        ask("""SELECT date_trunc('week', begun_at AT TIME ZONE 'UTC')::DATE, count(*), sum(changed_notes)::BIGINT,
               sum(changed_notes_of)::BIGINT FROM takes WHERE finished AND fits GROUP BY 1 ORDER BY 1"""),
        [((EPOCH + datetime.timedelta(microseconds=FIRST_US + week * WEEK_US)).date(), *numbers)
         for week, numbers in sorted(weeks.items())])

    last = FIRST_US + 7 * WEEK_US
    met = {player: 0 for player in players}
    for take, kind, name, _, _, of in tally:
        if kind == "changed" and name == "C#" and takes[take][3] >= last:
            met[takes[take][1]] += of
    check.same(
        "who has met C# too seldom in the last week to say anything",
        ask(f"""SELECT players.name, coalesce(sum(good_of), 0)::BIGINT AS n FROM players
                LEFT JOIN takes ON takes.player_id = players.player_id AND begun_at >= make_timestamptz({last})
                LEFT JOIN practice ON practice.take_id = takes.take_id AND what = 'changed' AND practice.name = 'C#'
                GROUP BY players.player_id, players.name HAVING n < 30 ORDER BY players.name"""),
        sorted((players[player][1], n) for player, n in met.items() if n < 30))


def nameless(check, sql, files):
    private = [text for row in sql.execute("SELECT name, outside_id FROM player UNION SELECT file_name, NULL FROM exercise")
               for text in row if text]
    for table in TABLES:
        rows = duckdb.sql(f"SELECT * FROM '{files}/{table}.parquet'").fetchall()
        with open(files / f"{table}.csv", encoding="utf-8", newline="") as file:
            rows += list(csv.reader(file))[1:]
        cells = {cell.removeprefix("'") for row in rows for cell in row if isinstance(cell, str)}
        check.same(f"{table} without names", [text for text in private if text in cells], [])
    names = [row[0] for row in duckdb.sql(f"SELECT name FROM '{files}/players.parquet' ORDER BY player_id").fetchall()]
    check.same("aliases", names, [f"P{number}" for number in range(1, len(PLAYERS) + 1)])


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True)
    arguments.add_argument("--takes", type=int, default=1_700)
    options = arguments.parse_args()
    program = Path(options.program).resolve()
    check = Check()
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        book = folder / "band.db"

        def run(*words):
            done = subprocess.run([program, "book", *words], cwd=folder, text=True, capture_output=True, check=False)
            if done.returncode != 0:
                sys.exit(f"restward book {' '.join(words)}: {done.stderr}")

        (folder / "players.csv").write_text("name\nnobody\n", encoding="utf-8")
        run("roster", "--book", "band.db", "players.csv", "--yes")
        run("forget", "--book", "band.db", "nobody", "--yes")
        fill(book, options.takes)
        run("export", "--book", "band.db", "--parquet", "term", "--csv", "term")
        run("export", "--book", "band.db", "--parquet", "nameless", "--csv", "nameless", "--without-names")
        sql = sqlite3.connect(book)
        flags = columns_and_rows(check, sql, folder / "term")
        questions(check, sql, folder / "term")
        nameless(check, sql, folder / "nameless")
        sql.close()
    for wrong in check.wrong:
        print(wrong)
    print(f"{options.takes} takes, {flags} findings; {check.done} comparisons with DuckDB {duckdb.__version__} and Python's csv, "
          f"{len(check.wrong)} differ")
    sys.exit(bool(check.wrong))


if __name__ == "__main__":
    main()
