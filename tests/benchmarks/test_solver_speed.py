"""How long it takes to solve for six demands with fifteen ingredients, and to name a contradiction."""

import functools
import itertools
import time
from pathlib import Path

import numpy as np
import pytest

import kit
from kit import Formula
from kit.reformulate import Impossible, measured, search, sensitivities, solve, substitute
from kit.show.reformulate_panels import FOLLOW, HOLDS, MOVES
from tests.benchmarks.timing import compared, print_table

BUN = Formula.from_weights(
    "bun",
    {
        "bread flour": 90, "wholemeal flour": 10, "whole milk": 30, "egg": 15, "yolk": 5, "butter": 15, "lard": 3,
        "sugar": 12, "honey": 4, "milk powder": 2, "fresh yeast": 4, "salt": 1.6, "water": 10, "cardamom": 0.7,
        "lemon peel": 1,
    },
    topping={"plain flour": 100, "icing sugar": 95, "butter": 80, "salt": 0.5}, makes={"piece": 70, "topping": 28},
)  # fmt: skip
SIX = {
    "fat": 20, "total_hydration": (56, 58), "protein": (12, 15), "salt": 1.7, "sugars": (16, 18),
    "enrichment_ratio": (35, 48),
}  # fmt: skip
PRICES = {"flour": 0.8, "milk": 1, "egg": 4, "yolk": 9, "butter": 9, "lard": 3, "sugar": 1, "honey": 8, "water": 0,
          "milk powder": 5, "yeast": 5, "salt": 0.5, "spice": 40, "peel": 9}  # fmt: skip


def contradiction():
    with pytest.raises(Impossible) as caught:
        solve(BUN, SIX | {"egg": 60}, hold=["butter"])
    return caught.value


WAYS = {
    "six demands, smallest": lambda: solve(BUN, SIX),
    "six demands, cheapest": lambda: solve(BUN, SIX, prefer="cheapest", prices=PRICES),
    "five and a whole piece's sugars": lambda: solve(BUN, SIX | {"sugars_per_piece": 15}),
    "a contradiction and the nearest": contradiction,
    "a swap": lambda: substitute(BUN, "milk", "milk powder"),
    "what every point does": lambda: sensitivities(BUN),
}


@pytest.mark.benchmark
def test_solver_speed(capsys, short):
    ways = {way: lambda _, act=act: act() for way, act in WAYS.items()}
    with capsys.disabled():
        found = compared("fifteen ingredients", ways, 2 if short else 40, "a swap")
    assert all(answer is not None for answers in found.values() for answer in answers)


FILES = Path(__file__).parents[2] / "notebooks/formulas"
BOXES = (*(f"hold {name}" for name in HOLDS), *(f"free {name}" for name in FOLLOW), "cheapest")


SLOW = (117520, 103045, 232412, 216643, 246749, 240064)  # the slowest states of 1,500 drawn ones


def boxes(number):
    """Return which of the panel's boxes are ticked in the combination of this number."""
    return [name for n, name in enumerate(BOXES) if number >> n & 1]


def covering(any_of):
    """Return combinations in which any so many boxes stand in each of their states together, a short greedy's few.

    Of 40 drawn at random each takes the one that adds most of what has not stood together yet.
    """
    groups = np.array(list(itertools.combinations(range(len(BOXES)), any_of)))
    places = 1 << np.arange(any_of)
    missing, found, rng = np.ones((len(groups), 2**any_of), bool), [], np.random.default_rng(1)
    while missing.any():
        group, state = np.argwhere(missing)[rng.integers(missing.sum())]
        tried = rng.integers(0, 2, (40, len(BOXES)))
        tried[:, groups[group]] = state >> np.arange(any_of) & 1
        states = tried[:, groups] @ places
        best = np.argmax(missing[np.arange(len(groups)), states].sum(1))
        missing[np.arange(len(groups)), states[best]] = False
        found.append(int(tried[best] @ (1 << np.arange(len(BOXES)))))
    return found


@functools.cache
def shop():
    """Return the demo bun, its figures and the shop's prices."""
    bun = Formula.read(FILES / "crackle_bun.toml")
    return bun, measured(bun, HOLDS), kit.read_prices(FILES / "crackle_bun_prices.csv", today="2025-03-03")


def answered(number):
    """Return (CPU seconds, linear programmes, whether refused) of a combination, its dials drawn by its number."""
    rng, (bun, before, prices), ticked = np.random.default_rng(number), shop(), boxes(number)
    asked = {kind: float(rng.integers(0, 2 * far)) / 2 for kind, far in MOVES.items() if rng.random() < 0.4}
    asked = asked or {"egg": 24.0}
    hold, free = ([name[5:] for name in ticked if name[:4] == which] for which in ("hold", "free"))
    if within := rng.choice([0, 0, 0.02, 0.1]):
        asked |= {name: ((1 - within) * before[name], (1 + within) * before[name]) for name in hold}
        hold = []
    bought = {"prefer": "cheapest", "prices": prices} if "cheapest" in ticked else {}
    tried, milp = [], search.milp

    def counted(*args, **given):
        tried.append(len(args[0]))
        return milp(*args, **given)

    start = time.process_time()
    search.milp = counted
    try:
        found = solve(bun, asked, hold=hold, free=free, nearest=True, **bought)
    finally:
        search.milp = milp
    taken = time.process_time() - start
    assert found.refusal is None or found.traded
    return taken, len(tried), found.refusal is not None


@pytest.mark.benchmark
def test_every_combination_of_any_four_boxes(capsys, short):
    """Goal: an answer or a refusal within 0.3 s of CPU, however any four of the boxes stand, of two in short."""
    drawn = [*covering(2 if short else 4), *SLOW]
    taken, tried, refused = map(np.array, zip(*map(answered, drawn), strict=True))
    slowest = [drawn[n] for n in np.argsort(-taken)[:3]]
    with capsys.disabled():
        rows = [
            ("CPU, s", *np.quantile(taken, [0.5, 0.95, 0.99, 1])),
            ("programmes", *np.quantile(tried, [0.5, 0.95, 0.99, 1])),
        ]
        print_table(
            f"{len(drawn):,} of {2 ** len(BOXES):,} combinations, {refused.sum():,} refused",
            ("", "median", "95 %", "99 %", "worst"),
            rows,
        )
        print(f"slowest: {slowest}; {', '.join(boxes(slowest[0]))}")
    assert max(tried) <= 200
