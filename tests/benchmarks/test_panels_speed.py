"""How long each panel takes from slider to picture, beside drawing the same charts anew as `interact` would."""

import numpy as np
import pytest

import kit
from kit.show import DayPanel, FormulaPanel, HandoverPanel, RisePanel, SolvePanel, ToppingPanel, WaterPanel
from tests.benchmarks.timing import compared, png_of, sizes_sent

FOLDER = kit.places.notebooks() / "formulas"
# each panel, the dial that moves and the steps of its slider, as a hand moves it
PANELS = {
    "formula": (FormulaPanel, "butter", np.linspace(19, 24, 21)),
    "topping": (ToppingPanel, "piece", np.linspace(50, 90, 21)),
    "rise": (RisePanel, "sugar", np.linspace(17, 27, 21)),
    "water": (WaterPanel, "flour", np.linspace(12, 32, 21)),
    "day": (DayPanel, "bulk", np.linspace(60, 160, 21)),
    "solve": (SolvePanel, "butter", np.linspace(18.25, 23, 20)),
    "solve, refused": (SolvePanel, "egg", np.linspace(45, 49.75, 20)),
    "hand over": (HandoverPanel, "butter", np.linspace(18.25, 23, 20)),
    "hand over, batch": (HandoverPanel, "batch", np.arange(49, 69)),
}


@pytest.mark.benchmark
@pytest.mark.parametrize("name", PANELS)
def test_panel_beside_figures_drawn_anew(name, short, capsys, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    kind, dial, values = PANELS[name]
    bun = kit.Formula.read(FOLDER / "crackle_bun.toml")
    prices = [kit.read_prices(FOLDER / "crackle_bun_prices.csv", today="2025-03-03")] if kind is HandoverPanel else []
    panel = kind(bun, *prices)
    updates = sizes_sent(panel)

    def moved(value):
        panel.dials[dial].slider.value = value
        return panel._live.value + panel._problem.value

    def drawn_anew(_):
        return b"".join(png_of(kind(value, **beside).ax.figure) for kind, value, beside in panel._charts())

    ways = {"the panel, a move": moved, "its charts drawn anew": drawn_anew}
    with capsys.disabled():
        shown, pictures = compared(name, ways, values[: 3 if short else None], "the panel, a move").values()
        print(f"{max(updates, default=0) / 1000:.1f} kB a move")
    assert len(set(shown)) == len(shown)
    assert all(pictures)
