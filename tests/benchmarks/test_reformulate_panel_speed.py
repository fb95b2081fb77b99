"""How long the solve panel takes from slider to picture, beside a callback that draws the same two charts anew."""

import pytest

import kit
from kit.formula import Formula
from kit.show import SolvePanel
from kit.show.look import PIXELS
from kit.show.reformulate_charts import IngredientRows, QuantityRows
from kit.show.reformulate_panels import HOLDS
from tests.benchmarks.timing import png_of, timed


@pytest.mark.benchmark
def test_panel_beside_figures_drawn_anew(short, capsys, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    steps = 3 if short else 20
    bun = Formula.read(kit.places.notebooks() / "formulas" / "crackle_bun.toml")
    panel = SolvePanel(bun)

    def solved(number):
        return kit.solve(bun, {"butter": 18.25 + number / 4}, hold=["total_hydration"], free=["water"])

    def drawn_anew(number):
        from matplotlib import pyplot

        figure, axes = pyplot.subplots(1, 2, figsize=(846 / PIXELS, 466 / PIXELS), dpi=PIXELS)
        found = solved(number)
        IngredientRows(found.formula, axes[0], before=bun, far=60)
        QuantityRows(found, axes[1], names=HOLDS)
        return png_of(figure)

    def moved(number):
        panel.dials["butter"].slider.value = 18.25 + number / 4
        return panel._live.value

    def refused(number):
        panel.dials["egg"].slider.value = 45 + number / 4
        return panel._problem.value

    anew, pictures = timed(drawn_anew, steps)
    panel_ms, shown = timed(moved, steps)
    alone, _ = timed(solved, steps)
    refusal, said = timed(refused, steps)
    with capsys.disabled():
        print()
        print(f"two charts drawn anew  {anew:7.1f} ms {anew / panel_ms:5.1f} x the panel")
        print(f"solve panel, a move    {panel_ms:7.1f} ms, {len(shown[-1]) / 1000:.0f} kB a move")
        print(f"(solving alone         {alone:7.1f} ms)")
        print(f"a refusal with nearest {refusal:7.1f} ms")
    assert len(set(shown)) == len(set(pictures)) == len(set(said)) == steps
