"""Each part of each band of calibration, comparison and tasting by a seeded simulation or a library of statistics."""

import datetime
import math

import numpy as np
import pytest
from scipy import stats

from kit.process import Calibration, Estimate, rise
from kit.process.water import mixed_temperature
from kit.trials import Trial, plan_trials, side_by_side, tasting
from kit.trials.bakes import Bake, Scatter, least_scatter, repeat_scatter
from kit.trials.calibrating import check
from kit.trials.ranking import friedman
from kit.trials.tasting import guessed
from tests.simulation import Z, assert_ends, drawn

N = 40_000


def bakes(bun, values, first=1, **fixed):
    """One trial a day for each dict of entries."""
    days = [(datetime.date(2025, 3, first) + datetime.timedelta(n)).isoformat() for n in range(len(values))]
    return [Trial.of(f"bun {day}", day, formula=bun, **fixed, **some) for day, some in zip(days, values, strict=True)]


# ---- what is foreseen of a bake -----------------------------------------------------------------------------


def foreseen(trials, quantity, calibration):
    row = next(row for row in check(calibration or Calibration(), trials).rows if row[1] == quantity)
    return row[3], row[4:6]


@pytest.mark.parametrize("causes", [("dough",), ("topping",), ("dough", "topping")])
def test_baked_mass_by_each_loss(bun, causes):
    """60 g of dough and 22 g of topping; one oven takes of both alike; six bakes (Student, five degrees)."""
    trials = bakes(bun, [{"piece_mass": 60, "topping_mass": 22, "baked_mass": 73}])
    own = {"dough": Estimate(11.0, 0.7, bakes=6), "topping": Estimate(7.0, 1.4, bakes=6)}
    own = {part: e if part in causes else Estimate(e.value, 0.0, bakes=6) for part, e in own.items()}
    middle, band = foreseen(trials, "baked mass", Calibration().with_(**{f"bake_loss_{p}": e for p, e in own.items()}))
    oven = math.sqrt(7 / 6) * drawn(1, N, stats.t(5))
    wash = 0.85 * 0.7615 + 0.15 * 0.8813  # g of water on a piece, SR28
    masses = ((60, own["dough"]), (22, own["topping"]))
    baked = 60 + 22 + 1 - wash - sum(g * (e.value + e.spread * oven) / 100 for g, e in masses)
    assert middle == pytest.approx(np.median(baked), abs=0.01)
    assert_ends(band, baked, bias=2e-3)


def test_dough_temperature_by_the_mixing(bun):
    """12 min at 0.37 degC a minute, 80 % from 0.2 to 0.6 in proportion about it, through the balance of heat."""
    given = {"water": 10, "room": 22, "flour": 21, "preferment": 26}
    temperatures = {f"{name}_temperature": value for name, value in given.items()}
    trials = bakes(bun, [{"mix_time_slow": 4, "mix_time_fast": 8, "dough_temperature": 26, **temperatures}])
    middle, band = foreseen(trials, "dough temperature", None)
    rises = 12 * 0.37 * np.exp(drawn(2, N) * math.log(3) / (2 * Z))
    ends = [mixed_temperature(bun, mixing_rise=end, **given) for end in np.quantile(rises, [0.1, 0.9])]
    assert band == pytest.approx(ends, abs=0.01)
    assert middle == pytest.approx(mixed_temperature(bun, mixing_rise=4.44, **given))


@pytest.mark.parametrize(("stage", "name"), [("bulk", "bulk"), ("final proof", "proof")])
def test_times_and_shape_are_those_of_the_calibration(bun, stage, name):
    own = {"rise_factor": Estimate(0.9, 0.1, bakes=6, log=True), "proof_factor": Estimate(1.2, 0.2, bakes=6, log=True)}
    own |= {"height_over_diameter_baked": Estimate(0.5, 0.02, bakes=6)}
    kitchen = Calibration().with_(**own)
    trials = bakes(bun, [{f"{name}_temperature": 27, f"{name}_rise": 1.9, f"{name}_time": 60, "height": 40,
                          "diameter": 80}])  # fmt: skip
    middle, band = foreseen(trials, f"{name} time", kitchen)
    there = rise(bun, temperature=27, until=1.9, stage=stage, calibration=kitchen)
    assert (middle, *band) == (there.minutes, there.low, there.high)
    _, band = foreseen(trials, "height over diameter", kitchen)
    assert_ends(band, 0.5 + 0.02 * math.sqrt(7 / 6) * drawn(3, N, stats.t(5)), bias=2e-3)


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
    for what, *sides in plan.contrasts:
        sums = [np.mean([step[:, n] for n, b in enumerate(plan.bakes) if b.levels in side], axis=0) for side in sides]
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
    for what, *sides in plan.contrasts:
        means = [np.mean([heights[:, n] for n, b in enumerate(plan.bakes) if b.levels in side], axis=0)
                 for side in sides]  # fmt: skip
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
    assert row.limits == pytest.approx((t * pooled * math.sqrt(1 / 5 + 1 / 3), t * pooled * math.sqrt(2 / 5)))
    assert row.differences[1].kind == "paired"


# ---- tastings -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("test", "chance"), [("triangle", 1 / 3), ("preference", 1 / 2)])
@pytest.mark.parametrize("coverage", [80, 95])
def test_shares_of_tasters_by_a_library(test, chance, coverage):
    """Exact limits and p of scipy for every number of 7 and of 24; who notices: (share - chance) / (1 - chance)."""
    for tasters in (7, 24):
        for right in range(tasters + 1):
            found = tasting(test, right, tasters, coverage=coverage)
            sides = "two-sided" if test == "preference" else "greater"
            p = stats.binomtest(right, tasters, chance, sides).pvalue
            assert found.p == guessed(test, right, tasters) == pytest.approx(p)
            most = max(right, tasters - right) if test == "preference" else right
            ends = stats.binomtest(most, tasters).proportion_ci(coverage / 100)
            highest = stats.binomtest(most, tasters, alternative="less").proportion_ci(coverage / 100).high
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
