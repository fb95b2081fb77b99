"""What a kind of exercise is: how its numbers are drawn, and the arithmetic of one case of it, step by step."""

import ast
import functools
import operator
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ..formula import Formula
from ..tables import ingredients, table
from ..words import figure, without_zeros

DOES = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv}
NAME = re.compile("[a-z_]+")


class Step(NamedTuple):
    """One line of arithmetic: what it finds, from what, in which unit, and the words before and after it."""

    name: str
    formula: str
    unit: str = ""
    words: str = ""
    after: str = ""

    def numbers(self, values, value):
        """Return the formula with the numbers in it, and the value it comes to.

        >>> Step("share", "amount / flour * 100", "%").numbers({"amount": 150, "flour": 1000}, 15)
        '150 / 1,000 x 100 = 15 %'
        """
        left = NAME.sub(lambda name: shown(values[name[0]]), self.formula).replace("*", "x")
        right = f"{shown(value)} {self.unit}".strip()
        return right if left == shown(value) else f"{left} = {right}"

    def line(self, values):
        """Return the step as a whole line of a worked answer."""
        return f"{self.words}: {self.numbers(values, values[self.name])}{self.after}."


def finds(text, after=""):
    """Return a Step written as "name = formula | unit | words".

    >>> finds("share = amount / flour * 100 | % | Butter").words
    'Butter'
    """
    sum_, unit, words = (part.strip() for part in text.split("|"))
    return Step(*sum_.split(" = "), unit, words, after)


def steps(given, *lines):
    """Return the Steps of the lines whose figures there are; one without words is worked and not shown.

    A figure that is 0 is not there, and what is there already is not found again.

    >>> [each.name for each in steps({"scaled": 90, "loss": 0}, "mixed = scaled / loss | g | a", "mixed = scaled | |")]
    ['mixed']
    """
    there, kept = {name for name, value in given.items() if value}, []
    for each in map(finds, lines):
        if each.name not in there and names_in(each.formula) <= there:
            kept.append(each)
            there.add(each.name)
    return tuple(kept)


def values_of(steps, figures, rounded=lambda value: value):
    """Return the figures and what each step comes to, each rounded before the next takes it. Raises KeyError.

    >>> values_of([Step("half", "whole / 2"), Step("rest", "whole - half")], {"whole": 60})["rest"]
    30.0
    """
    values = dict(figures)
    for each in steps:
        values[each.name] = rounded(_value(_read(each.formula), values))
    return values


@functools.cache
def _read(formula):
    return ast.parse(formula, mode="eval").body


def _value(node, values):
    if isinstance(node, ast.BinOp):
        return DOES[type(node.op)](_value(node.left, values), _value(node.right, values))
    return values[node.id] if isinstance(node, ast.Name) else node.value


def names_in(formula):
    """Return the names of the figures that a formula takes."""
    return set(NAME.findall(formula))


@dataclass(frozen=True)
class Case:
    """One worked case: the question, the kit's answer, the figures given by name, and the steps to the answer."""

    question: str
    answer: float = field(repr=False)
    given: dict[str, float] = field(repr=False)
    work: tuple[Step, ...] = field(repr=False)  # the last one finds the answer
    bases: dict[str, float] = field(default_factory=dict, repr=False)  # base in words: the same thing on that base [%]
    choices: tuple[str, ...] = ()  # words to choose from; the answer is then a position in them
    begins: tuple[float, ...] = field(default=(), repr=False)  # from which value on each word after the first holds
    parts: tuple[str, ...] = field(default=(), repr=False)  # figures of which one may be forgotten


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
        words = {name: row[name] for name in ("kind", "title", "lesson", "skill", "unit", "base", "hint")}
        KINDS[row["kind"]] = Kind(**words, ask_base=row["ask_base"] == "yes", numbers=numbers, solve=solve)
        return solve

    return enter


class Dice(random.Random):
    """Numbers that a kind, a seed and a level decide, as a bakery writes them; dough: lines to take [% of flour]."""

    def __init__(self, kind, seed, level, dough=None):
        super().__init__(f"{kind}/{seed}/{level}")
        self.level, self.dough = level, dough

    def step(self, low, high, step=1):
        """Return a number from low to high in whole steps."""
        value = low + step * self.randint(0, round((high - low) / step))
        return int(value) if float(value).is_integer() else round(value, 6)

    def bun(self):
        """Return the percentages of an enriched dough: the one to take, its milk, butter and sugar a little moved."""
        if self.dough:
            moved = {name: max(1, self.dough[name] + self.step(-3, 3)) for name in ("milk", "butter", "sugar")}
            return self.dough | moved
        lines = {"flour": 100, "milk": self.step(40, 58), "butter": self.step(10, 30)}
        return lines | {"sugar": self.step(8, 22), "salt": self.step(1.2, 2, 0.2)}

    def weights(self, flour):
        """Return an enriched dough by weight [g], for so much flour."""
        return {name: round(value * flour / 1000) * 10 for name, value in self.bun().items() if name != "salt"}


def n(value, digits=4):
    """Return a number as a question or a step shows it.

    >>> n(1200), n(16.50), n(7.61501)
    ('1,200', '16.5', '7.615')
    """
    return without_zeros(figure(value, digits))


def shown(value):
    """Return a number to the digits that a step needs: four or five that count.

    >>> shown(1374.62), shown(30.8455), shown(0.81114)
    ('1,374.6', '30.85', '0.8111')
    """
    return n(value, 4 if abs(value) < 1 else max(1, 4 - len(str(int(abs(value))))))


def listed(lines, unit=""):
    """Return lines as a card lists them.

    >>> listed({"flour": 100, "milk": 50})
    'flour 100, milk 50'
    """
    return ", ".join(f"{name} {n(value)}{unit}" for name, value in lines.items())


def named(lines):
    """Return lines by the names that a formula calls them."""
    return {name.replace(" ", "_"): value for name, value in lines.items()}


def shares(lines):
    """Return percentages by the names that a formula calls them; the flour's own is "hundred".

    >>> shares({"flour": 100, "egg yolk": 8})
    {'hundred': 100, 'egg_yolk': 8}
    """
    return {("hundred" if name == "flour" else name): value for name, value in named(lines).items()}


def adding(names):
    """Return the formula that adds up figures.

    >>> adding(["flour", "egg yolk"])
    'flour + egg_yolk'
    """
    return " + ".join(name.replace(" ", "_") for name in names)


def bun(lines, preferments=None, **more):
    """Return the Formula of what goes into each bowl [g]."""
    return Formula.from_weights("bun", lines, preferments, **more)


@functools.cache
def holds(name, column):
    """Return what 100 g of an ingredient hold of one component [g]."""
    known = ingredients()
    return float(known.column(column)[known.row(known.find(name))])
