"""How long a dough takes to rise: temperature, the water its sugar and salt leave, and its yeast.

time = that of a usual bun dough x rate there / rate here, where a rate is the product of a cardinal temperature
model with the cardinals of gassing, a straight line in water activity and a power of the yeast. The usual dough's
time and how far bakeries differ from it are fitted on printed times of enriched doughs. Fat, stiffness and acidity
are not in it; a kitchen's own bakes correct it.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page
from ..balance.accounts import Lines, lines_of
from ..balance.bands import reach
from ..errors import AmountError, FormulaError, must
from ..formula.parts import only_one
from ..tables import ground, source, table
from ..units import read, read_above
from ..words import figure, listing, plain
from .activity import HEXOSE, SUCROSE, YEAST, must_have_water, solutes_of, weights, yeast_factors
from .calibration import NORMAL_PULL, Calibration, Estimate
from .causes import causes
from .gassing import (
    CARDINALS,
    FREE,
    HOURS,
    USUAL,
    Parameter,
    Setting,
    Work,
    parameters,
    rate_at,
    reference_point,
    values,
)

FACTOR = {"bulk": "rise_factor", "final proof": "proof_factor", "sponge": "sponge_factor"}
COLDEST, WARMEST = 0.0, 50.0  # degC: beyond them the dough freezes, or its yeast dies and its butter runs out
MOST = 3.0  # times its volume: beyond it gas is lost and nothing is foreseen
SOFTENS = "butter and paste soften"


class _Band:
    """What widens the band of a block of doughs: causes that lie in the dough, and those that lie in its warmth."""

    def __init__(self, work, dried, estimates, coverage):
        self.coverage, self.path = coverage, work.setting.path()
        self.of_dough = [_cause(*entry) for entry in _of_dough(work, dried, estimates, coverage)]
        self.of_warmth = list(_of_warmth(work, estimates, coverage))
        self.shift, self.variance = _sums(self.of_dough)
        if not self.path.steady:  # how much the warmth widens differs from hour to hour, and is alike for every dough
            self._hours = self.path.minutes[1::12]
            self._warmth = _sums(self.causes(self._hours)[len(self.of_dough) :])

    def causes(self, minutes):
        """Return [(cause, mean, standard deviation of ln(work), rests on)] after so many minutes."""
        done = self.path.ln_done(minutes)
        with np.errstate(invalid="ignore"):
            left = [
                (cause, [done - path.ln_done(minutes) + more for path, more in ends], rests_on, pull)
                for cause, ends, rests_on, pull in self.of_warmth
            ]
        return self.of_dough + [_cause(*entry) for entry in left]

    def total(self, minutes):
        """Return (mean, standard deviation) of ln(work), all causes together, after so many minutes."""
        if self.path.steady:
            shift, variance = _sums(self.causes(1.0))
        else:
            shift, variance = (np.interp(minutes, self._hours, one) for one in self._warmth)
            shift, variance = self.shift + shift, self.variance + variance
        return shift, np.sqrt(variance)

    def ends(self, minutes):
        """Return how much less and how much more work than foreseen the ends of the band stand for, as ln."""
        shift, spread = self.total(minutes)
        half = reach(self.coverage) * spread
        return np.minimum(shift - half, 0.0), np.maximum(shift + half, 0.0)

    def minutes(self, needed):
        """Return ln(minutes) of the low and the high end; inf where that end is never reached."""
        if self.path.steady:
            return [self.path.ln_minutes(needed + end) for end in self.ends(1.0)]
        found = []
        for which in (0, 1):  # by halving, since the ends move with the time
            early, late = np.full(np.shape(needed), math.log(1e-3)), np.full(np.shape(needed), math.log(60 * HOURS))
            never = self.path.ln_done(np.exp(late)) < needed + self.ends(np.exp(late))[which]
            for _ in range(30):
                middle = (early + late) / 2
                reached = self.path.ln_done(np.exp(middle)) >= needed + self.ends(np.exp(middle))[which]
                early, late = np.where(reached, early, middle), np.where(reached, middle, late)
            found.append(np.where(never, np.inf, late))
        return found


def _cause(cause, ends, rests_on, pull=NORMAL_PULL):
    """Return (cause, mean, standard deviation, rests on) of what a figure moves, given that at the end of each side.

    Half of the chance is on each side. Where a dough never rises at one end, the other end's mirror image stands in.
    """
    low, high = ends
    low, high = np.where(np.isfinite(low), low, -high), np.where(np.isfinite(high), high, -low)
    low, high = (np.where(np.isfinite(end), end, 0.0) for end in (low, high))
    mean = pull * (low + high) / 2
    return cause, mean, np.sqrt((low**2 + high**2) / 2 - mean**2), rests_on


def _sums(causes):
    """Return the sums of means and of variances."""
    return sum(mean for _, mean, _, _ in causes), sum(np.square(spread) for _, _, spread, _ in causes)


def _of_dough(work, dried, estimates, coverage):
    """Yield (cause, what it adds to ln(work) at the ends of its sides, rests on, pull) of what lies in the dough."""
    setting, known, value, factor = work.setting, parameters(), values(), estimates["factor"]
    n, spread = value["yeast exponent"], factor.next_spread(coverage)
    yield "this kind of dough", (-spread, spread), factor.rests_on
    if not factor.bakes:  # a kitchen's own bakes hold its eye
        eye, slope = known["ratio as judged"], value["rise exponent"] / (setting.until - 1)
        yield "ratio as judged", (-slope * eye.below, slope * eye.above), eye.rests_on, eye.pull
    if given := estimates["yeast"]:
        yield "yeast as given", (n * given.spread, -n * given.spread), given.rests_on
    yield "yeast form", (n * dried, -n * dried), "published factors that differ"
    terms = {"yeast exponent": work.yeast, "rise exponent": work.height}
    terms |= dict.fromkeys((USUAL, setting.least, FREE), work.water)
    for what, term in terms.items():
        now = term(value)
        with np.errstate(invalid="ignore"):
            ends = [term(value | {what: end}) - now for end in known[what].ends]
        yield what, ends, known[what].rests_on, known[what].pull


def _of_warmth(work, estimates, coverage):
    """Yield (cause, [(path, what else it adds to ln(work))] at the ends of its sides, rests on, pull)."""
    setting, known, value, given = work.setting, parameters(), values(), estimates["temperature"]
    warmth = known["dough temperature as read" if setting.told else "dough temperature not told"]
    if given:
        warmth = Parameter(0.0, given.spread, given.spread, NORMAL_PULL, given.rests_on)
    if given or not (estimates["factor"].bakes and setting.told):  # a kitchen's own bakes hold its thermometer
        ends = [(setting.path(warmer=end), 0.0) for end in warmth.ends]
        yield "dough temperature", ends, warmth.rests_on, warmth.pull
    at, now = work.point["temperature_degC"], rate_at(work.point["temperature_degC"])
    for what in CARDINALS:  # of the dough and of the reference point at once
        moved = [value | {what: end} for end in known[what].ends]
        ends = [(setting.path(m), math.log(rate_at(at, m) / now)) for m in moved]
        yield what, ends, known[what].rests_on, known[what].pull
    if setting.room is not None:
        slower = math.exp(estimates["cooling"].next_spread(coverage))
        ends = [(setting.path(slower=pace), 0.0) for pace in (1 / slower, slower)]
        yield "pace of cooling or warming", ends, estimates["cooling"].rests_on, NORMAL_PULL


def _foreseen(setting, solutes, yeast, dried, estimates, coverage):
    """Return {minutes, low, high, water_activity, log_spread, log_shift} of a block of doughs, and their _Band."""
    work = Work(setting, solutes, yeast)
    band = _Band(work, dried, estimates, coverage)
    middle = band.path.ln_minutes(work.ln)
    minutes = np.exp(middle)
    low, high = (np.exp(end) for end in band.minutes(work.ln))
    shift, spread = band.total(np.minimum(np.exp(middle), 60 * HOURS))
    found = {
        "minutes": minutes,
        "low": np.minimum(low, minutes),
        "high": np.maximum(high, minutes),  # by a hair
        "water_activity": work.activity(),
        "log_spread": spread,
        "log_shift": shift,
    }
    return found, band


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
    log_shift: object  # its mean, 0 where as much may be less as more
    notes: tuple = field(repr=False, default=())
    formula: object = field(repr=False, default=None)
    setting: Setting | None = field(repr=False, default=None)
    lines: Lines | None = field(repr=False, default=None)
    band: _Band | None = field(repr=False, default=None)  # of one dough
    columns = ("cause", "spread, % of the work", "rests on")

    def curve(self, minutes=None):
        """Return the Curve of one dough, to the high end of its band, or at these minutes; held at 3 times.

        ratio = 1 + (until - 1) (rate added up / rate needed)^(1 / rise exponent).

        >>> from kit.formula import Formula
        >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
        >>> [round(float(r), 2) for r in rise(bun, temperature=27).curve([0, 73.5]).ratio]
        [1.0, 1.8]
        """
        self._one("for its curve")
        if minutes is None:
            last = self.high if math.isfinite(self.high) else 60 * HOURS / 4
            minutes = np.linspace(0, last, 121)
        minutes = np.asarray(minutes, float)
        less, more = self.band.ends(minutes)
        done = self.band.path.ln_done(minutes) - self.work.ln
        power = 1 / values()["rise exponent"]
        ratios = [np.minimum(1 + (self.until - 1) * np.exp(power * (done - end)), MOST) for end in (0.0, more, less)]
        return Curve(minutes, *ratios)

    @property
    def causes_of_spread(self):
        """(cause, its standard deviation of ln(work), rests on), by the time foreseen, of one dough."""
        self._one("for what widens its band")
        by_then = min(self.minutes, 60 * HOURS)
        return tuple((cause, float(np.squeeze(spread)), why) for cause, _, spread, why in self.band.causes(by_then))

    def against(self, other):
        """Return the RiseCauses of the difference from another Rise of one dough to this one, exact.

        other: what it was before, of the same stage. Raises FormulaError where one of them never rises.

        >>> from kit.formula import Formula
        >>> a = Formula.from_weights("a", {"flour": 100, "water": 50, "egg": 10, "sugar": 14, "fresh yeast": 4})
        >>> print(rise(a.vary(sugar=22, egg=20), 27).against(rise(a, 27)))
        65 → 75 min: sugar +12.4 min, egg's water −2.5 min and egg's sugars +0.1 min
        """
        return causes(other, self)

    @property
    def work(self):
        """The Work that its doughs need."""
        return Work(self.setting, solutes_of(self.formula, self.lines), self.yeast)

    def ratio(self, minutes):
        """Return (ratio, low, high) of one dough after so many minutes [min or text with a unit]."""
        curve = self.curve([read(minutes, "time", "minutes")])
        return tuple(float(v[0]) for v in (curve.ratio, curve.low, curve.high))

    def frame_rows(self):
        """Return what widens the band, its standard deviation and what that rests on, the largest first."""
        rows = sorted(self.causes_of_spread, key=lambda entry: -entry[1])
        return [(cause, 100 * spread, rests_on) for cause, spread, rests_on in rows if spread > 1e-9]

    def sources(self):
        """Return what time and band rest on."""
        point = reference_point(self.stage)
        texts = [f"{point['what']} ({ground(point)})"]
        texts += [f"{row['model']}: {row['equation']}, {source(row['source'])}" for row in _models()]
        return list(dict.fromkeys([*texts, *(entry[2] for entry in self.causes_of_spread)]))

    def _one(self, what):
        only_one(self.formula, what)
        if np.ndim(self.minutes):
            got = f"{np.shape(self.minutes)} of them"
            raise FormulaError(must("temperature", f"one temperature {what}", got, "choose one"))

    @property
    def words(self):
        """How long it takes with its band, or why it never does."""
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
        return f"<p><b>{page.escape(self.words)}</b></p>{page.paragraphs(notes)}"


def _models():
    return [row for row in table("models").rows if row["model"].startswith(("rate ", "water activity "))]


def _time(minutes):
    return f"{figure(minutes, 0)} min" if minutes <= 60 * HOURS else f"more than {HOURS / 24:.0f} days"


def _span(minutes):
    finite = minutes[np.isfinite(minutes)]
    words = f"{figure(finite.min(), 0)} to {figure(finite.max(), 0)} min" if finite.size else "none rises"
    lost = minutes.size - finite.size
    return words + (f"; {lost:,} do not rise" if lost and finite.size else "")


def rise(
    formula,
    temperature=None,
    room=None,
    yeast=None,
    until=None,
    stage="bulk",
    sugar_tolerant=False,
    split=True,
    batch=None,
    calibration=None,
    coverage=80.0,
    part=None,
    bulk=None,
    proof=None,
):
    """Return the Rise of a dough: minutes to a ratio of its volume, with a band; one formula or many.

    temperature [degC or text; array; an Estimate with its spread] of the dough at the start, else the formula's own
    step; room [degC] towards which it cools or warms by Newton's law, None when it keeps its temperature; yeast [%
    of flour, as fresh; float, array or Estimate], else the formula's; until [times its volume, above 1 to 3]; stage
    bulk, final proof or sponge (then `part` names the preferment); sugar_tolerant: such a strain; split: yeast has
    split the sucrose; batch [g] that cools, else the formula's; coverage of the band [%]; bulk or
    proof [min or text]: how long it shall take, and the answer's `temperature` is what makes it so.
    Half of the chance of each
    stated spread lies on each side of its figure; what they do to ln(work) adds as means and variances, and the band's
    ends are the quantiles of a normal. 0 to 50 degC. Rosso 1993 x water activity x yeast; a usual dough's time fitted
    on printed ones. Raises FormulaError without yeast or water or with too much salt, AmountError, UnitError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
    >>> usual = rise(bun, temperature=27)
    >>> round(usual.minutes), usual.low < 60 and usual.high > 90
    (89, True)
    >>> round(rise(bun, bulk="75 min").temperature, 1)
    29.3
    """
    for name, wanted in (("bulk", bulk), ("final proof", proof)):
        if wanted is not None:
            given = {"room": room, "yeast": yeast, "until": until, "sugar_tolerant": sugar_tolerant, "split": split}
            given |= {"batch": batch, "calibration": calibration, "coverage": coverage}
            return _in_time(formula, wanted, name, **given)
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
    step = _own_step(formula, stage)
    told = start is not None or step is not None
    if start is None:
        start = float(step.temperature) if step else point["temperature_degC"]
        words = "taken from the formula's own step" if step else "assumed: say how warm it is and the band narrows"
        notes.append(f"dough at {figure(start)} degC, {words}")
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
    mass = read_above(mass if batch is None else batch, "mass", "batch", "say how much dough stands together")
    factor = getattr(calibration, FACTOR[stage])
    cooling = calibration.cooling_time.value * (mass / 1000) ** (1 / 3)
    setting = Setting(stage, float(until), split, sugar_tolerant, start, told, room, cooling, factor.value)
    estimates = {
        "factor": factor,
        "temperature": given_temperature,
        "yeast": given_yeast,
        "cooling": calibration.cooling_time,
    }
    dried = _dried(formula, lines, own) if yeast is None else 0.0
    shape = np.broadcast_shapes(formula.shape, np.shape(start), np.shape(amount))
    found, band = _in_blocks(setting, solutes, amount, dried, estimates, coverage, shape)
    if not shape:
        found, amount = {name: float(value) for name, value in found.items()}, float(amount)
        notes = _words(setting, solutes, found["water_activity"], found["minutes"], mass) + notes
    return Rise(
        **found,
        coverage=coverage,
        stage=stage,
        until=float(until),
        temperature=start,
        room=room,
        yeast=amount,
        notes=tuple(notes),
        formula=formula,
        setting=setting,
        lines=lines,
        band=band,
    )


def _in_blocks(setting, solutes, amount, dried, estimates, coverage, shape, rows=2048):
    """Return the arrays of many doughs, in blocks small enough for the processor's cache, and the last one's _Band."""
    size = math.prod(shape)

    def flat(value):
        return np.broadcast_to(value, shape).reshape(-1) if np.ndim(value) else value

    solutes = np.broadcast_to(solutes, (*shape, solutes.shape[-1])).reshape(size, -1)
    amount, dried, start = np.broadcast_to(amount, shape).reshape(-1), flat(dried), flat(setting.start)
    blocks = []
    for first in range(0, size, rows):
        at = slice(first, first + rows)
        own = replace(setting, start=start[at]) if np.ndim(start) else setting
        own_dried = dried[at] if np.ndim(dried) else dried
        found, band = _foreseen(own, solutes[at], amount[at], own_dried, estimates, coverage)
        blocks.append({name: np.broadcast_to(value, amount[at].shape) for name, value in found.items()})
    return {name: np.concatenate([b[name] for b in blocks]).reshape(shape) for name in blocks[0]}, band


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
        lines, pieces = lines_of(formula), formula.pieces
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
    least = values()[setting.least]
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
    soft = table("rise_parameters").row(what=SOFTENS)
    if warmest > float(soft["value"]):
        said.append(
            f"above {soft['value']} degC butter and the crust's paste soften: dough with butter in layers is proofed "
            f"at {soft['low']} at most ({_title(soft)}), milk fat is all melted at {soft['high']} (recalled)"
        )
    if warmest > 38:
        said.append("above 38 degC makers of yeast advise against; the band is widened there by the best temperature")
    if coldest < 10:
        said.append("below 10 degC little is published; the band is widened there by the lowest temperature")
    if room is not None:
        pace = f"{figure(mass, 0)} g nears the room by 63 % in {figure(setting.cooling, 0)} min"
        said.append(f"{pace}, {ground(table('calibration').row(what='cooling_time'))}")
    if sugar > 5:
        said.append(sugar_words(sugar))
    return said


def sugar_words(sugar):
    """Return what the published thresholds, which disagree, say of so much sugar [% of flour].

    >>> sugar_words(3).startswith("sugar 3.0 % of flour: stimulates")
    True
    """
    rows = [
        (row, [float(row[f"{end}_percent_of_flour"] or "nan") for end in ("low", "high")])
        for row in table("yeast_sugar_thresholds").rows
    ]
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
    return source(row["source"], people=False)


def _in_time(formula, minutes, stage, **given):
    """Return the Rise at the temperature, up to the best one, at which it takes so many minutes; by halving."""
    only_one(formula, "for its temperature")
    name = stage.split()[-1]
    wanted = read(minutes, "time", name)
    if not 0 < wanted <= 60 * HOURS:
        do = "further ahead nothing is foreseen"
        raise AmountError(must(name, f"above 0 and at most {HOURS / 24:.0f} days", f"{wanted:g} min", do))
    cool, warm = COLDEST, values()["best temperature"]
    longest, shortest = (rise(formula, t, stage=stage, **given).minutes for t in (cool, warm))
    if not shortest <= wanted <= longest:
        be = (
            f"at least {_time(shortest)}, its time at {figure(warm)} degC"
            if wanted < shortest
            else (f"at most {_time(longest)}, its time at {figure(cool)} degC")
        )
        do = "warmer is no faster: more yeast, or less sugar" if wanted < shortest else "less yeast, or a cooler room"
        raise AmountError(must(name, be, f"{figure(wanted, 0)} min", do))
    while warm - cool > 1e-7:
        middle = (cool + warm) / 2
        slow = rise(formula, middle, stage=stage, **given).minutes > wanted
        cool, warm = (middle, warm) if slow else (cool, middle)
    return rise(formula, (cool + warm) / 2, stage=stage, **given)
