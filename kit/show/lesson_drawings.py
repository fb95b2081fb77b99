"""Drawings that move in the lessons: bars of what lies in a bowl, and a disc on a dome."""

import numpy as np
from matplotlib.patches import Polygon, Rectangle

from ..words import figure
from . import marks
from .chart import Chart
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, ON_DARK, QUIET, filled, frame
from .overlay import moving


class Bars(Chart):
    """Rows of bars that lie end to end, each part labelled where it has room, with words at the end of each row.

    The value is {row: ({part: its length}, words)}, the rows and parts always the same; title and highest: of the axis;
    line: where a dashed one stands. A part of the sponge is hatched, and "no water" is hollow.
    """

    size, place = (640, 250), (0.14, 0.02, 0.85, 0.87)

    def _begin(self, shown, title, highest, line=None):
        ax = self.ax
        frame(ax, title, bare="x")
        ax.set(xlim=(0, highest), ylim=(len(shown) - 0.5, -0.6))
        ax.set_yticks(range(len(shown)), list(shown))
        ax.tick_params(axis="y", length=0, labelsize=9, colors=INK)
        if line is not None:
            ax.axvline(line, color=ACCENT, linewidth=1.4, dashes=(4, 2.5), zorder=5)
        self.pixel = highest / (ax.get_position().width * ax.figure.bbox.width)
        self.bars, self.words, self.ends = {}, {}, {}
        for row, (parts, _) in shown.items():
            for part in parts:
                word = part.split()[-1]
                name = "fat" if word == "butter" else word if word in COLOURS else "rest"
                style, halo, ink = filled(name), COLOURS[name], "white" if name in ON_DARK else INK
                if part.startswith("sponge"):
                    style |= {"hatch": "//"}
                if part == "no water":
                    style, halo, ink = {"facecolor": "white", "edgecolor": BASELINE}, "white", QUIET
                self.bars[row, part] = moving(ax.add_patch(Rectangle((0, 0), 0, 0, zorder=3, **style)))
                self.words[row, part] = marks.text(ax, "", 8.6, ink, halo, ha="center", va="center", linespacing=1.05)
            self.ends[row] = marks.text(ax, "", 9.5, ACCENT, va="center", fontweight="bold", zorder=7)

    def _move(self, shown, **_):
        """What is too narrow for its name is told by its figure, or not at all."""
        for y, (row, (parts, said)) in enumerate(shown.items()):
            left = 0.0
            for part, length in parts.items():
                marks.bounds(self.bars[row, part], left, y - 0.37, length, 0.74)
                texts = (f"{part.removeprefix('sponge ')}\n{figure(length)}", figure(length), "")
                fits = (t for t in texts if 6.3 * max(map(len, t.split("\n"))) * self.pixel <= length)
                marks.place(self.words[row, part], left + length / 2, y, next(fits, ""))
                left += length
            marks.place(self.ends[row], left + 7 * self.pixel, y, said)


class DiscOnDome(Chart):
    """A bun from the side under its disc of topping, and the disc lying flat beneath, to one scale [mm].

    The value is (Dome [cm], disc [mm]).
    """

    size, place = (640, 330), (0.02, 0.125, 0.96, 0.8)
    reach, high = 78.0, 48.0  # half the width and the height of the axis [mm]

    def _begin(self, shown):
        ax, reach, high = self.ax, self.reach, self.high
        frame(ax, "A bun from the side under its disc, to scale", "mm", bare="y")
        ax.set(xlim=(-reach, reach), ylim=(-0.42 * high, high), aspect="equal")
        self.low = -0.2 * high
        dough = {"facecolor": COLOURS["flour"], "edgecolor": CRUST_EDGE, "linewidth": 1.2, "zorder": 2}
        self.dough = moving(ax.add_patch(Polygon(np.zeros((3, 2)), closed=True, **dough)))
        crust = ((CRUST_EDGE, 7, 3), (CRUST, 5, 4))  # the edge, and the topping over it
        self.crust, self.flat = (
            [marks.line(ax, colour, linewidth=w, zorder=z, solid_capstyle="butt") for colour, w, z in crust]
            for _ in range(2)
        )
        self.slant = marks.line(ax, ACCENT, linewidth=1.4, dashes=(4, 2.5), zorder=5)
        middle = {"ha": "center", "va": "top"}
        self.say_slant = marks.text(ax, "", 9.5, ACCENT, COLOURS["flour"], fontweight="bold", **middle)
        self.say_flat = marks.text(ax, "", 9.5, INK, **middle)

    def _move(self, shown):
        """Lay the disc on the dome: an area of dome as large as the disc's is covered."""
        dome, disc = shown
        self.dough.set_xy(10 * np.column_stack(dome.profile()))
        x, y = (10 * values for values in dome.at(np.linspace(-1, 1, 61) * min(disc, 10 * dome.whole_disc) / 20))
        for on_dome, flat in zip(self.crust, self.flat, strict=True):
            marks.trace(on_dome, x, y)
            marks.trace(flat, [-disc / 2, disc / 2], [self.low, self.low])
        rim, top = 10 * dome.radius, 10 * dome.height
        marks.trace(self.slant, [0, rim], [top, 0])
        marks.place(self.say_slant, -0.2 * rim, 0.3 * top, f"top to rim, straight: {figure(5 * dome.whole_disc)} mm")
        marks.place(self.say_flat, 0, 1.2 * self.low, f"the disc, flat: {figure(disc, 0)} mm wide")
