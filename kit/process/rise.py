"""How long a dough takes to rise: temperature, the water its sugar and salt leave, and its yeast.

time = that of a usual bun dough x rate there / rate here, where a rate is the product of a cardinal temperature
model with the cardinals of gassing, a straight line in water activity and a power of the yeast. The usual dough's
time and how far bakeries differ from it are fitted on printed times of enriched doughs. Fat, stiffness and acidity
are not in it; a kitchen's own bakes correct it.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import page
from ..balance.accounts import lines_of
from ..errors import AmountError, FormulaError, must
from ..formula import Formula
from ..formula.parts import Lines, only_one
from ..tables import ground, source, table
from ..units import read, read_above
from ..words import figure, listing, plain, span
from .activity import YEAST, must_have_water, solutes_of, weights, yeast_factors
from .calibration import Calibration
from .causes import RiseCauses, causes
from .gassing import HOURS, Setting, Work, reference_point, values
from .heat import warmth
from .rise_band import Band

FACTOR = {"bulk": "rise_factor", "final proof": "proof_factor", "sponge": "sponge_factor"}
MOST = 3.0  # times its volume: beyond it gas is lost and nothing is foreseen
SOFTENS = "butter and paste soften"
_ROWS = 16384  # doughs at once: their arrays stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Curve:
    """Volume against time: minutes, ratio to the volume at the start, and its band."""

    minutes: np.ndarray
    ratio: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, eq=False)
class Rise(page.Result):
    """How long a dough takes to reach a ratio of its volume, floats or arrays; inf where it never does."""

    minutes: Any
    low: Any  # [min], end of the band
    high: Any
    water_activity: Any  # that the yeast meets, the sugars that feed it left out
    log_spread: Any  # standard deviation of ln(work), which is ln(minutes) while the temperature stays
    log_shift: Any  # its mean, 0 where as much may be less as more
    yeast: Any  # as fresh yeast [% of flour]
    stage: str  # bulk, final proof or sponge
    until: float  # [times its volume at the start]
    temperature: float  # of the dough at the start [degC]
    room: float | None  # [degC], None when the dough keeps its temperature
    setting: Setting = field(repr=False)
    formula: Formula = field(repr=False)
    lines: Lines = field(repr=False)
    band: Band = field(repr=False)  # of one dough
    notes: tuple[str, ...] = field(repr=False, default=())
    columns = ("cause", "spread, % of the work", "rests on")

    def curve(self, minutes: Any) -> Curve:
        """Return the Curve of one dough at these minutes [min, an array]; held at 3 times.

        ratio = 1 + (until - 1) (rate added up / rate needed)^(1 / rise exponent).

        >>> from kit.formula import Formula
        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
        >>> [round(float(r), 2) for r in rise(bun, temperature=27).curve([0, 73.5]).ratio]
        [1.0, 1.8]
        """
        only_one(self.formula, "for its curve")
        minutes = np.asarray(minutes, float)
        less, more = self.band.ends(minutes)
        done = self.band.path.ln_done(minutes) - self.band.work.ln
        power = 1 / values()["rise exponent"]
        ratios = [np.minimum(1 + (self.until - 1) * np.exp(power * (done - end)), MOST) for end in (0.0, more, less)]
        return Curve(minutes, *ratios)

    def against(self, other: "Rise") -> RiseCauses:
        """Return the RiseCauses of the difference from another Rise of one dough to this one, exact.

        other: what it was before, of the same stage. Raises FormulaError where one of them never rises.

        >>> from kit.formula import Formula
        >>> a = Formula.from_weights("a", {"flour": 100, "water": 50, "egg": 10, "sugar": 14, "fresh yeast": 4})
        >>> print(rise(a.vary(sugar=22, egg=20), 27).against(rise(a, 27)))
        65 → 75 min: sugar +12.4 min, egg's water −2.5 min and egg's sugars +0.1 min
        """
        return causes(other, self)

    def frame_rows(self):
        """Return what widens the band, its standard deviation and what that rests on, the largest first."""
        only_one(self.formula, "for what widens its band")
        by_then = self.band.causes(min(self.minutes, 60 * HOURS))
        rows = [(cause.name, 100 * float(np.squeeze(cause.spread)), cause.rests_on) for cause in by_then]
        return sorted((row for row in rows if row[1] > 1e-7), key=lambda row: -row[1])

    def sources(self):
        """Return what time and band rest on."""
        point = reference_point(self.stage)
        models = [row for row in table("models").rows if row.model.startswith(("rate ", "water activity "))]
        texts = [f"{point.what} ({ground(point)})"]
        texts += [f"{row.model}: {row.equation}, {source(row.source)}" for row in models]
        return list(dict.fromkeys([*texts, *(rests_on for *_, rests_on in self.frame_rows())]))

    @property
    def words(self) -> str:
        """How long it takes with its band, or why it never does."""
        if np.ndim(self.minutes):
            return f"{self.stage} of many doughs: {span(self.minutes, 0)} min"
        if not math.isfinite(self.minutes):
            return f"{self.stage}: it does not rise to {self.until:g} times: {self.notes[0] if self.notes else ''}"
        room = "" if self.room is None else f", room {figure(self.room)} °C"
        return (
            f"{self.stage}: {_time(self.minutes)} to {self.until:g} times, 80 % band "
            f"{figure(self.low, 0)} to {_time(self.high)}, dough {figure(self.temperature)} °C{room}"
        )


def _time(minutes):
    return f"{figure(minutes, 0)} min" if minutes <= 60 * HOURS else f"more than {HOURS / 24:.0f} days"


def rise(
    formula: Formula,
    temperature: float | str | None = None,
    room: float | str | None = None,
    yeast: float | str | None = None,
    until: float | None = None,
    stage: str = "bulk",
    sugar_tolerant: bool = False,
    batch: float | str | None = None,
    calibration: Calibration | None = None,
    part: str | None = None,
) -> Rise:
    """Return the Rise of a dough: minutes to a ratio of its volume, with a band.

    formula: one, or many
    temperature: of the dough at the start [degC or text], else the formula's own step
    room: towards which it cools or warms by Newton's law [degC or text]; None when it keeps its temperature
    yeast: as fresh yeast [% of flour], else the formula's
    until: 1 to 3 [times its volume], else as the stage usually has it
    stage: bulk, final proof or sponge
    sugar_tolerant: whether the yeast is such a strain
    batch: what stands together and cools [g or any mass], else the formula's
    calibration: the kitchen's own figures
    part: which preferment a sponge is, where there are several

    Returns floats, or arrays for many. Half of the chance of each stated spread lies on each side of its figure.
    Raises FormulaError without yeast or water or with too much salt; AmountError outside 0 to 50 degC; UnitError.

    Cardinal temperature model of Rosso 1993 x water activity x yeast; a usual dough's time fitted on printed ones.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
    >>> usual = rise(bun, temperature=27)
    >>> round(usual.minutes), usual.low < 60 and usual.high > 90
    (89, True)
    """
    setting, lines, notes = _setting(formula, temperature, room, until, stage, sugar_tolerant, batch, calibration, part)
    solutes, amount, dried = _doughs(formula, lines, yeast)
    blocks = []
    for first in range(0, amount.size, _ROWS):
        at = slice(first, first + _ROWS)
        work = Work(setting, solutes.reshape(-1, solutes.shape[-1])[at], amount.reshape(-1)[at])
        band = Band(work, dried.reshape(-1)[at])
        middle = band.path.ln_minutes(work.ln)
        low, high = band.minutes(work.ln)
        ends = np.exp([middle, np.minimum(low, middle), np.maximum(high, middle)])  # by a hair
        shift, spread = band.total(np.minimum(ends[0], 60 * HOURS))
        blocks.append(np.broadcast_arrays(*ends, work.activity(), spread, shift))
    names = ("minutes", "low", "high", "water_activity", "log_spread", "log_shift")
    arrays = (np.concatenate(each).reshape(amount.shape) for each in zip(*blocks, strict=True))
    found: dict[str, Any] = dict(zip(names, arrays, strict=True)) | {"yeast": amount}
    if not formula.shape:
        found = {name: float(each) for name, each in found.items()}
        notes = [*_mind(setting, found["water_activity"], found["minutes"]), *notes]
    asked = {"stage": setting.stage, "until": setting.until, "temperature": setting.start, "room": setting.room}
    return Rise(**found, **asked, setting=setting, formula=formula, lines=lines, band=band, notes=tuple(notes))


@functools.lru_cache(maxsize=16)
def doubling(formula: Formula) -> Callable[[np.ndarray], Any]:
    """Return the function of what the yeast meets (..., 6) [g on 100 g flour] that gives how long the bulk takes to
    double, at the temperature of its own step or as usual [min]: the middle of `rise`, whose errors it raises.
    """
    setting = _setting(formula, until=2.0)[0]
    path = setting.path()
    return lambda solutes: np.exp(path.ln_minutes(Work(setting, solutes, _amount(solutes)).ln))[()]


def _setting(
    formula,
    temperature=None,
    room=None,
    until=None,
    stage="bulk",
    tolerant=False,
    batch=None,
    calibration=None,
    part=None,
):
    """Return (Setting, the Lines that rise, notes of what was assumed)."""
    point, notes = reference_point(plain(stage)), []
    until = point.ratio if until is None else until
    if not 1 < until <= MOST:
        do = "a dough doubled is at 2; beyond 3 it loses gas"
        raise AmountError(must("until", "above 1 and at most 3 times the volume at the start", f"{until:g}", do))
    steps = [s for s in formula.steps if point.stage in plain(s.do) and s.temperature is not None]
    told = temperature is not None or bool(steps)
    if temperature is None:
        temperature = float(steps[0].temperature) if steps else point.temperature_degC
        words = "taken from the formula's own step" if steps else "assumed: say how warm it is and the band narrows"
        notes.append(f"dough at {figure(temperature)} °C, {words}")
    start = warmth(temperature, "dough temperature")
    room = None if room is None else warmth(room, "room")
    lines, mass = _lines(formula, point.stage, part)
    mass = read_above(mass if batch is None else batch, "mass", "batch", "say how much dough stands together")
    calibration = calibration or Calibration()
    factor = getattr(calibration, FACTOR[point.stage])
    setting = Setting(point.stage, float(until), tolerant, start, told, room, mass, factor, calibration.cooling_time)
    return setting, lines, notes


def _doughs(formula, lines, yeast=None):
    """Return what the yeast meets, how much of it there is [% of flour], and how far dried yeast's factors disagree."""
    solutes = solutes_of(formula, lines)
    own, amount = solutes[..., YEAST], _amount(solutes, yeast)
    dried = 0.0 * amount
    for n, key in enumerate(lines.keys):
        row = formula.ingredients[key]
        factors = yeast_factors(row.name) if row.kind == "yeast" and yeast is None else ()
        if len(factors) > 1:
            share = lines.grams[..., n] * weights(formula.ingredients)[formula.ingredients.row(key), YEAST] / own
            dried = dried + share * math.log(max(factors) / min(factors)) / math.sqrt(12)
    return solutes, amount, dried


