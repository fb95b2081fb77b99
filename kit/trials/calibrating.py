"""What a kitchen's own bakes teach: friction, rise, loss, dividing, dome, drawn from the tables towards them.

Each figure is a normal mean with a normal prior (of logarithms where the default's spread is one): the default's
value and spread are the prior, each bake counts once, outliers are named and count less, none is thrown away.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np

from ..balance.accounts import account, lines_of
from ..balance.bands import reach
from ..errors import KitError, must
from ..page import Result
from ..process import Calibration, Estimate, rise
from ..process.water import mixed_temperature, mixing_rise_of
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
# what a figure corrects, and the fields of one bake that it takes, as they are asked for
TAKES = {
    "friction_rise": (
        "the warming by the mixer",
        {
            "dough_temperature": "the temperature of the finished dough",
            "room_temperature": "that of the room",
            "water_temperature": "that of the water",
            "mix_time_fast": "the time of mixing",
        },
    ),
    "rise_factor": ("the rise", {"bulk_rise": "the volume at the end of bulk", "bulk_time": "how long bulk took"}),
    "proof_factor": (
        "the final proof",
        {
            "proof_rise": "the volume at the end of the final proof",
            "proof_time": "how long it took",
            "proof_temperature": "how warm it was",
        },
    ),
    "dividing_scatter": ("the dividing", {"piece_mass": f"the masses of {PIECES} raw pieces"}),
    "bake_loss_dough": (
        "the dough's loss",
        {"piece_mass": "the mass of a raw piece", "topping_mass": "that of its topping", "baked_mass": "that baked"},
    ),
    "bake_loss_topping": (
        "the topping's loss",
        {"topping_mass": "the mass of the raw topping", "baked_topping_mass": "that of the baked one, lifted off"},
    ),
    "density_baked": ("the volume", {"volume": "the volume of a baked piece", "baked_mass": "its mass"}),
    "height_over_diameter_baked": ("the shape", {"height": "the height of a baked piece", "diameter": "its diameter"}),
}


@dataclass(frozen=True)
class Fit:
    """One figure of the calibration: what each bake gave, how much it counts; `kept` says why it was not fitted."""

    name: str
    unit: str
    codes: tuple
    values: tuple = field(repr=False)  # one a bake [unit]
    weights: tuple = field(repr=False)  # 0 to 1
    outliers: tuple  # codes
    estimate: Estimate
    kept: str = ""
    missing: str = ""  # what to note so that it is fitted

    @property
    def words(self):
        """The figure's name as it is spoken."""
        return self.name.replace("_", " ")


@dataclass(frozen=True)
class Checked(Result):
    """Predictions beside what was measured: one row a bake and quantity."""

    rows: tuple = field(repr=False)  # (code, quantity, unit, predicted, low, high, measured)
    before: "Checked | None" = field(default=None, repr=False)  # the same bakes by the default

    columns = ("trial", "quantity", "unit", "predicted", "low", "high", "measured", "inside")
    named = False

    def frame_rows(self):
        """Return the rows of the frame, with whether what was measured lies in its band."""
        return [(*row, row[4] <= row[6] <= row[5]) for row in self.rows]

    @property
    def inside(self):
        """Share of what was measured that lies in its band [%]."""
        held = [held for *_, held in self.frame_rows()]
        return 100 * sum(held) / len(held) if held else math.nan

    def error(self, quantity):
        """Return the root mean square of predicted - measured of one quantity [its unit]."""
        off = [row[3] - row[6] for row in self.rows if row[1] == quantity]
        return math.sqrt(sum(o * o for o in off) / len(off)) if off else math.nan

    @property
    def quantities(self):
        """The quantities there are."""
        return tuple(dict.fromkeys(row[1] for row in self.rows))

    @property
    def words(self):
        """How much of what was measured lies in its band."""
        return f"{figure(self.inside, 0)} % of what was measured lies in its 80 % band"

    def tables(self):
        """Return how far predictions were off, by quantity."""
        rows = [
            [quantity, plural(sum(r[1] == quantity for r in self.rows), "bake"), figure(self.error(quantity), 2)]
            for quantity in self.quantities
        ]
        return [(["", "", "root mean square error"], rows)]


