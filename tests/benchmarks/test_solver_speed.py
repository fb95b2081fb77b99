"""How long it takes to solve for six demands with fifteen ingredients, and to name a contradiction."""

import itertools
import time
from pathlib import Path

import numpy as np
import pytest

from kit import Formula
from kit.reformulate import Impossible, sensitivities, solve, substitute

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
@pytest.mark.parametrize("way", WAYS)
def test_solver_speed(way, capsys, short):
    times = []
    for _ in range(2 if short else 40):
        start = time.perf_counter()
        answer = WAYS[way]()
        times.append(1000 * (time.perf_counter() - start))
    with capsys.disabled():
        print(f"\n{way:34} {np.median(times):7.1f} ms, slowest {max(times):7.1f} ms", end="")
    assert answer is not None


HELD = ("total_hydration", "hydration", "fat", "sugars", "salt", "enrichment_ratio", "sweetness_split",
        "sugars_per_piece", "energy_per_piece", "time_to_double")  # fmt: skip
FOLLOW = ("water", "milk", "butter", "egg", "sugar", "salt", "yeast", "topping")


@pytest.mark.benchmark
def test_every_combination_of_the_panels_boxes(capsys, short):
    """Goal: whatever is held and whatever follows, an answer or a refusal within 0.3 s; the times are printed."""
    bun = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")
    boxes = [[some for n in range(5) for some in itertools.combinations(of, n)] for of in (HELD, FOLLOW)]
    asked = list(itertools.product(*boxes))
    drawn = np.random.default_rng(1).choice(len(asked), 5 if short else 100, replace=False)
    times = {}
    for n in drawn:
        hold, free = asked[n]
        start = time.perf_counter()
        found = solve(bun, {"egg": 24, "butter": 22}, hold=hold, free=free, nearest=True)
        times[hold, free] = time.perf_counter() - start
        assert found.refusal is None or found.traded
    with capsys.disabled():
        middle, late, last = np.quantile(list(times.values()), [0.5, 0.95, 1])
        print(
            f"\n{len(times)} combinations: median {middle:.3f} s, 95 % within {late:.3f} s, slowest {last:.3f} s",
            end="",
        )
        print(f" ({max(times, key=times.get)})", end="")
