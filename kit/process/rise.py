"""How long a dough takes to rise: temperature, the water its sugar and salt leave, and its yeast.

time = the trade's own time for a usual bun dough x rate there / rate here, where a rate is the product of a
cardinal temperature model, a straight line in water activity and a power of the yeast. Fat, stiffness and
acidity are not in it; a kitchen's own bakes correct it.
"""

import functools
import math
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page
from ..balance.accounts import Lines, dough_lines
from ..balance.bands import reach, spread_of
from ..errors import AmountError, FormulaError, UnknownName, must
from ..formula import Formula
from ..formula.formula import only_one
from ..tables import source, table
from ..units import read
from ..words import did_you_mean, figure, listing, plain
from .activity import (
    HEXOSE,
    SUCROSE,
    YEAST,
    ln_activity,
    molalities,
    must_have_water,
    solutes_of,
    weights,
    yeast_factors,
)
from .calibration import Calibration, Estimate, standard_deviation

FACTOR = {"bulk": "rise_factor", "final proof": "proof_factor", "sponge": "sponge_factor"}
COLDEST, WARMEST = 0.0, 50.0  # degC: beyond them the dough freezes, or its yeast dies and its butter runs out
MOST = 3.0  # times its volume: beyond it gas is lost and nothing is foreseen
_HOURS = 96.0  # how far ahead a dough that cools or warms is followed
_CARDINALS = ("lowest temperature", "best temperature", "highest temperature")


def cardinal_rate(temperature, lowest, best, highest):
    """Return the rate of growth at a temperature as a share of the best, 0 to 1; float or array.

    temperature, lowest, best, highest [degC], with best above their middle. Cardinal temperature model with
    inflection, Rosso, Lobry and Flandrois 1993, eq. 1; 0 outside lowest to highest. Raises AmountError.

    >>> round(cardinal_rate(22, 5, 20, 30), 7)
    0.9633333
    """
    if not lowest < best < highest or best <= (lowest + highest) / 2:
        be = f"above the middle of lowest and highest, {figure((lowest + highest) / 2)} degC"
        raise AmountError(must("best temperature", be, f"{figure(best)} degC", "the equation bends the wrong way"))
    t = np.asarray(temperature, float)
    top = (t - highest) * (t - lowest) ** 2
    beneath = (best - lowest) * ((best - lowest) * (t - best) - (best - highest) * (best + lowest - 2 * t))
    inside = (t > lowest) & (t < highest)
    rate = np.where(inside, top / np.where(inside, beneath, 1.0), 0.0)
    return rate if rate.ndim else float(rate)


@functools.cache
def parameters():
    """Return {what: (value, standard deviation, what it rests on)} of rise_parameters.csv."""
    result = {}
    for row in table("rise_parameters").rows:
        words = row["provenance"] if row["source"] == "common_practice" else f"{source(row['source'])}"
        result[row["what"]] = (float(row["value"]), standard_deviation(row), words)
    return result


def value_of(what):
    """Return the value of rise_parameters.csv that goes by that name."""
    return parameters()[what][0]


def _cardinals():
    return tuple(value_of(name) for name in _CARDINALS)


def _spread(what):
    return parameters()[what][1]


@functools.cache
def reference_point(stage):
    """Return the row of rise_reference_points.csv of a stage, its numbers as floats. Raises UnknownName."""
    rows = {row["stage"]: row for row in table("rise_reference_points").rows}
    if stage not in rows:
        raise UnknownName(must("stage", f"one of {listing(rows, 'or')}", repr(stage), did_you_mean(stage, rows)))
    words = ("stage", "what", "source", "provenance", "note")
    row = {name: value if name in words else float(value) for name, value in rows[stage].items()}
    solutes = np.zeros(6)
    solutes[:] = row["sugar_percent"], 0.0, 0.0, row["salt_percent"], row["water_percent"], row["fresh_yeast_percent"]
    return row | {"solutes": solutes, "minutes": math.sqrt(row["low_minutes"] * row["high_minutes"])}


