"""How fast a dough gasses: what it needs of work, and the rate along its own temperature."""

import functools
import math
from dataclasses import dataclass

import numpy as np

from ..errors import AmountError, must
from ..tables import ground, table
from ..words import figure, one_of
from .activity import ln_activity, molalities
from .calibration import Estimate, sides

HOURS = 96.0  # how far ahead a dough that cools or warms is followed
CARDINALS = ("lowest temperature", "best temperature", "highest temperature")
FREE, USUAL = "sugar that does not slow", "lowest water activity"


def cardinal_rate(temperature, lowest, best, highest):
    """Return the rate at a temperature as a share of the best, 0 to 1; float or array.

    temperature, lowest, best, highest [degC], with best above their middle. Cardinal temperature model with
    inflection, Rosso, Lobry and Flandrois 1993, eq. 1; 0 outside lowest to highest. Raises AmountError.

    >>> round(cardinal_rate(22, 5, 20, 30), 7)
    0.9633333
    """
    if not lowest < best < highest or best <= (lowest + highest) / 2:
        be = f"above the middle of lowest and highest, {figure((lowest + highest) / 2)} °C"
        raise AmountError(must("best temperature", be, f"{figure(best)} °C", "the equation bends the wrong way"))
    t = np.asarray(temperature, float)
    top = (t - highest) * (t - lowest) ** 2
    beneath = (best - lowest) * ((best - lowest) * (t - best) - (best - highest) * (best + lowest - 2 * t))
    inside = (t > lowest) & (t < highest)
    rate = np.where(inside, top / np.where(inside, beneath, 1.0), 0.0)
    return rate if rate.ndim else float(rate)


@dataclass(frozen=True)
class Parameter:
    """A figure of rise_parameters.csv: half of the chance lies below it and half above, each with its own width."""

    value: float
    below: float  # root mean square distance of what lies below it
    above: float
    pull: float  # mean distance on a side / root mean square distance there
    rests_on: str

    @property
    def ends(self):
        """The figure moved by one standard deviation of each side."""
        return self.value - self.below, self.value + self.above


@functools.cache
def parameters():
    """Return {what: Parameter} of rise_parameters.csv."""
    return {row.what: Parameter(row.value, *sides(row), ground(row)) for row in table("rise_parameters").rows}


@functools.cache
def values():
    """Return {what: value} of rise_parameters.csv."""
    return {what: parameter.value for what, parameter in parameters().items()}


def rate_at(temperature, value=None):
    """Return the rate of gassing at a temperature [degC], by {what: value} of the parameters, the table's when None."""
    return cardinal_rate(temperature, *((value or values())[name] for name in CARDINALS))


@functools.cache
def reference_point(stage):
    """Return the row of rise_reference_points.csv of a stage. Raises UnknownName."""
    rows = {row.stage: row for row in table("rise_reference_points").rows}
    return rows[one_of("stage", stage, rows)]


@functools.lru_cache(maxsize=64)
def _usual_activity(stage, free):
    """Return the water activity that the yeast of a usual dough meets."""
    p = reference_point(stage)
    solutes = [p.sugar_percent, 0, 0, p.salt_percent, p.water_percent, p.fresh_yeast_percent]
    return activity_of(np.array(solutes), free)


@dataclass(frozen=True)
class Setting:
    """What is the same for every dough of one question."""

    stage: str
    until: float
    tolerant: bool
    start: float  # of the dough, degC
    told: bool  # whether somebody said how warm it is
    room: float | None  # degC
    mass: float  # that stands together, g
    factor: Estimate  # this kitchen's time / the usual
    pace: Estimate  # at which 1 kg of dough nears the room, min

    @property
    def cooling(self):
        """How long it takes to near the room by 63 % [min]."""
        return self.pace.value * (self.mass / 1000) ** (1 / 3)

    @property
    def least(self):
        """The parameter that says at which water activity this yeast stops."""
        return USUAL + (" of a sugar-tolerant strain" if self.tolerant else "")

    def path(self, value=None, warmer=0.0, slower=1.0):
        """Return the Path of a dough so much warmer [K] that cools so many times slower, by {what: value}."""
        return Path(self.start + warmer, self.room, self.cooling * slower, value)


class Path:
    """The rate along a dough's own temperature, from the start [degC] towards the room."""

    def __init__(self, start, room, cooling, value):
        self.steady = room is None
        if self.steady:
            self.rate = rate_at(start, value)
            return
        # fine at first, when the dough still changes; even steps in the cooling's own pace, then in hours
        near = cooling * np.linspace(0, 8, 1601)
        self.minutes = np.concatenate([near, np.linspace(near[-1], max(60 * HOURS, 2 * near[-1]), 2001)[1:]])
        rates = rate_at(room + (start - room) * np.exp(-self.minutes / cooling), value)  # Newton's law
        self.done = np.concatenate([[0.0], np.cumsum(np.diff(self.minutes) * (rates[1:] + rates[:-1]) / 2)])

    def ln_minutes(self, ln_needed):
        """Return ln(minutes) until the rate has added up to what is needed; inf when it never does."""
        if self.steady:
            return ln_needed - ln(self.rate)
        needed = np.exp(ln_needed)
        return np.where(needed > self.done[-1], np.inf, ln(np.interp(needed, self.done, self.minutes)))

    def ln_done(self, minutes):
        """Return ln of what the rate has added up to."""
        if self.steady:
            return ln(self.rate) + ln(minutes)
        return ln(np.interp(minutes, self.minutes, self.done))


def ln(value):
    """Return the natural logarithm, -inf of 0 without a warning."""
    with np.errstate(divide="ignore"):
        return np.log(value)


def ln_rate(activity, least):
    """Return ln of the rate at a water activity, a straight line from 0 at `least` to 1 in pure water."""
    return ln(np.maximum(activity - least, 0.0) / (1 - least))


def activity_of(solutes, free):
    """Return the water activity that the yeast meets, so much of the sugar [% of flour] left out."""
    return np.exp(ln_activity(molalities(solutes, free)))


class Work:
    """ln of the time that doughs need at the best temperature, a sum of terms, each by {what: value} of parameters."""

    def __init__(self, setting, solutes, yeast):
        self.setting, self.solutes, self.point = setting, solutes, reference_point(setting.stage)
        self.richer = np.log(yeast / self.point.fresh_yeast_percent)
        self.further = math.log((setting.until - 1) / (self.point.ratio - 1))
        self._met = {}

    def activity(self, free=None):
        """Return the water activity that the yeast meets, `free` [% of flour] of the sugar left out."""
        free = values()[FREE] if free is None else free
        if free not in self._met:
            self._met[free] = activity_of(self.solutes, free)
        return self._met[free]

    def yeast(self, value):
        """Return what its yeast adds, against the reference point's."""
        return -value["yeast exponent"] * self.richer

    def height(self, value):
        """Return what the ratio to be reached adds."""
        return value["rise exponent"] * self.further

    def water(self, value):
        """Return what its sugar, salt and water add."""
        there = ln_rate(_usual_activity(self.setting.stage, value[FREE]), value[USUAL])
        return there - ln_rate(self.activity(value[FREE]), value[self.setting.least])

    @functools.cached_property
    def ln(self):
        """The sum of all terms."""
        point, value = self.point, values()
        fixed = math.log(point.minutes * self.setting.factor.value * rate_at(point.temperature_degC))
        return fixed + self.yeast(value) + self.height(value) + self.water(value)
