"""How long the formula panel takes from slider to picture, beside a callback that draws the same charts anew."""

import pytest

from kit import Formula, places
from kit.balance import what_moved
from kit.show import FormulaPanel
from kit.show.charts import ClassMap, MadeOf, WaterSources
from kit.show.look import PIXELS
from tests.benchmarks.timing import png_of, sizes_sent, timed

CHARTS = (ClassMap, MadeOf, WaterSources)


@pytest.fixture
def bun():
    return Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")


def drawn_anew(bun, butter):
    """Draw three charts into a new figure of the panel's size, as a callback of `interact` would: PNG bytes."""
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(1, 3, figsize=(846 / PIXELS, 500 / PIXELS), dpi=PIXELS)
    variant = bun.vary(butter=butter)
    for chart, ax in zip(CHARTS, axes.flat, strict=True):
        chart(variant, ax, before=bun)
    return png_of(figure)


@pytest.mark.benchmark
def test_panel_beside_figures_drawn_anew(bun, short, capsys, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    steps = 3 if short else 20
    panel = FormulaPanel(bun)
    updates = sizes_sent(panel)

    def moved(number):
        panel.dials["butter"].slider.value = 18.25 + number / 4
        return panel._live.value

    def worked_out(number):
        return what_moved(bun, bun.vary(butter=18.25 + number / 4))

    anew, pictures = timed(lambda number: drawn_anew(bun, 18.25 + number / 4), steps)
    panel_ms, shown = timed(moved, steps)
    alone, _ = timed(worked_out, steps)
    with capsys.disabled():
        print()
        print(f"three charts drawn anew  {anew:7.1f} ms {anew / panel_ms:5.1f} x the panel (goal 12)")
        print(f"formula panel, a move  {panel_ms:7.1f} ms, {max(updates) / 1000:.1f} kB a move")
        print(f"(its arithmetic alone  {alone:7.1f} ms)")
    assert len(updates) == len(set(shown)) == len(set(pictures)) == steps
