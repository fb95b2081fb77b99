"""Dividing scatter, and what to scale so that baked pieces weigh what the kitchen wishes."""

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtri

from ..balance.bands import reach, spread_of
from ..errors import AmountError, must
from ..formula.parts import only_one
from ..page import Result
from ..units import read, read_above
from ..words import figure
from .calibration import Calibration
from .yields import losses_here, predict_yield


@dataclass(frozen=True, eq=False)
class ScalingScatter(Result):
    """How baked pieces scatter: mean and standard deviations [g baked], floats or arrays.

    Dividing scatters from piece to piece; the loss is one for the whole bake and moves all pieces together.
    """

    piece: object  # raw dough [g]
    baked: object  # mean of a baked piece [g]
    dough: object  # from dividing the dough [g]
    topping: object  # from dividing the topping [g]
    loss: object  # from what the oven takes [g]
    lighter: object  # the same of the side on which it takes more [g]
    kept: object = 1.0  # baked for 1 g of raw dough [g per g]
    loss_spread: object = 0.0  # of it where the oven takes more [g per g of raw dough]
    grounds: dict = field(default_factory=dict, repr=False)

    @property
    def within(self):
        """Standard deviation from piece to piece within a bake [g]."""
        return np.hypot(self.dough, self.topping)


def scaling_scatter(formula, dough=None, topping=None, calibration=None, coverage=80.0):
    """Return the ScalingScatter of a formula's pieces, one formula or many.

    dough, topping [% of the piece, standard deviation of dividing], else the kitchen's or the tables' for both;
    calibration with the kitchen's losses, else the formula's own or the default range; coverage [%] at which a loss
    known from few bakes is widened (Student). Independent normal scatters add as variances; the losses of dough and
    topping move together. Raises AmountError, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, pieces={"dough": 100}, losses={"baking": 10})
    >>> round(float(scaling_scatter(bun, dough=2).dough), 2)
    1.8
    """
    scatter = calibration or Calibration()
    known = {}
    for name, given in (("dough", dough), ("topping", topping)):
        words = f"dividing the {name}"
        if given is None:
            known[name] = (scatter.dividing_scatter.value, scatter.dividing_scatter.rests_on, words)
            continue
        percent = np.asarray(given, float) if np.ndim(given) else read(given, "percentage", words)
        if not np.all((np.asarray(percent) >= 0) & (np.asarray(percent) < 50)):
            do = "weigh ten pieces: their standard deviation over their mean"
            raise AmountError(must(words, "0 to less than 50 % of the piece", f"{float(np.max(percent)):g} %", do))
        known[name] = (percent, "given here", words)
    crust = formula.pieces.topping if formula.has("topping") else 0.0
    losses = losses_here(formula, calibration=calibration)
    kept, spread, more, why = {}, {}, {}, {}
    for name in ("dough", "topping"):
        loss = losses[name, "baking"]
        kept[name] = 1 - loss.percent / 100
        estimate = calibration and getattr(calibration, f"bake_loss_{name}")
        if estimate and estimate.bakes:
            spread[name], why[name] = estimate.next_spread(coverage) / 100, estimate.rests_on
            more[name] = spread[name]
        else:
            spread[name], why[name] = spread_of(loss.low, loss.high) / 100, loss.rests_on
            more[name] = (loss.high - loss.percent) / 100 / reach()
    piece = formula.pieces.dough
    rests_on = {words: rests for _, rests, words in known.values()}
    rests_on["loss in the oven"] = why["dough"] + (f"; topping: {why['topping']}" if formula.has("topping") else "")
    return ScalingScatter(
        piece,
        predict_yield(formula, flour=1000.0, calibration=calibration).baked_piece,
        piece * kept["dough"] * known["dough"][0] / 100,
        crust * kept["topping"] * known["topping"][0] / 100,
        piece * spread["dough"] + crust * spread["topping"],
        piece * more["dough"] + crust * more["topping"],
        kept["dough"],
        more["dough"],
        rests_on,
    )


@dataclass(frozen=True, eq=False)
class ToScale(Result):
    """What to scale so that so many of 100 baked pieces weigh at least what is wished."""

    least: float  # baked piece wished [g]
    wish: float  # of 100 pieces
    scale: float  # raw dough [g]
    piece: float  # raw dough of the formula now [g]
    scatter: ScalingScatter = field(repr=False)

    @property
    def words(self):
        """What to scale for the wish, and what the formula scales now."""
        return (
            f"{self.wish:g} of 100 baked pieces at least {figure(self.least)} g: scale {figure(self.scale)} g of "
            f"dough; the formula scales {figure(self.piece)} g."
        )

    def sources(self):
        """Return what the spread of dividing and of the loss rests on."""
        return self.scatter.sources()

    def tables(self):
        """Return the table of what the spread rests on."""
        return [(["spread", "rests on"], self.sources().items())]


def what_to_scale(formula, least, wish=95.0, **given):
    """Return what to scale so that `wish` of 100 baked pieces weigh at least so much: ToScale.

    least [g or any mass]; wish [of 100 pieces]; given as in `scaling_scatter`; the topping stays. Asks
    mean - z x spread >= least, both functions of the dough piece m: (q m + c)^2 = z^2 (a m^2 + b m + d), solved in
    closed form; the spread of the loss is that of its upper side, for it makes light pieces. The kitchen's own wish,
    no test of a law. Raises AmountError, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, pieces={"dough": 100}, losses={"baking": 10})
    >>> print(what_to_scale(bun, "90 g"))
    95 of 100 baked pieces at least 90.0 g: scale 105.7 g of dough; the formula scales 100.0 g.
    """
    only_one(formula, "to be scaled", "choose one")
    least = read_above(least, "mass", "least", "say what a baked piece should weigh")
    if not 50 < wish < 100:
        raise AmountError(must("wish", "above 50 and below 100 % of the pieces", f"{wish:g} %", "95 is usual"))
    scatter = scaling_scatter(formula, **{"coverage": 2 * wish - 100} | given)  # few bakes say less, the surer one asks
    return ToScale(least, wish, _dough_for(scatter, least, ndtri(wish / 100)), float(scatter.piece), scatter)


def _dough_for(scatter, least, z):
    """Solve q m + c - z sqrt((s m)^2 + t^2 + (l m + k)^2) = least for the dough m."""
    m = float(scatter.piece)
    kept, loss_per_g = float(scatter.kept), float(scatter.loss_spread)
    rest = float(scatter.baked) - kept * m - least
    other = float(scatter.lighter) - loss_per_g * m
    s = float(scatter.dough) / m
    a = kept**2 - z * z * (s * s + loss_per_g**2)
    b = 2 * (kept * rest - z * z * loss_per_g * other)
    c = rest**2 - z * z * (float(scatter.topping) ** 2 + other**2)
    if a <= 0:
        raise AmountError(
            must("scatter", "small enough to be made good by scaling more", f"{100 * s:g} %", "divide better")
        )
    return (-b + math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a)
