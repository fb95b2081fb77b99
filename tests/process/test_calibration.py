"""The value that a kitchen's own bakes correct."""

import math

import numpy as np
import pytest
from scipy import stats

from kit.errors import AmountError, UnknownName
from kit.process import Calibration, Estimate
from kit.process.calibration import sides, standard_deviation
from kit.tables import Row, table
from tests.process.estimates import of_bakes

FIGURES = ("low", "value", "high")


def test_every_default_says_what_it_rests_on_and_lies_in_its_band():
    frame = Calibration().to_frame()
    fitted = frame["rests on"].str.contains("fitted here")
    assert set(frame.index[fitted]) == {"rise factor", "proof factor"}
    assert frame["rests on"][~fitted].str.contains("assumed here|common practice|published").all()
    assert set(frame.loc["density shaped":"crust creep", "rests on"]) == {"assumed here"}
    assert frame.loc["cooling time", "rests on"] == "assumed here"
    assert ((frame["low"] < frame["value"]) & (frame["value"] < frame["high"])).all()


def test_next_bake_as_a_prediction_interval():
    """Student's prediction interval by scipy: mean ± t s sqrt(1 + 1/n)."""
    times = np.array([1.01, 1.12, 1.05, 1.03, 1.09, 1.04])
    found = of_bakes(times, log=True)
    logs = np.log(times)
    half = stats.t.ppf(0.95, 5) * logs.std(ddof=1) * math.sqrt(1 + 1 / 6)
    assert found.band(90) == pytest.approx((math.exp(logs.mean() - half), math.exp(logs.mean() + half)))
    assert found.rests_on == "6 bakes of this kitchen"


def test_losses_as_worked_on_the_bench():
    """Common practice, worked: six losses of 9.18 ± 0.31 %: the next bake is 9.2 ± 0.85 (95 %)."""
    low, high = Estimate(9.18, 0.31, bakes=6).band(95)
    assert (high - low) / 2 == pytest.approx(0.85, abs=0.015)


def test_default_bands_hold_80_percent_of_a_normal_spread():
    assert Estimate(10, 2).band(80) == pytest.approx(stats.norm(10, 2).ppf([0.1, 0.9]))
    assert Estimate(10, 0.2, log=True).band(80) == pytest.approx(stats.lognorm(0.2, scale=10).ppf([0.1, 0.9]))


@pytest.mark.parametrize(
    ("kind", "low", "high", "expected"),
    [
        ("normal", 8.0, 12.0, 2 / stats.norm.ppf(0.9)),
        ("log-normal", 5.0, 20.0, math.log(2) / stats.norm.ppf(0.9)),
        ("uniform", 3.0, 9.0, stats.uniform(3, 6).std()),
    ],
)
def test_spreads_of_the_tables(kind, low, high, expected):
    row = Row({"kind_of_spread": kind, "low": str(low), "high": str(high)}, FIGURES)
    assert standard_deviation(row) == pytest.approx(expected)


def test_reference_ranges_are_the_defaults_of_the_factors():
    """rise_reference_points.csv: low and high hold 80 % of the bakeries, evenly in proportion."""
    for stage, factor in (("bulk", Calibration().rise_factor), ("final proof", Calibration().proof_factor)):
        row = next(r for r in table("rise_reference_points").rows if r["stage"] == stage)
        low, high = (float(row[f"{end}_minutes"]) / float(row["minutes"]) for end in ("low", "high"))
        assert factor.band() == pytest.approx((low, high), rel=0.01)


@pytest.mark.parametrize("kind", ["uniform", "normal"])
def test_sides_of_a_range_that_is_not_even(kind):
    """Root mean square and mean of each half of the spread, by scipy: a value of 5 from 3 to 12."""
    cells = {"low": "3", "value": "5", "high": "12"}
    below, above, pull = sides(Row(cells | {"kind_of_spread": kind}, FIGURES))
    if kind == "uniform":
        assert (below, above) == pytest.approx([stats.uniform(0, wide).moment(2) ** 0.5 for wide in (2, 7)])
        assert pull == pytest.approx(stats.uniform(0, 7).mean() / above)
    else:
        assert (below, above) == pytest.approx((2 / stats.norm.ppf(0.9), 7 / stats.norm.ppf(0.9)))
        assert pull == pytest.approx(stats.halfnorm(scale=above).mean() / above)
    assert sides(Row(cells | {"kind_of_spread": "none"}, FIGURES))[:2] == (0, 0)


def test_baking_losses_are_those_of_the_losses_table():
    """House default of losses.csv: 10 % (8 to 13) for dough, 6.5 % (4 to 10) for topping."""
    assert Calibration().bake_loss_dough.value == 10
    assert Calibration().bake_loss_topping.value == 6.5


def test_frozen_and_replaced():
    own = Calibration()
    with pytest.raises(AttributeError):
        own.rise_factor = 2
    changed = own.with_(crust_creep=Estimate(12, 3))
    assert (own.crust_creep.value, changed.crust_creep.value) == (5, 12)


def test_what_cannot_be_is_refused():
    with pytest.raises(UnknownName, match="did you mean crust creep|did you mean crust_creep"):
        Calibration().with_(crust_crep=Estimate(1, 1))
    with pytest.raises(AmountError, match="'rise_factor' must be an Estimate"):
        Calibration().with_(rise_factor=1.2)
    with pytest.raises(AmountError, match="'estimate'"):
        Estimate(math.nan, 1)
