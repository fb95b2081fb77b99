"""How many pieces, how much they weigh raw and baked, and what is lost on the way."""

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ..balance.accounts import account, in_blocks, lines_of
from ..balance.bands import reach, spread_of
from ..errors import AmountError, FormulaError, must
from ..formula import Formula, expected_losses
from ..formula.losses import kept_before_scaling
from ..formula.parts import make_up, only_one
from ..formula.scaling import batch_of, make
from ..page import Result
from ..tables import table
from ..units import read_above
from ..words import figure, plain, span
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
        return np.sqrt(self.dough**2 + self.topping**2)


@dataclass(frozen=True, eq=False)
class ToScale(Result):
    """What to scale so that so many of 100 baked pieces weigh at least what is wished."""

    least: float  # baked piece wished [g]
    wish: float  # of 100 pieces
    scale: float  # raw dough [g]
    scatter: ScalingScatter = field(repr=False)
    columns, digits = ("spread", "rests on"), 0

    @property
    def words(self):
        """What to scale for the wish, and what the formula scales now."""
        return (
            f"{self.wish:g} of 100 baked pieces at least {figure(self.least)} g: scale {figure(self.scale)} g of "
            f"dough; the formula scales {figure(self.scatter.piece)} g."
        )

    @property
    def grounds(self):
        """What the spread of dividing and of the loss rests on."""
        return self.scatter.grounds


