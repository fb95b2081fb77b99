"""What a kind of exercise is: how its numbers are drawn, and how the kit works one case of it."""

import functools
import random
from dataclasses import dataclass, field

from ..formula import Formula
from ..tables import ingredients, table
from ..words import figure, listing, without_zeros

PERCENTAGES, HIDDEN, TOPPING = LESSONS = ("percentages", "hidden water and fat", "topping and yield")


@dataclass(frozen=True)
class Case:
    """One worked case: the question, the kit's answer, its steps, and what each misconception would answer."""

    question: str
    answer: float
    steps: tuple
    wrong: dict  # key of misconceptions.csv: the answer it leads to
    bases: dict = field(default_factory=dict)  # base in words: the same thing on that base [%]
    choices: tuple = ()  # words to choose from; the answer is then a position in them
    formula: object = None  # what a picture may draw


@dataclass(frozen=True)
class Kind:
    """A kind of exercise; `solve(**numbers)` is its Case, `numbers(dice, level)` what a learner is shown."""

    key: str
    title: str
    lesson: str
    skill: str
    unit: str
    hint: str
    numbers: object = field(repr=False)
    solve: object = field(repr=False)
    base: str = ""  # what the per cent are of
    ask_base: bool = False  # an answer that does not name its base is not taken
    cautions: tuple = ()  # keys of cautions.csv


KINDS = {}


def kind(title, lesson, skill, unit, hint, numbers, base="", ask_base=False, cautions=()):
    """Return a decorator that enters a solving function among the kinds, under its own name."""

    def enter(solve):
        key = solve.__name__
        KINDS[key] = Kind(key, title, lesson, skill, unit, hint, numbers, solve, base, ask_base, cautions)
        return solve

    return enter


class Dice(random.Random):
    """Numbers that a seed decides, as a bakery writes them."""

    def step(self, low, high, step=1):
        """Return a number from low to high in whole steps."""
        value = low + step * self.randint(0, round((high - low) / step))
        return int(value) if float(value).is_integer() else round(value, 6)

    def bun(self, level):
        """Return the percentages of an enriched dough, richer in lines and finer in steps as the level rises."""
        step = (5, 2, 1)[level - 1]
        lines = {"bread flour": 100, "milk": self.step(25, 35, step), "egg": self.step(10, 24, step)}
        lines |= {"butter": self.step(10, 28, step), "sugar": self.step(10, 22, (2, 1, 0.5)[level - 1])}
        lines |= {"salt": self.step(1.2, 2, 0.2), "fresh yeast": self.step(3, 5, 0.5)}
        if level > 1:
            lines["water"] = self.step(5, 15, 1)
        if level > 2:
            lines["ground cardamom"] = self.step(0.4, 1.2, 0.2)
        return lines


def n(value, digits=4):
    """Return a number as a question or a step shows it.

    >>> n(1200), n(16.50), n(7.61501)
    ('1,200', '16.5', '7.615')
    """
    return without_zeros(figure(value, digits))


def percents(lines):
    """Return lines as a sentence lists them, each with %."""
    return listing(f"{name} {n(value)} %" for name, value in lines.items())


def grams(lines):
    """Return lines as a sentence lists them, each with g."""
    return listing(f"{name} {n(value)} g" for name, value in lines.items())


def adding(values):
    """Return numbers as a sum that can be followed."""
    return " + ".join(n(value) for value in values)


def bun(lines, preferments=None, **more):
    """Return the Formula of what goes into each bowl [g]."""
    return Formula.from_weights("bun", lines, preferments, **more)


@functools.cache
def holds(name, column):
    """Return what 100 g of an ingredient hold of one component [g]."""
    known = ingredients()
    return float(known.column(column)[known.row(known.find(name))])


@functools.cache
def misconceptions(key):
    """Return {key: (words, hint)} of a kind, in the table's order."""
    return {row["key"]: (row["words"], row["hint"]) for row in table("misconceptions").rows if row["kind"] == key}
