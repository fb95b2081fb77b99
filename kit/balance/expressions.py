"""A quantity written down once, as an expression over sums, masses and numbers, for all who read it.

A reader says what a sum, a piece's mass and what is kept are to it: a number, many, a `Change`, or a number with its
slopes; the expression adds, multiplies and divides them.
"""

import functools
import operator
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

PIECE_PARTS = ("dough", "topping", "filling", "wash")


@dataclass(frozen=True, eq=False)
class Expression:
    """What is reckoned of a sum over lines, the mass of a part of a piece, or the share of it kept, joined by signs."""

    read: Callable[[Any], Any]  # of a reader, by its `sum(lines, account)`, `piece(part)`, `kept(part)` and `divide`
    sums: tuple = ()  # it rests on: (lines, account) in the order they are written

    def __add__(self, other):
        return Expression(lambda reader: self.read(reader) + other.read(reader), self.sums + other.sums)

    def __mul__(self, other):
        return Expression(lambda reader: self.read(reader) * other.read(reader), self.sums + other.sums)

    def __rmul__(self, number):
        return Expression(lambda reader: number * self.read(reader), self.sums)

    def __truediv__(self, other):
        return Expression(lambda reader: reader.divide(self.read(reader), other.read(reader)), self.sums + other.sums)


def sum_over(lines, account):
    """Return the sum of an account over the dough, over it as "divided", or over all parts of one kind."""
    return Expression(lambda reader: reader.sum(lines, account), ((lines, account),))


def piece(part):
    """Return the mass of a part on one raw piece [g]; nothing where the formula has no such part."""
    return Expression(lambda reader: reader.piece(part))


def kept(part):
    """Return the share of a part mixed that reaches the scale [g per g]."""
    return Expression(lambda reader: reader.kept(part))


def together(expressions):
    """Return the sum of several expressions."""
    return functools.reduce(operator.add, expressions)


def on_piece(account, *parts):
    """Return what these parts bring to an account on one raw piece [g]; the dough as it is divided."""
    lines = {part: "divided" if part == "dough" else part for part in parts}
    return together(piece(part) * (sum_over(over, account) / sum_over(over, "mass")) for part, over in lines.items())


@dataclass(frozen=True, eq=False)
class Change:
    """A number before and after, and what each cause did to it; sums, products and quotients keep that exact."""

    before: float
    after: float
    by: np.ndarray  # (causes,)

    @property
    def change(self):
        """The difference."""
        return self.after - self.before

    def __add__(self, other):
        return Change(self.before + other.before, self.after + other.after, self.by + other.by)

    def __mul__(self, other):
        # d(ab) = da (b0 + b1) / 2 + db (a0 + a1) / 2, exact for any step
        by = self.by * ((other.before + other.after) / 2) + other.by * ((self.before + self.after) / 2)
        return Change(self.before * other.before, self.after * other.after, by)

    def __rmul__(self, number):
        return Change(self.before * number, self.after * number, self.by * number)

    def __truediv__(self, other):
        # 1/b1 - 1/b0 = -(b1 - b0) / (b0 b1), exact for any step
        if other.before == 0 or other.after == 0:  # nothing to divide on one side: what brought it caused it all
            first, second = (a / b if b else 0.0 for a, b in ((self.before, other.before), (self.after, other.after)))
            return Change(first, second, other.by * ((second - first) / (other.change or 1.0)))
        return self * Change(1 / other.before, 1 / other.after, -other.by / (other.before * other.after))
