"""How long the panel to hand over takes from slider to picture, beside a callback that draws its chart anew."""

import pytest

import kit
from kit.show import HandoverPanel
from kit.show.handover_charts import CostRows
from kit.show.look import PIXELS
from tests.benchmarks.timing import png_of, timed


@pytest.mark.benchmark
def test_panel_beside_a_figure_drawn_anew(short, capsys, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    steps = 3 if short else 30
    folder = kit.places.notebooks() / "formulas"
    bun = kit.Formula.read(folder / "crackle_bun.toml")
    prices = kit.read_prices(folder / "crackle_bun_prices.csv", today="2025-03-03")
    panel = HandoverPanel(bun, prices)

    def papers(number):
        """What any way has to reckon: the three papers of the variant and what is new on them."""
        richer = bun.vary(butter=18.25 + number / 4)
        sheet, label = kit.production_sheet(richer), kit.label(richer)
        sheet.against(panel.before.sheet), label.against(panel.before.label)
        return kit.cost(richer, prices)

    def drawn_anew(number):
        from matplotlib import pyplot

        figure, axes = pyplot.subplots(figsize=(430 / PIXELS, 334 / PIXELS), dpi=PIXELS)
        CostRows(papers(number).against(panel.before.cost), axes)
        return png_of(figure)

    def moved(number):
        panel.dials["butter"].slider.value = 18.25 + number / 4
        return panel._live.value

    def rebatched(number):
        panel.dials["batch"].slider.value = 49 + number
        return panel._live.value

    anew, pictures = timed(drawn_anew, steps)
    panel_ms, shown = timed(moved, steps)
    batch_ms, others = timed(rebatched, steps)
    alone, _ = timed(papers, steps)
    with capsys.disabled():
        print()
        print(f"chart drawn anew       {anew:7.1f} ms {anew / panel_ms:5.1f} x the panel")
        print(f"panel, butter moves    {panel_ms:7.1f} ms, {len(shown[-1]) / 1000:.0f} kB a move")
        print(f"panel, batch moves     {batch_ms:7.1f} ms (both formulas reckoned anew)")
        print(f"(the papers alone      {alone:7.1f} ms)")
    assert len(set(shown)) == len(set(others)) == len(set(pictures)) == steps