def _amount(solutes, yeast=None):
    """Return how much yeast a dough has, or this much, as fresh [% of flour]; solutes: what it meets."""
    must_have_water(solutes)
    own = solutes[..., YEAST]
    amount = np.asarray(own if yeast is None else read(yeast, "percentage", "yeast") + 0 * own)
    if np.any(~(amount > 0)):
        do = "give the dough yeast, or yeast=4 for 4 % fresh"
        raise FormulaError(must("yeast", "above 0 % in the dough", "0 %", do))
    return amount


def _lines(formula, stage, part):
    """Return the Lines that rise, on 100 g of their own flour, and the mass that stands together [g]."""
    lines, pieces = lines_of(formula), formula.pieces
    if stage == "final proof":
        return lines, float(np.mean(pieces.dough)) + float(np.mean(pieces.topping))
    whole = float(np.mean(lines.grams.sum(-1)))
    dough = float(np.mean(pieces.dough)) * pieces.count if pieces.count else 10 * whole
    if stage == "bulk":
        return lines, dough
    first = [p for p in formula.parts if p.kind == "preferment"] if part is None else [formula.part(part)]
    if len(first) != 1:
        be, got = "one preferment, named by part=", listing(p.name for p in first) or "none"
        raise FormulaError(must("sponge", be, got, "name it, or make one with with_preferment"))
    flour = formula.flour_in(first[0])
    if np.any(flour <= 0):
        do = "its yeast is measured against its flour"
        raise FormulaError(must(first[0].name, "a part with flour", "0 %", do))
    values = tuple(100 * value / flour for value in first[0].percentages)
    return Lines(first[0].keys, values, formula.shape), dough * float(np.mean(first[0].mass)) / whole


