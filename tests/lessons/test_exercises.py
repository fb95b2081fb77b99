"""Exercises drawn from seeds: one answer, a realistic one, wrong answers that can be told apart, the same again."""

import csv
import functools
import re
import subprocess
import sys
from pathlib import Path

import pytest

from kit.errors import AmountError, UnknownName
from kit.lessons import asking as asking_module
from kit.lessons import exercise, exercises, mark
from kit.words import kept
from tests.lessons.checking import check, faults, written

SEEDS = 180
HERE = Path(__file__).parent
with open(HERE / "ranges.csv", encoding="utf-8", newline="") as file:
    RANGES = {row["kind"]: row for row in csv.DictReader(file)}
with open(HERE / "hard_limits.csv", encoding="utf-8", newline="") as file:
    HARD = {row["name"]: row for row in csv.DictReader(file)}


@functools.cache
def drawn(kind):
    return [exercise(kind, seed, 1 + seed % 3) for seed in range(SEEDS)]


@pytest.mark.parametrize("kind", list(exercises()))
def test_many_seeds_of_a_kind(kind):
    """ranges.csv and hard_limits.csv: what a small bakery's numbers may be; common practice, no source."""
    low, high = (float(RANGES[kind][end]) for end in ("low", "high"))
    answers = {1: set(), 2: set(), 3: set()}
    for task in drawn(kind):
        assert low <= task.answer <= high, task
        assert len({each.key for each in task.misconceptions}) >= (1 if task.choices else 3), task
        assert len(task.steps) >= 3, task
        assert task.draws <= 100
        lines = task.figures.get("lines", {})
        for name, value in lines.items() if lines.get("flour") == 100 else ():
            name = f"topping {name}" if "icing sugar" in lines else name.replace("flour", "bread flour")
            assert float(HARD[name]["low"]) <= value <= float(HARD[name]["high"]), (name, value)
        answers[task.level].add(task.in_words(task.answer))
    assert task.choices or all(len(each) >= 25 for each in answers.values())


@pytest.mark.parametrize("kind", list(exercises()))
def test_no_known_mistake_is_ever_right_nor_taken_for_another(kind):
    """What an answer half a per cent off let through: loss added, a line left out, losses summed, fat forgotten."""
    for task in drawn(kind):
        for key, value, *_ in task.misconceptions:
            got = mark(task, written(task, value))
            assert got.verdict == "wrong", (task, key)
            assert set(got.misconceptions) == {k for k, v, *_ in task.misconceptions if v == pytest.approx(value)}
            assert not mark(task, task.in_words(value)).right  # rounded as the card rounds


@pytest.mark.parametrize("kind", list(exercises()))
def test_a_question_has_at_most_thirty_five_words(kind):
    """A number with its unit is read as one."""
    for task in drawn(kind):
        assert len(kept(task.question).split(" ")) <= 35, task.question


@pytest.mark.parametrize("kind", list(exercises()))
def test_the_same_seed_gives_the_same_and_another_seed_another(kind):
    for level in (1, 2, 3):
        first, again = exercise(kind, 11, level), exercise(kind, 11, level)
        assert (first.question, first.answer, first.steps) == (again.question, again.answer, again.steps)
        assert {exercise(kind, seed, level).question for seed in range(8)} != {first.question}


