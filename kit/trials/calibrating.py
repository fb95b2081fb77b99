"""What a kitchen's own bakes teach: friction, rise, loss, dividing, dome, drawn from the tables towards them.

Each figure is a normal mean with a normal prior (of logarithms where the default's spread is one): the default's
value and spread are the prior, each bake counts once, outliers are named and count less, none is thrown away.
"""

import contextlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from statistics import NormalDist

import numpy as np

from ..balance.accounts import account, lines_of
from ..balance.bands import reach
from ..errors import KitError, must
from ..process import Calibration, Estimate, rise
from ..process.water import mixing_rise_of
from ..tables import table
from ..units import read
from ..words import capital, figure, listing, plural
from . import statistics
from .bakes import bakes_of
from .reading import TrialError
from .records import Trial

FEWEST = 3  # bakes: two say nothing of their scatter
HUBER = 2.5  # standard deviations beyond which a bake counts less (Huber 1964)
OUTLIER = 3.5  # and beyond which it is named
SIZE = 0.2  # pieces whose mass differs by less lose alike: mass^(-1/3) makes 6 % of the loss of it
POURED = ("water", "milk", "egg", "butter")  # kinds whose own temperature a record may hold
PIECES = 5  # weighed at one dividing, for their scatter


@dataclass(frozen=True)
class Fit:
    """One figure of the calibration: what each bake gave, and how much it counts."""

    name: str
    codes: tuple
    values: tuple = field(repr=False)  # one a bake [unit of the estimate]
    weights: tuple = field(repr=False)  # 0 to 1
    outliers: tuple  # codes
    estimate: Estimate
    missing: str = ""  # what to note so that it is fitted; until then the default stays


class Calibrated(Calibration):
    """The Calibration of a kitchen from its own bakes."""

    learned: tuple = ()  # the Fits that it comes from

    def tables(self):
        """Return each figure that bakes corrected, with its band before and after."""
        rows = []
        for fit in self.learned:
            if not fit.missing:
                before, after = (_band_words(each) for each in (getattr(Calibration(), fit.name), fit.estimate))
                name, unit = fit.name.replace("_", " "), fit.estimate.unit.replace("degC", "°C")
                rows.append([name, before, after, unit, str(len(fit.values))])
        heads = ["", "before", "after", "unit", "bakes"]
        return [(heads, rows, "What this kitchen's bakes corrected: figure, 80 % band of the next bake")]

    @property
    def notes(self):
        """What is missing of the other figures."""
        return tuple(f"{capital(fit.missing)}." for fit in self.learned if fit.missing)


def calibrate(trials: Iterable[Trial], piece: float | str | None = None) -> Calibrated:
    """Return the Calibration of a kitchen from its trials; figures with fewer than three bakes stay at the default.

    trials: of the kitchen, or its book
    piece: of dough [g or any mass], the median baked when None: the dough's bake loss is of pieces within a fifth of it

    Raises TrialError when no figure has three bakes. `fits` tells what each bake gave and names outliers.

    >>> warm = {"mix_time_fast": 8, "room_temperature": 22, "water_temperature": 18, "flour_temperature": 20}
    >>> from kit import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 1000, "water": 560, "butter": 180, "salt": 16})
    >>> bakes = [Trial.of("bun", f"2025-03-0{n}", formula=bun, dough_temperature=25 + n / 4, **warm) for n in (1, 2, 3)]
    >>> calibrate(bakes).friction_rise.bakes
    3
    """
    found = fits(trials, piece)
    fitted = {fit.name: fit.estimate for fit in found if not fit.missing}
    if not fitted:
        nearest = max(found, key=lambda fit: len(fit.values))
        got = plural(len(nearest.values), "bake")
        raise TrialError(must("trials", f"{FEWEST} bakes or more for a figure", got, nearest.missing))
    made = Calibrated(**fitted)
    object.__setattr__(made, "learned", found)
    return made


def fits(trials, piece=None):
    """Return a Fit for each figure that bakes can correct, in the order of the calibration.

    A figure below three bakes keeps its default and says so; piece as in `calibrate`.
    """
    bakes = bakes_of(trials)
    masses = [mass for bake in bakes if (mass := bake.mean("piece_mass")) is not None]
    size = read(piece, "mass", "piece") if piece is not None else float(np.median(masses)) if masses else 0.0
    near = [bake for bake in bakes if abs((bake.mean("piece_mass") or math.inf) - size) <= SIZE * size]
    lost = _fit("bake_loss_topping", bakes, 0.0).estimate.value
    return tuple(_fit(name, near if name == "bake_loss_dough" else bakes, lost) for name in GIVES)