@dataclass(frozen=True)
class _Setting:
    """What is the same for every dough of one question."""

    stage: str
    until: float
    split: bool
    tolerant: bool
    start: object  # of the dough, degC, float or array
    room: object  # degC or None
    cooling: float  # min
    factor: float  # this kitchen's time / the trade's

    @property
    def least(self):
        return "lowest water activity" + (" of a sugar-tolerant strain" if self.tolerant else "")

    def path(self, cardinals=None, warmer=0.0, slower=1.0):
        return _Path(self.start + warmer, self.room, self.cooling * slower, cardinals or _cardinals())


class _Path:
    """The rate along a dough's own temperature, from the start [degC] towards the room."""

    def __init__(self, start, room, cooling, cardinals):
        self.cardinals, self.steady = cardinals, room is None
        if self.steady:
            self.rate = cardinal_rate(start, *cardinals)
            return
        # fine at first, when the dough still changes; even steps in the cooling's own pace, then in hours
        near = cooling * np.linspace(0, 8, 1601)
        self.minutes = np.concatenate([near, np.linspace(near[-1], max(60 * _HOURS, 2 * near[-1]), 2001)[1:]])
        self.temperature = room + (start - room) * np.exp(-self.minutes / cooling)  # Newton's law
        self.rates = cardinal_rate(self.temperature, *cardinals)
        steps = np.diff(self.minutes) * (self.rates[1:] + self.rates[:-1]) / 2
        self.done = np.concatenate([[0.0], np.cumsum(steps)])

    def ln_minutes(self, ln_needed):
        """Return ln(minutes) until the rate has added up to what is needed; inf when it never does."""
        if self.steady:
            return ln_needed - _ln(self.rate)
        needed = np.exp(ln_needed)
        return np.where(needed > self.done[-1], np.inf, _ln(np.interp(needed, self.done, self.minutes)))

    def ln_done(self, minutes):
        """Return ln of what the rate has added up to."""
        if self.steady:
            return _ln(self.rate) + _ln(minutes)
        return _ln(np.interp(minutes, self.minutes, self.done))


def _ln(value):
    with np.errstate(divide="ignore"):
        return np.log(value)


def ln_rate(activity, least):
    """Return ln of the rate at a water activity, a straight line from 0 at `least` to 1 in pure water."""
    return _ln(np.maximum(activity - least, 0.0) / (1 - least))


def activity_of(solutes, split, free):
    """Return the water activity that the yeast meets, so much of the sugar [% of flour] left out."""
    return np.exp(ln_activity(molalities(solutes, split, free)))


def ln_work(setting, solutes, yeast):
    """Return ln of the time that a dough needs at the best temperature, and the water activity its yeast meets."""
    row = reference_point(setting.stage)
    free = value_of("sugar that does not slow")
    least = value_of(setting.least)
    activity = activity_of(solutes, setting.split, free)
    there = activity_of(row["solutes"], True, free)
    n = value_of("yeast exponent")
    fixed = (
        math.log(row["minutes"] * setting.factor)
        + math.log(cardinal_rate(row["temperature_degC"], *_cardinals()))
        + float(ln_rate(there, value_of("lowest water activity")))
        + n * math.log(row["fresh_yeast_percent"])
        + value_of("rise exponent") * math.log((setting.until - 1) / (row["ratio"] - 1))
    )
    return fixed - ln_rate(activity, least) - n * np.log(yeast), activity


