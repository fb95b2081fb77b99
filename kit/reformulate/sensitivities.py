"""What one point of each ingredient does to each quantity: the slope in closed form, and one whole point."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import page
from ..balance import QUANTITIES, measures
from ..balance.quantities import in_words
from ..formula import Formula
from ..formula.parts import only_one
from ..words import signed
from .moving import changed, model, variable


@dataclass(frozen=True, eq=False)
class Sensitivities(page.Result):
    """Slopes and whole steps (ingredients, quantities): what one point more of each does to each quantity."""

    formula: Formula = field(repr=False)
    ingredients: tuple[str, ...]  # rows, in words
    quantities: tuple[str, ...]  # columns
    per: tuple[str, ...] = field(repr=False)  # what one point of each row is
    now: np.ndarray = field(repr=False)  # (Q,) the quantities as they stand
    slopes: np.ndarray = field(repr=False)  # (I, Q) per point
    steps: np.ndarray = field(repr=False)  # (I, Q) for one point more
    units: tuple[str, ...] = field(default=(), repr=False)  # of the columns

    @property
    def rows(self) -> list[str]:
        """What one more of each is, in words."""
        return [f"{name}, 1 {per}" for name, per in zip(self.ingredients, self.per, strict=True)]

    def to_frame(self, step: bool = False) -> Any:
        """Return a DataFrame of slopes, or of what one whole point does; rows what moves, columns quantities."""
        values = self.steps if step else self.slopes
        rows = [(row, *own) for row, own in zip(self.rows, values.tolist(), strict=True)]
        return page.frame(["one more", *self.quantities], rows, index=True)

    def largest(self, quantity: str) -> list[tuple[str, float]]:
        """Return [(what, its slope)] for one quantity, the strongest first."""
        column = self.slopes[:, self.quantities.index(quantity)]
        order = np.argsort(-np.abs(column), kind="stable")
        return [(self.ingredients[n], float(column[n])) for n in order if column[n]]

    def sources(self) -> list[str]:
        """Return what the slopes rest on."""
        return ["quotient rule on sums of the composition; the step is measured on the changed formula"]

    def tables(self):
        """Return the table of slopes."""
        rows = [[row, *(signed(v, 3) for v in own)] for row, own in zip(self.rows, self.slopes, strict=True)]
        return [(["one more", *map(in_words, self.quantities)], rows)]


# Hydration first: it is what a baker asks of every ingredient.
USUAL = (
    "hydration",
    "total_hydration",
    "fat",
    "sugars",
    "salt",
    "protein",
    "enrichment_ratio",
    "total_percentage",
    "sugars_per_piece_dough",
    "sugars_per_piece_topping",
    "sweetness_split",
    "sugars_per_piece",
    "energy_per_piece",
)


def sensitivities(
    formula: Formula, names: Iterable[str] | None = None, more: Iterable[str] = ("topping", "piece")
) -> Sensitivities:
    """Return Sensitivities: what one point of each ingredient [% of flour] does to each quantity [its own unit].

    formula: one formula.
    names: quantities of the balance, the usual ones when None.
    more: what else may move, such as "topping sugar" [1 % of its base], or "topping" and "piece" [1 g].
    Returns slopes and whole steps. A second flour is a point in place of the first flour; the first has no row, since
    everything is measured against it.
    Raises UnknownName, FormulaError for many formulas.

    Quotient rule: d(t/b) = (dt - t/b db) / b, exact; the step is the full balance one point on.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 40, "egg": 20, "butter": 15})
    >>> frame = sensitivities(bun, ["total_hydration", "fat"]).to_frame()
    >>> frame.loc["unsalted butter, 1 % of flour"].round(4).to_list()
    [0.1794, 0.8111]
    """
    only_one(formula, "to start from", "choose one of them")
    names = USUAL if names is None else tuple(names)
    flours = [key for key in formula.dough_keys if formula.ingredients[key]["kind"] == "flour"]
    others = [variable(formula, key) for key in formula.dough_keys if key not in flours]
    moving = [variable(formula, key) for key in flours]
    some = (*others, *moving, *(variable(formula, name) for name in more))
    now, found = measures(formula, names), model(formula, some)
    each = [n for n, v in enumerate(some) if v is not (moving[0] if moving else None)]
    first = len(others)
    quantities = [found.at().slope(name) for name in names]
    rows, steps = [], []
    for n in each:
        shift = np.zeros(len(some))
        shift[n] = 1.0
        if some[n].flour:
            shift[first] = -1.0
        rows.append([float(q.by @ shift) for q in quantities])
        there = measures(changed(formula, some, found.now + shift), names)
        steps.append([there[name] - now[name] for name in names])
    return Sensitivities(
        formula,
        tuple(some[n].name + (f" for {some[first].name}" if some[n].flour else "") for n in each),
        names,
        tuple(some[n].unit for n in each),
        np.array(list(now.values())),
        np.array(rows),
        np.array(steps),
        tuple(QUANTITIES[name].unit for name in names),
    )
