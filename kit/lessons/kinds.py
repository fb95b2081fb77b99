"""What a kind of exercise is: how its numbers are drawn, and how the kit works one case of it."""

import functools
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ..formula import Formula
from ..tables import ingredients, table
from ..words import figure, listing, without_zeros


@dataclass(frozen=True)
class Case:
    """One worked case: the question, the kit's answer, its steps, and what each misconception would answer."""

    question: str
    answer: float = field(repr=False)
    steps: tuple[str, ...] = field(repr=False)
    wrong: dict[str, float] = field(repr=False)  # key of misconceptions.csv: the answer it leads to
    bases: dict[str, float] = field(default_factory=dict, repr=False)  # base in words: the same thing on that base [%]
    choices: tuple[str, ...] = ()  # words to choose from; the answer is then a position in them


@dataclass(frozen=True)
class Kind:
    """A row of exercises.csv with the functions of its name: `solve(**numbers(dice))` is its Case."""

    kind: str
    title: str
    lesson: str
    skill: str
    unit: str  # blank where a word is asked for
    base: str  # what the per cent are of
    ask_base: bool  # an answer that does not name its base is not taken
    cautions: tuple[str, ...]  # keys of cautions.csv
    hint: str = field(repr=False)
    numbers: Callable[..., Any] = field(repr=False)
    solve: Callable[..., Any] = field(repr=False)


ROWS = {row["kind"]: row for row in table("exercises").rows}
LESSONS = tuple(dict.fromkeys(row["lesson"] for row in ROWS.values()))
KINDS: dict[str, Kind] = {}


def kind(numbers):
    """Return a decorator that enters a solving function among the kinds, under its own name.

    numbers(dice) draws what the function takes; the words of the kind stand in exercises.csv.
    """

    def enter(solve):
        row = ROWS[solve.__name__]
        words = {name: row[name] for name in ("title", "lesson", "skill", "unit", "base", "hint")}
        asks, cautions = row["ask_base"] == "yes", tuple(row["cautions"].split())
        KINDS[row["kind"]] = Kind(row["kind"], **words, ask_base=asks, cautions=cautions, numbers=numbers, solve=solve)
        return solve

    return enter


class Dice(random.Random):
    """Numbers that a kind, a seed and a level decide, as a bakery writes them."""

    def __init__(self, kind, seed, level):
        super().__init__(f"{kind}/{seed}/{level}")
        self.level = level

    def step(self, low, high, *steps):
        """Return a number from low to high in whole steps: 1, or one step a level, the last for those above too."""
        step = steps[min(self.level, len(steps)) - 1] if steps else 1
        value = low + step * self.randint(0, round((high - low) / step))
        return int(value) if float(value).is_integer() else round(value, 6)

    def bun(self):
        """Return the percentages of an enriched dough, richer in lines and finer in steps as the level rises."""
        lines = {"bread flour": 100, "milk": self.step(25, 35, 5, 2, 1), "egg": self.step(10, 24, 5, 2, 1)}
        lines |= {"butter": self.step(10, 28, 5, 2, 1), "sugar": self.step(10, 22, 2, 1, 0.5)}
        lines |= {"salt": self.step(1.2, 2, 0.2), "fresh yeast": self.step(3, 5, 0.5)}
        if self.level > 1:
            lines["water"] = self.step(5, 15)
        if self.level > 2:
            lines["ground cardamom"] = self.step(0.4, 1.2, 0.2)
        return lines


def n(value, digits=4):
    """Return a number as a question or a step shows it.

    >>> n(1200), n(16.50), n(7.61501)
    ('1,200', '16.5', '7.615')
    """
    return without_zeros(figure(value, digits))


def listed(lines, unit="%"):
    """Return lines as a sentence lists them, each with its unit."""
    return listing(f"{name} {n(value)} {unit}" for name, value in lines.items())


def adding(values, digits=4):
    """Return numbers as a sum that can be followed, with what it comes to.

    >>> adding([100, 62.5])
    '100 + 62.5 = 162.5'
    """
    values = list(values)
    return f"{' + '.join(n(value, digits) for value in values)} = {n(sum(values), digits)}"


def bun(lines, preferments=None, **more):
    """Return the Formula of what goes into each bowl [g]."""
    return Formula.from_weights("bun", lines, preferments, **more)


@functools.cache
def holds(name, column):
    """Return what 100 g of an ingredient hold of one component [g]."""
    known = ingredients()
    return float(known.column(column)[known.row(known.find(name))])
