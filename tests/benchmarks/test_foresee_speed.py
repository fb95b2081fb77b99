"""How long each small panel takes from slider to picture, beside drawing the same charts anew as `interact` would."""

import numpy as np
import pytest

from kit import Formula, places
from kit.show import DayPanel, FormulaPanel, RisePanel, ToppingPanel, WaterPanel
from tests.benchmarks.timing import png_of, sizes_sent, timed

PANELS = {
    "topping": (ToppingPanel, "piece", np.linspace(50, 90, 41)),
    "rise": (RisePanel, "sugar", np.linspace(17, 27, 41)),
    "water": (WaterPanel, "flour", np.linspace(12, 32, 41)),
    "day": (DayPanel, "bulk", np.linspace(60, 160, 21)),  # the steps of its slider, as a hand moves it
    "formula": (FormulaPanel, "butter", np.linspace(19, 29, 41)),
}


@pytest.fixture
def bun():
    return Formula.read(places.notebooks() / "formulas" / "crackle_bun.toml")


def drawn_anew(panel):
    """Draw the panel's charts into new figures, and save each as PNG."""
    return b"".join(png_of(kind(value, **beside).ax.figure) for kind, value, beside in panel._charts())


@pytest.mark.benchmark
@pytest.mark.parametrize("name", ["topping", "rise", "water", "day"])
def test_panel_beside_figures_drawn_anew(name, bun, short, capsys):
    kind, dial, values = PANELS[name]
    values = values[:3] if short else values
    panel, whole = kind(bun), FormulaPanel(bun)
    updates = sizes_sent(panel)

    def moved(value, panel=panel, dial=dial):
        panel.dials[dial].slider.value = value
        return panel._live.value

    panel_ms, shown = timed(moved, values)
    formula_ms, _ = timed(lambda value: moved(value, whole, "butter"), PANELS["formula"][2][: len(values)])
    anew, pictures = timed(lambda _: drawn_anew(panel), values[:: 4 if len(values) > 4 else 1])
    with capsys.disabled():
        print(
            f"\n{name:8} panel {panel_ms:6.1f} ms a move, {max(updates) / 1000:.1f} kB; its charts drawn anew "
            f"{anew:6.1f} ms, {anew / panel_ms:4.1f} x; formula panel {formula_ms:5.1f} ms"
        )
    assert len(updates) == len(set(shown)) == len(values)
    assert all(pictures)
