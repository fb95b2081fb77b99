"""Topping fit and losses of 100,000 formulas beside the bare numpy arithmetic of the same results."""

from pathlib import Path

import numpy as np
import pytest

from kit.balance.accounts import AT, weights
from kit.balance.bands import spread_of
from kit.formula import Formula
from kit.process import Calibration, predict_yield, topping_fit
from tests.benchmarks.timing import best, print_table

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")


@pytest.mark.benchmark
def test_many_formulas_beside_bare_arithmetic(capsys, short):
    n, rounds = 100_000, 2 if short else 7
    piece = np.linspace(40, 100, n)
    many = BUN.vary({"butter": np.linspace(5, 40, n)}, piece=piece, grid=False)
    percentages, crust = many.dough_percentages, np.array(many.part("topping").percentages)
    per_flour, of_crust = weights(many, many.dough_keys), weights(many, many.part("topping").keys)

    def geometry():
        radius, height = {}, {}
        for stage, mass, density, k in (
            ("shaped", piece, 0.85, 0.36), ("proofed", piece, 0.40, 0.40), ("baked", piece * 0.895, 0.28, 0.42),
        ):  # fmt: skip
            across = np.cbrt(6 * (mass / density) / (np.pi * k * (0.75 + k * k)))
            radius[stage], height[stage] = across / 2, k * across
        area = {stage: np.pi * (radius[stage] ** 2 + height[stage] ** 2) for stage in radius}
        sphere = (radius["shaped"] ** 2 + height["shaped"] ** 2) / (2 * height["shaped"])
        disc = 4 * sphere * np.sin((2 * np.arctan2(height["shaped"], radius["shaped"]) - 0.5 / sphere) / 2)
        thickness = 22 / (1.22 * np.pi / 4 * disc**2)
        gaps = [1.5 * (np.sqrt(area[stage] / area["shaped"]) - 1.05) for stage in ("proofed", "baked")]
        covers = [100 * np.pi / 4 * disc**2 * 1.05 / area[stage] for stage in radius]
        return disc, thickness, *gaps, *covers

    losses_of, hands = predict_yield(BUN).losses, Calibration().dividing_scatter.value / 100
    baking, topping, wash = (
        [losses_of[part, "baking"] for part in ("dough", "topping")],
        BUN.pieces.topping,
        BUN.part("wash"),
    )
    dry = BUN.pieces.wash * (1 - np.array(wash.percentages) @ weights(BUN, wash.keys)[:, AT["water"]] / wash.mass)
    gives = [AT[name] for name in ("water", "alcohol", "mass")]

    def losses():
        """The mean of the baked pieces and how they scatter, in ten lines."""
        kept = []
        for grams, brings, loss in zip((percentages, crust), (per_flour, of_crust), baking, strict=True):
            water, alcohol, mass = (grams @ brings[:, gives]).T
            kept.append(1 - np.minimum(loss.percent / 100, (water + alcohol) / mass))
        baked = piece * kept[0] + topping * kept[1] + dry
        dividing = [
            hands * mass * (1 - loss.percent / 100) for mass, loss in zip((piece, topping), baking, strict=True)
        ]
        spreads = [spread_of(loss.low, loss.high) / 100 for loss in baking]
        oven = piece * spreads[0] + topping * spreads[1]
        return baked, np.sqrt(dividing[0] ** 2 + dividing[1] ** 2 + oven**2)

    def by_kit():
        fit = topping_fit(many)
        gaps = [fit.gap(stage) for stage in ("proofed", "baked")]
        return fit.disc, fit.thickness, *gaps, *(fit.cover(s) for s in ("shaped", "proofed", "baked"))

    def scatter():
        found = predict_yield(many).scatter()
        return found.baked, np.sqrt(found.within**2 + found.loss**2)

    pairs = {
        "topping fit": (best(geometry, rounds), best(by_kit, rounds)),
        "losses": (best(losses, rounds), best(scatter, rounds)),
    }
    with capsys.disabled():
        rows = [(name, kit, bare, kit / bare) for name, ((bare, _), (kit, _)) in pairs.items()]
        print_table(f"{n:,} formulas", ("", "ms", "bare, ms", "times"), rows)
    for name, ((_, expected), (_, found)) in pairs.items():
        for one, other in zip(expected, found, strict=True):
            assert np.allclose(one, other, rtol=0.02 if name == "topping fit" else 1e-9, atol=1e-9), name
