"""The ABC tunes of music21's corpus, what restward reads in them, and the explanations of differences.

Used by abc_against_music21.py and abc_against_abc2midi.py.
"""
import argparse
import collections
import json
import multiprocessing
import pathlib
import re
import subprocess
import tempfile
import tomllib

import music21

CORPUS = pathlib.Path(music21.__file__).parent / "corpus"

Note = collections.namedtuple("Note", "midi onset value")
Tune = collections.namedtuple("Tune", "name path number text is_unique")


def all_tunes():
    """Every tune, the same on every machine with the same music21."""
    found = []
    for path in sorted(CORPUS.rglob("*.abc")):
        pieces = re.split(r"(?m)^(?=X:)", path.read_bytes().decode())[1:]
        numbers = [re.match(r"X:[ \t]*([^\n%]*)", piece).group(1).strip() for piece in pieces]
        counts = collections.Counter(numbers)
        for place, (number, text) in enumerate(zip(numbers, pieces), 1):
            is_unique = counts[number] == 1 and number != ""
            name = f"{path.relative_to(CORPUS)} {number if is_unique else f'#{place}'}"
            found.append(Tune(name, path, number, text, is_unique))
    return found


def listing(program, tune, folder, part=None):
    """What `restward notes --json` prints for a tune. Of several tunes with one number each is taken out of its book."""
    path, choice = tune.path, ["--tune", tune.number]
    if not tune.is_unique:
        path, choice = pathlib.Path(folder) / f"{abs(hash(tune.name))}.abc", []
        path.write_text(tune.text)
    command = [program, "notes", str(path), "--json", *choice, *(["--part", part] if part else [])]
    result = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if result.returncode:
        raise RuntimeError(result.stderr.strip().replace(f"{path}: ", ""))
    return json.loads(result.stdout)


def music_lines(text, change):
    """The tune up to the empty line that ends it (ABC 2.1, 2.2.1), its lines of music changed by a function."""
    lines, has_key = [], False
    for line in text.split("\n"):
        if has_key and not line.strip():
            break
        has_key = has_key or line.startswith("K:")
        is_field = re.match(r"[A-Za-z]:", line) and not (has_key and re.match(r"[A-Ga-g]:", line))
        if is_field or line.startswith("%"):
            lines.append(line)
        elif has_key:
            lines.append(change(line.split("%")[0]))
    return "".join(line + "\n" for line in lines if line.strip())


class Explained:
    """Reasons for differences: in a TOML file tables with a reason and the tunes that it holds for."""

    def __init__(self, path):
        self.path = path
        self.reasons = {}
        for group in tomllib.loads(path.read_text()).values():
            self.reasons.update((name, group["reason"]) for name in group["tunes"])

    def get(self, name):
        return self.reasons.get(name)


def run(about, script, compare, every, same, least):
    """Compares the tunes of the corpus, asked as the command line says; what to exit with.

    `compare`: a job (program, tune, folder) to (name of the tune, kind of agreement or None, difference in words or None).
    `every`: every so many-th tune, unless told otherwise. `same`: the kinds that are agreement, of which there must be at
    least so large a share. Explanations stand beside the script, in a TOML file of its name.
    """
    arguments = argparse.ArgumentParser(description=about.splitlines()[0])
    arguments.add_argument("--program", required=True, help="the built restward")
    arguments.add_argument("--every", type=int, default=every, help="every so many-th tune (1: all)")
    arguments.add_argument("--only", default="", help="only tunes whose name contains this")
    arguments.add_argument("--show", action="store_true", help="show the differences of explained tunes too")
    arguments = arguments.parse_args()
    explained = Explained(pathlib.Path(script).with_suffix(".toml"))
    tunes = [tune for tune in all_tunes() if arguments.only in tune.name][:: arguments.every]
    kinds, unexplained, stale = collections.Counter(), [], []
    with tempfile.TemporaryDirectory() as folder, multiprocessing.Pool(2) as pool:
        jobs = [(arguments.program, tune, folder) for tune in tunes]
        for name, kind, found in pool.imap(compare, jobs, chunksize=4):
            reason = explained.get(name)
            kinds[kind or ("explained" if reason else "not explained")] += 1
            if kind and reason:
                stale.append(name)
            if not kind and (not reason or arguments.show):
                print(f"{name}: {found[:300]}" + (f"  ({reason})" if reason else ""), flush=True)
            if not kind and not reason:
                unexplained.append(name)
    return finish(kinds, same, least, unexplained, stale, explained)


def finish(kinds, same, least, unexplained, stale, explained):
    """Prints the outcome; the exit status says whether it is good."""
    total = sum(kinds.values())
    for kind, count in kinds.most_common():
        print(f"{count:6}  {kind}")
    share = sum(kinds[kind] for kind in same) / max(total, 1)
    print(f"{total} tunes: {100 * share:.2f} % identical")
    for name in stale:
        print(f"no longer differs, take it out of {explained.path.name}: {name}")
    if unexplained:
        return f"{len(unexplained)} tunes differ without an explanation: {', '.join(unexplained)}"
    if share < least:
        return f"identical are fewer than {100 * least} %"
    return None
