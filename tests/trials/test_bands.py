"""Each part of each band of calibration, comparison and tasting by a seeded simulation or a library of statistics."""

import datetime
import math

import numpy as np
import pytest
from scipy import stats

from kit.trials import Trial, plan_trials, side_by_side, tasting
from kit.trials.bakes import Bake, Scatter, least_scatter, repeat_scatter
from kit.trials.tasting import friedman, guessed

N = 40_000


def bakes(bun, values, first=1, **fixed):
    """One trial a day for each dict of entries."""
    days = [(datetime.date(2025, 3, first) + datetime.timedelta(n)).isoformat() for n in range(len(values))]
    return [Trial.of(f"bun {day}", day, formula=bun, **fixed, **some) for day, some in zip(days, values, strict=True)]


# ---- what an instrument reads, and what repeats do ----------------------------------------------------------


def rounded(step, seed, shape):
    """Errors of readings that are rounded to a step, all alike likely."""
    return np.random.default_rng(seed).uniform(-step / 2, step / 2, shape)


def test_what_the_instrument_makes_of_each_response(bun):
    """Height and diameter to 0.5 mm, mass to 1 g: the scatter of what is reckoned from them, drawn."""
    trial = bakes(bun, [{"height": 40, "diameter": 80, "baked_mass": 73, "piece_mass": 60, "topping_mass": 22}])[0]
    bake = [Bake((trial,))]
    from kit.trials.fields import find

    steps = {name: find(name).resolution for name in ("height", "diameter", "baked_mass")}
    high, wide = (
        value + rounded(steps[name], n, N) for n, (name, value) in enumerate([("height", 40), ("diameter", 80)])
    )
    loss = 100 * (1 - (73 + rounded(steps["baked_mass"], 2, N)) / 83)  # 60 g dough, 22 topping, 1 wash
    for name, found in (("height", high), ("height_over_diameter", high / wide), ("bake_loss", loss)):
        assert least_scatter(name, bake) == pytest.approx(found.std(), rel=0.02), name


@pytest.mark.parametrize("changes", [{"butter": 25}, {"butter": (18, 22, 25)}])
def test_effects_by_what_the_caliper_makes(bun, changes):
    """Bakes that read alike differ by rounding alone: drawn on every bake, each effect's own error over four days."""
    plan = plan_trials(bun, changes, days=4)
    found = plan.effects([40.0] * len(plan.bakes))
    step = rounded(0.5, 4, (N, len(plan.bakes)))
    for what, levels in plan.contrasts.items():
        sides = plan.control, levels
        sums = [np.mean([step[:, n] for n, b in enumerate(plan.bakes) if b.levels == side], axis=0) for side in sides]
        half = stats.t.ppf(0.975, 3) * (sums[1] - sums[0]).std()
        assert found[what].difference.half == pytest.approx(half, rel=0.02), what
        assert found[what].difference.read


@pytest.mark.parametrize("changes", [{"butter": 25}, {"butter": (18, 22, 25)}])
@pytest.mark.parametrize("days", [2, 5])
def test_effects_beside_what_repeats_do(bun, changes, days):
    """Nothing changed, 10,000 plans drawn with the kitchen's scatter: 95 % of each effect within the limit."""
    plan = plan_trials(bun, changes, days=days, trials=Scatter(0.8, 10**6, 9))
    found = plan.effects([40.0] * len(plan.bakes))
    heights = np.random.default_rng(5).normal(40, 0.8, (10_000, len(plan.bakes)))
    for what, levels in plan.contrasts.items():
        means = [np.mean([heights[:, n] for n, b in enumerate(plan.bakes) if b.levels == side], axis=0)
                 for side in (plan.control, levels)]  # fmt: skip
        inside = np.mean(np.abs(means[1] - means[0]) <= found[what].limit)
        assert inside == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / 10_000)), what


def test_side_by_side_beside_what_repeats_do(bun):
    """Scatter pooled within two plans by numpy; five bakes against three of other days: t s sqrt(1/5 + 1/3)."""
    random = np.random.default_rng(6)
    richer, other = bun.vary(butter=30), bun.vary(butter=10)
    one, two = random.normal(40, 2, 6), random.normal(50, 2, 4)
    kitchen = bakes(richer, [{"height": h} for h in one]) + bakes(other, [{"height": h} for h in two])
    scatter = repeat_scatter(kitchen, "height")
    one, two = ([trial.readings("height")[0] for trial in some] for some in (kitchen[:6], kitchen[6:]))
    pooled = math.sqrt((np.var(one) * 6 + np.var(two) * 4) / 8)
    assert (scatter.value, scatter.df, scatter.bakes) == (pytest.approx(pooled), 8, 10)
    ours = bakes(bun, [{"height": 40 + n % 3} for n in range(5)])
    theirs = bakes(bun.vary(butter=20), [{"height": 44 + n % 2} for n in range(3)], first=20)
    same_days = bakes(bun.vary(butter=22), [{"height": 43 + n % 2} for n in range(5)])
    row = next(r for r in side_by_side([ours, theirs, same_days], kitchen).responses if r.name == "height")
    t = stats.t.ppf(0.975, 8)
    limits = [t * pooled * math.sqrt(1 / 5 + 1 / 3), t * pooled * math.sqrt(2 / 5)]
    assert [each.limit for each in row.against[1:]] == pytest.approx(limits)
    assert row.against[2].difference.kind == "paired"


# ---- tastings -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("test", "chance"), [("triangle", 1 / 3), ("preference", 1 / 2)])
def test_shares_of_tasters_by_a_library(test, chance):
    """Exact limits and p of scipy for every number of 7 and of 24; who notices: (share - chance) / (1 - chance)."""
    for tasters in (7, 24):
        for right in range(tasters + 1):
            found = tasting(test, right, tasters)
            sides = "two-sided" if test == "preference" else "greater"
            p = stats.binomtest(right, tasters, chance, sides).pvalue
            assert found.p == guessed(test, right, tasters) == pytest.approx(p)
            most = max(right, tasters - right) if test == "preference" else right
            ends = stats.binomtest(most, tasters).proportion_ci(0.95)
            highest = stats.binomtest(most, tasters, alternative="less").proportion_ci(0.95).high
            noticing = [max(100 * (share - chance) / (1 - chance), 0) for share in (most / tasters, *ends, highest)]
            share = [100 * most / tasters, 100 * ends.low, 100 * ends.high] if test == "preference" else noticing[:3]
            assert found.share == pytest.approx(share, abs=1e-9)
            assert found.unseen == pytest.approx(noticing[3], abs=1e-9)


def test_rankings_too_many_to_count_out_by_a_library():
    ranks = np.array([np.random.default_rng(n).permutation(7) + 1.0 for n in range(60)])
    statistic, p, exact = friedman(ranks)
    there = stats.friedmanchisquare(*ranks.T)
    assert not exact
    assert (statistic, p) == pytest.approx((there.statistic, there.pvalue))
