"""Kinds of exercise, misconceptions and tolerances: laws every row keeps. Shape and sums: with the other tables'."""

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from kit.lessons import exercise, exercises
from kit.lessons.asking import tolerance
from kit.lessons.kinds import Dice, drawn, rows_of, worked

TABLES = Path(__file__).parents[2] / "reference_tables"


def read(name):
    with open(TABLES / f"{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXERCISES, MISCONCEPTIONS, TOLERANCES = read("exercises"), read("misconceptions"), read("tolerances")
LEVELS, STEPS = read("exercise_levels"), read("exercise_steps")
# what is made of the rows in twelve exercises of each kind and level: key, and how its words begin
MADE = {
    (kind, each.key, row["words"].partition("{")[0])
    for kind in exercises()
    for level in (1, 2, 3)
    for seed in range(12)
    for each in exercise(kind, seed, level).misconceptions
    for row in MISCONCEPTIONS
    if (row["kind"], row["key"]) == (kind, each.key) and f": {row['words'].partition('{')[0]}" in each.words
}


def test_each_kind_has_its_levels_and_its_steps():
    assert list(dict.fromkeys(row["kind"] for row in LEVELS)) == list(exercises())
    assert list(dict.fromkeys(row["kind"] for row in STEPS)) == list(exercises())
    assert {(row["kind"], row["level"]) for row in LEVELS} == {(kind, level) for kind in exercises() for level in "123"}
    assert [row["kind"] for row in EXERCISES] == list(exercises())
    assert {row["ask_base"] for row in EXERCISES} == {"", "yes"}
    assert all(row["base"] for row in EXERCISES if row["unit"] in ("%", "points"))


# which steps of which kind are taken by the rows of its levels
TAKEN = {
    (kind, each.name, each.formula)
    for kind in exercises()
    for row in rows_of("exercise_levels", kind)
    for each in worked(kind, row.level, drawn(Dice(0), row)).steps
}


@pytest.mark.parametrize("row", STEPS, ids=lambda row: f"{row['kind']}-{row['step']}-{row['formula'][:12]}")
def test_each_step_is_taken_at_some_level_and_is_small_arithmetic(row):
    """A name written wrongly would make a step that is never taken."""
    assert re.fullmatch(r"[a-z_0-9.+*/() {}-]+", row["formula"])
    assert any(
        (kind, name) == (row["kind"], row["step"]) and (formula == row["formula"] or "{" in row["formula"])
        for kind, name, formula in TAKEN
    )
    assert bool(row["unit"]) == bool(row["words"])


@pytest.mark.parametrize("kind", list(exercises()))
def test_a_worked_answer_ends_in_what_is_asked_for_and_shows_all_that_it_lists(kind):
    for row in rows_of("exercise_levels", kind):
        steps = worked(kind, row.level, drawn(Dice(0), row)).steps
        assert steps[-1].name == row.finds.split()[-1]
        assert set(row.finds.split()) <= {each.name for each in steps if each.words}


@pytest.mark.parametrize("row", EXERCISES, ids=lambda row: row["kind"])
def test_title_and_hint_are_plain_words(row):
    """Common practice, no source."""
    assert row["title"][0].islower()
    assert row["hint"][0].isupper() or row["hint"][0].isdigit()
    assert row["hint"][-1] in ".?"
    assert len(row["hint"]) <= 140


def test_each_misconception_of_a_kind_is_told_once_and_each_kind_has_five_or_more():
    """More than one row of a name: one mistake at two levels, whose steps differ."""
    assert max(Counter((row["kind"], row["key"], row["instead"]) for row in MISCONCEPTIONS).values()) == 1
    counts = Counter(row["kind"] for row in MISCONCEPTIONS)
    assert set(counts) == set(exercises())
    assert min(counts.values()) >= 5
    assert sum(counts.values()) >= 120


@pytest.mark.parametrize("row", MISCONCEPTIONS, ids=lambda row: f"{row['kind']}-{row['key']}-{row['instead'][:12]}")
def test_each_misconception_can_be_made_and_its_formula_is_small_arithmetic(row):
    """A name written wrongly would make a row that never applies."""
    assert re.fullmatch(r"[a-z_]+ = [a-z_0-9.+*/() -]+(; [a-z_]+ = [a-z_0-9.+*/() -]+)*", row["instead"])
    assert (row["kind"], row["key"], row["words"].partition("{")[0]) in MADE


@pytest.mark.parametrize("row", MISCONCEPTIONS, ids=lambda row: f"{row['kind']}-{row['key']}")
def test_words_go_on_from_the_line_before_them(row):
    """Common practice, no source: they end the line of numbers, and nothing shouts or scolds."""
    assert row["words"][-1] == "."
    assert not row["words"][0].isupper()
    assert len(row["words"]) <= 140
    assert "!" not in row["words"]
    assert row["key"] == row["key"].lower().replace(" ", "_")


def test_every_unit_that_is_asked_for_has_a_tolerance_and_an_open_last_row():
    asked = {kind.unit for kind in exercises().values() if kind.unit} | {"°F", "lb", "oz"}  # as a teacher asks
    assert {row["unit"] for row in TOLERANCES} == asked
    for unit in asked:
        below = [row["below"] for row in TOLERANCES if row["unit"] == unit]
        assert below[-1] == ""
        assert below[:-1] == sorted(below[:-1], key=float)


def test_marking_rule_of_the_trade():
    """Common practice, no source: the step that is asked for, which a figure rounded once on the way may move."""
    assert tolerance(1505, "g") == (1, 0)
    assert tolerance(6000, "g") == (pytest.approx(3), 0)
    assert tolerance(98.9, "g") == (0.1, 1)
    assert tolerance(5, "g") == (0.05, 1)
    assert tolerance(18, "%") == (0.1, 1)
    assert tolerance(1.39, "%") == (0.02, 2)


@pytest.mark.parametrize("unit", sorted({row["unit"] for row in TOLERANCES}))
def test_what_is_rounded_as_asked_is_still_right(unit):
    """An answer rounded to the decimals that the question asks for lies within the tolerance."""
    for step in range(1, 4000):
        value = step * (1 if unit in ("°C", "°F") else 0.7313)  # whole degrees add up to whole degrees
        off, decimals = tolerance(value, unit)
        assert abs(round(value, decimals) - value) <= off + 1e-9


@pytest.mark.parametrize("unit", ["°C", "°F"])
def test_a_sum_of_whole_degrees_is_right_or_wrong_by_the_degree(unit):
    assert 0 < tolerance(25, unit)[0] < 0.5