def _spreads(setting, solutes, yeast, dried, estimates, coverage):
    """Return ln(work), its (low, middle, high) in ln(minutes), and [(cause, standard deviation of ln(work), from)]."""
    row, split = reference_point(setting.stage), setting.split
    needed, activity = ln_work(setting, solutes, yeast)
    path = setting.path()
    middle = path.ln_minutes(needed)
    n, factor, given = value_of("yeast exponent"), estimates["factor"], estimates["temperature"]
    words = {name: entry[2] for name, entry in parameters().items()}
    found = [("this kind of dough", factor.next_spread(coverage), factor.rests_on)]

    # How much more or less is done by the time foreseen, on another path.
    by_then = np.minimum(np.exp(middle), 60 * _HOURS)
    done = path.ln_done(by_then)

    def on_paths(low, high):
        return _half(*(_less(p.ln_done(by_then), done) for p in (low, high)))

    if not factor.bakes or given:  # a kitchen's own bakes hold its thermometer, its eye and its yeast's lots
        warmth = given.spread if given else _spread("dough temperature as read")
        rests_on = given.rests_on if given else words["dough temperature as read"]
        found.append(
            ("dough temperature", on_paths(setting.path(warmer=-warmth), setting.path(warmer=warmth)), rests_on)
        )
    if not factor.bakes:
        ends = [row[f"fresh_yeast_{end}_percent"] for end in ("low", "high")]
        ranges = f"the range of the reference point, {row['provenance']}"
        found.append(("yeast of the reference point", n * spread_of(*ends, log=True), ranges))
        ends = [cardinal_rate(row[f"temperature_{end}_degC"], *path.cardinals) for end in ("low", "high")]
        found.append(("temperature of the reference point", abs(spread_of(*ends, log=True)), ranges))
        found.append(("yeast lot", n * _spread("yeast lot"), words["yeast lot"]))
        eye = value_of("rise exponent") * _spread("ratio as judged") / (setting.until - 1)
        found.append(("ratio as judged", eye, words["ratio as judged"]))
    if estimates["yeast"]:
        found.append(("yeast as given", n * estimates["yeast"].spread, estimates["yeast"].rests_on))
    away = np.abs(np.log(yeast / row["fresh_yeast_percent"]))
    found.append(("yeast exponent", away * _spread("yeast exponent"), words["yeast exponent"]))
    found.append(("yeast form", n * dried, "published factors that differ"))
    away = abs(math.log((setting.until - 1) / (row["ratio"] - 1)))
    found.append(("rise exponent", away * _spread("rise exponent"), words["rise exponent"]))

    # Each limit moved by one standard deviation, for the dough and for the reference point at once.
    usual, free = "lowest water activity", value_of("sugar that does not slow")
    there = activity_of(row["solutes"], True, free)

    def rate(of_dough, of_point, step=0.0):
        point = ln_rate(of_point, value_of(usual) + (0.0 if setting.tolerant else step))
        return ln_rate(of_dough, value_of(setting.least) + step) - point

    now, step = rate(activity, there), _spread(setting.least)
    ends = [_less(rate(activity, there, sign * step), now) for sign in (-1, 1)]
    found.append((setting.least, _half(*ends), words[setting.least]))
    step = _spread("sugar that does not slow")
    ends = [
        _less(rate(activity_of(solutes, split, free + s), activity_of(row["solutes"], True, free + s)), now)
        for s in (-step, step)
    ]
    found.append(("sugar that does not slow", _half(*ends), words["sugar that does not slow"]))
    for at, name in enumerate(_CARDINALS):
        ends = []
        for sign in (-1, 1):
            moved = tuple(c + sign * _spread(name) * (at == k) for k, c in enumerate(path.cardinals))
            of_point = [cardinal_rate(row["temperature_degC"], *c) for c in (moved, path.cardinals)]
            ends.append(_less(setting.path(moved).ln_done(by_then), done) - math.log(of_point[0] / of_point[1]))
        found.append((name, _half(*ends), words[name]))
    if setting.room is not None:
        slower = math.exp(estimates["cooling"].next_spread(coverage))
        spread = on_paths(setting.path(slower=1 / slower), setting.path(slower=slower))
        found.append(("pace of cooling or warming", spread, estimates["cooling"].rests_on))
    spread = np.sqrt(sum(np.square(s) for _, s, _ in found))
    half = reach(coverage) * spread
    return (path.ln_minutes(needed - half), middle, path.ln_minutes(needed + half)), activity, spread, found


def _less(value, other):
    """Return value - other; without an end where either has none."""
    with np.errstate(invalid="ignore"):
        return value - other


