"""What stands in this folder somebody else can look up; what this project worked out itself stands in ../worked."""

import csv
import datetime
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def rows(name):
    with open(HERE / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


SOURCES = {row["key"]: row for row in rows("sources")}
TABLES = sorted(path.stem for path in HERE.glob("*.csv") if path.stem != "sources")


@pytest.mark.parametrize("name", TABLES)
def test_every_row_names_a_source_that_is_spelled_out(name):
    assert {row["source"] for row in rows(name)} <= set(SOURCES)


@pytest.mark.parametrize("row", SOURCES.values(), ids=lambda row: row["key"])
def test_a_source_says_title_year_place_and_when_it_was_seen(row):
    """What was not seen says from memory; a page that cannot be named says so; a year that is not printed, undated."""
    assert row["title"]
    assert row["year"] == "undated" or any(letter.isdigit() for letter in row["year"]) or "editions" in row["year"]
    assert row["place"]
    assert row["mark"] in {"published", "from memory", "derived"}
    if row["mark"] == "published":
        assert datetime.date.fromisoformat(row["seen"]) <= datetime.date(2026, 11, 29)
    else:
        assert row["seen"] == ""


def test_every_source_is_used():
    assert {row["source"] for name in TABLES for row in rows(name)} == set(SOURCES)
    assert len(SOURCES) == len(rows("sources"))
