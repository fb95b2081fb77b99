"""Dividing scatter, and what to scale so that baked pieces keep a declared mass."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr, ndtri

from .. import page
from ..errors import AmountError, must
from ..formula.formula import only_one
from ..tables import source, table
from ..units import read
from ..words import figure
from .calibration import Calibration
from .yields import losses_here, predict_yield

NOT_ADVICE = "Not legal advice: the law of the place governs, and its tables change."


@dataclass(frozen=True, eq=False)
class ScalingScatter:
    """How baked pieces scatter: mean and standard deviations [g baked], floats or arrays.

    Dividing scatters from piece to piece; the loss is one for the whole bake and moves all pieces together.
    """

    piece: object  # raw dough [g]
    baked: object  # mean of a baked piece [g]
    dough: object  # from dividing the dough [g]
    topping: object  # from dividing the topping [g]
    loss: object  # from what the oven takes [g]
    kept: object = 1.0  # baked for 1 g of raw dough [g per g]
    loss_spread: object = 0.0  # of it, in the oven [g per g of raw dough]
    rests_on: dict = field(default_factory=dict, repr=False)

    @property
    def within(self):
        """Standard deviation from piece to piece within a bake [g]."""
        return np.hypot(self.dough, self.topping)

    @property
    def total(self):
        """Standard deviation of any piece of any bake [g]."""
        return np.hypot(self.within, self.loss)

    def chance_under(self, limit, pack=1):
        """Return the chance [%] that a pack of so many pieces weighs less than a limit [g]; normal, exact.

        >>> scatter = ScalingScatter(70, 90.0, 3.0, 0.0, 4.0)
        >>> round(float(scatter.chance_under(85.0)), 2)  # one standard deviation of 5 g
        15.87
        """
        deviation = np.sqrt(pack * self.within**2 + (pack * self.loss) ** 2)
        with np.errstate(divide="ignore", invalid="ignore"):
            away = np.asarray(limit - pack * self.baked, float)
            return (100 * ndtr(np.where(deviation > 0, away / deviation, np.copysign(np.inf, away))))[()]

    def band(self, coverage=80.0):
        """Return (low, high) of a baked piece [g]."""
        half = ndtri(0.5 + coverage / 200) * self.total
        return self.baked - half, self.baked + half

    def to_frame(self):
        """Return a DataFrame: cause, standard deviation [g baked], what it rests on."""
        causes = {"dividing the dough": self.dough, "dividing the topping": self.topping, "loss in the oven": self.loss}
        rows = [(cause, deviation, self.rests_on.get(cause, "")) for cause, deviation in causes.items()]
        rows.append(("together", self.total, "variances add"))
        return page.frame(["cause", "standard deviation, g baked", "rests on"], rows, index=True)

    def sources(self):
        """Return what each spread rests on."""
        return dict(self.rests_on)

    def _repr_html_(self):
        if np.ndim(self.total):
            return f"<p>scatter of many pieces: {figure(np.min(self.total))} to {figure(np.max(self.total))} g</p>"
        rows = [[cause, figure(g, 2), why] for cause, g, why in self.to_frame().itertuples()]
        low, high = self.band()
        caption = f"A baked piece: {figure(self.baked)} g, 80 % of pieces {figure(low)} to {figure(high)} g"
        return page.table(["", "standard deviation, g", "rests on"], rows, caption, strong=(len(rows) - 1,))


def scaling_scatter(formula, dough=None, topping=None, calibration=None, coverage=80.0):
    """Return the ScalingScatter of a formula's pieces, one formula or many.

    dough, topping [% of the piece, standard deviation of dividing], else the kitchen's or common practice for both;
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
    kept, spread, why = {}, {}, {}
    for name in ("dough", "topping"):
        loss = losses[name, "baking"]
        kept[name] = 1 - loss.percent / 100
        estimate = calibration and getattr(calibration, f"bake_loss_{name}")
        if estimate and estimate.bakes:
            spread[name], why[name] = estimate.next_spread(coverage) / 100, estimate.rests_on
        else:
            spread[name], why[name] = (loss.high - loss.low) / 200 / ndtri(0.9), loss.rests_on
    piece = formula.pieces.dough
    rests_on = {words: rests for _, rests, words in known.values()}
    rests_on["loss in the oven"] = why["dough"] + (f"; topping: {why['topping']}" if formula.has("topping") else "")
    return ScalingScatter(
        piece,
        predict_yield(formula, flour=1000.0, calibration=calibration).baked_piece,
        piece * kept["dough"] * known["dough"][0] / 100,
        crust * kept["topping"] * known["topping"][0] / 100,
        piece * spread["dough"] + crust * spread["topping"],
        kept["dough"],
        spread["dough"],
        rests_on,
    )


