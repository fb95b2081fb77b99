"""Paired and unpaired differences, scatter within groups, straight lines and power against published answers."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from kit.trials.statistics import paired, pooled, repeat_limit, smallest_effect, t_at, unpaired

HERE = Path(__file__).parent


def columns(name):
    with open(HERE / f"{name}.csv", encoding="utf-8", newline="") as file:
        return [[float(cell) for cell in column] for column in zip(*list(csv.reader(file))[1:], strict=True)]


def groups(name):
    labels, values = columns(name)
    return [[v for label, v in zip(labels, values, strict=True) if label == each] for each in sorted(set(labels))]


# Student 1908, sleep, as in the R manual (from memory; recomputed): t -4.0621, p .002833, -2.4599 to -.7001
SLEEP = ([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0], [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def test_student_1908():
    d = paired(SLEEP[1], SLEEP[0])
    assert d.value == pytest.approx(-1.58, abs=1e-9)
    assert (d.low, d.high) == pytest.approx((-2.4598858, -0.7001142), abs=5e-8)
    assert d.p == pytest.approx(0.002833, abs=5e-7)
    assert (d.n, d.kind) == (10, "paired")


def test_paired_perception():
    """College course page: waking and hypnotic, 15 pairs: mean 2.866667, t 2.683, one-sided p .00892."""
    waking, hypnotic = columns("paired_esp")
    d = paired(waking, hypnotic)
    assert d.value == pytest.approx(2.866667, abs=5e-7)
    assert d.p / 2 == pytest.approx(0.00892, abs=5e-6)
    error = d.half / stats.t.ppf(0.975, 14)
    assert d.value / error == pytest.approx(2.683, abs=5e-4)
    assert d.value - stats.t.ppf(0.95, 14) * error == pytest.approx(0.9847933, abs=5e-8)  # printed lower bound


def test_paired_homework():
    """Course homework page: mean 1.1745, sd 2.8093, standard error .8470, t 1.3866 of eleven differences."""
    given = [-0.21, 2.05, 7.92, -3.49, -0.23, 1.97, -0.11, 2.14, 1.71, -0.60, 1.77]
    d = paired(np.zeros(11), given)
    error = d.half / stats.t.ppf(0.975, 10)
    assert (d.value, error, d.value / error) == pytest.approx((1.1745, 0.8470, 1.3866), abs=1e-4)


def test_four_days():
    """Worked by hand: heights of A and B on four days, mm; the day effect hides the difference when not paired."""
    a, b = [41.8, 43.1, 42.2, 43.5], [40.1, 41.9, 40.3, 42.3]
    d = paired(b, a)
    assert (d.value, d.low, d.high) == pytest.approx((1.50, 0.93, 2.07), abs=0.005)
    apart = unpaired(b, a)
    assert apart.half == pytest.approx(1.67, abs=0.005)
    assert apart.p == pytest.approx(0.07, abs=0.005)


@pytest.mark.parametrize("n", [1, 2, 3])
def test_below_four_there_is_no_probability(n):
    for d in (paired([1.0] * n, np.arange(n)), unpaired([1.0] * n, np.arange(n))):
        assert d.p is None
        assert d.kind == ("one bake each" if n == 1 else "range")
    d = paired([40, 41, 42][:n], [41, 43, 45][:n])
    assert (d.low, d.high) == (1, n)


@pytest.mark.parametrize("seed", range(5))
def test_against_scipy(seed):
    random = np.random.default_rng(seed)
    a, b = random.normal(40, 2, 7), random.normal(41, 2, 7)
    there, here = stats.ttest_rel(b, a), paired(a, b)
    assert here.p == pytest.approx(there.pvalue)
    assert (here.low, here.high) == pytest.approx(tuple(there.confidence_interval()))
    there, here = stats.ttest_ind(b[:5], a), unpaired(a, b[:5])
    assert here.p == pytest.approx(there.pvalue)
    assert (here.low, here.high) == pytest.approx(tuple(there.confidence_interval()))


@pytest.mark.parametrize(
    ("name", "within", "s", "df", "relative"),
    [("nist_sirstv", 2.16636560000000e-01, 0.104076068334656, 20, 1e-12),
     ("nist_atmwtag", 1.04951729166667e-08, 1.51048314446410e-05, 46, 1e-7)],
)  # fmt: skip
def test_certified_scatter_within_groups(name, within, s, df, relative):
    """NIST StRD one-way analysis of variance, certified: sum of squares within groups, s, degrees of freedom."""
    scatter, found_df = pooled(groups(name))
    assert (scatter, scatter**2 * found_df) == pytest.approx((s, within), rel=relative)
    assert found_df == df


# n, 95 % half-width / SD, smallest paired and unpaired effect at 80 % power / SD
@pytest.mark.parametrize(
    ("n", "half", "of_pairs", "of_groups"),
    [(3, 2.48, 3.27, 3.07), (4, 1.59, 2.13, 2.38), (5, 1.24, 1.69, 2.03), (6, 1.05, 1.44, 1.80), (8, 0.84, 1.16, 1.51)],
)  # fmt: skip
def test_what_so_many_bakes_can_show(n, half, of_pairs, of_groups):
    """Worked out apart from the kit, from tables of Student's t and steps of 0.01: nobody printed it."""
    assert t_at(0.975, n - 1) / math.sqrt(n) == pytest.approx(half, abs=0.0051)
    assert smallest_effect(n - 1, math.sqrt(n)) == pytest.approx(of_pairs, abs=0.0101)
    assert smallest_effect(2 * n - 2, math.sqrt(n / 2)) == pytest.approx(of_groups, abs=0.0101)


@pytest.mark.parametrize("n", [3, 6, 12])
def test_power_against_statsmodels(n):
    from statsmodels.stats.power import TTestIndPower, TTestPower

    assert TTestPower().power(smallest_effect(n - 1, math.sqrt(n)), n, 0.05) == pytest.approx(0.8, abs=2e-4)
    of_groups = smallest_effect(2 * n - 2, math.sqrt(n / 2))
    assert TTestIndPower().power(of_groups, n, 0.05) == pytest.approx(0.8, abs=2e-4)


def test_repeat_limit_is_the_repeatability_limit():
    """ISO 5725-6: r = 2.8 s, from 1.96 sqrt(2), for two single results and a scatter known well."""
    assert repeat_limit(1.0, 10**7) == pytest.approx(1.96 * math.sqrt(2), abs=1e-3)
    assert repeat_limit(1.0, 5, 4, 4) == pytest.approx(stats.t.ppf(0.975, 5) / math.sqrt(2))