def _half(low, high):
    """Return half of the distance between both ends of a step, or one end's from 0 where the other has no end."""
    both = np.abs(_less(high, low)) / 2
    if np.all(np.isfinite(both)):
        return both
    ends = [np.where(np.isfinite(end), np.abs(end), 0.0) for end in (low, high)]
    return np.where(np.isfinite(both), both, np.maximum(*ends))


@dataclass(frozen=True, eq=False)
class Curve:
    """Volume against time: minutes, ratio to the volume at the start, and its band."""

    minutes: np.ndarray
    ratio: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def to_frame(self):
        """Return a DataFrame: minutes, ratio, low, high."""
        import pandas as pd

        return pd.DataFrame({name: getattr(self, name) for name in ("minutes", "ratio", "low", "high")})


@dataclass(frozen=True, eq=False)
class Rise:
    """How long a dough takes to reach a ratio of its volume, floats or arrays; inf where it never does."""

    minutes: object
    low: object  # [min], end of the band
    high: object
    coverage: float  # of the band [%]
    stage: str
    until: float  # times its volume at the start
    temperature: object  # of the dough at the start [degC]
    room: object  # [degC], None when the dough keeps its temperature
    water_activity: object  # that the yeast meets, the sugars that feed it left out
    yeast: object  # as fresh yeast [% of flour]
    log_spread: object  # standard deviation of ln(work), which is ln(minutes) while the temperature stays
    causes_of_spread: tuple = field(repr=False, default=())  # (cause, its standard deviation, rests on) for one
    notes: tuple = field(repr=False, default=())
    formula: object = field(repr=False, default=None)
    setting: _Setting = field(repr=False, default=None)
    lines: Lines = field(repr=False, default=None)

    def curve(self, minutes=None):
        """Return the Curve of one dough, to the high end of its band, or at these minutes; held at 3 times.

        ratio = 1 + (until - 1) (rate added up / rate needed)^(1 / rise exponent).

        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
        >>> [round(float(r), 2) for r in rise(bun, temperature=27).curve([0, 73.5]).ratio]
        [1.0, 2.03]
        """
        self._one("for its curve")
        if minutes is None:
            last = self.high if math.isfinite(self.high) else 60 * _HOURS / 4
            minutes = np.linspace(0, last, 121)
        minutes = np.asarray(minutes, float)
        half = reach(self.coverage) * self.log_spread
        solutes = solutes_of(self.formula, self.lines)
        done = self.setting.path().ln_done(minutes) - float(ln_work(self.setting, solutes, self.yeast)[0])
        power = 1 / value_of("rise exponent")
        values = [
            np.minimum(1 + (self.until - 1) * np.exp(power * (done + shift)), MOST) for shift in (0.0, -half, half)
        ]
        return Curve(minutes, *values)

    def ratio(self, minutes):
        """Return (ratio, low, high) of one dough after so many minutes [min or text with a unit]."""
        curve = self.curve([read(minutes, "time", "minutes")])
        return tuple(float(v[0]) for v in (curve.ratio, curve.low, curve.high))

    def to_frame(self):
        """Return a DataFrame: what widens the band, its standard deviation, rests on; largest first."""
        self._one("for what widens its band")
        rows = sorted(self.causes_of_spread, key=lambda entry: -entry[1])
        rows = [(cause, 100 * spread, rests_on) for cause, spread, rests_on in rows if spread > 1e-9]
        return page.frame(["cause", "spread, % of the work", "rests on"], rows, index=True)

    def sources(self):
        """Return what time and band rest on."""
        point = reference_point(self.stage)
        texts = [f"{point['what']} ({point['provenance']})"]
        texts += [f"{row['model']}: {row['equation']}, {source(row['source'])}" for row in _models()]
        return list(dict.fromkeys([*texts, *(entry[2] for entry in self.causes_of_spread)]))

    def _one(self, what):
        only_one(self.formula, what)
        if np.ndim(self.minutes):
            got = f"{np.shape(self.minutes)} of them"
            raise FormulaError(must("temperature", f"one temperature {what}", got, "choose one"))

    def __str__(self):
        if np.ndim(self.minutes):
            return f"{self.stage} of {np.shape(self.minutes)} doughs: {_span(self.minutes)}"
        if not math.isfinite(self.minutes):
            return f"{self.stage}: it does not rise to {self.until:g} times: {self.notes[0] if self.notes else ''}"
        room = "" if self.room is None else f", room {figure(self.room)} degC"
        return (
            f"{self.stage}: {_time(self.minutes)} to {self.until:g} times, {figure(self.coverage, 0)} % band "
            f"{figure(self.low, 0)} to {_time(self.high)}, dough {figure(self.temperature)} degC{room}"
        )

    def _repr_html_(self):
        notes = () if np.ndim(self.minutes) else self.notes
        return f"<p><b>{page.escape(self)}</b></p>" + page.paragraphs(notes)


