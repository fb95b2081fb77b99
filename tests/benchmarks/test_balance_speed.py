"""How long a balance takes, beside the bare product of percentages it rests on; and importing kit beside numpy."""

import subprocess
import sys
import time
import tracemalloc

import numpy as np
import pytest

import kit
from kit.balance import QUANTITIES, dough_class, measures
from kit.balance.accounts import ACCOUNTS, AT, weights
from tests.benchmarks.timing import best, compared, print_table

pytestmark = pytest.mark.benchmark

BUN = kit.Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")


def peak(act):
    """Return the highest memory [MB] that a call took beyond what was there, and what it gave."""
    tracemalloc.start()
    made = act()
    highest = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return highest / 1e6, made


def test_one_formula(capsys, short):
    rounds = 20 if short else 500
    row, table = np.asarray(BUN.dough_percentages), weights(BUN, BUN.dough_keys)
    ways = {
        "the bare product of one row": lambda _: row @ table,
        "every quantity": lambda _: measures(BUN),
        "vary, and every quantity": lambda _: measures(BUN.vary(butter=25)),
        "class with every scheme": lambda _: dough_class(BUN),
        "yield": lambda _: kit.predict_yield(BUN),
        "what moved": lambda _: kit.what_moved(BUN, BUN),
    }
    with capsys.disabled():
        found = compared("one formula", ways, rounds, "the bare product of one row", time.perf_counter)
    (product, *_), (values, *_), *_ = found.values()
    assert set(values) == set(QUANTITIES)
    assert product[AT["water_not_flour"]] == pytest.approx(values["total_hydration"])


def test_a_million_formulas(capsys, short):
    steps = 11 if short else 101
    many = BUN.vary(butter=np.linspace(0, 60, steps), sugar=np.linspace(0, 30, steps), egg=np.linspace(0, 40, steps))
    count = int(np.prod(many.shape))
    percentages = many.dough_percentages.reshape(count, -1)
    table = weights(many, many.dough_keys)

    def bare():
        return np.matmul(percentages, table)

    room = np.empty((2048, len(ACCOUNTS)))

    def in_blocks():  # without the cost of fresh memory: the least that any chain can take
        for start in range(0, count, len(room)):
            rows = percentages[start : start + len(room)]
            np.matmul(rows, table, out=room[: len(rows)])

    def chain():
        values = measures(many)
        return values, dough_class(many, values), kit.predict_yield(many)

    rows = []
    for name, clock in (("CPU", time.process_time), ("on the wall", time.perf_counter)):
        product_time, sums = best(bare, 3, clock)
        blocks_time, _ = best(in_blocks, 3, clock)
        chain_time, (values, classes, made) = best(chain, 3, clock)
        rows.append((name, chain_time, product_time, chain_time / product_time, chain_time / blocks_time))
    product_peak, _ = peak(bare)
    chain_peak, _ = peak(chain)
    found = [value for value in (*values.values(), classes.code, *vars(made).values()) if isinstance(value, np.ndarray)]
    kept = {
        id(value.base): value.base.nbytes for value in found if value.base is not None
    }  # what only looks repeated, once
    size = sum(kept.values()) / 1e6
    with capsys.disabled():
        title = f"{count:,} formulas: {len(QUANTITIES)} quantities, class, yield; product of {len(ACCOUNTS)} accounts"
        print_table(title, ("", "ms", "product, ms", "times", "times in blocks, nothing kept"), rows)
        rows = [("memory, MB", chain_peak, size, chain_peak / size, product_peak)]
        print_table("", ("", "peak", "of its results", "times", "peak of the product"), rows)
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
        code = f"import time; t = time.process_time(); import {module}; print(time.process_time() - t)"
        return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)

    modules = ("numpy", "kit", "kit.balance", "kit.show.formula_panel", "kit.show.entry_panel")
    found = [[1000 * start(module) for module in modules] for _ in range(2 if short else 5)]
    middle = np.median(found, axis=0)
    with capsys.disabled():
        print_table(
            "importing", ("", "CPU, ms", "times numpy"), list(zip(modules, middle, middle / middle[0], strict=True))
        )
    assert middle.all()
