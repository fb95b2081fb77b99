"""How long a book of 100,000 trials takes to read, search and save, beside bare SQL and the disk's own sync."""

import datetime
import json
import os
import sqlite3
import time
from dataclasses import replace
from pathlib import Path

import pytest

from kit.trials import Trial, TrialBook, side_by_side
from kit.trials.book import _words_of
from tests.benchmarks.timing import compared

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
FIRST = datetime.date(2015, 1, 1)


@pytest.fixture(scope="module")
def year():
    return TrialBook.read(NOTEBOOKS / "trials" / "crackle_bun_trials.csv", NOTEBOOKS / "formulas").trials()


@pytest.fixture(scope="module")
def filled(tmp_path_factory, year, short):
    """A book of 100,000 trials (short: 2,000): the invented year over and over, under other names and days."""
    count, path = 2_000 if short else 100_000, tmp_path_factory.mktemp("book") / "book.db"
    TrialBook.open(path).close()
    connection = sqlite3.connect(path)
    trials, versions, words = [], [], []
    for n in range(count):
        trial = replace(year[n % len(year)], key=f"{n:032x}", name=f"{year[n % len(year)].name} number{n}",
                        date=FIRST + datetime.timedelta(days=n % 4000), parent="")  # fmt: skip
        document = json.dumps(trial.document(), ensure_ascii=False, separators=(",", ":"))
        print_of = trial.planned_formula.fingerprint
        trials.append((n + 1, trial.key, trial.name, str(trial.date), "", print_of, trial.verdict, 1, ""))
        versions.append((n + 1, 1, "M1", "2025-03-04T12:00:00+00:00", 0, document))
        words.append((n + 1, _words_of(trial)))
        if len(trials) == 2_000:
            for table, rows in (("trials", trials), ("versions", versions)):
                marks = ", ".join("?" * len(rows[0]))
                connection.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
            connection.executemany("INSERT INTO trial_words (rowid, words) VALUES (?, ?)", words)
            connection.commit()
            trials, versions, words = [], [], []
    connection.close()
    with TrialBook.open(path) as book:
        yield book, path, count


@pytest.mark.benchmark
def test_side_by_side_and_search_among_many(filled, short, capsys):
    book, path, count = filled
    rounds = 5 if short else 40
    places = [1 + int(share * (count - 1)) for share in (0.02, 0.21, 0.4, 0.63, 0.8, 0.99)]
    codes = [f"T-{place:03d}" for place in places]
    bare = sqlite3.connect(path)
    six = ("SELECT document FROM versions JOIN trials ON trial = id AND number = current "
           f"WHERE id IN ({', '.join(map(str, places))})")  # fmt: skip
    match = "SELECT rowid FROM trial_words WHERE words MATCH ? ORDER BY rowid DESC LIMIT 200"
    rare, common = f"number{count // 2}", "butter repeat"
    kept = book.trials(codes)
    times = {
        "bare SQL, 6 documents, parsed": lambda: [json.loads(row[0]) for row in bare.execute(six)],
        "book.trials, the same 6": lambda: book.trials(codes),
        "side_by_side of the 6": lambda: side_by_side(kept),
        "both, with the page": lambda: side_by_side(book.trials(codes)).page(),
        "bare FTS5, a rare word": lambda: bare.execute(match, (f'"{rare}"*',)).fetchall(),
        "book.find, a rare word": lambda: book.find(rare),
        "bare FTS5, common words": lambda: bare.execute(match, ('"butter"* "repeat"*',)).fetchall(),
        "book.find, common words": lambda: book.find(common),
        "book.find, since": lambda: book.find(since="2016-01-01"),
        "book.find, words and since": lambda: book.find(common, since="2018-01-01"),
    }
    ways = {what: lambda _, call=call: call() for what, call in times.items()}
    with capsys.disabled():  # on the wall: the disk counts too
        title = f"{count:,} trials, {path.stat().st_size / 1e6:.0f} MB"
        compared(title, ways, rounds, "bare SQL, 6 documents, parsed", time.perf_counter)
    assert [trial.code for trial in kept] == codes
    assert len(book.find(rare)) >= 1
    assert len(book.find(common)) == len(bare.execute(match, ('"butter"* "repeat"*',)).fetchall()) > 20


@pytest.mark.benchmark
def test_a_save_beside_the_disks_own_sync(filled, short, tmp_path, capsys):
    book, path, count = filled
    rounds = 5 if short else 40
    trial = book.trial("T-001")
    size = len(json.dumps(trial.document()))
    entry, numbers = book.entry(trial, by="M1"), iter(range(10**6))

    def sync():
        with open(path.with_name("sync"), "ab") as file:
            file.write(b"x" * size)
            file.flush()
            os.fsync(file.fileno())

    def new():
        book.save(Trial.of(f"new {next(numbers)}", "2025-03-04", height=[42.0]), by="M1")

    ways = {"bare write and sync": sync, "a new trial": new,
            "one more entry": lambda: entry.set("height", [40 + next(numbers) / 1e3])}  # fmt: skip
    ways = {what: lambda _, call=call: call() for what, call in ways.items()}
    with capsys.disabled():
        title = f"saves among {count:,} trials, {size / 1000:.1f} kB each"
        compared(title, ways, rounds, "bare write and sync", time.perf_counter)
    assert len(book.history("T-001", every=True)) == rounds + 1
