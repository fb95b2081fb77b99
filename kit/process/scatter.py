"""How baked pieces scatter about what was scaled, and what to scale so that they weigh what the kitchen wishes."""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..balance.bands import reach, spread_of
from ..errors import AmountError, must
from ..formula.parts import only_one
from ..page import Result
from ..units import read, read_above
from ..words import figure
from .calibration import Calibration


@dataclass(frozen=True, eq=False)
class ScalingScatter(Result):
    """How baked pieces scatter: mean and standard deviations [g baked], floats or arrays.

    Dividing scatters from piece to piece; the loss is one for the whole bake and moves all pieces together.
    """

    piece: Any  # raw dough [g]
    baked: Any  # mean of a baked piece [g]
    dough: Any  # from dividing the dough [g]
    topping: Any  # from dividing the topping [g]
    loss: Any  # from what the oven takes [g]
    lighter: Any  # the same of the side on which it takes more [g]
    kept: Any  # baked for 1 g of raw dough [g per g]
    loss_spread: Any  # of it where the oven takes more [g per g of raw dough]
    grounds: dict = field(repr=False)

    @property
    def within(self):
        """Standard deviation from piece to piece within a bake [g]."""
        return np.hypot(self.dough, self.topping)


def scatter_of(made, dough=None, topping=None, coverage=80.0):
    """Return the ScalingScatter of a Yield; arguments as in `Yield.scatter`."""
    calibration, formula = made.calibration or Calibration(), made.formula
    masses = {"dough": formula.pieces.dough, "topping": formula.pieces.topping if formula.has("topping") else 0.0}
    hands, loss, lighter, kept, more, why = {}, 0.0, 0.0, {}, {}, {}
    grounds = {}
    for part, given in (("dough", dough), ("topping", topping)):
        percent, words = calibration.dividing_scatter.value, f"dividing the {part}"
        grounds[words] = calibration.dividing_scatter.rests_on if given is None else "given here"
        if given is not None:
            percent = np.asarray(given, float) if np.ndim(given) else read(given, "percentage", words)
        if not np.all((np.asarray(percent) >= 0) & (np.asarray(percent) < 50)):
            do = "weigh ten pieces: their standard deviation over their mean"
            raise AmountError(must(words, "0 to less than 50 % of the piece", f"{float(np.max(percent)):g} %", do))
        lost, estimate = made.losses[part, "baking"], getattr(calibration, f"bake_loss_{part}")
        if estimate.bakes:
            spread = more[part] = estimate.next_spread(coverage) / 100
            why[part] = estimate.rests_on
        else:
            spread, why[part] = spread_of(lost.low, lost.high) / 100, lost.rests_on
            more[part] = (lost.high - lost.percent) / 100 / reach()
        kept[part] = 1 - lost.percent / 100
        hands[part] = masses[part] * kept[part] * percent / 100
        loss, lighter = loss + masses[part] * spread, lighter + masses[part] * more[part]
    grounds["loss in the oven"] = why["dough"] + (f"; topping: {why['topping']}" if formula.has("topping") else "")
    return ScalingScatter(
        masses["dough"], made.baked_piece, *hands.values(), loss, lighter, kept["dough"], more["dough"], grounds
    )


@dataclass(frozen=True, eq=False)
class ToScale(Result):
    """What to scale so that so many of 100 baked pieces weigh at least what is wished."""

    least: float  # baked piece wished [g]
    wish: float  # of 100 pieces
    scale: float  # raw dough [g]
    scatter: ScalingScatter = field(repr=False)

    @property
    def words(self):
        """What to scale for the wish, and what the formula scales now."""
        return (
            f"{self.wish:g} of 100 baked pieces at least {figure(self.least)} g: scale {figure(self.scale)} g of "
            f"dough; the formula scales {figure(self.scatter.piece)} g."
        )

    def sources(self):
        """Return what the spread of dividing and of the loss rests on."""
        return self.scatter.sources()

    def tables(self):
        """Return the table of what the spread rests on."""
        return [(["spread", "rests on"], self.sources().items())]


def to_scale(made, least, wish=95.0, dough=None, topping=None):
    """Return the ToScale of a Yield; arguments as in `Yield.to_scale`.

    Solves q m + c - z sqrt((s m)^2 + t^2 + (l m + k)^2) = least for the dough m, in closed form.
    """
    only_one(made.formula, "to be scaled", "choose one")
    least = read_above(least, "mass", "least", "say what a baked piece should weigh")
    if not 50 < wish < 100:
        raise AmountError(must("wish", "above 50 and below 100 % of the pieces", f"{wish:g} %", "95 is usual"))
    scatter = scatter_of(made, dough, topping, coverage=2 * wish - 100)  # few bakes say less, the surer one asks
    from scipy.special import ndtri  # half of what loading this package takes

    z, m = float(ndtri(wish / 100)), float(scatter.piece)
    kept, per_gram, s = float(scatter.kept), float(scatter.loss_spread), float(scatter.dough) / m
    rest = float(scatter.baked) - kept * m - least
    other = float(scatter.lighter) - per_gram * m
    a = kept**2 - z * z * (s * s + per_gram**2)
    b = 2 * (kept * rest - z * z * per_gram * other)
    c = rest**2 - z * z * (float(scatter.topping) ** 2 + other**2)
    if a <= 0:
        be = "small enough to be made good by scaling more"
        raise AmountError(must("scatter", be, f"{100 * s:g} %", "divide better"))
    return ToScale(least, wish, (-b + math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a), scatter)
