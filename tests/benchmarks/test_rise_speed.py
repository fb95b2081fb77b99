"""How long 100,000 formulas take through rise and water temperature, against the bare arithmetic in numpy."""

import numpy as np
import pytest

from kit.balance.bands import reach
from kit.formula import Formula
from kit.process import rise, water_temperature
from kit.process.activity import constant, weights
from kit.process.gassing import FREE, USUAL, parameters, rate_at, reference_point
from kit.process.heat import specific_heats
from tests.benchmarks.timing import best, print_table

BUN = {"flour": 100, "milk": 30, "water": 10, "egg": 20, "butter": 15, "sugar": 18, "salt": 1.6, "fresh yeast": 4}
POINT = reference_point("bulk")


def ln_rate(solutes, free, least):
    """Return ln of the rate that sugar, salt and water leave, on whole arrays."""
    sucrose, hexose, lactose, salt, water, _ = solutes
    sugar = sucrose + hexose
    counted = np.maximum(sugar - free, 0) / np.where(sugar > 0, sugar, 1) * 1000 / water
    moles, root = constant("water", "moles in 1 kg"), np.sqrt(m := salt / constant("salt", "molar mass") * 1000 / water)
    in_all = counted * (hexose / constant("glucose", "molar mass") + 2 * sucrose / constant("sucrose", "molar mass"))
    x, y = (n / (n + moles) for n in (in_all, lactose / constant("lactose", "molar mass") * 1000 / water))
    a, b0, b1, c = (constant("salt", f"Pitzer {name}") for name in ("A", "beta0", "beta1", "C"))
    phi = 1 - a * root / (1 + 1.2 * root) + m * (b0 + b1 * np.exp(-2 * root)) + m * m * c
    sugars = np.log1p(-x) + constant("glucose", "Norrish K") * x * x
    sugars = sugars + np.log1p(-y) + constant("lactose", "Norrish K") * y * y
    return np.log((np.exp(sugars - 2 * m * phi / moles) - least) / (1 - least))


def bare_rise(percentages, table, alike):
    """Return minutes and their band, on whole arrays; alike: (what all doughs have, its mean and variance)."""
    here, known, (fixed, mean, variance) = (percentages @ table).T, parameters(), alike
    usual = [POINT.sugar_percent, 0, 0, POINT.salt_percent, POINT.water_percent, POINT.fresh_yeast_percent]
    at = {name: known[name].value for name in (FREE, USUAL)}
    slower, richer = ln_rate(usual, *at.values()) - ln_rate(here, *at.values()), np.log(here[5] / usual[5])
    middle = fixed - known["yeast exponent"].value * richer + slower
    for name in ("yeast exponent", FREE, USUAL):
        each = known[name]
        if name in at:
            given = [(at | {name: end}).values() for end in each.ends]
            low, high = (ln_rate(usual, *end) - ln_rate(here, *end) - slower for end in given)
        else:
            low, high = (-(end - each.value) * richer for end in each.ends)
        shift = each.pull * (low + high) / 2
        mean, variance = mean + shift, variance + (low * low + high * high) / 2 - shift * shift
    half = reach(80) * np.sqrt(variance)
    ends = np.minimum(mean - half, 0), np.maximum(mean + half, 0)
    return np.exp(middle), np.exp(middle + ends[0]), np.exp(middle + ends[1])


def what_all_have(one):
    """Return (ln of the time, mean and variance of ln) of what does not differ from dough to dough, of one Rise."""
    causes = [c for c in one.band.causes(1.0) if c.name not in ("yeast exponent", FREE, USUAL)]
    height = one.band.work.height({"rise exponent": parameters()["rise exponent"].value})
    fixed = np.log(POINT.minutes * rate_at(POINT.temperature_degC) / rate_at(one.temperature)) + height
    return (
        fixed,
        sum(float(np.ravel(c.mean)[0]) for c in causes),
        sum(float(np.ravel(c.spread)[0]) ** 2 for c in causes),
    )


@pytest.mark.benchmark
def test_hundred_thousand_formulas(short, capsys):
    """Goal: rise within 3 times the bare arithmetic. The times are printed; only the results are held."""
    side, rounds = (100, 1) if short else (316, 5)
    many = Formula.from_weights("bun", BUN).vary(sugar=np.linspace(2, 24, side), egg=np.linspace(0, 40, side))
    percentages = many.dough_percentages.reshape(-1, len(many.dough_keys))
    places = [many.ingredients.row(key) for key in many.dough_keys]
    table, heats = weights(many.ingredients)[places], specific_heats(many.ingredients)[places]
    alike, warmth = what_all_have(rise(many[0, 0], 26)), np.full(len(places), 22.0)
    bare_time, bare = best(lambda: bare_rise(percentages, table, alike), rounds)
    kit_time, found = best(lambda: rise(many, 26), rounds)
    bare_water, _ = best(lambda: 26 + ((percentages * heats) @ (26 - warmth) - 1510) / percentages[:, 1], rounds)
    kit_water, water = best(lambda: water_temperature(many, 26, 22), rounds)
    with capsys.disabled():
        rows = [("rise with its band", kit_time, bare_time, kit_time / bare_time)]
        rows += [("water with its terms", kit_water, bare_water, kit_water / bare_water)]
        print_table(f"{percentages.shape[0]:,} formulas", ("", "ms", "bare, ms", "times"), rows)
    for whole, each in zip(bare, (found.minutes, found.low, found.high), strict=True):
        assert each.ravel() == pytest.approx(whole, rel=1e-9)
    assert water.balance.shape == many.shape
