"""What widens the band of a rise: causes that lie in the dough, and those that lie in its warmth.

What a cause does to ln(work) has a mean and a standard deviation; causes are independent, so both add up (variances),
and the ends of the band are the quantiles of a normal.
"""

import functools
import math
from typing import NamedTuple

import numpy as np

from ..balance.bands import reach
from .calibration import NORMAL_PULL
from .gassing import CARDINALS, FREE, HOURS, USUAL, parameters, rate_at, reference_point, values


class Cause(NamedTuple):
    """A cause, the mean and the standard deviation of what it does to ln(work), and what that rests on."""

    name: str
    mean: np.ndarray
    spread: np.ndarray
    rests_on: str


def _cause(name, ends, rests_on, pull=NORMAL_PULL):
    """Return the Cause of a figure by what it moves at the end of each side, half of the chance on each.

    pull: mean distance on a side / root mean square there. Where a dough never rises at one end, the other end's
    mirror image stands in.
    """
    low, high = ends
    low, high = np.where(np.isfinite(low), low, -high), np.where(np.isfinite(high), high, -low)
    low, high = (np.where(np.isfinite(end), end, 0.0) for end in (low, high))
    mean = pull * (low + high) / 2
    return Cause(name, mean, np.sqrt((low**2 + high**2) / 2 - mean**2), rests_on)


class Band:
    """The band of a block of doughs that need some Work; dried: spread of ln(yeast) by the factors of dried yeast."""

    def __init__(self, work, dried):
        self.work, self._of_warmth = work, _Warmth(work.setting)
        self.path = self._of_warmth.path
        self._of_dough = [_cause(*entry) for entry in _of_dough(work, dried)]
        self._dough = _sums(self._of_dough)

    def causes(self, minutes):
        """Return the Causes after so many minutes."""
        return self._of_dough + self._of_warmth.causes(minutes)

    def total(self, minutes):
        """Return (mean, standard deviation) of ln(work), all causes together, after so many minutes."""
        shift, variance = (
            here + np.interp(minutes, self._of_warmth.hours, warm)
            for here, warm in zip(self._dough, self._of_warmth.sums, strict=True)
        )
        return shift, np.sqrt(variance)

    def ends(self, minutes):
        """Return how much less and how much more work than foreseen the ends of the band stand for, as ln."""
        shift, spread = self.total(minutes)
        half = reach() * spread
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


def _sums(causes):
    """Return the sums of means and of variances."""
    return sum(cause.mean for cause in causes), sum(np.square(cause.spread) for cause in causes)


def _of_dough(work, dried):
    """Yield (cause, what it adds to ln(work) at the ends of its sides, rests on, pull) of what lies in the dough."""
    known, value, factor = parameters(), values(), work.setting.factor
    spread = factor.next_spread()
    yield "this kind of dough", (-spread, spread), factor.rests_on
    if not factor.bakes:  # a kitchen's own bakes hold its eye
        eye, slope = known["ratio as judged"], value["rise exponent"] / (work.setting.until - 1)
        yield "ratio as judged", (-slope * eye.below, slope * eye.above), eye.rests_on, eye.pull
    dried = value["yeast exponent"] * dried
    yield "yeast form", (dried, -dried), "published factors that differ"
    terms = {"yeast exponent": work.yeast, "rise exponent": work.height}
    terms |= dict.fromkeys((USUAL, work.setting.least, FREE), work.water)
    for what, term in terms.items():
        with np.errstate(invalid="ignore"):
            now = term(value)
            ends = [term(value | {what: end}) - now for end in known[what].ends]
        yield what, ends, known[what].rests_on, known[what].pull


@functools.lru_cache(maxsize=8)  # a panel asks for it again while it moves the dough alone
class _Warmth:
    """What lies in the warmth of all doughs of a Setting: their path, and the sums of its causes from hour to hour."""

    def __init__(self, setting):
        self.path, self._entries = setting.path(), list(_of_warmth(setting))
        self.hours = np.ones(1) if self.path.steady else self.path.minutes[1::12]
        self.sums = [np.broadcast_to(one, self.hours.shape) for one in _sums(self.causes(self.hours))]

    def causes(self, minutes):
        """Return the Causes after so many minutes."""
        done, found = self.path.ln_done(minutes), []
        for name, ends, rests_on, pull in self._entries:
            with np.errstate(invalid="ignore"):
                left = [done - path.ln_done(minutes) + more for path, more in ends]
            found.append(_cause(name, left, rests_on, pull))
        return found


def _of_warmth(setting):
    """Yield (cause, [(path, what else it adds to ln(work))] at the ends of its sides, rests on, pull)."""
    known, value = parameters(), values()
    if not (setting.factor.bakes and setting.told):  # a kitchen's own bakes hold its thermometer
        read = known["dough temperature as read" if setting.told else "dough temperature not told"]
        yield "dough temperature", [(setting.path(warmer=end), 0.0) for end in read.ends], read.rests_on, read.pull
    at = reference_point(setting.stage).temperature_degC
    for what in CARDINALS:  # of the dough and of the reference point at once
        moved = [value | {what: end} for end in known[what].ends]
        ends = [(setting.path(m), math.log(rate_at(at, m) / rate_at(at))) for m in moved]
        yield what, ends, known[what].rests_on, known[what].pull
    if setting.room is not None:
        slower = math.exp(setting.pace.next_spread())
        ends = [(setting.path(slower=pace), 0.0) for pace in (1 / slower, slower)]
        yield "pace of cooling or warming", ends, setting.pace.rests_on, NORMAL_PULL
