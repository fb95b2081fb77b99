"""The way to what must hold: a linear programme, or one after another where not all is straight.

Each demand on a quotient of two sums is one straight row; what is not straight (a whole piece's sugars, the time to
double) is followed by its slopes, step by step.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from ..errors import FormulaError
from .moving import COST, Model

FLOOR = 1.0  # % of flour or g: below it, a move is measured against this and not against its own small self
GIVES_WAY = 1e-3  # what a move of water counts where a hydration is asked for, so that it goes first
HELD = 1e-5  # how near a quantity must come to what was asked, in its unit
STILL = 1e-7  # points; below it nothing has moved
_STEPS = 25
_GAIN = 1e-6  # of what is made small; a step that gains less is the last


@dataclass(frozen=True)
class Demand:
    """One thing that must hold: a quantity, or variables by their positions, between two figures."""

    name: str
    unit: str
    low: float
    high: float
    what: str | tuple[int, ...]
    asked: str  # wanted, held, limit, usual
    words: str

    def __str__(self):
        return self.words

    @property
    def sides(self):
        """[(end, 1 for at least, −1 for at most, 0 for a target)], none where it is open."""
        if self.low == self.high:
            return [(self.low, 0)]
        return [(end, sense) for end, sense in ((self.low, 1), (self.high, -1)) if np.isfinite(end)]

    @property
    def dear(self):
        """What it costs to give up one unit of it: a limit is a hundred times dearer to break."""
        ends = [abs(end) for end, _ in self.sides]
        return (1e6 if self.asked in ("limit", "usual") else 1e4) / max([*ends, FLOOR])

    def off(self, value):
        """Return how far a value is off, in its unit."""
        return max(self.low - value, value - self.high, 0.0)


@dataclass(frozen=True, eq=False)
class Problem:
    """What may move, what must hold, and what is preferred."""

    model: Model
    demands: tuple[Demand, ...]
    cheapest: bool = False
    first: tuple = ()  # positions of water, which gives way first
    behind: tuple = ()  # of the liquids that stay while they can

    def reach(self, demands=None, elastic=False, aim=None, some=False):
        """Return the variables' values at which these demands hold, all of them when None; None when none do.

        elastic: give up as little as can be instead. aim: (quantity or positions, sign) to make as small as it
        goes in place of what is preferred. some: any values will do, not the best alone.
        """
        return _Road(self, tuple(self.demands if demands is None else demands), elastic, aim, some).end()

    @property
    def always(self):
        """The slopes of what stays whatever is asked: all flour is 100, and so is what a part is measured on."""
        formula, variables = self.model.formula, self.model.variables
        rows = [[v.flour for v in variables]]
        for part in formula.parts:
            kinds = [{formula.ingredients[key].kind for key in v.shares if v.place == part.name} for v in variables]
            rows.append([not of.isdisjoint(part.base) for of in kinds])
        return [np.array(row, float) for row in rows if any(row)]

    def moved(self, values):
        """Return the sum of |change| / baseline, without the water that goes first."""
        now = self.model.now
        changes = np.abs(values - now) / np.maximum(np.abs(now), FLOOR)
        return float(np.delete(changes, self.first).sum())

    def over(self, variables):
        """Return the same Problem over other bounds of its variables."""
        return replace(self, model=replace(self.model, variables=tuple(variables)))


class _Row(NamedTuple):
    """A demand on the moves, as a linear programme has it."""

    by: np.ndarray  # slopes
    left: float  # how far to go from now
    sense: int  # 1 at least, -1 at most, 0 a target
    dear: float  # what it costs to give up
    straight: bool  # whether it is the same everywhere


class _Road:
    """One road to a set of demands."""

    def __init__(self, problem, demands, elastic, aim, some):
        self.problem, self.model = problem, problem.model
        self.demands, self.elastic, self.some = demands, elastic, some
        self.aim = aim or ((COST, 1) if problem.cheapest and not some else None)
        variables, self.now, self.always = self.model.variables, self.model.now, problem.always
        self.least, self.most = (np.array([getattr(v, end) for v in variables]) for end in ("least", "most"))
        self.weight = 1 / np.maximum(np.abs(self.now), FLOOR)
        self.weight[list(problem.first)] *= GIVES_WAY
        if self.aim:  # what is aimed at counts, moves only break a tie
            self.weight = self.weight * 1e-7

    def end(self):
        """Return the values that it leads to, or None."""
        here, radius, best, near = self.model.at(), np.inf, None, self.elastic
        finest = 1e-7 if not self.aim or self.problem.cheapest else 1e-4
        for _ in range(_STEPS):
            rows, straight = self._rows(here)
            found = self._programme(rows, here, radius, near)
            if found is None and not straight:
                same = [row for row in rows if row.straight]
                if best is None and self._programme(same, here, radius, False) is None:
                    break  # what is the same everywhere cannot hold
                near, finest = True, 1e-3  # on the way: as near as a step can come; what no small one mends cannot be
                found = self._programme(rows, here, radius, near)
            if found is None or (near and not self.elastic and not self._nearer(rows, here.values, found)):
                break
            step = float(np.max(np.abs(found - here.values), initial=0.0))
            there = self.model.at(found)
            try:
                new = (self._off(there), self._worth(there), there)
            except FormulaError:  # a dough that never rises: step less far
                new = None
            if new and (best is None or self._better(new, best)):
                best, here = new, there
            else:
                radius = min(radius, step) / 4
            if (straight and np.isinf(radius)) or step < 1e-8 or radius < finest:
                break
            if self.some and best and best[0] <= HELD:
                break
        return None if best is None or (not self.elastic and best[0] > HELD) else best[2].values

    def _nearer(self, rows, here, there):
        """Whether these rows foresee that what all demands are off, as it is weighed, shrinks from here to there."""
        by, left, sense, dear = (np.array(each) for each in list(zip(*rows, strict=True))[:4])
        off = [by @ (values - self.now) - left for values in (here, there)]
        weighed = [dear @ np.where(sense, np.maximum(-sense * each, 0.0), np.abs(each)) for each in off]
        return weighed[1] < weighed[0] * (1 - 1e-3)

    @staticmethod
    def _better(new, old):
        if max(new[0], old[0]) > HELD:
            return new[0] < old[0] * (1 - 1e-4) - 1e-9
        return new[1] < old[1] - _GAIN * max(abs(old[1]), 1.0) or new[0] < old[0] / 2

    def _rows(self, here):
        """Return the _Rows of the demands here, and whether all is straight."""
        made = []
        for demand in self.demands:
            ratio = here.ratio(demand.what)
            scale = ratio.beneath[0] or 1.0
            for end, sense in demand.sides:
                off, *by = (ratio.above - end * ratio.beneath) / scale
                left = by @ (here.values - self.now) - off
                made.append(_Row(np.array(by), left, sense, demand.dear, ratio.straight))
        return made, all(row.straight for row in made) and (not self.aim or here.ratio(self.aim[0]).linear)

    def _programme(self, rows, here, radius, elastic):
        """Return the values that are best by these rows, within a radius of here; None when there are none."""
        n, m = len(self.now), len(rows)
        if n == 0:  # nothing may move: what is asked holds as it is, or cannot
            return self.now
        low = np.maximum(self.least, here.values - radius) - self.now
        high = np.minimum(self.most, here.values + radius) - self.now
        rows = rows + [_Row(by, 0.0, 0, 0.0, True) for by in self.always]
        by = np.array([row.by for row in rows]).reshape(-1, n)
        left, sense = (np.array([row[k] for row in rows]) for k in (1, 2))
        if (sense == 0).sum() == n == len(rows) and not elastic and np.linalg.matrix_rank(by) == n:
            there = np.linalg.solve(by, left)  # as many targets as may move: nothing is left to choose
            within = np.all((low - STILL <= there) & (there <= high + STILL))
            return np.clip(self.now + there, self.least, self.most) if within else None
        # a move is up or down, neither below 0; a row that may be given up has two slacks
        slack = np.kron(np.eye(len(by), m), [1.0, -1.0]) if elastic else np.zeros((len(by), 0))
        whole = np.hstack([by, -by, slack])
        price = self.aim[1] * here.slopes(self.aim[0]) if self.aim else 0.0
        dear = np.repeat([row.dear for row in rows[:m]], 2) if elastic else np.zeros(0)
        result = milp(  # of no whole numbers: the shortest way to HiGHS
            np.concatenate([self.weight + price, self.weight - price, dear]),
            constraints=LinearConstraint(whole, np.where(sense < 0, -np.inf, left), np.where(sense > 0, np.inf, left)),
            bounds=Bounds(
                np.concatenate([low.clip(0), (-high).clip(0), 0 * dear]),
                np.concatenate([high.clip(0), (-low).clip(0), np.inf + dear]),
            ),
        )
        if result.status != 0:
            return None
        return np.clip(self.now + result.x[:n] - result.x[n : 2 * n], self.least, self.most)

    def _off(self, there):
        """How far the worst demand is off, in its unit; when elastic, what is given up costs, all together."""
        off = [each.off(there.value(each.what)) * (each.dear if self.elastic else 1.0) for each in self.demands]
        return sum(off) if self.elastic else max(off, default=0.0)

    def _worth(self, there):
        """What is to be made small."""
        change = float(self.weight @ np.abs(there.values - self.now))
        return self.aim[1] * there.value(self.aim[0]) + change if self.aim else change