def _models():
    return [row for row in table("models").rows if row["model"].startswith(("rate ", "water activity "))]


def _time(minutes):
    return f"{figure(minutes, 0)} min" if minutes <= 60 * _HOURS else f"more than {_HOURS / 24:.0f} days"


def _span(minutes):
    finite = minutes[np.isfinite(minutes)]
    words = f"{figure(finite.min(), 0)} to {figure(finite.max(), 0)} min" if finite.size else "none rises"
    lost = minutes.size - finite.size
    return words + (f"; {lost:,} do not rise" if lost and finite.size else "")


def rise(
    formula, temperature=None, room=None, yeast=None, until=None, stage="bulk", sugar_tolerant=False, split=True,
    batch=None, calibration=None, coverage=80.0, part=None,
):  # fmt: skip
    """Return the Rise of a dough: minutes to a ratio of its volume, with a band; one formula or many.

    temperature [degC or text; array; an Estimate with its spread] of the dough at the start, else the formula's own
    step; room [degC] towards which it cools or warms by Newton's law, None when it keeps its temperature; yeast [%
    of flour, as fresh; float, array or Estimate], else the formula's; until [times its volume, above 1 to 3]; stage
    bulk, final proof or sponge (then `part` names the preferment); sugar_tolerant: such a strain; split: yeast has
    split the sucrose; batch [g] that cools, else the formula's; coverage of the band [%]. ln(work) is normal:
    stated spreads add as variances, first order, and the band's ends are its quantiles. 0 to 50 degC. Rosso 1993 x
    water activity x yeast; the trade's own times as reference. Raises FormulaError without yeast or water or with
    too much salt, AmountError, UnitError.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
    >>> usual = rise(bun, temperature=27)
    >>> round(usual.minutes, 1), usual.low < 60 and usual.high > 90
    (71.9, True)
    """
    point = reference_point(plain(stage))
    stage, notes = point["stage"], []
    calibration = calibration or Calibration()
    lines, mass = _lines(formula, stage, part)
    solutes = solutes_of(formula, lines)
    must_have_water(solutes)
    if until is None:
        until = point["ratio"]
    if not 1 < until <= MOST:
        do = "a dough doubled is at 2; beyond 3 it loses gas"
        raise AmountError(must("until", "above 1 and at most 3 times the volume at the start", f"{until:g}", do))
    start, given_temperature = _given(temperature, "temperature")
    if start is None:
        start = _step_temperature(formula, stage)
        notes.append(f"dough at {figure(start)} degC, taken from {_step_words(formula, stage)}")
    _check_temperature("dough temperature", start)
    if room is not None:
        room = read(room, "temperature", "room")
        _check_temperature("room", room)
        if np.ndim(start):
            do = "ask for each start apart, or leave the room out"
            raise AmountError(must("temperature", "one start when the dough moves towards a room", "several", do))
    amount, given_yeast = _given(yeast, "yeast", "percentage")
    own = solutes[..., YEAST]
    amount = own if amount is None else amount + 0 * own
    if np.any(~(amount > 0)):
        do = "give the dough yeast, or yeast=4 for 4 % fresh"
        raise FormulaError(must("yeast", "above 0 % in the dough", "0 %", do))
    mass = read(batch, "mass", "batch") if batch is not None else mass
    if not mass > 0:
        raise AmountError(must("batch", "a mass above 0 g", f"{mass:g} g", "say how much dough stands together"))
    factor = getattr(calibration, FACTOR[stage])
    cooling = calibration.cooling_time.value * (mass / 1000) ** (1 / 3)
    setting = _Setting(stage, float(until), split, sugar_tolerant, start, room, cooling, factor.value)
    estimates = {
        "factor": factor, "temperature": given_temperature, "yeast": given_yeast, "cooling": calibration.cooling_time,
    }  # fmt: skip
    dried = _dried(formula, lines, own) if yeast is None else 0.0
    shape = np.broadcast_shapes(formula.shape, np.shape(start), np.shape(amount))
    common = {
        "coverage": coverage, "stage": stage, "until": float(until), "temperature": start, "room": room,
        "formula": formula, "setting": setting, "lines": lines,
    }  # fmt: skip
    if not shape:
        (low, middle, high), activity, spread, found = _spreads(setting, solutes, amount, dried, estimates, coverage)
        notes = _words(setting, solutes, activity, float(middle), mass) + notes
        causes = tuple((cause, float(s), rests_on) for cause, s, rests_on in found)
        return Rise(
            *(float(np.exp(value)) for value in (middle, low, high)), water_activity=float(activity),
            yeast=float(amount), log_spread=float(spread), causes_of_spread=causes, notes=tuple(notes), **common,
        )  # fmt: skip
    return Rise(
        **_many(setting, solutes, amount, dried, estimates, coverage, shape), yeast=amount, notes=tuple(notes), **common
    )


