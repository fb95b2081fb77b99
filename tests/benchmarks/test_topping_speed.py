"""Topping fit and losses of 100,000 formulas beside the bare numpy arithmetic of the same results."""

import time
from pathlib import Path

import numpy as np
import pytest

from kit.balance.accounts import AT, weights
from kit.formula import Formula
from kit.process import predict_yield, topping_fit

BUN = Formula.read(Path(__file__).parents[2] / "notebooks/formulas/crackle_bun.toml")


def timed(call, rounds):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        result = call()
        times.append(time.perf_counter() - start)
    return 1000 * min(times), result


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

    def losses():
        sums, topping = percentages @ per_flour, crust @ of_crust
        share = [np.minimum(loss, 100 * (s[..., AT["water"]] + s[..., AT["alcohol"]]) / s[..., AT["mass"]])
                 for s, loss in ((sums, 10.5), (topping, 6.5))]  # fmt: skip
        baked = piece * (1 - share[0] / 100) + 22 * (1 - share[1] / 100) + 0.23
        total = np.sqrt((piece * 0.0179) ** 2 + (22 * 0.0187) ** 2 + (piece * 0.0205 + 22 * 0.0234) ** 2)
        return baked, total

    def by_kit():
        fit = topping_fit(many)
        gaps = [fit.gap(stage) for stage in ("proofed", "baked")]
        return fit.disc, fit.thickness, *gaps, *(fit.cover(s) for s in ("shaped", "proofed", "baked"))

    def scatter():
        found = predict_yield(many).scatter()
        return found.baked, np.hypot(found.within, found.loss)

    pairs = {
        "topping fit": (timed(geometry, rounds), timed(by_kit, rounds)),
        "losses": (timed(losses, rounds), timed(scatter, rounds)),
    }
    with capsys.disabled():
        print()
        for name, ((bare, _), (kit, _)) in pairs.items():
            print(f"{name:12} {n:,} formulas: {kit:7.1f} ms, bare numpy {bare:7.1f} ms, {kit / bare:4.1f} times")
        both = [sum(pair[n][0] for pair in pairs.values()) for n in (1, 0)]
        print(f"{'together':12} {both[0]:7.1f} ms, bare numpy {both[1]:7.1f} ms, {both[0] / both[1]:4.1f} times")
    for name, ((_, expected), (_, found)) in pairs.items():
        for one, other in zip(expected, found, strict=True):
            assert np.allclose(one, other, rtol=0.02, atol=0.5 if name == "losses" else 1e-9), name
