"""Figures of matchers that are too slow for every run, or need too much installed: kept in by_hand.json.

Written by `accuracy --by-hand`, read by every other run. The file says when, with which versions, and of which
inputs: a fingerprint that other runs compare with their own.
"""

import collections
import datetime
import importlib.metadata
import json
import pathlib

import placement

FILE = pathlib.Path(__file__).with_name("by_hand.json")


def keep(methods, fingerprint, command):
    """Writes what was measured."""
    rows = {name: {column: dict(takes=tally.takes, notes=tally.notes, failed=tally.failed, seconds=round(seconds, 1),
                                offline=dict(tally.offline),
                                online=[[key, value] for key, value in tally.online.items()])
                   for column, (tally, seconds) in cells.items()} for name, cells in methods.items()}
    versions = {name: importlib.metadata.version(name) for name in ("parangonar", "numpy", "torch")}
    kept = dict(date=datetime.date.today().isoformat(), command=command, versions=versions, inputs=fingerprint, rows=rows)
    beside = FILE.with_suffix(".part")
    beside.write_text(laid_out(kept), encoding="utf-8")
    beside.replace(FILE)


def laid_out(kept):
    """JSON with a line for each matcher."""
    head = [f" {json.dumps(key)}: {json.dumps(value)}" for key, value in kept.items() if key != "rows"]
    rows = [f"  {json.dumps(name)}: {json.dumps(cells)}" for name, cells in kept["rows"].items()]
    return "{\n" + ",\n".join(head) + ',\n "rows": {\n' + ",\n".join(rows) + "\n }\n}\n"


def kept():
    """(name -> column -> (tally, seconds), everything else that was kept); nothing if there is no file."""
    if not FILE.exists():
        return {}, {}
    read = json.loads(FILE.read_text(encoding="utf-8"))
    methods = {}
    for name, cells in read.pop("rows").items():
        methods[name] = {}
        for column, cell in cells.items():
            online = collections.Counter({tuple(key) if isinstance(key, list) else key: value for key, value in cell["online"]})
            tally = placement.Tally(cell["takes"], cell["notes"], cell["failed"],
                                    collections.Counter(cell["offline"]), online)
            methods[name][column] = [tally, cell["seconds"]]
    return methods, read
