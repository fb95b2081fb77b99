"""How wide a band is, and that of total hydration: egg by count or scale, the butter's fat, the flour's moisture."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from .. import page
from ..errors import AmountError, must, percent
from ..formula.parts import only_one
from ..tables import COLUMNS, ground, table
from ..units import read
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
class Band:
    """A value with its band, and how much each cause adds to the spread (standard deviations)."""

    value: float
    low: float
    high: float
    coverage: float  # %
    causes: tuple  # (cause, standard deviation, source)

    def __str__(self):
        return f"{figure(self.value)}, {figure(self.coverage, 0)} % band {figure(self.low)} to {figure(self.high)}"

    @property
    def half(self):
        """Half the width of the band."""
        return (self.high - self.low) / 2

    def sources(self):
        """Return what the band rests on."""
        return list(dict.fromkeys(entry[2] for entry in self.causes))

    def to_frame(self):
        """Return a DataFrame: cause, standard deviation, source; largest first."""
        rows = sorted(self.causes, key=lambda entry: -entry[1])
        return page.frame(["cause", "standard deviation, points", "rests on"], rows, index=True)


def hydration_band(formula, flour=None, coverage=80.0):
    """Return the Band of total hydration [% of flour].

    flour [g or any mass, of the batch; else of the formula's own count of pieces, or 1000 g]; coverage [%]. Independent
    spreads of uncertainties.csv add as variances: H = sum p w, so Var H = sum (w dp)^2 + (p dw)^2; the flour's
    moisture m counts as the dough feels it, dH = dm (100 + H) / (100 - m). A normal band: the sum of several
    spreads, the flour's uniform one the widest. Figures that the house measured itself add nothing.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 400, "egg": "3 large eggs", "butter": 150})
    >>> band = hydration_band(bun)
    >>> band.low < band.value < band.high
    True
    """
    only_one(formula, "for its band")
    if flour is None:
        flour = formula.scale(pieces=formula.pieces.count).flour if formula.pieces.count else 1000.0
    flour = read(flour, "mass", "flour")
    if not flour > 0:
        raise AmountError(must("flour", "a mass above 0 g", f"{flour:g} g", "say how much to make"))
    value = measure(formula, "total_hydration")
    ingredients = formula.ingredients
    water = ingredients.composition[:, COLUMNS.index("water")]
    spread = {row["what"]: row for row in table("uncertainties").rows}
    causes = []

    def add(cause, deviation, row):
        if deviation > 0:
            causes.append((cause, deviation, ground(row)))

    def measured(key):
        return ingredients.house[ingredients.row(key), COLUMNS.index("water")]

    step = _deviation(spread["mass weighed"])
    weighed = 0.0
    for key, percentage in zip(formula.dough_keys, formula.dough_percentages, strict=True):
        kind, wet = ingredients[key]["kind"], water[ingredients.row(key)] / 100
        if kind == "flour":
            continue
        if kind == "egg" and formula.egg_measured == "counted":
            each = each_large("egg_whole_fresh")
            eggs = percentage * flour / 100 / each
            row = spread["egg counted"]
            add("egg by count", wet * float(row["value"]) * math.sqrt(eggs) * 100 / flour, row)
        else:
            weighed += (wet * step * 100 / flour) ** 2
        for word, cause in (("butter fat", "butter"), ("whole milk fat", "milk"), ("fresh yeast water", "yeast")):
            first = ingredients.of_kind(cause)[0] if cause != "yeast" else "yeast_compressed"
            if (key == first or (cause == "butter" and kind == "butter")) and not measured(key):
                add(word, percentage / 100 * _deviation(spread[word]), spread[word])
    add("weighing", math.sqrt(weighed), spread["mass weighed"])
    flours = [key for key in formula.dough_keys if ingredients[key]["kind"] == "flour"]
    moisture = sum(
        water[ingredients.row(k)] * formula.dough_percentages[formula.dough_keys.index(k)] / 100 for k in flours
    )
    if not all(measured(key) for key in flours):
        felt = (100 + value) / (100 - moisture)
        add("flour moisture", _deviation(spread["flour moisture"]) * felt, spread["flour moisture"])
    total = math.sqrt(sum(deviation**2 for _, deviation, _ in causes))
    half = reach(coverage) * total
    return Band(value, value - half, value + half, coverage, tuple(causes))


def _deviation(row):
    """Standard deviation of a uniform spread: its width / sqrt 12."""
    return (float(row["high"]) - float(row["low"])) / math.sqrt(12)