@dataclass(frozen=True, eq=False)
class Yield(Result):
    """Pieces and masses of a batch, floats or arrays; low and high are the band that the loss ranges give."""

    pieces: Any  # count
    flour: Any  # [g]
    dough_mixed: Any  # [g]
    baked_piece: Any  # [g]
    baked_piece_low: Any
    baked_piece_high: Any
    losses: dict = field(repr=False)  # (part, stage): Loss
    formula: Formula = field(repr=False)
    calibration: Any = field(repr=False, default=None)
    capped: tuple = ()  # parts whose baking loss was held to their water and alcohol, or whose water nobody wrote
    columns, digits, strong = ("what", "g (pieces: count)", "low", "high"), 1, (3, 8)

    @property
    def dough_scaled(self):
        """The dough that reaches the scale [g]."""
        return self.dough_mixed * kept_before_scaling(self.losses)

    @property
    def dough_left(self):
        """The dough over after the last piece [g]."""
        return np.maximum(self.dough_scaled - self.pieces * self.formula.pieces.dough, 0.0)

    @property
    def _crust(self):
        return self.formula.pieces.topping if self.formula.has("topping") else 0.0

    @property
    def topping_needed(self):
        """The topping on the pieces [g]."""
        return self.pieces * self._crust

    @property
    def topping_to_mix(self):
        """The topping with its own losses [g]."""
        return self.topping_needed / kept_before_scaling(self.losses, "topping")

    @property
    def raw_piece(self):
        """A piece of dough with its topping, filling and wash [g]."""
        p = self.formula.pieces
        return np.broadcast_to(p.dough + self._crust + p.wash + p.filling, self.formula.shape)[()]

    @property
    def baked_mass(self):
        """All pieces, baked [g]."""
        return self.pieces * self.baked_piece

    def scatter(self, dough: Any = None, topping: Any = None, coverage: float = 80.0) -> ScalingScatter:
        """Return the ScalingScatter of its pieces, one formula or many.

        dough, topping [% of the piece, standard deviation of dividing], else the kitchen's or the tables' for both;
        coverage [%] at which a loss known from few bakes is widened (Student). Independent normal scatters add as
        variances; the losses of dough and topping move together. Raises AmountError.

        >>> from kit.formula import Formula
        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 100}, losses={"baking": 10})
        >>> round(float(predict_yield(bun).scatter(dough=2).dough), 2)
        1.8
        """
        calibration, pieces = self.calibration or Calibration(), self.formula.pieces
        masses = {"dough": pieces.dough, "topping": self._crust}
        hands, kept, more, loss, lighter, grounds = {}, {}, {}, 0.0, 0.0, {}
        for part, given in (("dough", dough), ("topping", topping)):
            usual, words = calibration.dividing_scatter, f"dividing the {part}"
            percent = usual.value if given is None else read_above(given, "percentage", words, zero=True)
            grounds[words] = usual.rests_on if given is None else "given here"
            lost, own = self.losses[part, "baking"], getattr(calibration, f"bake_loss_{part}")
            if own.bakes:
                spread = more[part] = own.next_spread(coverage) / 100
            else:
                spread, more[part] = spread_of(lost.low, lost.high) / 100, (lost.high - lost.percent) / 100 / reach()
            kept[part] = 1 - lost.percent / 100
            hands[part] = masses[part] * kept[part] * percent / 100
            loss, lighter = loss + masses[part] * spread, lighter + masses[part] * more[part]
        grounds["loss in the oven"] = self.losses["dough", "baking"].rests_on
        if self.formula.has("topping"):
            grounds["loss in the oven"] += f"; topping: {self.losses['topping', 'baking'].rests_on}"
        baked, crust = self.baked_piece, hands["topping"]
        kept, more = kept["dough"], more["dough"]
        return ScalingScatter(masses["dough"], baked, hands["dough"], crust, loss, lighter, kept, more, grounds)

    def to_scale(self, least: Any, wish: float = 95.0, dough: Any = None, topping: Any = None) -> ToScale:
        """Return what to scale so that `wish` of 100 baked pieces weigh at least so much: ToScale.

        least [g or any mass]; wish [of 100 pieces]; dough, topping as in `scatter`; the topping stays. Solves
        q m + c - z sqrt((s m)^2 + t^2 + (l m + k)^2) = least for the dough m, the spread of the loss that of its upper
        side, for it makes light pieces. The kitchen's own wish, no test of a law. Raises AmountError, FormulaError.

        >>> from kit.formula import Formula
        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 55}, makes={"piece": 100}, losses={"baking": 10})
        >>> print(predict_yield(bun).to_scale("90 g"))
        95 of 100 baked pieces at least 90.0 g: scale 105.7 g of dough; the formula scales 100.0 g.
        """
        only_one(self.formula, "to be scaled", "choose one")
        least = read_above(least, "mass", "least", "say what a baked piece should weigh")
        if not 50 < wish < 100:
            raise AmountError(must("wish", "above 50 and below 100 % of the pieces", f"{wish:g} %", "95 is usual"))
        scatter = self.scatter(dough, topping, coverage=2 * wish - 100)  # few bakes say less, the surer one asks
        z, m = reach(2 * wish - 100), float(scatter.piece)
        kept, per_gram, s = float(scatter.kept), float(scatter.loss_spread), float(scatter.dough) / m
        rest, other = float(scatter.baked) - kept * m - least, float(scatter.lighter) - per_gram * m
        a = kept**2 - z * z * (s * s + per_gram**2)
        b = 2 * (kept * rest - z * z * per_gram * other)
        c = rest**2 - z * z * (float(scatter.topping) ** 2 + other**2)
        if a <= 0:
            be = "small enough to be made good by scaling more"
            raise AmountError(must("scatter", be, f"{100 * s:g} %", "divide better"))
        return ToScale(least, wish, (-b + math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a), scatter)

    def frame_rows(self):
        """Return what is made and what comes of it, the baked masses with their band."""
        known = {
            "flour": self.flour,
            "dough mixed": self.dough_mixed,
            "dough that reaches the scale": self.dough_scaled,
            "pieces": self.pieces,
            "dough left over": self.dough_left,
            "topping on the pieces": self.topping_needed,
            "topping to mix": self.topping_to_mix,
            "raw piece": self.raw_piece,
        }
        ends = self.baked_piece, self.baked_piece_low, self.baked_piece_high
        rows = [(what, value, np.nan, np.nan) for what, value in known.items()]
        return [*rows, ("baked piece", *ends), ("all pieces baked", *(self.pieces * end for end in ends))]

    @property
    def grounds(self):
        """What each loss rests on, and what is in print beside it, with what that is of."""
        said = {}
        for (part, stage), loss in self.losses.items():
            rests = f"{figure(loss.percent)} %, band {figure(loss.low)} to {figure(loss.high)}: {loss.rests_on}"
            said[f"{part} {stage}"] = "; in print: ".join([rests, "; ".join(loss.printed)]) if loss.printed else rests
        return said

    @property
    def words(self):
        """How many pieces many formulas give; nothing of one, whose table says it."""
        return f"yield of many formulas: {span(self.pieces, 0)} pieces" if np.ndim(self.pieces) else ""

    @property
    def notes(self):
        """What was held back, and what the baking losses of one formula rest on."""
        if np.ndim(self.pieces):
            return self.capped
        parts = ("dough", "topping") if self.topping_needed else ("dough",)
        return [*self.capped, *(f"baking loss of the {part}: {self.grounds[f'{part} baking']}" for part in parts)]