@pytest.mark.long
def test_the_same_in_another_process_whatever_its_hash_seed():
    code = "from kit.lessons import *; print([exercise(k, 3, 2).question for k in exercises()])"
    told = {
        subprocess.run(
            [sys.executable, "-c", code], env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(HERE.parents[1])},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert told == {f"{[exercise(kind, 3, 2).question for kind in exercises()]}\n"}


@pytest.mark.parametrize("kind", list(exercises()))
def test_a_question_says_every_number_its_unit_and_its_base(kind):
    """Never an answer without a base: per cent of what?"""
    for seed in range(9):
        task = exercise(kind, seed, 1 + seed % 3)
        assert not re.search(r"nan|inf\b|None|\{|\}|-0\b|\d\.\d{5}", task.question), task.question
        if task.unit in ("%", "points"):
            assert task.base
            assert re.search(r"% of|of flour|in the whole dough|on flour", task.question), task.question
        elif task.unit:
            assert re.search(rf"{re.escape(task.unit)}\b", task.question), task.question
        assert task.steps
        assert task.hint.endswith((".", "?"))


@pytest.mark.parametrize("kind", list(exercises()))
def test_the_steps_end_in_the_answer(kind):
    """The last number that the steps reach is the answer, as far as it is rounded there."""
    for seed in range(30):
        task = exercise(kind, seed, 1 + seed % 3)
        if task.choices:
            assert task.in_words(task.answer) in " ".join(task.steps)
            continue
        said = [float(text.replace(",", "")) for text in re.findall(r"\d[\d,]*\.?\d*", " ".join(task.steps))]
        near = min(abs(value - task.answer) for value in said)
        assert near <= max(task.tolerance, 0.06 if task.unit == "g" else 0.006), (task.answer, task.steps)


def test_numbers_shown_are_the_numbers_answered():
    """The answer follows from what a learner reads, not from digits hidden behind it."""
    for seed in range(60):
        task = exercise("percentage_from_weight", seed, 1 + seed % 2)
        shown = dict(re.findall(r"([a-z]+ flour|flour|milk|butter|sugar) ([\d,]+\d)", task.question))
        grams = {name: float(text.replace(",", "")) for name, text in shown.items()}
        flour = sum(value for name, value in grams.items() if "flour" in name)
        assert task.answer == pytest.approx(100 * grams[task.figures["ingredient"]] / flour, abs=1e-9)


def test_above_level_one_some_doughs_have_two_flours_and_the_first_alone_is_a_named_mistake():
    tasks = [exercise("percentage_from_weight", seed, level) for seed in range(30) for level in (1, 2, 3)]
    two = [task for task in tasks if sum("flour" in name for name in task.figures["lines"]) == 2]
    assert {task.level for task in two} == {2, 3}
    assert len(two) == 60
    for task in tasks:
        assert (task in two) == ("first_flour_only" in {key for key, *_ in task.misconceptions})


def test_an_exchange_is_of_each_kind_and_yeast_goes_both_ways():
    pairs = {(task.figures["out"], task.figures["into"]) for task in drawn("one_exchange")}
    assert pairs == {
        ("butter", "oil"), ("butter", "lard"), ("sugar", "honey"), ("milk", "milk powder"),
        ("fresh yeast", "instant yeast"), ("fresh yeast", "active dry yeast"),
        ("instant yeast", "fresh yeast"), ("active dry yeast", "fresh yeast"),
    }  # fmt: skip
    rises = {tuple(name for name in task.figures if "after" in name) for task in drawn("hold_the_water")}
    assert rises == {("egg_after",), ("butter_after",), ("egg_after", "butter_after")}


@pytest.mark.parametrize("kind", list(exercises()))
def test_a_higher_level_adds_a_thought_and_not_a_digit(kind):
    """More to find on the way, or another rule; the figures told are no finer."""
    levels = [[task for task in drawn(kind) if task.level == level] for level in (1, 2, 3)]
    steps = [max(len(task.steps) for task in tasks) for tasks in levels]
    assert steps == sorted(steps)
    assert steps[0] < steps[2]
    digits = [max(len(part) for task in tasks for part in parted(task)) for tasks in levels]
    assert max(digits) == digits[0] or kind in ("one_exchange", "class_of_dough", "topping_line", "water_temperature")


def parted(task):
    """Return the decimals of every number in a question, what 100 g hold left out."""
    asked = re.sub(r"\(to .*|in 100 g:.*?\. (?=[A-Z])", "", task.question)
    return re.findall(r"\d\.(\d+)", asked) or [""]


def test_there_are_twenty_to_twenty_six_kinds_in_three_lessons_and_no_skill_of_two_lessons_gets_lost():
    kinds = exercises().values()
    assert 20 <= len(kinds) <= 26
    lessons = dict.fromkeys(each.lesson for each in kinds)
    assert list(lessons) == ["percentages", "hidden water and fat", "topping and yield"]
    assert sum(len(exercises(lesson)) for lesson in lessons) == len(kinds)
    assert len({each.title for each in kinds}) == len(kinds)


def test_unknown_kind_lesson_and_level_say_what_there_is():
    with pytest.raises(UnknownName, match="did you mean flour from dough"):
        exercise("flour from dogh", 1)
    with pytest.raises(UnknownName, match="percentages"):
        exercises("percentage")
    with pytest.raises(AmountError, match="1 is the easiest"):
        exercise("flour_from_dough", 1, level=4)


def test_the_check_finds_a_kind_whose_wrong_answers_fall_together(monkeypatch):
    said = []
    assert check(3, said.append) == 0
    assert len(said) == len(exercises())
    assert all(line.endswith("nothing wrong") for line in said)
    monkeypatch.setattr(asking_module, "apart", lambda made: True)  # so that anything drawn is taken
    which, drawn_by = "flour_from_dough", asking_module.drawn
    close = {"lines": {"flour": 100, "milk": 100}, "dough": 3000}
    monkeypatch.setattr(
        asking_module, "drawn", lambda dice, row, dough: close if row.kind == which else drawn_by(dice, row)
    )
    assert "half_is_flour not recognised" in faults(exercise("flour_from_dough", 1))
    assert check(1, said.append) == 1


def test_draws_that_never_stand_apart_are_given_up_with_words(monkeypatch):
    which, drawn_by = "flour_from_dough", asking_module.drawn
    close = {"lines": {"flour": 100, "milk": 100}, "dough": 3000}
    monkeypatch.setattr(
        asking_module, "drawn", lambda dice, row, dough: close if row.kind == which else drawn_by(dice, row)
    )
    with pytest.raises(ValueError, match="500 draws"):
        exercise("flour_from_dough", 1)
