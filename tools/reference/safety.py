#!/usr/bin/env python3
"""Children's records stay on the computer and with their owner: every command of the program, on a book of hostile names.

The commands are read from the program's own help, so that a new one cannot be forgotten. For each:

* strace sees no socket but local ones (AF_UNIX: sound, MIDI) and no connection elsewhere;
* what it prints holds no control signs and none that turn the direction of writing (Unicode: Bidi_Control),
  whatever a name holds;
* every file about children is readable by its owner alone (0600), every folder made for them, too (0700);
* in HTML no name became a tag or an attribute, nothing is loaded from elsewhere; in CSV no cell begins a formula.

    safety.py --program target/debug/restward
"""

import argparse
import csv
import html.parser
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
EXERCISE = str(TOP / "config/exercises/lantern-walk.musicxml")
TAKE = [str(TOP / "tests/data/takes/v001.musicxml"), str(TOP / "tests/data/takes/v001.mid")]

HOSTILE = [
    "<script>alert(1)</script>",
    "\"onload=\"alert(1)",
    "'><img src=x onerror=alert(1)>",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "@SUM(A1)",
    "-2+3",
    "\x1b[31mRed\x1b]0;title\x07",
    "\u202egpj.exe\u2066",
    "\x9b2JWide\u200bgap",
    "&lt;b&gt; &amp; {{ name }}",
    "'); DROP TABLE player;--",
    "../../etc/passwd",
]
# The Unicode Standard, property Bidi_Control; C0 and C1 but for line feed and tab.
FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
FORMULA = ("=", "+", "-", "@", "\t", "\r")

# What each command is run with, and which exit status it may have: 3 where no MIDI device is at hand.
ANY_PORT = {0, 1, 3}
RUNS = {
    "demo": [(["--fast"], {0})],
    "ports": [([], {0, 3})],
    "changed": [(["--key", "Eb"], {0})],
    "notes": [([EXERCISE, "--part", "P1"], {0})],
    "sheet": [([EXERCISE, "--part", "P1", "-o", "../plain/sheet.html"], {0})],
    "write": [([EXERCISE, "-o", "../plain/written.musicxml"], {0})],
    "drill": [(["--kind", "changed", "--key", "Eb", "--instrument", "flute", "-o", "../plain/drill.musicxml"], {0})],
    "check": [(TAKE, {0})],
    "listen": [([EXERCISE, "--book", "band.db", "--player", "Ada=#1:flute", "--takes", "1", "--save", "takes",
                 "--summary", "summary.csv"], ANY_PORT)],
    "latency": [([], {0}), (["--port", "none"], ANY_PORT)],
    "clean": [(["../plain/stream.json", "--json"], {0})],
    "book roster": [(["--book", "band.db", "../plain/players.csv"], {0}),
                    (["--book", "band.db", "../plain/players.csv", "--yes"], {0}),
                    (["--book", "band.db", "../plain/players.csv", "--over"], {0})],
    "book players": [(["--book", "band.db"], {0}), (["--book", "band.db", "--json"], {0})],
    "book player": [(["--book", "band.db", "Tam", "--section", "=low <b>brass</b>"], {0})],
    "book verify": [(["--book", "band.db"], {0})],
    "book rejudge": [(["--book", "band.db", "--level", "second-year"], {0})],
    "book backup": [(["--book", "band.db", "copy.db"], {0})],
    "book forget": [(["--book", "band.db", "Tam"], {0}), (["--book", "band.db", "Tam", "--yes"], {0})],
    "book export": [(["--book", "band.db", "--csv", "term"], {0}),
                    (["--book", "band.db", "--csv", "nameless", "--without-names"], {0})],
    "grades": [(["--book", "band.db"], {0}),
               (["--book", "band.db", "--format", "csv", "-o", "grades.csv"], {0}),
               (["--book", "band.db", "--format", "json", "-o", "grades.json"], {0}),
               (["--book", "band.db", "--format", "oneroster", "--gradebook", "../plain/gradebook.toml", "-o", "gradebook"], {0, 1})],
    "mark": [(["--book", "band.db", "--exercise", "Lantern Walk", "--player", "Ada", "tone=3"], {0, 1})],
    "plan": [(["--book", "band.db"], {0}), (["--book", "band.db", "-o", "plan.html"], {0}),
             (["--book", "band.db", "-o", "plan.json"], {0})],
}
# Those that others need come first, those that erase last.
FIRST, LAST = ["demo", "book roster", "book player"], ["book forget"]


class Watch:
    """Runs the program under strace and looks at what it did."""

    def __init__(self, program, folder):
        self.program, self.folder, self.wrong, self.runs = program, folder, [], 0
        self.trace = folder / "trace"
        home = folder / "home"
        home.mkdir()
        self.environment = {"PATH": os.environ["PATH"], "HOME": str(home), "LANG": "C.UTF-8"}
        (folder / "kept").mkdir(mode=0o700)
        # What a user's files are like without care: everybody reads them.
        os.umask(0o022)

    def traced(self, words, cwd):
        self.trace.unlink(missing_ok=True)
        return subprocess.run(
            ["strace", "-f", "--seccomp-bpf", "-qq", "-e", "trace=network", "-o", str(self.trace), *words],
            cwd=cwd, env=self.environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=300, check=False)

    def outside(self):
        """Sockets and addresses that are not local, as strace writes them."""
        calls = self.trace.read_text(errors="replace").splitlines() if self.trace.exists() else []
        socket = re.compile(r"\b(?:socket|socketpair)\((?!AF_UNIX|AF_LOCAL)|sa_family=(?!AF_UNIX|AF_LOCAL|AF_UNSPEC)")
        return [call for call in calls if socket.search(call)]

    def run(self, command, words, allowed):
        self.runs += 1
        done = self.traced([self.program, *command.split(), *words], self.folder / "kept")
        name = f"restward {command} {' '.join(words)}"
        if done.returncode not in allowed:
            self.wrong.append(f"{name}: exit status {done.returncode}: {done.stderr.decode(errors='replace')[:300]}")
        self.wrong += [f"{name}: {call}" for call in self.outside()[:3]]
        for text in (done.stdout, done.stderr):
            try:
                text = text.decode()
            except UnicodeDecodeError as error:
                self.wrong.append(f"{name}: no UTF-8: {error}")
                continue
            if found := FORBIDDEN.search(text):
                self.wrong.append(f"{name}: prints {found[0]!r}: {text[max(0, found.start() - 40):found.end() + 40]!r}")
        return done


