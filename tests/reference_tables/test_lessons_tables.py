"""Kinds of exercise, misconceptions and tolerances: laws every row keeps. Shape and sums: with the other tables'."""

import csv
from collections import Counter
from pathlib import Path

import pytest

from kit.lessons import exercises
from kit.lessons.asking import tolerance
from kit.lessons.kinds import KINDS

TABLES = Path(__file__).parents[2] / "reference_tables"


def read(name):
    with open(TABLES / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXERCISES, MISCONCEPTIONS, TOLERANCES = read("exercises"), read("misconceptions"), read("tolerances")


def test_each_row_of_a_kind_has_its_function_and_each_function_its_row():
    assert [row["kind"] for row in EXERCISES] == list(exercises())
    assert set(KINDS) == set(exercises())
    assert {row["ask_base"] for row in EXERCISES} == {"", "yes"}
    assert all(row["base"] for row in EXERCISES if row["unit"] in ("%", "points"))
    assert {key for row in EXERCISES for key in row["cautions"].split()} <= {row["key"] for row in read("cautions")}


@pytest.mark.parametrize("row", EXERCISES, ids=lambda row: row["kind"])
def test_title_and_hint_are_plain_words(row):
    """Common practice, no source."""
    assert row["title"][0].islower()
    assert row["hint"][0].isupper() or row["hint"][0].isdigit()
    assert row["hint"][-1] in ".?"
    assert len(row["hint"]) <= 140


def test_each_misconception_of_a_kind_is_told_once_and_each_kind_has_one():
    assert max(Counter((row["kind"], row["key"]) for row in MISCONCEPTIONS).values()) == 1
    assert {row["kind"] for row in MISCONCEPTIONS} == set(exercises())


@pytest.mark.parametrize("row", MISCONCEPTIONS, ids=lambda row: f"{row['kind']}-{row['key']}")
def test_words_and_hint_are_plain_sentences(row):
    """Common practice, no source: whole sentences, and nothing that shouts or scolds."""
    for column in ("words", "hint"):
        text = row[column]
        assert text[0].isupper()
        assert text[-1] in ".?"
        assert len(text) <= 140
        assert "!" not in text
    assert row["key"] == row["key"].lower().replace(" ", "_")


def test_every_unit_that_is_asked_for_has_a_tolerance_and_an_open_last_row():
    asked = {kind.unit for kind in exercises().values() if kind.unit} | {"°F"}
    assert {row["unit"] for row in TOLERANCES} == asked
    for unit in asked:
        below = [row["below"] for row in TOLERANCES if row["unit"] == unit]
        assert below[-1] == ""
        assert below[:-1] == sorted(below[:-1], key=float)


def test_marking_rule_of_the_trade():
    """Common practice, no source: half a per cent of the answer, or the step of the scale where that is more."""
    assert tolerance(1505, "g") == (pytest.approx(7.525), 0)
    assert tolerance(98.9, "g") == (pytest.approx(0.4945), 1)
    assert tolerance(5, "g") == (0.1, 1)
    assert tolerance(18, "%") == (pytest.approx(0.09), 1)
    assert tolerance(1.39, "%") == (0.02, 2)


@pytest.mark.parametrize("unit", sorted({row["unit"] for row in TOLERANCES}))
def test_what_is_rounded_as_asked_is_still_right(unit):
    """An answer rounded to the decimals that the question asks for lies within the tolerance."""
    for step in range(1, 4000):
        value = step * 0.7313
        off, decimals = tolerance(value, unit)
        assert abs(round(value, decimals) - value) <= off


def test_degrees_allow_the_same_on_both_scales():
    """1 degC is 1.8 degF (SI brochure, NIST Handbook 44)."""
    assert tolerance(75, "°F")[0] == pytest.approx(1.8 * tolerance(24, "°C")[0])