def _many(setting, solutes, amount, dried, estimates, coverage, shape, rows=2048):
    """Return the arrays of many doughs, in blocks small enough for the processor's cache."""
    size = int(np.prod(shape))

    def flat(value):
        return np.broadcast_to(value, shape).reshape(-1) if np.ndim(value) else value

    solutes = np.broadcast_to(solutes, (*shape, solutes.shape[-1])).reshape(size, -1)
    amount, dried, start = np.broadcast_to(amount, shape).reshape(-1), flat(dried), flat(setting.start)
    result = {name: np.empty(size) for name in ("minutes", "low", "high", "water_activity", "log_spread")}
    for first in range(0, size, rows):
        at = slice(first, first + rows)
        own = replace(setting, start=start[at]) if np.ndim(start) else setting
        own_dried = dried[at] if np.ndim(dried) else dried
        ends, activity, spread, _ = _spreads(own, solutes[at], amount[at], own_dried, estimates, coverage)
        for name, value in zip(("low", "minutes", "high"), ends, strict=True):
            result[name][at] = np.exp(value)
        result["water_activity"][at], result["log_spread"][at] = activity, spread
    return {name: value.reshape(shape) for name, value in result.items()}


def _given(value, name, kind="temperature"):
    """Return (number or array, the Estimate it came as)."""
    if value is None:
        return None, None
    if isinstance(value, Estimate):
        if kind == "percentage" and not value.log:
            raise AmountError(must(name, "an Estimate with log=True", "a plain one", "yeast scatters in proportion"))
        return value.value, value
    return (np.asarray(value, float), None) if np.ndim(value) else (read(value, kind, name), None)


def _check_temperature(name, value):
    values = np.ravel(np.asarray(value, float))
    wrong = values[~((values >= COLDEST) & (values <= WARMEST))]
    if wrong.size:
        do = "below it freezes, above it yeast dies: give the dough's own temperature"
        be = f"{COLDEST:g} to {WARMEST:g} degC"
        raise AmountError(must(name, be, f"{figure(wrong[0])} degC", do))


