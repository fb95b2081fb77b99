"""How long a balance takes, beside the bare product of percentages it rests on; and importing kit beside numpy."""

import statistics
import subprocess
import sys
import time
import tracemalloc

import numpy as np
import pytest

import kit
from kit.balance import QUANTITIES, dough_class, measures
from kit.balance.accounts import ACCOUNTS, AT, weights

pytestmark = pytest.mark.benchmark

BUN = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def seconds(act, rounds):
    """Return the median time [s] of a call, and what the last call gave."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        made = act()
        times.append(time.perf_counter() - start)
    return statistics.median(times), made


def peak(act):
    """Return the highest memory [MB] that a call took beyond what was there, and what it gave."""
    tracemalloc.start()
    made = act()
    highest = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return highest / 1e6, made


def test_one_formula(capsys, short):
    rounds = 20 if short else 500
    whole, values = seconds(lambda: measures(BUN), rounds)
    varied, _ = seconds(lambda: measures(BUN.vary(butter=25)), rounds)
    classed, _ = seconds(lambda: dough_class(BUN), rounds)
    made, _ = seconds(lambda: kit.predict_yield(BUN), rounds)
    moved, _ = seconds(lambda: kit.what_moved(BUN, BUN), rounds)
    row = np.asarray(BUN.dough_percentages)
    table = weights(BUN, BUN.dough_keys)
    bare, product = seconds(lambda: row @ table, rounds)
    with capsys.disabled():
        print(f"\none formula, us: full balance {1e6 * whole:.0f} ({whole / bare:.0f} x the bare product of one row,"
              f" {1e6 * bare:.1f}); vary and balance {1e6 * varied:.0f}; class with every scheme {1e6 * classed:.0f};"
              f" yield {1e6 * made:.0f}; what moved {1e6 * moved:.0f}")  # fmt: skip
    assert set(values) == set(QUANTITIES)
    assert product[AT["water_not_flour"]] == pytest.approx(values["total_hydration"])


def test_a_million_formulas(capsys, short):
    steps = 11 if short else 101
    many = BUN.vary(butter=np.linspace(0, 60, steps), sugar=np.linspace(0, 30, steps), egg=np.linspace(0, 40, steps))
    count = int(np.prod(many.shape))
    percentages = np.empty((count, len(many.dough_keys)))
    for place, some in many.blocks():
        percentages[place] = some.dough_percentages
    table = weights(many, many.dough_keys)

    def bare():
        return np.matmul(percentages, table)

    room = np.empty((2048, len(ACCOUNTS)))

    def in_blocks():  # without the cost of fresh memory: the least that any chain can take
        for start in range(0, count, len(room)):
            rows = percentages[start : start + len(room)]
            np.matmul(rows, table, out=room[: len(rows)])

    def chain():
        return measures(many), dough_class(many), kit.predict_yield(many)

    rounds = 3
    product_time, sums = seconds(bare, rounds)
    blocks_time, _ = seconds(in_blocks, rounds)
    chain_time, (values, classes, made) = seconds(chain, rounds)
    product_peak, _ = peak(bare)
    chain_peak, _ = peak(chain)
    kept = [*values.values(), classes.code, classes.fat, classes.sugars]
    kept += [value for value in vars(made).values() if isinstance(value, np.ndarray)]
    size = sum(array.nbytes for array in kept) / 1e6
    with capsys.disabled():
        print(
            f"\n{count:,} formulas: {len(QUANTITIES)} quantities, class and yield {chain_time:.2f} s;"
            f" bare product with {len(ACCOUNTS)} accounts {product_time:.3f} s: {chain_time / product_time:.1f} x;"
            f" in blocks, nothing kept, {blocks_time:.3f} s: {chain_time / blocks_time:.1f} x."
            f" Peak {chain_peak:.0f} MB for results of {size:.0f} MB ({chain_peak / size:.2f} x);"
            f" the product's {product_peak:.0f} MB"
        )
    assert count == steps**3
    assert all(value.shape == many.shape for value in values.values())
    assert classes.code.shape == made.pieces.shape == many.shape
    flour = sums[:, AT["flour"]]
    wet = 100 * sums[:, AT["water_not_flour"]] / flour
    assert np.allclose(values["total_hydration"].ravel(), wet)
    rng = np.random.default_rng(7)
    for place in map(tuple, rng.integers(0, steps, (20, 3))):
        alone = many[place]
        assert {name: values[name][place] for name in QUANTITIES} == pytest.approx(measures(alone))
        assert classes.name[place] == dough_class(alone).name
        assert made.pieces[place] == kit.predict_yield(alone).pieces


def test_importing_kit_beside_numpy(capsys, short):
    def start(module):
        code = f"import time; t = time.perf_counter(); import {module}; print(time.perf_counter() - t)"
        return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)

    rounds = 2 if short else 7
    times = {"kit": [], "numpy": [], "kit.balance": []}
    for _ in range(rounds):
        for module, taken in times.items():
            taken.append(start(module))
    middle = {module: 1000 * statistics.median(taken) for module, taken in times.items()}
    with capsys.disabled():
        print("\nimport, ms: " + ", ".join(f"{module} {taken:.1f}" for module, taken in middle.items())
              + f"; kit / numpy {middle['kit'] / middle['numpy']:.3f}")  # fmt: skip
    assert all(len(taken) == rounds for taken in times.values())