def commands(program, path=()):
    """Every command that does something, from the help: `book backup`."""
    text = subprocess.run([program, *path, "--help"], text=True, capture_output=True, check=True).stdout
    section = re.search(r"^Commands:\n((?:  .*\n)+)", text, re.MULTILINE)
    if not section:
        return [" ".join(path)]
    names = [name for name in re.findall(r"^  (\w[\w-]*)(?:\s|$)", section[1], re.MULTILINE) if name != "help"]
    return [command for name in names for command in commands(program, (*path, name))]


class Page(html.parser.HTMLParser):
    """What a page has that no name may bring, and nothing may load from elsewhere."""

    def __init__(self):
        super().__init__()
        self.wrong = []

    def handle_starttag(self, tag, attributes):
        if tag in ("script", "iframe", "object", "embed", "base"):
            self.wrong.append(f"<{tag}>")
        for name, value in attributes:
            if name.startswith("on") or (name in ("src", "href", "action") and re.match(r"\s*(?:https?:|//|javascript:)", value or "")):
                self.wrong.append(f"<{tag} {name}={value!r}>")


def files(watch):
    kept, seen = watch.folder / "kept", 0
    for path in sorted(kept.rglob("*")):
        seen += 1
        mode, wanted = path.stat().st_mode & 0o777, 0o700 if path.is_dir() else 0o600
        if mode != wanted:
            watch.wrong.append(f"{path.relative_to(kept)}: rights {mode:o}, not {wanted:o}")
        if path.suffix in (".html", ".svg"):
            page = Page()
            page.feed(path.read_text(encoding="utf-8"))
            watch.wrong += [f"{path.relative_to(kept)}: {what}" for what in page.wrong[:3]]
        if path.suffix == ".csv":
            with open(path, encoding="utf-8", newline="") as file:
                for row in csv.reader(file):
                    watch.wrong += [f"{path.relative_to(kept)}: the cell {cell!r}" for cell in row
                                    if cell.startswith(FORMULA) and not re.fullmatch(r"-?\d+(\.\d+)?", cell)]
        if path.suffix in (".html", ".svg", ".csv", ".json", ".txt") and FORBIDDEN.search(path.read_bytes().decode().replace("\r\n", "\n")):
            watch.wrong.append(f"{path.relative_to(kept)}: control signs")
    return seen


def prepare(watch):
    """Files that the commands read; a book of takes, where the program can make one, and hostile names in it."""
    plain = watch.folder / "plain"
    plain.mkdir()
    names = HOSTILE + ["Tam", "Ada"]
    with open(plain / "players.csv", "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("name", "instrument", "section", "id")] +
                                   [(name, "flute", name[:20], f"={number}") for number, name in enumerate(names)])
    (plain / "stream.json").write_text(json.dumps([[0.0, [144, 60, 90]], [0.5, [128, 60, 0]]]))
    (plain / "gradebook.toml").write_text('category = "Playing"\n[ids]\nclass = "c"\nsession = "s"\nschool = "o"\n')
    help_of_demo = subprocess.run([watch.program, "demo", "--help"], text=True, capture_output=True, check=True).stdout
    if "--book" not in help_of_demo:
        return
    watch.run("demo", ["--book", "band.db"], {0})
    players = subprocess.run([watch.program, "book", "players", "--book", "band.db", "--json"], cwd=watch.folder / "kept",
                             text=True, capture_output=True, check=True)
    for player, name in zip(json.loads(players.stdout)["players"], HOSTILE):
        # A name of the command line cannot hold a zero byte; a name that begins with a hyphen needs the equals sign.
        watch.run("book player", ["--book", "band.db", player["name"], f"--rename={name}"], {0})


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--program", required=True)
    program = str(Path(arguments.parse_args().program).resolve())
    if not shutil.which("strace"):
        print("Skipped: strace is not here. On Debian and Ubuntu: sudo apt install strace")
        sys.exit(3)
    with tempfile.TemporaryDirectory() as folder:
        watch = Watch(program, Path(folder))
        # The watch must see what it looks for.
        control = watch.traced([sys.executable, "-c", "import socket; socket.socket(socket.AF_INET, socket.SOCK_DGRAM)"], folder)
        if control.returncode != 0 or not watch.outside():
            print(f"strace sees nothing here: {control.stderr.decode(errors='replace')[:300]}")
            sys.exit(1)
        prepare(watch)
        found = commands(program)
        watch.wrong += [f"restward {command}: no run of it here; add one to RUNS" for command in found if command not in RUNS]
        order = [*FIRST, *(command for command in found if command not in FIRST + LAST), *LAST]
        for command in order:
            for words, allowed in RUNS.get(command, []):
                watch.run(command, words, allowed)
        seen = files(watch)
        for wrong in watch.wrong:
            print(wrong)
        print(f"{len(found)} commands in {watch.runs} runs: no socket but local ones; {seen} files and folders about children; "
              f"{len(watch.wrong)} things wrong")
        sys.exit(bool(watch.wrong))


if __name__ == "__main__":
    main()