def chance_under(formula, declared, pack=1, **given):
    """Return the chance [%] that a baked piece, or a pack of so many, is under a declared mass [g or any mass].

    given as in `scaling_scatter`. Closed form of normal scatters. Raises AmountError, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, pieces={"dough": 100}, losses={"baking": 10})
    >>> round(float(chance_under(bun, "90 g")))
    50
    """
    return scaling_scatter(formula, **given).chance_under(_declared(declared), _pack(pack))


def tolerable_negative_error(declared):
    """Return the EU tolerable negative error [g] of a declared mass [g or any mass], float or array.

    Directive 76/211/EEC, Annex I 2.4, 5 g to 10 kg; shares rounded up to 0.1 g (from memory). AmountError outside.

    >>> [float(tolerable_negative_error(mass)) for mass in (80, 40, "400 g")]
    [4.5, 3.6, 12.0]
    """
    rows = table("net_weight_eu")
    grams = _declared(declared)
    place = _row(grams, rows.numbers("from_g"), rows.numbers("to_g"), "the EU table covers it from 5 g to 10 kg")
    share, flat = rows.numbers("percent")[place], rows.numbers("error_g")[place]
    rounded = np.ceil(np.round(grams * share / 100 * 10, 9)) / 10
    return np.where(np.isnan(share), flat, rounded)[()]


def allowed_variation(declared):
    """Return the US maximum allowable variation [g] of a declared mass [g or any mass], float or array.

    NIST Handbook 133, Table 2-5, up to 5.8 lb: from memory, check the handbook. AmountError outside.

    >>> round(float(allowed_variation("3 oz")) / 28.349523125, 2)  # oz
    0.26
    """
    rows, pound = table("net_weight_us"), read("1 lb", "mass")
    grams = _declared(declared)
    place = _row(grams, rows.numbers("from_lb") * pound, rows.numbers("to_lb") * pound, "the US rows end at 5.8 lb")
    share, flat = rows.numbers("percent")[place], rows.numbers("variation_lb")[place] * pound
    return np.where(np.isnan(share), flat, grams * share / 100)[()]


@dataclass(frozen=True, eq=False)
class ToScale:
    """What each wish and each legal test asks of the raw dough piece, beside how the formula's piece stands."""

    declared: float  # of a pack [g]
    pack: int
    piece: float  # raw dough now [g]
    tests: tuple = field(repr=False)  # (test, limit [g], most under [%], under now [%], raw dough to scale [g], basis)

    @property
    def wish(self):
        """Raw dough piece [g] for the kitchen's own wish."""
        return self.tests[0][4]

    def law(self, name):
        """Return the raw dough piece [g] for all tests of a law: 'EU' or 'US'."""
        return max(row[4] for row in self.tests if row[0].startswith(name))

    def to_frame(self):
        """Return a DataFrame: test, limit [g], most under [%], under now [%], raw dough to scale [g], basis."""
        columns = ["test", "limit, g", "may be under, %", "under now, %", "raw dough to scale, g", "rests on"]
        return page.frame(columns, self.tests, index=True)

    def sources(self):
        """Return what each test rests on."""
        return {row[0]: row[5] for row in self.tests}

    def _repr_html_(self):
        rows = [
            [name, figure(limit), f"{most:g}", figure(now, 2), figure(scale), basis]
            for name, limit, most, now, scale, basis in self.tests
        ]
        caption = f"Declared {figure(self.declared)} g" + (f" for {self.pack} pieces" if self.pack > 1 else "")
        columns = [
            f"{figure(self.piece)} g dough now", "limit, g", "may be under, %", "under now, %", "scale, g dough",
            "rests on",
        ]  # fmt: skip
        return page.table(columns, rows, caption, strong=(0,)) + f"<p>{page.escape(NOT_ADVICE)}</p>"


