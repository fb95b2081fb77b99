"""Every kind over many seeds: one answer, told apart from each misconception's, and the same again.

Run alone, `python -m tests.lessons.checking 10000` checks so many seeds of every kind.
"""

import math
import sys

from kit.lessons import exercise, exercises, mark
from kit.lessons.asking import LEVELS, apart
from kit.lessons.marking import RIGHT, WRONG


def faults(task):
    """Return what is wrong with an exercise, in words; empty when nothing is."""
    said = {
        f"answer {task.answer}": not math.isfinite(task.answer) or task.answer <= 0 and not task.choices,
        "answers too close to each other": not apart(task),
        "fewer than three steps, or no hint or question": len(task.steps) < 3
        or not (task.hint and task.question.strip()),
        "not the same again": task.question != exercise(task.kind, task.seed, task.level).question,
        "the right answer is not taken": mark(task, written(task, task.answer)).verdict != RIGHT,
    }
    for key, value, *_ in task.misconceptions:
        got = mark(task, written(task, value))
        said[f"{key} not recognised"] = got.verdict != WRONG or key not in got.misconceptions
    return [fault for fault, found in said.items() if found]


def written(task, value):
    """Return an answer as a learner may write it, with its unit and, where asked, its base."""
    if task.choices:
        return task.choices[int(value)]
    return f"{value:.6f} {task.unit}" + (f" of {task.base}" if task.ask_base else "")


def check(seeds, say=print):
    """Check every kind over so many seeds, spread over the levels; return 1 if anything is wrong, else 0."""
    wrong = False
    for key in exercises():
        first = {}  # seed at which a fault was first found
        for seed in range(seeds):
            for fault in faults(exercise(key, seed, 1 + seed % len(LEVELS))):
                first.setdefault(fault, seed)
        wrong = wrong or bool(first)
        said = "; ".join(f"{fault} (first at seed {seed})" for fault, seed in first.items())
        say(f"{key}: {seeds} seeds, {said or 'nothing wrong'}")
    return int(wrong)


if __name__ == "__main__":
    sys.exit(check(int(sys.argv[1])))