def _lines(formula, stage, part):
    """Return the Lines that rise, on 100 g of their own flour, and the mass that stands together [g]."""
    if stage != "sponge":
        lines, pieces = dough_lines(formula), formula.pieces
        if stage == "final proof":
            return lines, float(np.mean(pieces.dough)) + float(np.mean(pieces.topping))
        mass = float(np.mean(pieces.dough)) * pieces.count if pieces.count else 10 * float(np.mean(lines.grams.sum(-1)))
        return lines, mass
    first = [p for p in formula.parts if p.kind == "preferment"]
    if part is not None:
        first = [formula.part(part)]
    if len(first) != 1:
        be, got = "one preferment, named by part=", listing(p.name for p in first) or "none"
        raise FormulaError(must("sponge", be, got, "name it, or make one with with_preferment"))
    flour = formula.flour_in(first[0])
    if np.any(flour <= 0):
        do = "its yeast is measured against its flour"
        raise FormulaError(must(first[0].name, "a part with flour", "0 %", do))
    grams = np.stack([np.broadcast_to(100 * v / flour, formula.shape) for v in first[0].percentages], -1)
    pieces = formula.pieces
    whole = float(np.mean(formula.dough_percentages.sum(-1)))
    dough = float(np.mean(pieces.dough)) * pieces.count if pieces.count else 10 * whole
    return Lines(first[0].keys, grams), dough * float(np.mean(first[0].mass)) / whole


def _own_step(formula, stage):
    steps = [s for s in formula.steps if stage in plain(s.do) and s.temperature is not None]
    return steps[0] if steps else None


def _step_temperature(formula, stage):
    step = _own_step(formula, stage)
    return float(step.temperature) if step else reference_point(stage)["temperature_degC"]


def _step_words(formula, stage):
    return "the formula's own step" if _own_step(formula, stage) else "the reference point"


def _dried(formula, lines, yeast):
    """Return the spread of ln(yeast) that the disagreeing factors for dried yeast give."""
    found = 0.0
    for n, key in enumerate(lines.keys):
        row = formula.ingredients[key]
        if row["kind"] == "yeast":
            factors = yeast_factors(row["name"])
            if len(factors) > 1:
                share = lines.grams[..., n] * weights(formula.ingredients)[formula.ingredients.row(key), YEAST]
                with np.errstate(invalid="ignore", divide="ignore"):
                    found = found + share / yeast * math.log(max(factors) / min(factors)) / math.sqrt(12)
    return found


def _words(setting, solutes, activity, middle, mass):
    """Return what the reader should know of this dough, in words."""
    said = []
    sugar = float(solutes[SUCROSE] + solutes[HEXOSE])
    least = value_of(setting.least)
    if activity <= least:
        kind = "a sugar-tolerant strain" if setting.tolerant else "this yeast"
        said.append(
            f"water activity {figure(activity, 3)} is below the {figure(least, 2)} that {kind} needs: less sugar and "
            + ("salt or more water" if setting.tolerant else "salt, more water or a sugar-tolerant strain")
        )
    elif not math.isfinite(middle):
        said.append("the yeast does not work at that temperature, or not within four days")
    start, room = float(setting.start), setting.room
    warmest = start if room is None else max(start, room)
    coldest = start if room is None else min(start, room)
    if warmest > 38:
        said.append("above 38 degC makers of yeast advise against; the band is widened there by the best temperature")
    if coldest < 10:
        said.append("below 10 degC little is published; the band is widened there by the lowest temperature")
    if room is not None:
        said.append(f"{figure(mass, 0)} g nears the room by 63 % in {figure(setting.cooling, 0)} min, common practice")
    if sugar > 5:
        said.append(sugar_words(sugar))
    return said


