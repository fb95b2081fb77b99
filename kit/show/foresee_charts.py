"""The charts of what a formula will do: each is `chart(ax, value)` and returns a handle with `.update(value)`."""

import numpy as np

from ..words import figure
from . import marks
from .look import ACCENT, BASELINE, QUIET, frame


class RatioChart:
    """Topping-to-dough ratio against piece mass for a topping of one thickness: it falls as the piece grows."""

    def __init__(self, ax, shown, largest):
        title = f"Topping to dough at one thickness, up to {figure(largest, 0)} g"
        frame(ax, title, "piece of dough, g", "g per g", grid="y")
        ax.set_xlim(0, largest)
        self.largest, self.highest = largest, max(0.8, 1.6 * float(shown.baseline.ratio))
        ax.set_ylim(0, self.highest)
        ax.locator_params(axis="y", nbins=4)
        self.before = marks.line(ax, BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=3)
        self.line = marks.line(ax, ACCENT, linewidth=1.6, zorder=4)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_before = marks.text(ax, "", 8.5, QUIET)
        self.word = marks.text(ax, "", 9.5, ACCENT, fontweight="bold", zorder=10)
        self.update(shown)

    def update(self, shown):
        """Move both curves and both marks."""
        top = self.highest
        for fit, ratios, line, dot in (
            (shown.baseline, shown.baseline_ratios, self.before, self.base),
            (shown.fit, shown.ratios, self.line, self.now),
        ):
            marks.trace(line, shown.pieces, np.minimum(ratios, 1.02 * top))
            marks.trace(dot, [min(fit.piece, self.largest)], [min(fit.ratio, top)])
        apart = shown.ratios[-1] - shown.baseline_ratios[-1]
        y = shown.baseline_ratios[-1] + (0.04 if apart < 0 else -0.16) * top
        marks.place(self.say_before, self.largest, y, f"baseline, {figure(10 * shown.baseline.thickness)} mm")
        marks.align(self.say_before, "right")
        for artist in (self.before, self.say_before):
            marks.visible(artist, abs(apart) > 0.004)
        left = shown.fit.piece < 0.6 * self.largest
        x, y = min(shown.fit.piece, self.largest), min(shown.fit.ratio, 0.85 * top)
        words = f"{figure(shown.fit.ratio, 2)} at {figure(10 * shown.fit.thickness)} mm"
        y = max(y + (-0.2 if apart < -0.004 else 0.06) * top, 0.01 * top)
        marks.place(self.word, x + (0.02 if left else -0.02) * self.largest, y, words)
        marks.align(self.word, "left" if left else "right")