def shrunk(values, default):
    """Return (value, weights, half) of a figure: drawn from the default towards the bakes, weights for outliers,
    half the width of the 80 % band of the next bake; value and half in logarithms when the default's spread is one.

    Normal mean with a normal prior N(m0, t0^2): (m0 / t0^2 + sum(w y) / s^2) / (1 / t0^2 + sum(w) / s^2), Gelman et
    al., Bayesian Data Analysis, eq. 2.11. w = Huber's weights about a median absolute deviation; s^2 pools the
    weighted squares with half the default's spread, worth one bake. Student's t for the next bake.

    >>> value, weights, half = shrunk([0.52, 0.50, 0.51, 0.53, 0.49, 0.50], Calibration().height_over_diameter_baked)
    >>> round(value, 3), min(weights)
    (0.507, 1.0)
    """
    y = np.log(values) if default.log else np.asarray(values, float)
    middle = math.log(default.value) if default.log else default.value
    usual = default.spread / 2
    at = float(np.median(y))
    weights = np.ones(len(y))
    for _ in range(100):
        scale = max(float(np.median(np.abs(y - at))) / NormalDist().inv_cdf(0.75), usual / 4)
        off = np.abs(y - at) / scale
        weights = np.where(off <= HUBER, 1.0, HUBER / np.maximum(off, HUBER))
        before, at = at, float((weights * y).sum() / weights.sum())
        if abs(at - before) < 1e-12:
            break
    df = float(weights.sum())  # of the pooled scatter: n - 1 from the bakes, 1 from the default
    scatter = math.sqrt((usual**2 + float((weights * (y - at) ** 2).sum())) / df)
    known = 1 / default.spread**2 + weights.sum() / scatter**2
    value = (middle / default.spread**2 + float((weights * y).sum()) / scatter**2) / known
    half = statistics.t_at(0.9, df) * math.sqrt(scatter**2 + 1 / known)
    return float(value), tuple(float(w) for w in weights), float(half)


def _fit(name, bakes, topping_loss):
    estimate = getattr(Calibration(), name)
    codes, values = [], []
    for bake in bakes:
        with contextlib.suppress(KitError):  # no formula, or what no model covers: this bake tells nothing here
            value = float(GIVES[name](bake, topping_loss))
            if math.isfinite(value) and (value > 0 or not estimate.log):
                codes.append(bake.trials[0].code or bake.trials[0].name)
                values.append(value)
    if len(values) < FEWEST:
        missing = _missing(name, bakes, len(values))
        return Fit(name, tuple(codes), tuple(values), (1.0,) * len(values), (), estimate, missing)
    value, weights, half = shrunk(values, estimate)
    outliers = tuple(code for code, weight in zip(codes, weights, strict=True) if weight < HUBER / OUTLIER)
    rests_on = f"{plural(len(values), 'bake')} of this kitchen, drawn towards from {estimate.rests_on}"
    if outliers:
        rests_on += f"; {listing(outliers)} far off and counted less"
    middle = math.exp(value) if estimate.log else value
    made = Estimate(middle, half / reach(), estimate.unit, rests_on, len(values), estimate.log)
    # `Estimate.next_spread` widens the scatter of its bakes; undo that, so that its band is the one found here
    made = replace(made, spread=made.spread**2 / made.next_spread())
    return Fit(name, tuple(codes), tuple(values), weights, outliers, made)


def _missing(name, bakes, known):
    """Return in words what bakes lack for a figure that so many tell."""
    rows = [row for row in table("calibration_fields").rows if row.figure == name]
    lacking = [row.note for row in rows if sum(bool(bake.readings(row.field)) for bake in bakes) < FEWEST]
    together = "" if lacking else " of one bake, and its formula"
    so_far = f"; {plural(known, 'bake')} so far" if known else ""
    note = listing(lacking or [row.note for row in rows])
    return f"note {note}{together}: from three bakes {rows[0].corrects} is corrected{so_far}"