class Calibrated(Calibration):
    """The Calibration of a kitchen from its own bakes."""

    learned: tuple = ()  # the Fits that it comes from

    def tables(self):
        """Return each figure that bakes corrected, with its band before and after."""
        rows = []
        for fit in self.learned:
            if not fit.kept:
                before, after = (_band_words(each) for each in (getattr(Calibration(), fit.name), fit.estimate))
                rows.append([fit.words, before, after, fit.unit.replace("degC", "°C"), str(len(fit.values))])
        heads = ["", "before", "after", "unit", "bakes"]
        return [(heads, rows, "What this kitchen's bakes corrected: figure, 80 % band of the next bake")]

    @property
    def notes(self):
        """What is missing of the other figures."""
        return tuple(f"{capital(fit.missing)}." for fit in self.learned if fit.kept)

    def check(self, trials: Iterable[Trial]) -> Checked:
        """Return Checked: what this calibration foresees of each bake beside what was measured, and so the default's.

        trials: other bakes than those it comes from tell most

        Dough temperature from what went in and the mixing; bulk and final proof to the rise that was reached; baked
        mass; height over diameter. Bands are 80 %.
        """
        return check(self, list(trials))


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
    fitted = {fit.name: fit.estimate for fit in found if not fit.kept}
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
    default, bakes = Calibration(), bakes_of(trials)
    masses = [mass for bake in bakes if (mass := bake.mean("piece_mass")) is not None]
    size = read(piece, "mass", "piece") if piece is not None else float(np.median(masses)) if masses else 0.0
    near = [bake for bake in bakes if abs((bake.mean("piece_mass") or math.inf) - size) <= SIZE * size]
    topping = _fit(default, "bake_loss_topping", bakes, _topping_loss)
    made = [
        _fit(default, "friction_rise", bakes, _friction),
        _fit(default, "rise_factor", bakes, lambda bake: _time_factor(bake, "bulk")),
        _fit(default, "proof_factor", bakes, lambda bake: _time_factor(bake, "final proof")),
        _fit(default, "dividing_scatter", bakes, _dividing),
        _fit(default, "bake_loss_dough", near, lambda bake: _dough_loss(bake, topping.estimate.value)),
        topping,
        _fit(default, "density_baked", bakes, lambda bake: _density(bake, topping.estimate.value, default)),
        _fit(default, "height_over_diameter_baked", bakes, lambda bake: bake.mean("height_over_diameter")),
    ]
    return tuple(made)


def check(calibration, trials):
    """Return Checked: what a Calibration foresees of each bake, beside what was measured; see `Calibrated.check`."""
    rows = []
    for bake in bakes_of(trials):
        code = bake.trials[0].code or bake.trials[0].name
        for quantity, unit, foreseen in (
            ("dough temperature", "°C", _foresee_temperature),
            ("bulk time", "min", lambda b, c: _foresee_time(b, c, "bulk")),
            ("proof time", "min", lambda b, c: _foresee_time(b, c, "final proof")),
            ("baked mass", "g", _foresee_mass),
            ("height over diameter", "mm per mm", lambda b, c: _with_band(c.height_over_diameter_baked)),
        ):
            measured = bake.mean("height_over_diameter" if unit == "mm per mm" else quantity)
            if measured is not None and (band := foreseen(bake, calibration)) is not None:
                rows.append((code, quantity, unit, *band, measured))
    return Checked(tuple(rows), None if calibration == Calibration() else check(Calibration(), trials))


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


