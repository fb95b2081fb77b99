"""What a kitchen's own trials correct: each default with its spread and what it rests on."""

import functools
import math
from dataclasses import dataclass, field, fields, replace
from typing import Any

from ..balance.bands import reach, spread_of
from ..errors import AmountError, must
from ..page import Result
from ..tables import ground, table
from ..words import one_of


@dataclass(frozen=True)
class Estimate:
    """A figure as far as it is known: value, spread (standard deviation; of ln(value) when `log`), and from what.

    `bakes` counts the kitchen's own bakes behind it, 0 while it is a default.
    """

    value: float
    spread: float
    unit: str = ""
    rests_on: str = "given here"
    bakes: int = 0
    log: bool = False

    def __post_init__(self):
        positive = self.value > 0 or not self.log
        if not (math.isfinite(self.value) and positive and math.isfinite(self.spread) and self.spread >= 0):
            be = "a finite value with a spread of 0 or more" + (", the value above 0" if self.log else "")
            raise AmountError(must("estimate", be, f"{self.value:g} with spread {self.spread:g}", "check the trials"))

    def next_spread(self, coverage: float = 80.0) -> float:
        """Return the spread of the next bake, as a standard deviation to go with normal quantiles.

        For n bakes s sqrt(1 + 1/n) t(n-1) / z, so that a band of that coverage [%] is the prediction interval of
        Student; the table's own spread for a default.
        """
        if self.bakes < 2:
            return self.spread
        from scipy.special import stdtrit  # loaded only when a kitchen has trials

        widened = float(stdtrit(self.bakes - 1, 0.5 + coverage / 200)) / reach(coverage)
        return self.spread * math.sqrt(1 + 1 / self.bakes) * widened

    def band(self, coverage: float = 80.0) -> tuple[float, float]:
        """Return (low, high) for the next bake [unit of value], coverage [%].

        >>> low, high = Estimate(108, 0.036, bakes=6, log=True).band(90)
        >>> round(low), round(high)
        (100, 117)
        """
        half = reach(coverage) * self.next_spread(coverage)
        if self.log:
            return self.value * math.exp(-half), self.value * math.exp(half)
        return self.value - half, self.value + half


def standard_deviation(row: Any) -> float:
    """Return the standard deviation of a row with low, high and kind_of_spread; of the logarithm if log-normal.

    low and high hold 80 % of a normal or log-normal spread, and all of a uniform one.
    """
    if row.kind_of_spread == "none":
        return 0.0
    if row.kind_of_spread == "uniform":
        return (row.high - row.low) / math.sqrt(12)
    return spread_of(row.low, row.high, row.kind_of_spread == "log-normal")


NORMAL_PULL = math.sqrt(2 / math.pi)  # mean distance / root mean square distance on one side of a normal's middle


def sides(row: Any) -> tuple[float, float, float]:
    """Return (below, above, mean / root mean square): how far a figure lies to each side of its value, as standard
    deviations of each side, of which either holds half of the chance.

    low and high hold 80 % of a normal spread, all of a uniform one; they need not lie evenly about the value.
    """
    if row.kind_of_spread == "none":
        return 0.0, 0.0, NORMAL_PULL
    wide, pull = (math.sqrt(3), math.sqrt(3) / 2) if row.kind_of_spread == "uniform" else (reach(), NORMAL_PULL)
    return (row.value - row.low) / wide, (row.high - row.value) / wide, pull


@functools.cache
def _default(what):
    row = table("calibration").row(what=what)
    log = row.kind_of_spread == "log-normal"
    return Estimate(row.value, standard_deviation(row), row.unit, ground(row), log=log)


@functools.cache
def _default_loss(part):
    row = table("losses").row(use="default", stage="baking", part=part)
    spread = spread_of(row.low_percent, row.high_percent)
    return Estimate(row.default_percent, spread, f"% of the raw {part}", ground(row))


@functools.cache
def _default_factor(stage):
    """Return how far the usual time of a stage is off: 1, as spread as its own range."""
    row = table("rise_reference_points").row(stage=stage)
    spread = spread_of(row.low_minutes, row.high_minutes, True)
    return Estimate(1.0, spread, "time here / time foreseen", f"{row.what} ({ground(row)})", log=True)


def _from_table(what):
    return field(default_factory=lambda: _default(what))


@dataclass(frozen=True)
class Calibration(Result):
    """What the predictions take for this kitchen, each an Estimate; `Calibration()` is the tables'."""

    friction_rise: Estimate = _from_table("friction_rise")  # of the dough [degC per min of mixing]
    sponge_factor: Estimate = field(default_factory=lambda: _default_factor("sponge"))  # time here / time foreseen
    rise_factor: Estimate = field(default_factory=lambda: _default_factor("bulk"))
    proof_factor: Estimate = field(default_factory=lambda: _default_factor("final proof"))
    cooling_time: Estimate = _from_table("cooling_time")  # towards the room [min for 1 kg]
    dividing_scatter: Estimate = _from_table("dividing_scatter")  # standard deviation [% of the piece]
    bake_loss_dough: Estimate = field(default_factory=lambda: _default_loss("dough"))  # [% of the raw dough]
    bake_loss_topping: Estimate = field(default_factory=lambda: _default_loss("topping"))  # [% of the raw topping]
    density_shaped: Estimate = _from_table("density_shaped")  # [g per mL]
    density_proofed: Estimate = _from_table("density_proofed")
    density_baked: Estimate = _from_table("density_baked")
    height_over_diameter_shaped: Estimate = _from_table("height_over_diameter_shaped")
    height_over_diameter_proofed: Estimate = _from_table("height_over_diameter_proofed")
    height_over_diameter_baked: Estimate = _from_table("height_over_diameter_baked")
    topping_density: Estimate = _from_table("topping_density")  # [g per mL]
    crust_creep: Estimate = _from_table("crust_creep")  # [% of the disc's area]
    columns = ("figure", "value", "low", "high", "unit", "rests on")

    def with_(self, **estimates: Estimate) -> "Calibration":
        """Return this calibration with some figures replaced, each an Estimate. Raises UnknownName.

        >>> Calibration().with_(rise_factor=Estimate(1.06, 0.04, bakes=6, log=True)).rise_factor.bakes
        6
        """
        for name, value in estimates.items():
            one_of("calibration", name, [one.name for one in fields(self)])
            if not isinstance(value, Estimate):
                raise AmountError(must(name, "an Estimate", repr(value), "give its value and its spread"))
        return replace(self, **estimates)

    def frame_rows(self):
        """Return each figure with its 80 % band."""
        for one in fields(self):
            e = getattr(self, one.name)
            yield one.name.replace("_", " "), e.value, *e.band(), e.unit, e.rests_on

    @property
    def grounds(self):
        """What each figure rests on."""
        return {one.name: getattr(self, one.name).rests_on for one in fields(self)}
