"""How long 100,000 formulas take through rise and water temperature, against the bare arithmetic in numpy."""

import time

import numpy as np
import pytest

from kit.formula import Formula
from kit.process import rise, water_temperature
from kit.process.activity import weights
from kit.process.gassing import parameters, reference_point
from kit.process.heat import specific_heats

BUN = {"flour": 100, "milk": 30, "water": 10, "egg": 20, "butter": 15, "sugar": 18, "salt": 1.6, "fresh yeast": 4}


def timed(work, rounds):
    best = np.inf
    for _ in range(rounds):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return best, result


def bare_rise(percentages, table):
    """The same time and its band with every constant at hand, on whole arrays."""
    solutes = percentages @ table
    sucrose, hexose, lactose, salt, water, yeast = np.moveaxis(solutes, -1, 0)
    sugar = sucrose + hexose

    def activity(free):
        counted = np.maximum(sugar - free, 0) / np.where(sugar > 0, sugar, 1)
        glucose = counted * (hexose / 180.16 + 2 * sucrose / 342.3) * 1000 / water
        x = glucose / (glucose + 55.508)
        y = lactose / 342.3 * 1000 / water
        y = y / (y + 55.508)
        m = salt / 58.44 * 1000 / water
        root = np.sqrt(m)
        phi = 1 - 0.3915 * root / (1 + 1.2 * root) + m * (0.0765 + 0.2664 * np.exp(-2 * root)) + m**2 * 0.00127
        return np.exp(np.log1p(-x) - 2.25 * x**2 + np.log1p(-y) - 6.47 * y**2 - 2 * m * phi / 55.508)

    def ln_rate(a, least=0.9):
        return np.log((a - least) / (1 - least))

    a = activity(5.0)
    middle = 4.5 - ln_rate(a) - 0.7 * np.log(yeast)
    spreads = [
        0.117 * np.abs(np.log(yeast / 4)),
        np.abs(ln_rate(a, 0.9087) - ln_rate(a, 0.8913)) / 2,
        np.abs(ln_rate(activity(5.58)) - ln_rate(activity(4.42))) / 2,
    ]
    half = 1.2816 * np.sqrt(0.08 + sum(np.square(s) for s in spreads))
    return np.exp(middle), np.exp(middle - half), np.exp(middle + half)


@pytest.mark.benchmark
def test_hundred_thousand_formulas(short, capsys):
    """Goal: rise within 5 times the bare arithmetic. The times are printed; only the results are held."""
    side, rounds = (100, 1) if short else (316, 5)
    many = Formula.from_weights("bun", BUN).vary(sugar=np.linspace(2, 30, side), egg=np.linspace(0, 40, side))
    percentages = many.dough_percentages.reshape(-1, len(many.dough_keys))
    places = [many.ingredients.row(key) for key in many.dough_keys]
    table = weights(many.ingredients)[places]
    heats = specific_heats(many.ingredients)[places]
    warmth = np.full(len(places), 22.0)
    bare_time, bare = timed(lambda: bare_rise(percentages, table), rounds)
    kit_time, found = timed(lambda: rise(many, 26), rounds)
    bare_water, _ = timed(lambda: 26 + ((percentages * heats) @ (26 - warmth) - 1510) / percentages[:, 1], rounds)
    kit_water, water = timed(lambda: water_temperature(many, 26, 22), rounds)
    with capsys.disabled():
        print(f"\n{percentages.shape[0]:,} formulas")
        print(
            f"rise with its band   {1e3 * kit_time:7.1f} ms, bare {1e3 * bare_time:6.1f} ms: "
            f"{kit_time / bare_time:.2f} x"
        )
        print(f"water with its terms {1e3 * kit_water:7.1f} ms, bare {1e3 * bare_water:6.1f} ms")
    # the bare arithmetic has the same shape of time and the same parts that differ from dough to dough
    ratio = found.minutes.ravel() / bare[0]
    assert ratio == pytest.approx(np.full(ratio.shape, ratio[0]), rel=1e-6)
    point = reference_point("bulk")
    assert point.minutes == 91
    assert parameters()["yeast exponent"].value == 0.7
    assert water.balance.shape == many.shape