def _fit(default, name, bakes, of):
    estimate = getattr(default, name)
    found = [(bake.trials[0].code or bake.trials[0].name, of(bake)) for bake in bakes]
    found = [(code, v) for code, v in found if v is not None and math.isfinite(v) and (v > 0 or not estimate.log)]
    codes, values = tuple(code for code, _ in found), tuple(float(v) for _, v in found)
    if len(values) < FEWEST:
        kept = f"{plural(len(values), 'bake')}: {estimate.rests_on} is kept until there are {FEWEST}"
        missing = _missing(name, bakes, len(values))
        return Fit(name, estimate.unit, codes, values, (1.0,) * len(values), (), estimate, kept, missing)
    value, weights, half = shrunk(values, estimate)
    outliers = tuple(code for code, weight in zip(codes, weights, strict=True) if weight < HUBER / OUTLIER)
    rests_on = f"{plural(len(values), 'bake')} of this kitchen, drawn towards from {estimate.rests_on}"
    if outliers:
        rests_on += f"; {listing(outliers)} far off and counted less"
    middle = math.exp(value) if estimate.log else value
    made = _estimate(middle, half, estimate.unit, rests_on, len(values), estimate.log)
    return Fit(name, estimate.unit, codes, values, weights, outliers, made)


def _missing(name, bakes, known):
    """Return in words what bakes lack for a figure that so many tell."""
    what, takes = TAKES[name]
    lacking = [words for each, words in takes.items() if sum(bool(bake.readings(each)) for bake in bakes) < FEWEST]
    together = "" if lacking else " of one bake, and its formula"
    so_far = f"; {plural(known, 'bake')} so far" if known else ""
    note = listing(lacking or takes.values())
    return f"note {note}{together}: from three bakes {what} is corrected{so_far}"


def _band_words(estimate):
    low, high = estimate.band()
    return f"{figure(estimate.value, 2)} ({figure(low, 2)} to {figure(high, 2)})"


def _estimate(value, half, unit, rests_on, bakes, log=False):
    """Return the Estimate whose 80 % band of the next bake has that half width."""
    made = Estimate(value, half / reach(), unit, rests_on, bakes, log)
    # `Estimate.next_spread` widens the scatter of its bakes; undo that, so that its band is the one found here
    return Estimate(value, made.spread**2 / made.next_spread(80.0), unit, rests_on, bakes, log)


# what one bake gives


def _mixing(bake):
    slow, fast = bake.mean("mix_time_slow"), bake.mean("mix_time_fast")
    return None if slow is None and fast is None else (slow or 0.0) + (fast or 0.0)


def _went_in(bake):
    """Return (formula, what `mixed_temperature` takes) of a mix whose temperatures were noted; None if not known."""
    room, at = bake.mean("room_temperature"), {name: bake.mean(f"{name}_temperature") for name in POURED}
    trial = bake.trials[0]
    if room is None or (trial.weighed_formula or trial.planned_formula) is None:
        return None
    formula = trial.baked_formula
    final = {formula.ingredients[key]["kind"]: key for key in formula.part("dough").keys}
    water = at["water"] if "water" in final else at["milk"]
    if water is None:
        return None
    own = {final[name]: warm for name, warm in at.items() if name in final and name != "water" and warm is not None}
    given = {"flour": bake.mean("flour_temperature"), "ingredients": own}
    if any(part.kind == "preferment" for part in formula.parts):
        given["preferment"] = bake.mean("preferment_temperature")
    return formula, {"water": water, "room": room, **given}


def _friction(bake):
    """Return the rise of the dough a minute of mixing [degC], by the balance of heat of `mixing_rise_of`."""
    dough, minutes = bake.mean("dough_temperature"), _mixing(bake)
    try:
        went_in = _went_in(bake) if dough is not None and minutes else None
        return None if went_in is None else mixing_rise_of(went_in[0], dough, **went_in[1]) / minutes
    except KitError:  # the balance does not hold for this mix: it tells nothing here
        return None


def _foreseen(bake, stage, calibration=None):
    """Return the Rise foreseen to the ratio that was reached, at the temperature that was held; None if not known."""
    names = ("bulk_temperature", "bulk_rise") if stage == "bulk" else ("proof_temperature", "proof_rise")
    temperature, until = (bake.mean(name) for name in names)
    temperature = bake.mean("dough_temperature") if temperature is None and stage == "bulk" else temperature
    if temperature is None or until is None:
        return None
    try:
        formula = bake.trials[0].baked_formula
        return rise(formula, temperature=temperature, until=until, stage=stage, calibration=calibration)
    except KitError:  # no formula, no yeast, or a ratio that no model covers: this bake tells nothing here
        return None


