"""A book of an invented band with takes in numbers, for checks of what is made of them.

The program makes the file and enters the players; Python's own sqlite3 writes exercises, takes and marks, so that every
number is known and none was judged.
"""

import hashlib
import random
import sqlite3
import subprocess
from pathlib import Path

NAMES = "Ines Olek Mara Nils Renée Tomas Aiko Jun Pia Sven Lotte Omar".split()
INSTRUMENTS = ["flute", "clarinet", "alto-sax", "trumpet", "horn", "tuba"]
SECTIONS = ["flutes", "clarinets", "saxophones", "trumpets", "", "low brass"]
TITLES = ["Harbour March", "Three Lanterns", "Hold until the rest"]
HAND = ["tone", "posture", "articulation", "dynamics"]
DAY_US = 86_400_000_000
FIRST_US = 1_772_445_600_000_000  # 2026-03-02 10:00 UTC
COLUMNS = [
    "player", "exercise", "begun_us", "part", "instrument", "level", "sends", "family", "record", "engine", "fits", "notes",
    "right_pitches", "right_pitches_of", "changed", "changed_of", "releases", "releases_of", "entrances", "entrances_of",
    "extra", "restarts", "close",
]  # fmt: skip


def take(chance, player, exercise, begun_us, instrument):
    """A take of random numbers; some do not fit, some have few notes."""
    fits = chance.random() > 0.1
    size = chance.choice([0, 1, 3, 4, 5, 8, 20, 60]) if fits else 0
    counts = []
    for most in (size, size // 3, size // 4, size):
        of = chance.randint(0, most)
        counts += [chance.randint(of * chance.choice([0, 1, 2, 3]) // 4, of), of]
    values = [player, exercise, begun_us, "P1", instrument, "first-year", "auto", "F,Bb,Eb,Ab", b"", "0", fits, size]
    return values + counts + [0, 0, 0]


def make(program, folder, seed, names=NAMES, takes=120):
    """Makes band.db in a folder and returns its path."""
    chance = random.Random(seed)
    book, roster = Path(folder) / "band.db", Path(folder) / "players.csv"
    lines = [
        f'"{name}",{INSTRUMENTS[place % 6]},{SECTIONS[place % 6]},s-{place}' for place, name in enumerate(names)
    ]
    roster.write_text("name,instrument,section,id\n" + "\n".join(lines) + "\n", encoding="utf-8")
    command = [program, "book", "roster", "--book", book, roster, "--yes"]
    subprocess.run(command, check=True, capture_output=True)
    with sqlite3.connect(book) as sql:
        players = sql.execute("SELECT id, instrument FROM player ORDER BY id").fetchall()
        for title in TITLES:
            row = (hashlib.sha256(title.encode()).digest(), title, f"{title}.abc", title.encode(), FIRST_US)
            sql.execute("INSERT INTO exercise (hash, title, file_name, content, added_us) VALUES (?, ?, ?, ?, ?)", row)
        exercises = [number for (number,) in sql.execute("SELECT id FROM exercise ORDER BY id")]
        marks = ", ".join("?" * len(COLUMNS))
        for number in range(takes):
            player, instrument = chance.choice(players)
            begun = FIRST_US + number * DAY_US // 3 + chance.randint(0, 1_000_000)
            values = take(chance, player, chance.choice(exercises), begun, instrument)
            sql.execute(f"INSERT INTO take ({', '.join(COLUMNS)}) VALUES ({marks})", values)
        for player, _ in players:
            for exercise in exercises:
                for row in HAND:
                    if chance.random() < 0.4:
                        mark = (player, exercise, row, chance.randint(1, 4), FIRST_US)
                        sql.execute("INSERT INTO mark VALUES (?, ?, ?, ?, ?)", mark)
    sql.close()
    return book
