"""How long each small panel takes from slider to picture, beside drawing the same charts anew as `interact` would."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from kit import Formula, places
from kit.show import DayPanel, FormulaPanel, RisePanel, ToppingPanel, WaterPanel
from kit.show.look import PIXELS
from tests.benchmarks.timing import png_of, timed

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
    """Draw the panel's charts into new figures of the same sizes, and save each as PNG."""
    saved = []
    for overlay in panel.overlays:
        old = overlay.figure
        figure = Figure(figsize=old.get_size_inches(), dpi=PIXELS)
        for handle, ax in zip(panel._handles, _axes(panel), strict=True):
            if ax.figure is old:
                place = ax.get_position(original=True)
                type(handle)(figure.add_axes(place), *_given(panel, handle))
        saved.append(png_of(figure))
    return b"".join(saved)


def _axes(panel):
    return [next(axis for axis in _axes_of(handle)) for handle in panel._handles]


def _axes_of(handle):
    for value in (*vars(handle).values(), *vars(getattr(handle, "bars", handle)).values()):
        for artist in value if isinstance(value, list) else [value]:
            if getattr(artist, "axes", None) is not None:
                yield artist.axes


def _given(panel, handle):
    """What a chart of a panel shows, and how far its axes reach."""
    more = {
        "TopView": lambda: [panel.stage, handle.reach],
        "SideView": lambda: [panel.stage, handle.reach, handle.high],
        "RatioChart": lambda: [panel.baseline, handle.largest],
        "RiseChart": lambda: [panel.before],
        "YieldChart": lambda: [handle.what],
    }
    name = type(handle).__name__
    value = panel.causes if name == "RiseBars" else panel.result
    return [value, *more.get(name, list)()]


@pytest.mark.benchmark
@pytest.mark.parametrize("name", ["topping", "rise", "water", "day"])
def test_panel_beside_figures_drawn_anew(name, bun, short, capsys):
    kind, dial, values = PANELS[name]
    values = values[:3] if short else values
    panel, whole = kind(bun), FormulaPanel(bun)
    updates = []
    panel._live.observe(lambda change: updates.append(len(change["new"])), "value")

    def moved(value, panel=panel, dial=dial):
        panel.dials[dial].slider.value = value
        return panel._live.value

    panel_ms, shown = timed(moved, values)
    formula_ms, _ = timed(lambda value: moved(value, whole, "butter"), PANELS["formula"][2][: len(values)])
    anew, pictures = timed(lambda _: drawn_anew(panel), values[:: 4 if len(values) > 4 else 1])
    with capsys.disabled():
        print(
            f"\n{name:8} panel {panel_ms:6.1f} ms a move, {max(updates) / 1000:.0f} kB; its charts drawn anew "
            f"{anew:6.1f} ms, {anew / panel_ms:4.1f} x; formula panel {formula_ms:5.1f} ms"
        )
    assert len(updates) == len(set(shown)) == len(values)
    assert all(pictures)
