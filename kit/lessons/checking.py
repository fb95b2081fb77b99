"""Every kind over many seeds: one answer, told apart from each misconception's, and the same again."""

import math

from ..units import read
from .asking import LEVELS, apart, exercise, exercises
from .marking import RIGHT, WRONG, mark


def faults(task):
    """Return what is wrong with an exercise, in words; empty when nothing is."""
    found = []
    if not math.isfinite(task.answer) or task.answer <= 0 and not task.choices:
        found.append(f"answer {task.answer}")
    if not apart(task):
        found.append("answers too close to each other")
    if not task.steps or not task.hint or not task.question.strip():
        found.append("no steps, hint or question")
    if task.question != exercise(task.kind, task.seed, task.level).question:
        found.append("not the same again")
    if mark(task, written(task, task.answer)).verdict != RIGHT:
        found.append("the right answer is not taken")
    for key, value, *_ in task.misconceptions:
        got = mark(task, written(task, value))
        if (got.verdict, got.misconception) != (WRONG, key):
            found.append(f"{key} not recognised")
    return found


def written(task, value):
    """Return an answer as a learner may write it, with its unit and, where asked, its base."""
    if task.choices:
        return task.choices[int(value)]
    if task.unit == "lb and oz":
        return f"{value / read('1 oz', 'mass'):.4f} oz"
    return f"{value:.6f} {task.unit}" + (f" of {task.base}" if task.ask_base else "")


def check(seeds, say=print):
    """Check every kind over so many seeds, spread over the levels; return 1 if anything is wrong, else 0."""
    wrong = 0
    for key in exercises():
        found = {}
        for seed in range(seeds):
            for fault in faults(exercise(key, seed, LEVELS[seed % len(LEVELS)])):
                found.setdefault(fault, seed)
        wrong += bool(found)
        said = "; ".join(f"{fault} (first at seed {seed})" for fault, seed in found.items())
        say(f"{key}: {seeds} seeds, {said or 'nothing wrong'}")
    return int(wrong > 0)
