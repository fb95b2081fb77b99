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
from .statistics import Difference, paired
from .telling import in_words, repeats_limit, set_aside


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
        if self.difference is None or (self.difference.p is None and self.limit is None):
            return None
        if self.difference.p is None:
            return abs(self.difference.value) > self.limit
        return self.difference.low > 0 or self.difference.high < 0


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
    """Return the Effects of a Plan's bakes on a response.

    values: Trials, {code: value}, or one figure a bake in the plan's order [unit of the field], NaN for a lost bake;
    field: else the plan's. Each whole day gives a difference of means; from four days Student's t gives the 95 %
    interval, below there is their range. Trials also tell what differed though not planned. Raises AmountError,
    TrialError, UnknownName.

    >>> from kit import Formula, plan_trials
    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 560, "butter": 180, "salt": 16})
    >>> plan = plan_trials(bun, {"butter": 25}, days=3)
    >>> print(effects(plan, [47 - 2 * (not b.control) - 0.5 * b.turn for b in plan.bakes])["butter"].words)
    −2.2 mm; from −2.5 to −1.5, 3 days paired; no repeats are given, so how far bakes differ by themselves is not known
    """
    if not hasattr(plan, "contrasts"):
        raise AmountError(must("plan", "a Plan", type(plan).__name__, "make one with kit.plan_trials"))
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
            yield set_aside(what, rows)


def _least(name):
    """Return the standard deviation that an instrument's step alone makes, uniform over the step [unit]."""
    step = 0.0 if response_key(name) in DERIVED else Note.of(name).field.resolution
    return step / math.sqrt(12) if step > 0 else 0.0


def next_change(found, want="higher", limits=None):
    """Return ({factor: level}, reason): what to bake next by the Effects of a plan; ({}, reason) for nothing.

    The thing that moved the answer most beyond its scatter, half a step onwards from its better end, or between where
    limits {factor: (lowest, highest)} leave no room; a proposal to bake, no prediction. Raises UnknownName.
    """
    want = one_of("want", want, ("higher", "lower"))
    factors = {factor.name: factor for factor in found.factors}
    sure = [each for each in found.effects if each.beyond and each.what in factors]
    if not sure:
        return {}, f"Nothing moved {found.what} by more than scatter: keep the formula, or try a wider step."
    most = max(sure, key=lambda each: abs(each.difference.value))
    factor = factors[most.what]
    better = (most.difference.value > 0) == (want == "higher")
    start, end = (factor.low, factor.high) if better else (factor.high, factor.low)
    low, high = (limits or {}).get(most.what, (0.0, math.inf))
    onwards = end + (end - start) / 2
    level = min(max(onwards, low), high)
    where = "half a step onwards" if level == onwards else "onwards as far as the limits go"
    if (level - end) * (end - start) <= 0:
        level, where = (start + end) / 2, "between, since the limits end there"
    return {most.what: round(level, 2)}, (
        f"{capital(most.what)} moved {found.what} most, {most.words}, and {end:.4g} was the {want} end: bake "
        f"{level:.4g} against it in pairs, {where}."
    )
