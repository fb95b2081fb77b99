"""What one point of each ingredient does to each quantity: the slope in closed form."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from .. import page
from ..balance import QUANTITIES, in_words, quantity_named
from ..formula import Formula
from ..formula.parts import only_one
from ..words import signed
from .moving import model, variable


@dataclass(frozen=True, eq=False)
class Sensitivities(page.Result):
    """Slopes (ingredients, quantities): what one point more of each does to each quantity."""

    formula: Formula = field(repr=False)
    ingredients: tuple[str, ...]  # rows, in words
    quantities: tuple[str, ...]  # columns
    per: tuple[str, ...] = field(repr=False)  # what one point of each row is
    slopes: np.ndarray = field(repr=False)  # (I, Q) per point
    grounds = {"slopes": "quotient rule on sums of the composition"}

    @property
    def columns(self):
        """What one more is of, and the quantities."""
        return ("one more", *self.quantities)

    def frame_rows(self):
        """Return a row an ingredient."""
        named = zip(self.ingredients, self.per, strict=True)
        return [(f"{name}, 1 {per}", *own) for (name, per), own in zip(named, self.slopes.tolist(), strict=True)]

    def tables(self):
        """Return the table of slopes."""
        rows = [[name, *(signed(value, 3) for value in own)] for name, *own in self.frame_rows()]
        return [(["one more", *map(in_words, self.quantities)], rows)]


def sensitivities(
    formula: Formula, names: Iterable[str] | None = None, more: Iterable[str] = ("topping", "piece")
) -> Sensitivities:
    """Return Sensitivities: what one point of each ingredient [% of flour] does to each quantity [its own unit].

    formula: one formula.
    names: quantities of the balance, all when None.
    more: what else may move, such as "topping sugar" [1 % of its base], or "topping" and "piece" [1 g].
    Returns slopes. A second flour is a point in place of the first flour; the first has no row, since
    everything is measured against it.
    Raises UnknownName, FormulaError for many formulas.

    Quotient rule: d(t/b) = (dt - t/b db) / b, exact.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 40, "egg": 20, "butter": 15})
    >>> frame = sensitivities(bun, ["total_hydration", "fat"]).to_frame()
    >>> frame.loc["unsalted butter, 1 % of flour"].round(4).to_list()
    [0.1794, 0.8111]
    """
    only_one(formula, "to start from", "choose one of them")
    names = list(map(quantity_named, QUANTITIES if names is None else names))
    some = [variable(formula, name) for name in (*formula.dough_keys, *more)]
    first = next(n for n, each in enumerate(some) if each.flour)
    point, shifts = model(formula, tuple(some)).at(), np.eye(len(some))
    shifts[:, first] -= [each.flour for each in some]  # flours are 100 together
    slopes = shifts @ np.array([point.slopes(name) for name in names]).T
    rows = [each.name + f" for {some[first].name}" * each.flour for each in some]
    units = [each.unit for each in some]
    for every in (rows, units):
        del every[first]
    return Sensitivities(formula, tuple(rows), tuple(names), tuple(units), np.delete(slopes, first, axis=0))