def _time_factor(bake, stage):
    minutes = bake.mean("bulk_time" if stage == "bulk" else "proof_time")
    foreseen = None if minutes is None else _foreseen(bake, stage)
    return None if foreseen is None or not math.isfinite(foreseen.minutes) else minutes / foreseen.minutes


def _dividing(bake):
    pieces = bake.readings("piece_mass")
    if len(pieces) < PIECES:
        return None
    mean = sum(pieces) / len(pieces)
    return 100 * math.sqrt(sum((p - mean) ** 2 for p in pieces) / (len(pieces) - 1)) / mean


def _topping_loss(bake):
    raw, baked = bake.mean("topping_mass"), bake.mean("baked_topping_mass")
    return None if raw is None or baked is None else 100 * (1 - baked / raw)


def _dough_loss(bake, topping_loss):
    """Return the dough's loss [%]: from dough weighed apart, else from whole pieces less what topping and wash lose."""
    raw, apart = bake.mean("piece_mass"), bake.mean("baked_dough_mass")
    if raw is None:
        return None
    if apart is not None:
        return 100 * (1 - apart / raw)
    whole, baked = bake.trials[0].raw_piece, bake.mean("baked_mass")
    if whole is None or baked is None:
        return None
    topping = bake.mean("topping_mass") or 0.0
    return 100 * (whole - baked - topping * topping_loss / 100 - _wash_dried(bake)) / raw


def _wash_dried(bake):
    """Return the water of the wash on a piece, all of which dries [g]."""
    recipe = bake.trials[0].weighed_formula or bake.trials[0].planned_formula
    if recipe is None or not recipe.pieces["wash"]:
        return 0.0
    grams = bake.mean("wash_mass")
    sums = account(recipe.formula, lines_of(recipe.formula, "wash"), ("water", "mass"))
    return (recipe.pieces["wash"] if grams is None else grams) * sums["water"] / sums["mass"]


def _density(bake, topping_loss, default):
    """Return the density of the baked piece's dough [g per mL], the topping's volume taken off."""
    volume, baked = bake.mean("volume"), bake.mean("baked_mass")
    if volume is None or baked is None:
        return None
    topping = (bake.mean("topping_mass") or 0.0) * (1 - topping_loss / 100)
    left = volume - topping / default.topping_density.value
    density = (baked - topping) / left if left > 0 else 0.0
    # denser than the paste itself, a bun is none: volume or mass was misread
    return density if 0 < density < default.topping_density.value else None


# what a calibration foresees of one bake


def _with_band(estimate):
    return (estimate.value, *estimate.band())


def _foresee_temperature(bake, calibration):
    minutes, went_in = _mixing(bake), _went_in(bake)
    if not minutes or went_in is None:
        return None
    formula, given = went_in
    rises = (minutes * each for each in _with_band(calibration.friction_rise))
    return tuple(mixed_temperature(formula, mixing_rise=each, **given) for each in rises)


def _foresee_time(bake, calibration, stage):
    found = _foreseen(bake, stage, calibration)
    return None if found is None or not math.isfinite(found.high) else (found.minutes, found.low, found.high)


def _foresee_mass(bake, calibration):
    dough, whole = bake.mean("piece_mass"), bake.trials[0].raw_piece
    if dough is None or whole is None:
        return None
    topping = bake.mean("topping_mass") or 0.0
    losses = calibration.bake_loss_dough, calibration.bake_loss_topping
    mean = whole - (dough * losses[0].value + topping * losses[1].value) / 100 - _wash_dried(bake)
    spread = (dough * losses[0].next_spread() + topping * losses[1].next_spread()) / 100  # one oven takes of both
    return mean, mean - reach() * spread, mean + reach() * spread
