"""What planned bakes say: each change against the control, day by day.

Each day gives one difference; from four days on there is an interval, below their range.
"""

import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import AmountError, must
from ..page import Result
from ..words import capital, one_of, plural
from .bakes import DERIVED
from .comparing import described, response_key, with_unit
from .fields import Note
from .statistics import paired
from .telling import Against, judge


@dataclass(frozen=True, eq=False)
class Effects(Result):
    """What a plan's bakes say of a response."""

    what: str
    unit: str
    effects: dict  # {change: Against the control}
    factors: tuple = field(repr=False)

    columns = ("change", "difference", "low", "high", "days", "p")
    notes = ("Of figures alone it isn't known what else differed: trials laid side by side tell it.",)
    lead = ""  # the table has the words of each change

    def __getitem__(self, what):
        """Return how bakes of a change, such as "butter", differ from the control. Raises UnknownName."""
        return self.effects[one_of("effect", what, self.effects)]

    def frame_rows(self):
        """Return the rows of the frame, one a change."""
        for what, each in self.effects.items():
            d = each.difference
            yield what, *((None,) * 5 if d is None else (d.value, d.low, d.high, d.n, d.p))

    @property
    def words(self):
        """What each change did beside scatter."""
        moves = {factor.name: factor.moves for factor in self.factors}
        said = (f"{capital(self.what)}, {moves.get(what, what)}: {each.words}." for what, each in self.effects.items())
        return " ".join((*said, *self.notes))

    def tables(self):
        """Return what each change did, in words."""
        return [([capital(with_unit(self)), ""], [[what, each.words] for what, each in self.effects.items()])]


def effects(plan, values, field=None):
    """Return the Effects of a Plan's bakes on a response; see `Plan.effects`."""
    name = field or plan.field
    what, unit, digits = described(name)
    measured = plan.values(values)
    if np.isnan(measured).all():
        raise AmountError(must("values", "of one bake or more", "none", "bake first"))
    by_day = [{} for _ in range(plan.days)]
    for bake, value in zip(plan.bakes, measured, strict=True):
        if not math.isnan(value):
            by_day[bake.day - 1][bake.levels] = value
    scatter, step = plan.scatter if name == plan.field else None, 0.0
    if response_key(name) not in DERIVED:
        step = Note.of(name).field.resolution / math.sqrt(12)  # uniform over what the instrument resolves
    found = {}
    for change, levels in plan.contrasts.items():
        whole = [day for day in by_day if plan.control in day and levels in day]
        if not whole:
            found[change] = Against(words="not measured on a whole day")
            continue
        difference = paired([day[plan.control] for day in whole], [day[levels] for day in whole], step)
        many, left = len(whole), plan.days - len(whole)
        how = f"{plural(many, 'day')} paired" + (f", {plural(left, 'day')} not whole left out" if left else "")
        found[change] = judge(difference, how, (many, many), scatter or "no repeats are given", unit, digits)
    return Effects(what, unit, found, plan.factors)
