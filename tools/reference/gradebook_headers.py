#!/usr/bin/env python3
"""Reads the gradebook files of `restward grades --format oneroster` with Python's csv, as a school's system would.

Headers, required fields, vocabulary and dates are those of the OneRoster 1.2 CSV binding (1EdTech; read in the copy of
imsjapan/imsjapan.github.io, `or12.html`). The book is invented (invented_book.py). Exit status 1 if anything disagrees.
"""

import argparse
import csv
import datetime
import subprocess
import sys
import tempfile
from pathlib import Path

import invented_book

HEADERS = {
    "manifest.csv": "propertyName value",
    "categories.csv": "sourcedId status dateLastModified title weight",
    "lineItems.csv": "sourcedId status dateLastModified title description assignDate dueDate classSourcedId "
    "categorySourcedId academicSessionSourcedId resultValueMin resultValueMax schoolSourcedId",
    "results.csv": "sourcedId status dateLastModified lineItemSourcedId studentSourcedId scoreStatus score scoreDate "
    "comment textScore classSourcedId inProgress incomplete late missing",
}
REQUIRED = {
    "manifest.csv": "propertyName value",
    "categories.csv": "sourcedId title",
    "lineItems.csv": "sourcedId title assignDate dueDate classSourcedId categorySourcedId academicSessionSourcedId "
    "schoolSourcedId",
    "results.csv": "sourcedId lineItemSourcedId studentSourcedId scoreStatus scoreDate",
}
STATUS = {"exempt", "fully graded", "not submitted", "partially graded", "submitted"}
DATES = ("assignDate", "dueDate", "scoreDate")
NAMES = ["=cmd()", "@Olek", "Mia <b>", "Zoë, the 2nd", '"Q"', "Ines", "Jun", "Pia", "Sven", "Aiko", "Omar", "Lotte"]


def read(path):
    """The rows, and what is wrong with the file itself."""
    content = path.read_bytes()
    text = content.decode("utf-8")
    wrong = [] if content.count(b"\n") == content.count(b"\r\n") else ["a line does not end with CRLF"]
    rows = list(csv.DictReader(text.splitlines(keepends=True), strict=True))
    header = text.splitlines()[0].split(",")
    if header != HEADERS[path.name].split():
        wrong.append(f"header {header}")
    if not rows:
        wrong.append("no data rows")
    return rows, wrong


def wrong_in(name, row):
    """What is wrong with one row."""
    found = [f"{field} is empty" for field in REQUIRED[name].split() if not row[field]]
    for field in set(DATES) & row.keys():
        if datetime.date.fromisoformat(row[field]).isoformat() != row[field]:
            found.append(f"{field} is {row[field]}")
    if "scoreStatus" in row and row["scoreStatus"] not in STATUS:
        found.append(f"scoreStatus is {row['scoreStatus']}")
    if row.get("score") and not 0 <= float(row["score"]) <= 100:
        found.append(f"score is {row['score']}")
    if any("\r" in cell or "\n" in cell for cell in row.values()):
        found.append("a cell has a line break")
    return found + [f"{cell!r} is a formula" for cell in row.values() if cell.startswith(("=", "+", "-", "@"))]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--program", required=True)
    program = Path(parser.parse_args().program).resolve()
    checked, wrong, tables = 0, [], {}
    with tempfile.TemporaryDirectory() as folder:
        book = invented_book.make(program, folder, 7, NAMES)
        ids, out = Path(folder) / "ids.toml", Path(folder) / "out"
        ids.write_text('[ids]\nclass = "c"\nsession = "t"\nschool = "o"\n')
        command = [program, "grades", "--book", book, "--format", "oneroster", "--gradebook", ids, "-o", out]
        subprocess.run(command, check=True)
        for name in HEADERS:
            tables[name], found = read(out / name)
            wrong += [f"{name}: {what}" for what in found]
            for row in tables[name]:
                checked += 1
                wrong += [f"{name}: {what}" for what in wrong_in(name, row)]
    listed = {name: {row["sourcedId"] for row in tables[f"{name}.csv"]} for name in ("categories", "lineItems")}
    for row in tables["lineItems.csv"]:
        if row["categorySourcedId"] not in listed["categories"] or row["assignDate"] > row["dueDate"]:
            wrong.append(f"lineItems.csv: {row}")
    for row in tables["results.csv"]:
        if row["lineItemSourcedId"] not in listed["lineItems"]:
            wrong.append(f"results.csv: {row}")
    graded = sum(bool(row["score"]) for row in tables["results.csv"])
    if not graded:
        wrong.append("nobody has a grade: this checks too little")
    for what in wrong:
        print(f"WRONG  {what}")
    print(f"{checked} rows read with Python's csv, {graded} with a grade, {len(wrong)} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
