"""How long a chart of three panels takes to follow its data, the three ways side by side in one run."""

import io

import numpy as np
import pytest
from matplotlib.figure import Figure

from kit.show.overlay import Overlay, moving
from tests.benchmarks.timing import compared

STEPS = 20
X = np.linspace(0, 10, 50)


def draw(figure, step):
    """Draw 3 panels holding 60 artists that would move."""
    artists = []
    for panel, ax in enumerate(figure.subplots(1, 3)):
        ax.set(xlim=(-0.5, 10), ylim=(-1, 10), xlabel="time [min]", ylabel="mass [g]")
        artists += [ax.plot(X, np.sin(X + step + line))[0] for line in range(5)]
        artists += ax.fill(*band(step))
        artists += list(ax.bar(range(8), np.arange(8) + step / STEPS, hatch="//" if panel else None))
        artists += [ax.text(k, 8 + step / STEPS, f"{k} g", ha="center") for k in range(6)]
    return artists


def move(artists, step):
    for artist in artists:
        if hasattr(artist, "set_ydata"):
            artist.set_ydata(np.sin(X + step))
        elif hasattr(artist, "set_height"):
            artist.set_height(3 + step / STEPS)
        elif hasattr(artist, "set_y"):
            artist.set_y(8 + step / STEPS)
        else:
            artist.set_xy(np.column_stack(band(step)))


def band(step):
    return np.r_[X, X[::-1]], np.r_[5 + np.sin(X + step), np.full_like(X, 4)]


def saved(figure):
    out = io.BytesIO()
    figure.savefig(out, format="png")
    return out.getvalue()


@pytest.mark.benchmark
def test_marks_beside_whole_figures(capsys):
    def anew(number):
        figure = Figure(figsize=(9, 3.5))
        draw(figure, number)
        return saved(figure)

    kept = Figure(figsize=(9, 3.5))
    kept_artists = draw(kept, 0)

    def whole(number):
        move(kept_artists, number)
        return saved(kept)

    laid = Figure(figsize=(9, 3.5))
    laid_artists = moving(draw(laid, 0))
    overlay = Overlay(laid)

    def marks(number):
        move(laid_artists, number)
        return "".join(overlay.parts().values())

    ways = {"a new figure saved": anew, "one figure saved whole": whole, "still picture and marks": marks}
    with capsys.disabled():
        made = compared("three panels", ways, STEPS, "still picture and marks")
        print(", ".join(f"{way} {len(some[-1]) / 1000:.1f} kB" for way, some in made.items()))
    assert len(laid_artists) == 60
    for some in made.values():
        assert len(set(some)) == STEPS
