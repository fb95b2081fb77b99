"""Drawings that move in the lessons: bars of what lies in a bowl, and a disc on a dome."""

import numpy as np
from matplotlib.patches import Rectangle

from ..words import figure
from . import marks
from .chart import Chart
from .drawings import dough
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, ON_DARK, QUIET, WRONG, filled, frame
from .overlay import moving

HOLLOW = ("no water", "lost")  # what is not there, or no longer
COLOUR_OF = {"butter": "fat", "bun": "flour"}


class Bars(Chart):
    """Rows of bars that lie end to end, each under its name and its words, and a mark that somebody set on one.

    The value is {row: ({part: its length}, words)}, the rows and parts always the same; title and highest: of the axis;
    mark: (row, where). A part of the sponge is hatched; of what is not there the outline alone is drawn. What is too
    narrow for its name is named beneath its row.
    """

    @property
    def size(self):
        """As wide as a tablet held upright has room for, as high as its rows need [px]."""
        return 400, 46 + 64 * len(self.value)

    @property
    def place(self):
        """Beneath the title."""
        return 0.01, 0.0, 0.98, 1 - 26 / self.size[1]

    def _begin(self, shown, title, highest, mark):
        ax, rows = self.ax, list(shown)
        frame(ax, title, bare="xy")
        ax.set(xlim=(0, highest), ylim=(len(rows) + 0.3, 0))
        asked = rows.index(mark[0])  # which has room above it for the words of the mark
        self.rows = {row: n + 0.26 * (n >= asked) for n, row in enumerate(rows)}
        if any("100 %" in words for _, words in shown.values()):
            ax.axvline(100, color=BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=5)
        self.pixel = highest / (ax.get_position().width * ax.figure.bbox.width)
        self.bars, self.words, self.ends, self.beneath = {}, {}, {}, {}
        for row, (parts, _) in shown.items():
            for part in parts:
                word = COLOUR_OF.get(part.split()[-1], part.split()[-1])
                name = word if word in COLOURS else "rest"
                style, halo, ink = filled(name), COLOURS[name], "white" if name in ON_DARK else INK
                if part.startswith("sponge"):
                    style |= {"hatch": "//"}
                if part in HOLLOW:
                    style, halo, ink = {"facecolor": "white", "edgecolor": BASELINE}, "white", QUIET
                self.bars[row, part] = moving(ax.add_patch(Rectangle((0, 0), 0, 0, zorder=3, **style)))
                self.words[row, part] = marks.text(ax, "", 8.6, ink, halo, ha="center", va="center", linespacing=1.05)
            ax.text(0, self.rows[row], row, fontsize=9.5, color=INK, va="top")
            self.ends[row] = marks.text(ax, "", 9.5, ACCENT, va="top", ha="right", fontweight="bold", zorder=7)
            self.beneath[row] = marks.text(ax, "", 8.6, va="top", colour=INK)
        self.mark = marks.line(ax, WRONG, linewidth=2.4, zorder=8)
        self.say_mark = marks.text(ax, "", 9, WRONG, va="bottom", fontweight="bold", zorder=9)

    def _move(self, shown, highest, mark, **_):
        for row, (parts, said) in shown.items():
            left, narrow, y = 0.0, [], self.rows[row]
            for part, length in parts.items():
                marks.bounds(self.bars[row, part], left, y + 0.26, length, 0.5)
                name, text = part.removeprefix("sponge "), figure(length)
                room = length / (6.4 * self.pixel) * (part not in HOLLOW)  # letters
                wide = room >= max(len(name), len(text))
                marks.place(self.words[row, part], left + length / 2, y + 0.51, f"{name}\n{text}" if wide else "")
                if not wide and length and part not in HOLLOW:
                    narrow.append(f"{name} {text}")
                left += length
            marks.place(self.ends[row], highest, y, said)
            marks.place(self.beneath[row], 0, y + 0.78, ", ".join(narrow) if len(parts) > 2 else "")
        row, at = mark
        y = self.rows[row]
        marks.trace(self.mark, [at, at] if at else [], [y, y + 0.78] if at else [])
        marks.beside(self.say_mark, at, y, "your mark" if at else "", 0, at < highest / 2)


class DiscOnDome(Chart):
    """A bun from the side under its disc of topping, and the disc lying flat beneath, to one scale [mm].

    The value is (Dome [cm], disc or None while it is asked for [mm], how far it lies on the tray all round [mm]);
    title: of the axis; mark: ("", how wide somebody says the disc is).
    """

    size, place = (400, 236), (0.01, 0.165, 0.98, 0.725)
    reach, high = 90.0, 48.0  # half the width and the height of the axis [mm]

    def _begin(self, shown, title, **_):
        ax, reach, high = self.ax, self.reach, self.high
        frame(ax, title, "mm", bare="y")
        ax.set(xlim=(-reach, reach), ylim=(-0.62 * high, high), aspect="equal")
        self.low = -0.2 * high
        self.dough = dough(ax, np.zeros((3, 2)))
        crust = ((CRUST_EDGE, 7, 3), (CRUST, 5, 4))  # the edge, and the topping over it
        self.crust, self.flat = (
            [marks.line(ax, colour, linewidth=w, zorder=z, solid_capstyle="butt") for colour, w, z in crust]
            for _ in range(2)
        )
        self.slant = marks.line(ax, ACCENT, linewidth=1.4, dashes=(4, 2.5), zorder=5)
        self.mark = marks.line(ax, WRONG, linewidth=2.4, zorder=8)
        middle = {"ha": "center", "va": "top"}
        self.say_slant = marks.text(ax, "", 9.5, ACCENT, COLOURS["flour"], fontweight="bold", **middle)
        self.say_flat = marks.text(ax, "", 9.5, INK, **middle)
        self.say_mark = marks.text(ax, "", 9, WRONG, fontweight="bold", **middle)

    def _move(self, shown, mark, **_):
        """Lay the disc on the dome: as large an area is covered, the rest lies on the tray; None is no disc yet."""
        dome, disc, on_tray = shown
        seen = disc is not None
        self.dough.set_xy(10 * np.column_stack(dome.profile()))
        rim, top, wide = 10 * dome.radius, 10 * dome.height, mark[1]
        x, y = (10 * values for values in dome.at(np.linspace(-1, 1, 61) * min(disc or 0, 10 * dome.whole_disc) / 20))
        if on_tray:
            x, y = np.hstack([-rim - on_tray, x, rim + on_tray]), np.hstack([0, y, 0])
        for on_dome, flat in zip(self.crust, self.flat, strict=True):
            marks.trace(on_dome, x, y)
            marks.trace(flat, np.array([-1, 1]) * (disc or 0) / 2, [self.low] * 2)
        marks.trace(self.slant, *(([0, rim], [top, 0]) if seen else ([], [])))
        marks.trace(self.mark, *(([-wide / 2, wide / 2], [1.9 * self.low] * 2) if wide else ([], [])))
        slant = f"top to rim: {figure(5 * dome.whole_disc)} mm"
        marks.place(self.say_slant, -0.2 * rim, 0.3 * top, slant if seen else "")
        marks.place(self.say_flat, 0, 1.2 * self.low, f"the disc, flat: {figure(disc, 0)} mm wide" if seen else "")
        marks.place(self.say_mark, 0, 2.1 * self.low, f"your mark: {figure(wide, 0)} mm wide" if wide else "")
