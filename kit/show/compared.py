"""Baseline and variant side by side: every number that the formula panel and its charts show."""

import functools
from dataclasses import dataclass, field

import numpy as np

from ..balance import class_codes, hydration_band, measure, measures, mixing_lines, own_steps, what_moved
from ..balance.accounts import AT, dough_lines, weights
from ..errors import KitError
from ..formula import Formula
from ..process import predict_yield, rise, topping_fit
from .look import thing

SPAN = (-20.0, 40.0)  # points around the baseline that the yield chart looks at
_POINTS = 61


@dataclass(frozen=True, eq=False)
class Compared:
    """A baseline, a variant, and what is shown of them; the same value feeds panels, scripts and stills."""

    baseline: Formula
    variant: Formula
    moving: str  # the kind being moved
    path: tuple  # (butter, sugar) [% of flour] of the steps that led here
    flour: float  # [g] behind pieces and masses
    values: tuple = field(repr=False)  # {quantity: value} of baseline and variant
    water: tuple = field(repr=False)  # {thing: water [% of flour]} of each
    made_of: tuple = field(repr=False)  # {what: % of flour} of each
    made: tuple = field(repr=False)  # Yield of each
    code: int = 0  # the variant's class
    band: object = None
    moved: object = None
    sweep: object = field(default=None, repr=False)  # (points, Yield of the sweep)

    @property
    def names(self):
        """The class names, mildest first."""
        return own_steps()[0]

    @functools.cached_property
    def foreseen(self):
        """{what: (before, after, {cause: change})}: bulk to double [min], cover when baked [%]; worked out when asked.

        Left out where a formula has no yeast or no topping, or never doubles.
        """
        before, after = _foreseen(self.baseline), _foreseen(self.variant)
        found = {}
        if before[0] and after[0] and np.isfinite([before[0].minutes, after[0].minutes]).all():
            causes = dict(after[0].against(before[0]).minutes)
            found["bulk to double, min"] = (before[0].minutes, after[0].minutes, causes)
        if before[1] and after[1]:
            covers = [float(fit.cover("baked")) for fit in (before[1], after[1])]
            found["cover when baked, % of the dome"] = (*covers, {})
        return found


def compare(baseline, variant, moving="butter", path=(), flour=None):
    """Return a Compared of two formulas.

    baseline, variant: one formula each; moving: the kind whose sweep the yield chart shows; path [(butter, sugar) %
    of flour]; flour [g], else that of the baseline's own count of pieces, or 1000 g.
    """
    if flour is None:
        flour = baseline.scale(pieces=baseline.pieces.count).flour if baseline.pieces.count else 1000.0
    values, water, made, yields = zip(*(_side(formula, flour) for formula in (baseline, variant)), strict=True)
    return Compared(
        baseline,
        variant,
        moving,
        tuple(path),
        flour,
        values,
        water,
        made,
        yields,
        int(class_codes(values[1]["fat"], values[1]["sugars"])),
        hydration_band(variant, flour),
        what_moved(baseline, variant),
        sweep(variant, baseline, moving, flour),
    )


@functools.lru_cache(maxsize=8)
def _foreseen(formula):
    """Return (Rise or None, ToppingFit or None) of a formula."""
    found = []
    for foresee in (rise, topping_fit):
        try:
            found.append(foresee(formula))
        except KitError:
            found.append(None)
    return tuple(found)


@functools.lru_cache(maxsize=8)  # the baseline's does not change while the variant moves
def _side(formula, flour):
    values = measures(formula)
    made = predict_yield(formula, flour=flour)
    return values, water_sources(formula), made_of(values), made


def water_sources(formula):
    """Return {thing: water it brings to the dough} [% of flour], in the order milk, egg, water, butter, yeast, rest."""
    lines = dough_lines(formula)
    brought = lines.grams * weights(formula, lines.keys)[:, AT["water_not_flour"]]
    result = dict.fromkeys(("milk", "egg", "water", "fat", "yeast", "rest"), 0.0)
    for key, value in zip(lines.keys, brought.tolist(), strict=True):
        if value:
            name = thing(formula.ingredients[key]["kind"])
            result[name if name in result else "rest"] += value
    return result


