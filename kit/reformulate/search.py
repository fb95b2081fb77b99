"""The way to what must hold: a linear programme, or one after another where not all is straight.

Each demand on a quotient of two sums is one straight row; what is not straight (a whole piece's sugars, a function of
the caller's) is followed by its slopes, step by step.
"""

import numpy as np
from scipy.optimize import linprog

from ..errors import FormulaError

FLOOR = 1.0  # % of flour or g: below it, a move is measured against this and not against its own small self
GIVES_WAY = 1e-3  # what a move of water counts where a hydration is asked for, so that it goes first
HELD = 1e-5  # how near a quantity must come to what was asked, in its unit
STILL = 1e-7  # points; below it nothing has moved


class Search:
    """One road to a set of rows: a linear programme if all of them are straight, else one after another."""

    STEPS = 40

    def __init__(self, problem, demands, rows, elastic, aim):
        self.model, self.prefer, self.aim, self.elastic = problem.model, problem.prefer, aim, elastic
        self.rows = rows
        variables = self.model.variables
        self.now = self.model.now
        self.least = np.array([v.now if n in problem.frozen else v.least for n, v in enumerate(variables)])
        self.most = np.array([v.now if n in problem.frozen else v.most for n, v in enumerate(variables)])
        self.first = np.array([n in problem.first for n in range(len(variables))], bool)
        self.weight = np.where(self.first, GIVES_WAY, 1.0) / np.maximum(np.abs(self.now), FLOOR)
        self.demands = demands

    def run(self):
        """Return (objective, values), or None."""
        at, radius, kept = self.now, np.inf, None
        for _ in range(self.STEPS):
            rows, straight = self._rows(at)
            found = self._programme(rows, at, radius, self.elastic)
            if found is None and not straight:
                found = self._programme(rows, at, radius, True)  # on the way: as near as this step can come
            straight = straight and self.aim is None and self.prefer != "cheapest"
            if found is None:
                return self._end(kept)
            if straight and np.isinf(radius):
                return self._end((self._off(found), self._worth(found), found))
            step = float(np.max(np.abs(found - at), initial=0.0))
            try:
                new = (self._off(found), self._worth(found), found)
            except FormulaError:  # a dough that a function has no answer for: step less far
                new = None
            if new and (kept is None or self._better(new, kept)):
                kept, at = new, found
            else:
                radius = min(radius, step) / 2
            if step < 1e-8 or radius < 1e-9:
                break
        return self._end(kept)

    def _end(self, kept):
        if kept is None:
            return None
        off, worth, at = kept
        if not self.elastic and off > HELD:
            return None
        return (1e6 * off + worth if self.elastic else worth), at

    @staticmethod
    def _better(new, old):
        if max(new[0], old[0]) > HELD:
            return new[0] < old[0] - 1e-9
        return new[1] < old[1] - 1e-9 or new[0] < old[0] / 2

    def _rows(self, at):
        """Return [(slopes, right side, sense, demand)] in the demand's own unit, and whether all are straight."""
        made, straight = [], True
        for n, what, low, high in self.rows:
            ratio = self.model.pair(what, at)
            straight = straight and ratio.above.straight and ratio.beneath.straight
            scale = ratio.beneath.value or 1.0
            for end, sense in _sides(low, high):
                row = ratio.above + -end * ratio.beneath
                made.append((row.by / scale, (row.by @ at - row.value) / scale, sense, n))
        return made, straight

    def _always(self):
        """Yield (slopes, right side) of what must hold whatever is asked: all flour is 100, and so is a base."""
        formula, variables = self.model.formula, self.model.variables
        flour = np.array([float(v.flour) for v in variables])
        if flour.any():
            yield flour, float(flour @ self.now)
        for part in formula.parts:
            kinds = [
                {formula.ingredients[key]["kind"] for key in v.shares} if v.place == part.name else set()
                for v in variables
            ]
            of_base = np.array([float(bool(k & set(part.base))) for k in kinds])
            if of_base.any():
                yield of_base, float(of_base @ self.now)

    def _programme(self, rows, at, radius, elastic):
        n, m = len(self.now), len(rows)
        if n == 0:  # nothing may move: what is asked holds as it is, or cannot
            return self.now
        low = np.maximum(self.least, at - radius) - self.now
        high = np.minimum(self.most, at + radius) - self.now
        cost = self.weight if self.aim is None and self.prefer != "cheapest" else 1e-7 * self.weight
        price = self._price(at)
        goal = [cost + price, cost - price]
        # the two slacks of each row, in shares of what was asked; a limit is a hundred times dearer to break
        if elastic:
            dear = np.repeat([self._dear(n) for *_, n in rows], 2)
            goal.append(dear)
        slack = np.kron(np.eye(m), [1.0, -1.0]) if elastic else np.zeros((m, 0))
        matrix = np.array([row[0] for row in rows]).reshape(m, n)
        right = np.array([row[1] for row in rows]) - matrix @ self.now
        sense = np.array([{"==": 0, ">=": 1, "<=": -1}[row[2]] for row in rows], int)
        whole = np.hstack([matrix, -matrix, slack])
        fixed = list(self._always())
        extra = np.zeros((len(fixed), whole.shape[1]))
        for k, (by, _) in enumerate(fixed):
            extra[k, : 2 * n] = np.concatenate([by, -by])
        to = np.array([end - by @ self.now for by, end in fixed])
        equal = np.vstack([whole[sense == 0], extra])
        at_most = np.vstack([whole[sense == -1], -whole[sense == 1]])
        up = [(max(a, 0.0), max(b, 0.0)) for a, b in zip(low, high, strict=True)]
        down = [(max(-b, 0.0), max(-a, 0.0)) for a, b in zip(low, high, strict=True)]
        bounds = np.array(up + down + [(0.0, np.inf)] * (2 * m if elastic else 0)).reshape(-1, 2)
        arguments = {
            "A_ub": at_most if len(at_most) else None,
            "b_ub": np.concatenate([right[sense == -1], -right[sense == 1]]) if len(at_most) else None,
            "A_eq": equal if len(equal) else None,
            "b_eq": np.concatenate([right[sense == 0], to]) if len(equal) else None,
        }
        goal = np.concatenate(goal)
        if self.prefer == "fewest" and self.aim is None:
            bounds = self._fewest(goal, arguments, bounds)
            if bounds is None:
                return None
        result = linprog(goal, bounds=bounds, method="highs", **arguments)
        if result.status != 0:
            return None
        values = self.now + result.x[:n] - result.x[n : 2 * n]
        return np.clip(values, self.least, self.most)

    def _fewest(self, goal, arguments, bounds):
        """Return bounds that let only the fewest variables move that will do; None when none do."""
        n = len(self.now)
        wide = np.minimum(bounds[: 2 * n, 1], 1e4)
        switch = np.hstack([np.eye(n), np.eye(n), np.zeros((n, len(goal) - 2 * n)), -np.diag(wide[:n] + wide[n:])])
        padded = {}
        for name in ("A_ub", "A_eq"):
            matrix = arguments[name]
            padded[name] = None if matrix is None else np.hstack([matrix, np.zeros((len(matrix), n))])
        switches = [switch] if padded["A_ub"] is None else [padded["A_ub"], switch]
        rights = [np.zeros(n)] if arguments["b_ub"] is None else [arguments["b_ub"], np.zeros(n)]
        result = linprog(
            np.concatenate([1e-4 * goal[: 2 * n], goal[2 * n :], ~self.first]),
            A_ub=np.vstack(switches),
            b_ub=np.concatenate(rights),
            A_eq=padded["A_eq"],
            b_eq=arguments["b_eq"],
            bounds=np.vstack([bounds, np.tile([0.0, 1.0], (n, 1))]),
            integrality=np.concatenate([np.zeros(len(goal)), np.ones(n)]),
            method="highs",
        )
        if result.status != 0:
            return None
        off = np.tile((result.x[-n:] < 0.5) & ~self.first, 2)
        kept = bounds.copy()
        kept[: 2 * n][off] = 0.0
        return kept

    def _dear(self, n):
        """Return what it costs to give up one unit of a demand."""
        demand = self.demands[n]
        ends = [abs(v) for v in (demand.low, demand.high) if np.isfinite(v)]
        return (1e6 if demand.asked in ("limit", "usual") else 1e4) / max([*ends, FLOOR])

    def _price(self, at):
        if self.aim is None:
            return self.model.quantity("cost_per_piece", at).by if self.prefer == "cheapest" else 0 * self.now
        what, sign = self.aim
        return sign * self.model.quantity(what, at).by

    def _off(self, at):
        """How far the worst demand is off at these values, in its unit; when elastic, all that is given up."""
        off = []
        for n, what, low, high in self.rows:
            value = self.model.quantity(what, at).value
            miss = max(low - value, value - high, 0.0)
            off.append(miss * self._dear(n) if self.elastic else miss)
        return sum(off) if self.elastic else max(off, default=0.0)

    def _worth(self, at):
        """What is to be made small, at these values."""
        moved = np.abs(at - self.now)
        change = float(self.weight @ moved)
        if self.aim is not None:
            return self.aim[1] * self.model.quantity(self.aim[0], at).value
        if self.prefer == "cheapest":
            return self.model.quantity("cost_per_piece", at).value + 1e-7 * change
        return change if self.prefer == "smallest" else float(((moved > STILL) & ~self.first).sum()) + 1e-4 * change


def _sides(low, high):
    """Return [(end, sense)] of a band: one end when it is a target, none where it is open."""
    if low == high:
        return [(low, "==")]
    return [(end, sense) for end, sense in ((low, ">="), (high, "<=")) if np.isfinite(end)]