def _mind(setting, activity, minutes):
    """Yield what the reader should know of one dough."""
    least = values()[setting.least]
    if activity <= least:
        kind = "a sugar-tolerant strain" if setting.tolerant else "this yeast"
        strain = "" if setting.tolerant else " or a sugar-tolerant strain"
        low = f"water activity {figure(activity, 3)} is below the {figure(least, 2)} that {kind} needs"
        yield f"{low}: less sugar and salt, more water{strain}"
    elif not math.isfinite(minutes):
        yield "the yeast does not work at that temperature, or not within four days"
    warmth = [t for t in (setting.start, setting.room) if t is not None]
    soft = table("rise_parameters").row(what=SOFTENS)
    if max(warmth) > soft.value:
        yield (
            f"above {soft.value:g} °C butter and the crust's paste soften: dough with butter in layers is proofed "
            f"at {soft.low:g} at most ({source(soft.source, people=False)}), milk fat is all melted at {soft.high:g} "
            "(recalled)"
        )
    if max(warmth) > 38:
        yield "above 38 °C makers of yeast advise against; the band is widened there by the best temperature"
    if min(warmth) < 10:
        yield "below 10 °C little is published; the band is widened there by the lowest temperature"
    if setting.room is not None:
        pace = f"{figure(setting.mass, 0)} g nears the room by 63 % in {figure(setting.cooling, 0)} min"
        yield f"{pace}, {ground(table('calibration').row(what='cooling_time'))}"