def predict_yield(
    formula: Formula,
    flour: Any = None,
    dough: Any = None,
    pieces: Any = None,
    piece: Any = None,
    topping: Any = None,
    wash: Any = None,
    losses: dict | None = None,
    calibration: Calibration | None = None,
) -> Yield:
    """Return the Yield of a batch: pieces, dough left over, raw and baked mass, each loss and its band.

    formula: one, or many
    flour, dough: how much is made [g or any mass]; or
    pieces: how many [count], else the formula's count, else 1000 g of flour
    piece, topping, wash: of dough and of what is on it [g or any mass], else the formula's
    losses: {stage: %}, else the baking losses and bands of the calibration, else the formula's own
    calibration: the kitchen's own figures

    Stage losses follow one another: kept = product of (1 - loss). The dough and the topping each lose in the oven on
    their own, never more than the water and alcohol in them. Raises FormulaError, AmountError, UnitError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 60}, losses={"dividing": 2, "baking": 11})
    >>> made = predict_yield(bun, flour="5 kg", piece="60 g", topping="0 g")
    >>> made.pieces, round(made.baked_piece, 1)
    (130, 53.4)
    """
    given = {"dough": ("piece", piece), "topping": ("topping", topping), "wash": ("wash", wash)}
    masses = {
        part: read_above(value, "mass", name, "weigh one piece", part != "dough", FormulaError)
        for part, (name, value) in given.items()
        if value is not None
    }
    if masses:
        formula = formula.with_parts(formula.parts, make_up(formula.pieces.given | masses)).checked()
    found = losses_here(formula, losses, calibration)
    amount = batch_of(formula, flour, dough, pieces, usual_flour=1000.0)
    least: dict[str, float] = {}
    made = in_blocks(formula, lambda some: _yield(some, amount, found, least))
    capped = [
        f"{part}: baking loss held to {figure(percent)} %, the water and alcohol that are in it"
        for part, percent in least.items()
    ]
    capped += [
        f"{kind}: no part says what is in it, so {_dries(kind).note}; add the part, or take its mass out"
        for kind in _PUT_ON
        if not formula.has(kind) and np.any(getattr(formula.pieces, kind) > 0)
    ]
    return Yield(**made, losses=found, formula=formula, calibration=calibration, capped=tuple(capped))


def losses_here(formula: Formula, given: dict | None = None, calibration: Any = None) -> dict:
    """Return {(part, stage): Loss} of `expected_losses`, with the baking losses that a kitchen's bakes taught.

    given {stage: %} goes before the calibration, the calibration before the formula's own. Raises AmountError.
    """
    if not (calibration is None or isinstance(calibration, Calibration)):
        be = "a Calibration of the kitchen's bakes"
        raise AmountError(must("calibration", be, type(calibration).__name__, "kit.calibrate makes one"))
    found, named = expected_losses(formula, given), {plain(name) for name in given or {}}
    for part, words in (("dough", {"baking", "dough baking"}), ("topping", {"topping baking"})):
        own = calibration and getattr(calibration, f"bake_loss_{part}")
        if own and own.bakes and not words & named:
            low, high = own.band()
            loss = found[part, "baking"]
            found[part, "baking"] = replace(
                loss, percent=own.value, low=max(low, 0.0), high=min(high, 100.0), rests_on=own.rests_on
            )
    return found


_PUT_ON = ("wash", "filling")


def _dries(kind):
    """Return the row of how much of the water of what is put on raw dries [%], and what is taken where none is told."""
    return table("piece_defaults").row(what=f"{kind}_dries")


def _yield(formula, amount, losses, least):
    """Return {field of Yield: number}; least: {part: what it can give [%]} is told of where a loss is held to it."""
    p = formula.pieces
    flour, mixed, _, count = make(formula, amount, losses)
    crust = p.topping if formula.has("topping") else 0.0
    baked = dict.fromkeys(("percent", "high", "low"), 0.0)
    for part, over, grams in (("dough", "divided", p.dough), ("topping", "topping", crust)):
        if lines := lines_of(formula, over):
            sums = account(formula, lines, ("water", "alcohol", "mass"))
            can_give = 100 * (sums["water"] + sums["alcohol"]) / sums["mass"]
            for which in baked:
                loss = getattr(losses[part, "baking"], which)
                if np.any(loss > (most := np.min(can_give))):
                    least[part] = min(most, least.get(part, most))
                    loss = np.minimum(loss, can_give)
                baked[which] = baked[which] + grams * (1 - loss / 100)
    egg = formula.ingredients.column("water")[formula.ingredients.row("egg_whole_fresh")] / 100
    for kind in _PUT_ON:
        dries, wet = _dries(kind), egg if kind == "wash" else 0.0
        if lines := lines_of(formula, kind):
            sums = account(formula, lines, ("water", "mass"))
            wet = sums["water"] / sums["mass"]
        for which, percent in (("percent", dries.value), ("high", dries.high), ("low", dries.low)):
            baked[which] = baked[which] + getattr(p, kind) * (1 - wet * percent / 100)
    whole = {
        "flour": flour,
        "dough_mixed": mixed,
        "baked_piece": baked["percent"],
        "baked_piece_low": baked["high"],
        "baked_piece_high": baked["low"],
    }
    if not formula.shape:
        return {name: float(value) for name, value in whole.items()} | {"pieces": int(count)}
    return whole | {"pieces": np.asarray(count, int)}