def _band_words(estimate):
    low, high = estimate.band()
    return f"{figure(estimate.value, 2)} ({figure(low, 2)} to {figure(high, 2)})"


# what one bake gives; NaN, or a refusal, where it tells nothing


def _mean(bake, name):
    mean = bake.mean(name)
    return math.nan if mean is None else mean


def _friction(bake, _):
    """Return the rise of the dough a minute of mixing [degC], by the balance of heat of `mixing_rise_of`."""
    formula, at = bake.trials[0].baked_formula, {name: bake.mean(f"{name}_temperature") for name in POURED}
    final = {formula.ingredients[key].kind: key for key in formula.part("dough").keys}
    given = {"ingredients": {final[name]: at[name] for name in POURED[1:] if name in final and at[name] is not None}}
    if any(part.kind == "preferment" for part in formula.parts):
        given["preferment"] = bake.mean("preferment_temperature")
    minutes = (bake.mean("mix_time_slow") or 0.0) + (bake.mean("mix_time_fast") or 0.0)
    water, room = _mean(bake, f"{'water' if 'water' in final else 'milk'}_temperature"), _mean(bake, "room_temperature")
    dough, flour = _mean(bake, "dough_temperature"), bake.mean("flour_temperature")
    return mixing_rise_of(formula, dough, water=water, room=room, flour=flour, **given) / (minutes or math.nan)


def _time_factor(bake, stage):
    """Return the time a rise took, to that foreseen to the ratio that was reached, at the temperature that was held."""
    taken, until, temperature = (_mean(bake, f"{stage}_{name}") for name in ("time", "rise", "temperature"))
    if math.isnan(temperature) and stage == "bulk":
        temperature = _mean(bake, "dough_temperature")
    stage = "bulk" if stage == "bulk" else "final proof"
    return taken / rise(bake.trials[0].baked_formula, temperature=temperature, until=until, stage=stage).minutes


def _dividing(bake, _):
    pieces = bake.readings("piece_mass")
    return 100 * float(np.std(pieces, ddof=1) / np.mean(pieces)) if len(pieces) >= PIECES else math.nan


def _topping_loss(bake, _):
    return 100 * (1 - _mean(bake, "baked_topping_mass") / _mean(bake, "topping_mass"))


def _dough_loss(bake, topping_loss):
    """Return the dough's loss [%]: from dough weighed apart, else from whole pieces less what topping and wash lose."""
    raw, apart = _mean(bake, "piece_mass"), bake.mean("baked_dough_mass")
    if apart is not None:
        return 100 * (1 - apart / raw)
    lost = (bake.trials[0].raw_piece or math.nan) - _mean(bake, "baked_mass")
    return 100 * (lost - (bake.mean("topping_mass") or 0.0) * topping_loss / 100 - _wash_dried(bake)) / raw


def _wash_dried(bake):
    """Return the water of the wash on a piece, all of which dries [g]."""
    recipe = bake.trials[0].weighed_formula or bake.trials[0].planned_formula
    if recipe is None or not recipe.pieces["wash"]:
        return 0.0
    grams = bake.mean("wash_mass")
    sums = account(recipe.formula, lines_of(recipe.formula, "wash"), ("water", "mass"))
    return (recipe.pieces["wash"] if grams is None else grams) * sums["water"] / sums["mass"]


def _density(bake, topping_loss):
    """Return the density of the baked piece's dough [g per mL], the topping's volume taken off."""
    topping = (bake.mean("topping_mass") or 0.0) * (1 - topping_loss / 100)
    paste = Calibration().topping_density.value
    density = (_mean(bake, "baked_mass") - topping) / ((_mean(bake, "volume") - topping / paste) or math.nan)
    return density if 0 < density < paste else math.nan  # denser than the paste a bun is none: something was misread


# each in the order of the calibration: what a bake gives, the topping's loss [%] being known
GIVES = {
    "friction_rise": _friction,
    "rise_factor": lambda bake, _: _time_factor(bake, "bulk"),
    "proof_factor": lambda bake, _: _time_factor(bake, "proof"),
    "dividing_scatter": _dividing,
    "bake_loss_dough": _dough_loss,
    "bake_loss_topping": _topping_loss,
    "density_baked": _density,
    "height_over_diameter_baked": lambda bake, _: _mean(bake, "height_over_diameter"),
}