def sugar_words(sugar):
    """Return what the published thresholds, which disagree, say of so much sugar [% of flour].

    >>> sugar_words(3).startswith("sugar 3.0 % of flour: stimulates")
    True
    """
    rows = [(row, [float(row[f"{end}_percent_of_flour"] or "nan") for end in ("low", "high")])
            for row in table("yeast_sugar_thresholds").rows]  # fmt: skip
    slows = [(low, row) for row, (low, _) in rows if row["what"] == "slowing starts"]
    if sugar <= min(low for low, _ in slows):
        return f"sugar {figure(sugar)} % of flour: stimulates, by the published thresholds"
    yes = [f"{figure(low, 0)} % ({_title(row)})" for low, row in slows if sugar > low]
    no = [f"{figure(low, 0)} % ({_title(row)})" for low, row in slows if sugar <= low]
    text = f"sugar {figure(sugar)} % of flour: slows, by those who see it from {listing(yes)}"
    text += f", not yet from {listing(no)}" if no else ""
    strain = []
    for row, (low, high) in rows:
        if row["what"].startswith("sugar-tolerant") and sugar >= low:
            span = f"{figure(low, 0)}" + (f" to {figure(high, 0)}" if not math.isnan(high) else "")
            strain.append(f"{row['what'].removeprefix('sugar-tolerant yeast ')} {span} % ({_title(row)})")
    return text + (f"; sugar-tolerant yeast {listing(strain)}" if strain else "")


def _title(row):
    return source(row["source"]).removeprefix("no author, ")


def sponge(formula, temperature=None, **given):
    """Return the Rise of a preferment, its yeast and water on its own flour; see `rise`.

    >>> bun = Formula.from_weights("bun", {"flour": 75}, {"sponge": {"flour": 25, "water": 22.5, "fresh yeast": 1}})
    >>> round(sponge(bun, temperature=28).minutes)
    60
    """
    return rise(formula, temperature, stage="sponge", **given)


def bulk(formula, temperature=None, **given):
    """Return the Rise of the whole dough before it is divided; see `rise`."""
    return rise(formula, temperature, stage="bulk", **given)


def final_proof(formula, temperature=None, **given):
    """Return the Rise of the shaped pieces; ready at twice their volume, when the scored topping parts; see `rise`."""
    return rise(formula, temperature, stage="final proof", **given)


def rise_against_published(calibration=None, coverage=80.0):
    """Return a DataFrame of every published time: the band foreseen for it, and whether its middle lies inside.

    Where a source gives no formula, a usual one stands in, its yeast as uncertain as usual formulas are.

    >>> bool(rise_against_published()["inside"].mean() >= 0.7)
    True
    """
    rows = []
    for row in table("rise_times_published").rows:
        n = {k: float(v) if v else 0.0 for k, v in row.items() if k.split("_")[-1] in ("percent", "minutes", "degC")}
        lines = {
            "bread flour": 100, "water": n["water_percent"], "egg yolk": n["yolk_percent"],
            "sugar": n["sugar_percent"], "salt": n["salt_percent"], "fresh yeast": n["fresh_yeast_percent"],
        }  # fmt: skip
        lines = {name: grams for name, grams in lines.items() if grams}
        dough = Formula.from_weights(row["case"], lines)
        if row["stage"] == "sponge":
            dough = Formula.from_weights(row["case"], {"bread flour": 1e-6}, {"sponge": lines})
        spread = spread_of(n["fresh_yeast_low_percent"], n["fresh_yeast_high_percent"], log=True)
        yeast = Estimate(n["fresh_yeast_percent"], spread, "% of flour", row["formula_is"], log=True)
        found = rise(
            dough, n["dough_degC"], row["room_degC"] or None, yeast, until=float(row["ratio"]), stage=row["stage"],
            batch=row["piece_g"] or None, calibration=calibration, coverage=coverage,
        )  # fmt: skip
        middle = math.sqrt(n["low_minutes"] * n["high_minutes"])
        inside = found.low <= middle <= found.high
        published = figure(n["low_minutes"], 0) + (
            f" to {figure(n['high_minutes'], 0)}" if n["low_minutes"] < n["high_minutes"] else ""
        )
        rows.append(
            (row["case"], published, found.minutes, found.low, found.high, inside, row["formula_is"], row["note"])
        )
    columns = ["case", "published, min", "foreseen, min", "low", "high", "inside", "formula", "note"]
    return page.frame(columns, rows, index=True)
