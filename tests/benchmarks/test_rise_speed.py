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
USUAL_DOUGH = [POINT.sugar_percent, 0, 0, POINT.salt_percent, POINT.water_percent, POINT.fresh_yeast_percent]
KNOWN = parameters()
MOVED = ("yeast exponent", FREE, USUAL)  # what bakes differ by is told by each, moved to either end
EXPONENT, LEFT, LEAST = (
    np.array(
        [
            [KNOWN[name].value]
            + [end for other in MOVED for end in (KNOWN[name].ends if other == name else 2 * [KNOWN[name].value])]
        ]
    ).T
    for name in MOVED
)
PULL = np.array([[KNOWN[name].pull] for name in MOVED])
MOLES = constant("water", "moles in 1 kg")
SUCROSE, GLUCOSE, LACTOSE, SALT = (constant(of, "molar mass") for of in ("sucrose", "glucose", "lactose", "salt"))
PER = [SUCROSE, GLUCOSE, LACTOSE, SALT, 1000, 1]  # g to mol; water to kg
K_SUGAR, K_LACTOSE = (constant(of, "Norrish K") for of in ("glucose", "lactose"))
A, B0, B1, C = (constant("salt", f"Pitzer {name}") for name in ("A", "beta0", "beta1", "C"))


def bare_rise(sucrose, hexose, lactose, salt, water, yeast, fixed, mean, variance):
    """Return minutes and their band in ten lines, on whole arrays; the usual dough, whose time is known, stands last.

    fixed, mean and variance: ln(minutes) that all doughs have, and what of their band does not differ.
    """
    sugar = np.maximum(1 - LEFT / (SUCROSE * sucrose + GLUCOSE * hexose), 0) * (2 * sucrose + hexose) / water
    x, y, m = sugar / (sugar + MOLES), lactose / (lactose + MOLES * water), salt / water
    phi = 1 - A * np.sqrt(m) / (1 + 1.2 * np.sqrt(m)) + m * (B0 + B1 * np.exp(-2 * np.sqrt(m))) + m * m * C
    activity = (1 - x) * (1 - y) * np.exp(K_SUGAR * x * x + K_LACTOSE * y * y - 2 * m * phi / MOLES)
    ln_speed = np.log((activity - LEAST) / (1 - LEAST)) + EXPONENT * np.log(yeast)
    ln_time = fixed + ln_speed[:, -1:] - ln_speed[:, :-1]
    moved = (ln_time[1:] - ln_time[0]).reshape(len(MOVED), 2, -1)
    shift = PULL * moved.mean(1)
    half = reach(80) * np.sqrt(variance + (np.mean(moved**2, 1) - shift**2).sum(0))
    return np.exp(ln_time[0] + [0 * half, mean + shift.sum(0) - half, mean + shift.sum(0) + half])


def what_all_have(one):
    """Return (ln of the time, mean and variance of ln) of what does not differ from dough to dough, of one Rise."""
    causes = [cause for cause in one.band.causes(1.0) if cause.name not in MOVED]
    height = one.band.work.height({"rise exponent": KNOWN["rise exponent"].value})
    fixed = np.log(POINT.minutes * rate_at(POINT.temperature_degC) / rate_at(one.temperature)) + height
    return fixed, sum(float(np.squeeze(c.mean)) for c in causes), sum(float(np.squeeze(c.spread)) ** 2 for c in causes)


@pytest.mark.benchmark
def test_hundred_thousand_formulas(short, capsys):
    """Goal: rise within 3 times the bare arithmetic. The times are printed; only the results are held."""
    side, rounds = (100, 1) if short else (316, 5)
    many = Formula.from_weights("bun", BUN).vary(sugar=np.linspace(2, 24, side), egg=np.linspace(0, 40, side))
    percentages = many.dough_percentages.reshape(-1, len(many.dough_keys))
    places = [many.ingredients.row(key) for key in many.dough_keys]
    table, heats = weights(many.ingredients)[places], specific_heats(many.ingredients)[places]
    alike, warmth = what_all_have(rise(many[0, 0], 26)), np.full(len(places), 22.0)

    def bare():
        return bare_rise(*(np.vstack([percentages @ table, USUAL_DOUGH]) / PER).T, *alike)

    bare_time, bare = best(bare, rounds)
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
