"""What a comparison says, case by case; every bake is invented.

Limits by hand: three repeats a step apart have s = the step and two degrees of freedom; Student's t(.975, 2) is 4.303
in any table, so that two single bakes differ by up to 4.303 sqrt 2 s: 6.1 mm of height (42, 43, 44), 3.0 mm of a dent
(step 0.5 mm). More than that is told, more than half of it is perhaps. The sentences: common practice, no source.
"""

import csv
import re
from pathlib import Path

import pytest

from kit.trials import Trial, side_by_side
from kit.trials.statistics import paired
from kit.trials.telling import judge

HERE = Path(__file__).parent
READ = ("oven set", "proof time", "height", "crumb dent day 1", "crumb dent day 2")
NO_REPEATS = ("one bake each", "one pair of repeats")


def rows(name):
    with open(HERE / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CASES = {row["case"]: row["says"] for row in rows("verdict_cases")}


def baked(bun, row):
    changes = {kind: float(row[kind]) for kind in ("butter", "sugar") if row[kind]}
    name, date = f"{row['column']}{row['day']}", f"2025-03-{int(row['day']):02d}"
    trial = Trial.of(name, date, formula=bun.vary(**changes), invented=True)
    for entry in READ:
        trial = trial.with_entry(entry, float(row[entry]) if row[entry] else None)
    return trial.with_entry("planned oven set", float(row["oven planned"]) if row["oven planned"] else None)


def laid_out(bun, case):
    some = [row for row in rows("verdict_bakes") if row["case"] == case]
    columns: dict[str, list] = {}
    for row in some:
        columns.setdefault(row["column"], []).append(baked(bun, row))
    kitchen = [trial for column in columns.values() for trial in column]
    columns.pop("kitchen", None)
    if case not in NO_REPEATS:
        other = bun.vary(egg=20)
        kitchen += [
            Trial.of(f"repeat {n}", f"2025-01-0{n + 1}", formula=other, proof_time=45, height=42 + n,
                     crumb_dent_day_1=7.5 + n / 2, crumb_dent_day_2=5 + n / 2)
            for n in range(3)
        ]  # fmt: skip
    return side_by_side(list(columns.values()), kitchen)


@pytest.mark.parametrize("case", CASES)
def test_what_is_said_first(bun, case):
    assert laid_out(bun, case).words == CASES[case]


@pytest.mark.parametrize("case", CASES)
def test_a_sentence_is_read_in_one_breath(bun, case):
    said = re.split(r"(?<=\.) (?=[A-Z])", laid_out(bun, case).words)
    assert len(said) <= 3
    for sentence in said:
        figures = re.findall(r"(?<![-\w.])\d+(?:\.\d+)?", re.sub(r"day \d", "", sentence))
        assert len(figures) <= 6, sentence
        assert not re.search("degrees of freedom|95 %|±|significant|probab", sentence)


def test_each_column_says_its_own_and_keeps_its_place(bun):
    """C differs in the dent by 4.0 and in the height by 7 mm, D in neither."""
    found = laid_out(bun, "eight bakes")
    tell = dict(zip(found.names, found.sections()[0][1][0][1], strict=True))
    assert tell["A1"] == ""
    assert tell["C3"] == "Softer on day 2 by 4.0 mm and flatter by 7.0 mm"
    assert tell["D4"] == "Nothing you could tell"
    for _, lines in found.sections():
        assert all(len(cells) == 8 for _, cells in lines)
    height = next(cells for label, cells in found.sections()[4][1] if label[0] == "height, mm")
    assert height[:3] == ["43.0", "43.0 (0.0)", "36.0 (−7.0) ▼"]


@pytest.mark.parametrize(
    ("other", "none"),
    [((6, 8, 7, 7), False), ((14, 16, 15, 15), False), ((9, 12, 11, 10), True)],
    ids=["less", "more", "nought lies in it"],
)
def test_an_interval_says_it_may_be_none_only_where_nought_lies_in_it(other, none):
    """Beside 10, 12, 11, 11: 4 less, 4 more, or -1, 0, 0, -1, whose interval ends at +0.4 (t(.975, 3) = 3.18)."""
    told = judge(paired((10, 12, 11, 11), other), "4 days paired", (4, 4), "few repeats", "mm", 1)
    assert told.words.endswith(": it may be none") == none
    assert "95 % interval" in told.words
