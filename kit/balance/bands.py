"""How wide a band is, and that of total hydration: egg by count or scale, the butter's fat, the flour's moisture."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from .. import page
from ..errors import percent
from ..formula import Formula
from ..formula.parts import only_one
from ..formula.scaling import flour_of_batch
from ..tables import COLUMNS, ground, table
from ..units import read_above
from ..words import figure
from .accounts import each_large
from .quantities import measure


def reach(coverage=80.0):
    """Return how many standard deviations a normal band of so much coverage [%] reaches to each side.

    >>> round(reach(95), 2)
    1.96
    """
    return NormalDist().inv_cdf(0.5 + percent("coverage", coverage) / 200)


def spread_of(low, high, log=False):
    """Return the standard deviation, of ln when log, of a spread of which 80 % lie from low to high.

    >>> round(spread_of(8.718, 11.282), 2)
    1.0
    """
    return (math.log(high / low) if log else high - low) / (2 * reach())


@dataclass(frozen=True)
class Band(page.Result):
    """A value with its band, and how much each cause adds to the spread (standard deviations)."""

    value: float
    low: float
    high: float
    coverage: float  # %
    causes: tuple  # (cause, standard deviation, source)
    columns = ("cause", "standard deviation, points", "rests on")

    @property
    def words(self):
        """The value and its band."""
        return f"{figure(self.value)}, {figure(self.coverage, 0)} % band {figure(self.low)} to {figure(self.high)}"

    @property
    def half(self):
        """Half the width of the band."""
        return (self.high - self.low) / 2

    @property
    def grounds(self):
        """What each cause rests on."""
        return {cause: why for cause, _, why in self.causes}

    def frame_rows(self):
        """The causes, largest first."""
        return sorted(self.causes, key=lambda entry: -entry[1])


def hydration_band(formula: Formula, flour: float | str | None = None, coverage: float = 80.0) -> Band:
    """Return the Band of total hydration [% of flour].

    flour [g or any mass, of the batch; else of the formula's own count of pieces, or 1000 g]; coverage [%]. Independent
    spreads of uncertainties.csv add as variances: H = sum p w, so Var H = sum (w dp)^2 + (p dw)^2; the flour's
    moisture m counts as the dough feels it, dH = dm (100 + H) / (100 - m). A normal band: the sum of several
    spreads, the flour's uniform one the widest. Figures that the house measured itself add nothing.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 400, "egg": "3 large eggs", "butter": 150})
    >>> band = hydration_band(bun)
    >>> band.low < band.value < band.high
    True
    """
    only_one(formula, "for its band")
    grams = flour_of_batch(formula) if flour is None else read_above(flour, "mass", "flour", "say how much to make")
    value, ingredients = measure(formula, "total_hydration"), formula.ingredients
    rows = {row.what: row for row in table("uncertainties").rows}
    uniform = {what: ((row.high or 0.0) - (row.low or 0.0)) / math.sqrt(12) for what, row in rows.items()}
    own = dict(zip([row.key for row in ingredients.rows], ingredients.house[:, COLUMNS.index("water")], strict=True))
    drifts = dict.fromkeys(ingredients.of_kind("butter"), "butter fat")
    drifts |= {ingredients.of_kind("milk")[0]: "whole milk fat", "yeast_compressed": "fresh yeast water"}
    causes, weighed, moisture, measured = [], 0.0, 0.0, True
    for key, percentage in zip(formula.dough_keys, formula.dough_percentages.tolist(), strict=True):
        kind, wet = ingredients[key].kind, float(ingredients.column("water")[ingredients.row(key)]) / 100
        if kind == "flour":
            moisture, measured = moisture + wet * percentage, measured and own[key]
            continue
        if kind == "egg" and formula.egg_measured == "counted":
            eggs = percentage * grams / 100 / each_large("egg_whole_fresh")
            each = rows["egg counted"]
            causes.append(("egg by count", wet * each.value * math.sqrt(eggs) * 100 / grams, each))
        else:
            weighed += (wet * uniform["mass weighed"] * 100 / grams) ** 2
        if key in drifts and not own[key]:
            causes.append((drifts[key], percentage / 100 * uniform[drifts[key]], rows[drifts[key]]))
    causes.append(("weighing", math.sqrt(weighed), rows["mass weighed"]))
    if not measured:
        felt = uniform["flour moisture"] * (100 + value) / (100 - moisture)
        causes.append(("flour moisture", felt, rows["flour moisture"]))
    half = reach(coverage) * math.sqrt(sum(deviation**2 for _, deviation, _ in causes))
    told = tuple((cause, deviation, ground(row)) for cause, deviation, row in causes if deviation > 0)
    return Band(value, value - half, value + half, coverage, told)
