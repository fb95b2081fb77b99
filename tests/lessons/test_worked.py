"""Each kind's steps against cases worked in print or by hand, arithmetic and source in worked.csv."""

import csv
import json
import re
from collections import Counter
from pathlib import Path

import pytest

from kit.formula import Formula
from kit.lessons import exercise, mark
from kit.lessons.asking import build
from kit.lessons.kinds import KINDS
from kit.lessons.steps import value_of
from kit.reformulate import substitute

with open(Path(__file__).parent / "worked.csv", encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def case(row):
    return build(KINDS[row["kind"]], json.loads(row["inputs"]), level=int(row["level"]))


def half_a_digit(text):
    """Half of the last digit written: what rounding may have done to it."""
    return 0.5 * 10 ** -len(text.partition(".")[2]) + 1e-9


def agrees(value, text, choices):
    if choices:
        return choices[int(value)] == text
    return abs(value - float(text)) <= half_a_digit(text)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['kind']}-{row['answer']}")
def test_answer_is_as_worked(row):
    worked = case(row)
    assert agrees(worked.answer, row["answer"], worked.choices), worked.answer


WRONG = [row for row in ROWS if row["wrong_key"]]


@pytest.mark.parametrize("row", WRONG, ids=lambda row: f"{row['kind']}-{row['wrong_key']}")
def test_misconception_gives_the_usual_wrong_answer(row):
    """Common practice, no source: the wrong answers of apprentices, worked by hand."""
    worked = case(row)
    wrong = [value for key, value, *_ in worked.misconceptions if key == row["wrong_key"]]
    assert any(agrees(value, row["wrong_answer"], worked.choices) for value in wrong), worked.misconceptions


def test_water_that_comes_in_is_the_water_that_goes_out():
    """By hand: 12 points of egg bring 12 x 76.15 / 100 = 9.14 (USDA SR28), and tap water is all water."""
    steps = build(KINDS["hold_the_water"], {"egg_before": 10, "egg_after": 22, "poured": 15}).steps
    assert steps[1] == "Water of that egg: 12 x 76.15 / 100 = 9.138 points."
    assert steps[2] == "Water now: 15 - 9.138 = 5.862 %."


def test_every_kind_has_three_cases_or_more_and_a_usual_wrong_answer():
    counts = Counter(row["kind"] for row in ROWS)
    assert set(counts) == set(KINDS)
    assert min(counts.values()) >= 3
    without = {kind for kind in KINDS if kind not in {row["kind"] for row in WRONG}}
    assert without == set()
    assert all(row["source"] for row in ROWS)


@pytest.mark.parametrize("row", WRONG, ids=lambda row: f"{row['kind']}-{row['wrong_key']}")
def test_the_usual_wrong_answer_is_named(row):
    task = case(row)
    wrong = next(value for key, value, *_ in task.misconceptions if key == row["wrong_key"])
    text = f"{wrong:.9f} {task.unit}"
    if task.choices:
        text = task.choices[int(wrong)]
    if task.ask_base:
        text += f" of {task.base}"
    got = mark(task, text)
    assert not got.right
    assert row["wrong_key"] in got.misconceptions


@pytest.mark.parametrize(
    ("amount", "out", "into", "within"),
    [
        (150, "butter", "oil", 1e-9),
        (240, "butter", "lard", 1e-9),
        (40, "fresh yeast", "instant yeast", 1e-9),
        (40, "fresh yeast", "active dry yeast", 1e-9),
        # the lesson matches dry substance, the kit the sugars in it, which are 82.12 of 82.90 g
        (120, "sugar", "honey", 0.01),
        # the kit also counts the solids in the butter that makes up the fat
        (300, "milk", "milk powder", 0.006),
    ],
)
def test_exchanges_agree_with_the_kits_own_substitutions(amount, out, into, within):
    lines = {"bread flour": 1000, "water": 400, "milk": 300, "butter": 240, "sugar": 120, "fresh yeast": 40}
    lines[out] = amount
    swapped = substitute(Formula.from_weights("bun", lines), out, into).formula
    key = swapped.ingredients.find(into)
    brought = 10 * swapped.dough_percentages[swapped.dough_keys.index(key)]
    assert build(KINDS["one_exchange"], {"amount": amount, "out": out, "into": into}).answer == pytest.approx(
        brought, rel=within
    )


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_line_comes_to_what_it_shows(kind):
    """Arithmetic: the figures on the left, as they are written, come to the one on the right, to its last digit."""
    lines = 0
    for seed in range(45):
        for line in exercise(kind, seed, 1 + seed % 3).steps:
            if found := re.search(r": (.+) = ([\d.,]+\d)", line):
                left, right = (text.replace(",", "").replace(" x ", " * ") for text in found.groups())
                assert abs(value_of(left, {}) - float(right)) <= half_a_digit(right), line
                lines += 1
    assert lines >= 45
