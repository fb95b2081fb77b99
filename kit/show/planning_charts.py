"""Charts of planned trials: what is baked where, and what the bakes said."""

import math

import numpy as np

from ..trials.planning import MOST
from ..words import capital, listing, plural, signed
from . import marks
from .chart import Chart, Drawn
from .look import ACCENT, ACCENT_LIGHT, BASELINE, HAIR, INK, frame, note

ROOM = 0.45  # of the range of a factor, left free beside it


def places(plan):
    """Return where bakes lie on a plane: the first thing that changes, and the day."""
    return np.array([(bake.levels[0], bake.day) for bake in plan.bakes], float)


def reach(plan):
    """Return ((low, high), (low, high)) of the axes that hold a plan's bakes with some room, in round steps."""
    across = places(plan)[:, 0]
    room = ROOM * (np.ptp(across) or 1.0)
    step = 5.0 if room > 4 else 2.0 if room > 1 else 0.5
    low, high = math.floor((across.min() - room) / step) * step, math.ceil((across.max() + room) / step) * step
    return (low, high), (plan.days + 0.5, 0.5)


class PlanePlot(Chart):
    """The bakes of a Plan day by day: control hollow, others filled, their turns in words.

    It holds plans of one reach.
    """

    size, place = (424, 400), (0.125, 0.165, 0.85, 0.755)

    def _begin(self, plan):
        ax, first = self.ax, plan.factors[0]
        frame(ax, "What is baked when, and in which turn", f"{first.name}, {first.unit}", "day")
        across, up = reach(plan)
        ax.set(xlim=across, ylim=up)
        ax.set_yticks(range(1, plan.days + 1))
        note(ax, "hollow: the control; beside each bake its turn")
        self.control, self.others = marks.dot(ax, False), marks.dot(ax, True)
        self.words = [marks.text(ax, size=8.5, va="center", zorder=10) for _ in range(MOST)]

    def _move(self, plan):
        xy, controls = places(plan), np.array([bake.control for bake in plan.bakes])
        marks.trace(self.control, *xy[controls].T)
        marks.trace(self.others, *xy[~controls].T)
        spots = np.unique(np.round(xy, 3), axis=0)
        lines = [self._beside(plan, xy, spot, spots) for spot in spots]
        marks.fill(self.words, [line[:3] for line in lines])
        for word, line in zip(self.words, lines, strict=False):  # as many as there are spots
            marks.align(word, line[3])
        where = listing(dict.fromkeys(bake.what for bake in plan.bakes))
        return f"{plural(len(plan.bakes), 'bake')} on {plural(plan.days, 'day')}: {where}."

    def _beside(self, plan, xy, spot, spots):
        """Return (x, y, words, side) of the turns of the bakes at one spot."""
        (left, right), (bottom, top) = self.ax.get_xlim(), self.ax.get_ylim()
        here = np.abs(xy - spot).max(1) < 1e-3
        row = spots[np.abs(spots[:, 1] - spot[1]) < 0.05 * abs(top - bottom), 0]
        side, across, up = "left", 0.025, 0.0
        if row.min() < spot[0] < row.max():
            side, across, up = "center", 0.0, 0.05  # above, with others on both sides of it
        elif spot[0] < row.max():
            side, across = "right", -0.025
        words = "·".join(str(bake.turn) for bake, at in zip(plan.bakes, here, strict=True) if at)
        return spot[0] + across * (right - left), spot[1] + up * (top - bottom), words, side


class EffectRows(Drawn):
    """Effects: each change with its 95 % interval, or with the range of the days: hollow where it may be nothing."""

    @property
    def size(self):
        """As high as its rows need."""
        return 430, 100 + 40 * len(self.value.effects)

    @property
    def place(self):
        """Above it a title, beneath it two lines."""
        high = self.size[1]
        return 0.06, 64 / high, 0.9, 1 - 94 / high

    def _draw(self, ax, found):
        frame(ax, f"{capital(found.what)}: what each change did", found.head, bare="y")
        ax.axvline(0, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=1)
        ax.set_ylim(len(found.effects) - 0.4, -0.75)
        for n, each in enumerate(found.effects):
            ax.axhline(n, color=HAIR, linewidth=0.5, zorder=0.5)
            seen, words = each.difference, f"{each.what}  {each.words}"
            if seen is not None:
                wide = {"linewidth": 5 if seen.p is not None else 1.2, "solid_capstyle": "butt"}
                dot = {"markerfacecolor": ACCENT if each.beyond else "white", "markeredgewidth": 1.6}
                ax.plot([seen.low, seen.high], [n, n], color=ACCENT_LIGHT, zorder=2, **wide)
                ax.plot(seen.value, n, "o", markersize=8, color=ACCENT, zorder=4, **dot)
                words = f"{each.what}  {signed(seen.value, found.digits)}"
            ax.text(0, n - 0.33, words, fontsize=9, color=INK, va="center", transform=ax.get_yaxis_transform())
        ax.margins(x=0.12)
        note(ax, "broad: 95 % interval; thin: range of the days; hollow: may be nothing", 38, "top")
        return found.words
