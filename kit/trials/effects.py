"""What planned bakes say: each change against the control, or from low to high, day by day.

Each day gives one difference; from four days on there is an interval, below their range. What differed though nobody
planned it is told as side by side tells it.
"""

import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import AmountError, must
from ..page import Result
from ..words import capital, one_of, plural
from .bakes import DERIVED
from .comparing import described, differed_unplanned, response_key
from .fields import Note
from .records import Trial
from .statistics import Difference, paired, share
from .telling import aside, in_words, repeats_limit


@dataclass(frozen=True)
class Effect:
    """What one change does: its difference over the days, None without a whole day, beside what repeats differ by."""

    what: str
    difference: Difference | None
    limit: float | None  # what the kitchen's repeats differ by; None when it isn't known
    words: str

    @property
    def beyond(self):
        """Whether it is more than scatter: its interval leaves 0 out, or repeats differ by less; None if unknown."""
        far = share(self.difference, self.limit)
        return None if far is None else far > 1


@dataclass(frozen=True, eq=False)
class Effects(Result):
    """What a plan's bakes say of a response."""

    what: str
    unit: str
    digits: int
    effects: tuple
    factors: tuple = field(repr=False)
    notes: tuple  # what differed though not planned

    def __getitem__(self, what):
        """Return an Effect by its name, such as "butter" or "butter × sugar". Raises UnknownName."""
        found = {each.what: each for each in self.effects}
        return found[one_of("effect", what, found)]

    @property
    def columns(self):
        """Change, difference, low and high of its 95 % interval or of the range of the days, days, p."""
        return "change", self.head, "low", "high", "days", "p"

    def frame_rows(self):
        """Return the rows of the frame, one a change."""
        for each in self.effects:
            d = each.difference
            yield each.what, *((None,) * 5 if d is None else (d.value, d.low, d.high, d.n, d.p))

    @property
    def head(self):
        """The response with its unit."""
        return f"{self.what}, {self.unit}" if self.unit else self.what

    @property
    def words(self):
        """What each change did beside scatter, and what else may have done it."""
        moves = {factor.name: factor.moves for factor in self.factors}
        said = (f"{capital(self.what)}, {moves.get(each.what, each.what)}: {each.words}." for each in self.effects)
        return " ".join((*said, *self.notes))

    lead = ""  # the table has the words of each change

    def tables(self):
        """Return what each change did, in words."""
        return [([capital(self.head), ""], [[each.what, each.words] for each in self.effects])]


def effects(plan, values, field=None):
    """Return the Effects of a Plan's bakes on a response; see `Plan.effects`."""
    name = field or plan.field
    what, unit, digits = described(name)
    values = list(values) if np.iterable(values) and not hasattr(values, "items") else values
    measured = plan.values(values, name)
    if np.isnan(measured).all():
        raise AmountError(must("values", "of one bake or more", "none", "bake first"))
    by_day = [{} for _ in range(plan.days)]
    for bake, value in zip(plan.bakes, measured, strict=True):
        if not math.isnan(value):
            by_day[bake.day - 1][bake.levels] = value
    scatter = plan.scatter if name == plan.field else None
    found = tuple(_effect(what, sides, by_day, scatter, _least(name), unit, digits) for what, *sides in plan.contrasts)
    if isinstance(values, list) and any(isinstance(each, Trial) for each in values):
        asides = tuple(_asides(plan, plan.baked(values)))
    else:
        asides = ("Of figures alone it isn't known what else differed: give the trials.",)
    return Effects(what, unit, digits, found, plan.factors, asides)


def _effect(what, sides, by_day, scatter, least, unit, digits):
    whole = [day for day in by_day if all(levels in day for side in sides for levels in side)]
    if not whole:
        return Effect(what, None, None, "not measured on a whole day")
    one, other = ([sum(day[levels] for levels in side) / len(side) for day in whole] for side in sides)
    few = min(map(len, sides))
    difference = paired(one, other, least / math.sqrt(few))
    limit = repeats_limit(scatter, *(len(whole) * len(side) for side in sides))
    left = len(by_day) - len(whole)
    how = f"{plural(len(whole), 'day')} paired" + (f", {plural(left, 'day')} not whole left out" if left else "")
    words = in_words(difference, how, limit, scatter or "no repeats are given", unit, digits)
    return Effect(what, difference, limit, words)


def _asides(plan, baked):
    """Yield what differed though not planned, of each change the two sides against each other."""
    for what, one, other in plan.contrasts:
        sides = [
            [bake for planned, bake in zip(plan.bakes, baked, strict=True) if bake and planned.levels in side]
            for side in (one, other)
        ]
        if all(sides) and (rows := differed_unplanned(sides)):
            yield f"{what}: {aside(rows, 1)}"


def _least(name):
    """Return the standard deviation that an instrument's step alone makes, uniform over the step [unit]."""
    step = 0.0 if response_key(name) in DERIVED else Note.of(name).field.resolution
    return step / math.sqrt(12) if step > 0 else 0.0