def made_of(values):
    """Return what the dough is made of [% of flour]: the four shares of enrichment, water, flour, and the rest."""
    result = {
        "flour": 100.0,
        "water": values["total_hydration"],
        "fat": values["fat"],
        "sugar": values["sugars"],
        "egg": values["egg_solids_not_fat"],
        "milk": values["milk_solids_not_fat"],
    }
    return result | {"rest": max(values["total_percentage"] - sum(result.values()), 0.0)}


def sweep(variant, baseline, kind, flour):
    """Return (points from the baseline, Yield of the variant with that kind swept), or None when it cannot move."""
    start = baseline.of_kind(kind)
    held = variant.of_kind(kind) - variant_final(variant, kind)
    points = np.linspace(*SPAN, _POINTS)
    points = points[points + start >= held - 1e-9]
    if kind == "flour" or not len(points):
        return None
    return points, predict_yield(variant.vary({kind: start + points}), flour=flour)


def variant_final(formula, kind):
    """Return how much of a kind the final dough holds [% of total flour]."""
    final = formula.part("dough")
    lines = zip(final.keys, final.percentages, strict=True)
    return sum((value for key, value in lines if formula.ingredients[key]["kind"] == kind), 0.0)


def map_lines(formula):
    """Return where the method changes over butter and sugar, and the other fat and sugar as weighed [% of flour].

    [(when, ((x, y), (x, y)))]: x and y are butter and sugar [% of flour, as weighed]; two points span the plane.
    """
    as_weighed = measures(formula, ("fat_as_weighed", "sugar_as_weighed"))
    other_fat = as_weighed["fat_as_weighed"] - formula.of_kind("butter")
    other_sugar = as_weighed["sugar_as_weighed"] - formula.of_kind("sugar")
    lines = []
    for what, at, when in mixing_lines():
        x, y = at - other_fat, at - other_sugar
        lines.append((when, ((x, 0), (x, 500)) if what == "fat" else ((0, y), (500, y))))
    return lines, other_fat, other_sugar


def _brings(formula, kind, name):
    """Return what 1 g of a kind, in the mixture the formula has of it, brings to an account [g per g]."""
    lines = zip(formula.dough_keys, formula.dough_percentages.tolist(), strict=True)
    shares = {key: value for key, value in lines if value and formula.ingredients[key]["kind"] == kind}
    shares = shares or {formula.ingredients.of_kind(kind)[0]: 1.0}
    brought = weights(formula, list(shares))[:, AT[name]]
    return float(np.dot(brought, list(shares.values())) / sum(shares.values()))


def class_corners(formula):
    """Return [(butter, sugar)] at which each step of the house's classes after the first begins [% of flour]."""
    _, fat_begins, sugar_begins = own_steps()
    values = measures(formula, ("fat", "sugars"))
    slopes = {
        "butter": _brings(formula, "butter", "fat_not_flour"),
        "sugar": _brings(formula, "sugar", "sugars_not_lactose"),
    }
    butter, sugar = formula.of_kind("butter"), formula.of_kind("sugar")
    return [
        (
            butter + (fat_begins[step] - values["fat"]) / slopes["butter"],
            sugar + (sugar_begins[step] - values["sugars"]) / slopes["sugar"],
        )
        for step in range(1, len(fat_begins))
    ]


def hydration_contours(formula, highest=60.0):
    """Return [(total hydration, ((butter, sugar), (butter, sugar)))] of whole steps over the plane, exact lines.

    Total hydration is linear in butter and sugar, so each contour is a straight line; nearly upright, since sugar
    brings almost no water.
    """
    value = measure(formula, "total_hydration")
    slope = {kind: _brings(formula, kind, "water_not_flour") for kind in ("butter", "sugar")}
    if slope["butter"] <= 0:
        return []
    butter, sugar = formula.of_kind("butter"), formula.of_kind("sugar")

    def at(level, sugar_percentage):
        return butter + (level - value - slope["sugar"] * (sugar_percentage - sugar)) / slope["butter"]

    low = value - butter * slope["butter"]
    levels = np.arange(np.ceil(low), low + highest * slope["butter"])
    return [(float(level), ((at(level, 0.0), 0.0), (at(level, 100.0), 100.0))) for level in levels]