def what_to_scale(formula, declared, wish=95.0, pack=1, **given):
    """Return what to scale so that baked pieces keep a declared mass, by the kitchen's wish and, apart, by law.

    declared [g or any mass, of a pack]; wish [%] of packs at or above it; pack [pieces]; given as in
    `scaling_scatter`; the topping stays. Each test asks mean - z x spread >= limit, both functions of the dough
    piece m: (q m + c)^2 = z^2 (a m^2 + b m + d), solved in closed form. Average tests speak of a whole bake's mean,
    at the wish's certainty. EU tolerable negative error and US allowed variation from their tables. Not legal
    advice. Raises AmountError, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, pieces={"dough": 100}, losses={"baking": 10})
    >>> scale = what_to_scale(bun, "90 g")
    >>> round(scale.wish), round(scale.law("EU"))
    (105, 104)
    """
    only_one(formula, "to be scaled", "choose one")
    grams, pack = _declared(declared), _pack(pack)
    if not 50 < wish < 100:
        raise AmountError(must("wish", "above 50 and below 100 % of the pieces", f"{wish:g} %", "95 is usual"))
    tests = [_test("kitchen's wish", formula, grams, 100 - wish, pack, False, given, "the kitchen's own")]
    for row in table("net_weight_rules").rows:
        limit, mean = grams, row["of"] == "bake's mean"
        if row["errors"] != "0":
            error = tolerable_negative_error if row["law"] == "EU" else allowed_variation
            limit = grams - float(row["errors"]) * float(error(grams))
        most = 100 - wish if mean else float(row["most_under_percent"])
        basis = f"{source(row['source'])}; {row['provenance']}: {row['note']}"
        tests.append(_test(f"{row['law']}: {row['test']}", formula, limit, most, pack, mean, given, basis))
    return ToScale(grams, pack, float(formula.pieces.dough), tuple(tests))


def _test(name, formula, limit, most, pack, mean, given, basis):
    known = scaling_scatter(formula, **{"coverage": 100 - 2 * most} | given)  # few bakes say less, the surer one asks
    if mean:
        known = replace(known, dough=0.0, topping=0.0)
    now = float(known.chance_under(limit, pack))
    return name, float(limit), float(most), now, _dough_for(known, limit, -ndtri(most / 100), pack), basis


def _dough_for(scatter, limit, z, pack):
    """Solve pack (q m + c) - z sqrt(pack (s m)^2 + pack t^2 + pack^2 (l m + k)^2) = limit for the dough m."""
    m = float(scatter.piece)
    kept, loss_per_g = float(scatter.kept), float(scatter.loss_spread)
    rest = float(scatter.baked) - kept * m - limit / pack
    other = float(scatter.loss) - loss_per_g * m
    s = float(scatter.dough) / m
    a = kept**2 - z * z * (s * s / pack + loss_per_g**2)
    b = 2 * (kept * rest - z * z * loss_per_g * other)
    c = rest**2 - z * z * (float(scatter.topping) ** 2 / pack + other**2)
    if a <= 0:
        raise AmountError(
            must("scatter", "small enough to be made good by scaling more", f"{100 * s:g} %", "divide better")
        )
    return (-b + math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a)


def _row(grams, low, high, do):
    if np.any((grams < low[0]) | (grams > high[-1])):
        raise AmountError(must("declared", f"{low[0]:g} to {high[-1]:,.0f} g", f"{float(np.max(grams)):g} g", do))
    return np.minimum(np.searchsorted(high, grams, side="left"), len(high) - 1)


def _declared(declared):
    grams = np.asarray(declared, float) if np.ndim(declared) else read(declared, "mass", "declared")
    if not np.all(np.isfinite(grams) & (np.asarray(grams) > 0)):
        raise AmountError(
            must("declared", "a mass above 0 g", f"{float(np.min(grams)):g} g", "say what the label says")
        )
    return grams


def _pack(pack):
    if pack != int(pack) or pack < 1:
        raise AmountError(must("pack", "a whole number of pieces, 1 or more", pack, "count them"))
    return int(pack)
