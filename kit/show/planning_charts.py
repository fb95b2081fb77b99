"""Charts of planned trials: what is baked where, what so many bakes can see, and what they said."""

import math

import numpy as np
from matplotlib.patches import Rectangle

from ..balance import own_steps
from ..trials.comparing import described
from ..trials.planning import MOST, Plan, smallest_by_days
from ..words import capital, figure, listing, plural, signed
from . import marks
from .compared import class_corners
from .look import ACCENT, ACCENT_LIGHT, BASELINE, CLASS_FILLS, HAIR, INK, QUIET, frame, note

ROOM = 0.45  # of the range of a factor, left free beside it
SEES = 6.0  # SD of repeats that the axis of smallest differences reaches


def places(plan):
    """Return where bakes lie on a plane: two factors, or one factor and the day."""
    rows = [b.levels[:2] if len(plan.factors) > 1 else (*b.levels, b.day) for b in plan.bakes]
    return np.array(rows, float)


def reach(plan):
    """Return ((low, high), (low, high)) of the axes that hold a plan's bakes with some room, in round steps."""
    found = []
    for column in places(plan).T:
        room = ROOM * (np.ptp(column) or 1.0)
        step = 5.0 if room > 4 else 2.0 if room > 1 else 0.5
        found.append((math.floor((column.min() - room) / step) * step, math.ceil((column.max() + room) / step) * step))
    return found[0], found[1] if len(plan.factors) > 1 else (plan.days + 0.5, 0.5)


class PlanePlot:
    """The bakes of a plan on the plane of two factors: control hollow, others filled, their turns in words.

    Butter and sugar lie on the map of dough classes. It holds plans of one reach and as many factors.
    """

    def __init__(self, ax, plan):
        self.ax = ax
        factors = plan.factors[:2]
        titles = [f"{f.name}, {f.unit}" for f in factors] + ["day"] * (2 - len(factors))
        limits = reach(plan)
        frame(ax, "What is baked where, and in which turn", *titles)
        ax.set_xlim(*limits[0])
        ax.set_ylim(*limits[1])
        if [f.path for f in factors] == [("butter",), ("sugar",)]:
            self._classes(plan.formula)
        if len(factors) < 2:
            ax.set_yticks(range(1, plan.days + 1))
        turns = "its turn on day 1 · 2 ..." if plan.days > 1 and len(factors) > 1 else "its turn"
        said = f"hollow: the control; beside each bake {turns}"
        note(ax, said)
        self.control, self.others = marks.dot(ax, False), marks.dot(ax, True)
        self.words = [marks.text(ax, size=8.5, va="center", zorder=10) for _ in range(MOST)]
        self.update(plan)

    def _classes(self, formula):
        names = own_steps()[0]
        self.ax.set_facecolor(CLASS_FILLS[-1])
        corners = class_corners(formula)
        for n, (x, y) in reversed(list(enumerate(corners))):
            self.ax.add_patch(
                Rectangle(
                    (-1e3, -1e3),
                    x + 1e3,
                    y + 1e3,
                    facecolor=CLASS_FILLS[n],
                    edgecolor="#8d8062",
                    linewidth=0.9,
                    zorder=1,
                )
            )
        (low, high), bottom = self.ax.get_xlim(), self.ax.get_ylim()[0]
        edges = [low, *(x for x, _ in corners), 1e3]
        for name, left, right in zip(names, edges[:-1], edges[1:], strict=True):
            left, right = max(left, low), min(right, high)
            if right - left > 0.12 * (high - low):
                self.ax.annotate(
                    name,
                    (left, bottom),
                    (3, 4),
                    "data",
                    "offset points",
                    fontsize=9,
                    style="italic",
                    color="#5b4f33",
                    annotation_clip=True,
                )

    def update(self, plan):
        """Move the marks to the bakes of a plan, and write their turns beside them."""
        xy, controls = places(plan), np.array([bake.control for bake in plan.bakes])
        marks.trace(self.control, *xy[controls].T)
        marks.trace(self.others, *xy[~controls].T)
        spots = np.unique(np.round(xy, 3), axis=0)
        lines = [self._beside(plan, xy, spot, spots) for spot in spots]
        marks.fill(self.words, [line[:3] for line in lines])
        for word, line in zip(self.words, lines, strict=False):  # as many as there are spots
            marks.align(word, line[3])

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


class SmallestChart:
    """The smallest difference that a plan sees, against bakes: its own days marked, and the kitchen's repeats."""

    def __init__(self, ax, plan):
        self.ax = ax
        (what, unit, self.digits), own = described(plan.field), plan.smallest_in_unit is not None
        self.per, self.unit = (plan.scatter.value, unit) if own else (1.0, "SD of repeats")
        frame(ax, "The smallest difference it would see", "bakes in all", f"{what}, {self.unit}", "y")
        ax.set_xlim(0, MOST)
        ax.set_ylim(0, SEES * self.per)
        ax.axhline(self.per, color=BASELINE, linewidth=1.1, dashes=(4, 3), zorder=2)
        words = f"your repeats, {figure(self.per, 2)} {unit}" if own else "repeats, 1 SD"
        ax.annotate(words, (0, self.per), (4, -5), "data", "offset points", fontsize=8.3, color=QUIET, va="top")
        note(ax, "dots: one day more each; seen in four of five such trials")
        self.line = marks.line(ax, ACCENT, linewidth=1.4, marker="o", markersize=3.5, zorder=4)
        self.now = marks.dot(ax, True)
        self.word = marks.text(ax, size=10, colour=ACCENT, fontweight="bold", zorder=10)
        self.update(plan)

    def update(self, plan):
        """Move the curve and this plan's mark."""
        found = smallest_by_days(plan, 20)
        marks.trace(self.line, [n for n, _ in found], [sd * self.per for _, sd in found])
        y = min((plan.smallest or SEES) * self.per, SEES * self.per)
        marks.trace(self.now, [len(plan.bakes)] if plan.smallest else [], [y] if plan.smallest else [])
        words = f"{figure(plan.smallest * self.per, self.digits)} {self.unit}" if plan.smallest else ""
        above = min(y + 0.02 * SEES * self.per, 0.93 * SEES * self.per)
        marks.beside(self.word, len(plan.bakes), above, words, 1, len(plan.bakes) < 0.6 * MOST)


class EffectRows:
    """Each change with its 95 % interval, or with the range of the days: hollow where it may be nothing."""

    def __init__(self, ax, found):
        frame(ax, f"{capital(found.what)}: what each change did", found.head, bare="y")
        ax.axvline(0, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=1)
        ax.set_ylim(len(found.effects) - 0.4, -0.75)
        for n, each in enumerate(found.effects):
            ax.axhline(n, color=HAIR, linewidth=0.5, zorder=0.5)
            seen, words = each.difference, f"{each.what}  {each.words}"
            if seen is not None:
                wide = 5 if seen.p is not None else 1.2
                ends = [seen.low, seen.high]
                ax.plot(ends, [n, n], color=ACCENT_LIGHT, linewidth=wide, zorder=2, solid_capstyle="butt")
                ax.plot(
                    seen.value,
                    n,
                    "o",
                    markersize=8,
                    color=ACCENT,
                    zorder=4,
                    markeredgewidth=1.6,
                    markerfacecolor=ACCENT if each.beyond else "white",
                )
                words = f"{each.what}  {signed(seen.value, found.digits)}"
            ax.text(0, n - 0.33, words, fontsize=9, color=INK, va="center", transform=ax.get_yaxis_transform())
        ax.margins(x=0.12)
        note(ax, "broad: 95 % interval; thin: range of the days; hollow: may be nothing", 38, "top")


def drawn_plan(value, one):
    """Return [(figure, its words)] of a Plan or Effects; one: what draws a chart in a figure."""
    if isinstance(value, Plan):
        charts = [one(kind, value, (430, 420), [0.13, 0.165, 0.84, 0.75]) for kind in (PlanePlot, SmallestChart)]
        return list(zip(charts, alt(value), strict=True))
    high = 100 + 40 * len(value.effects)
    return [(one(EffectRows, value, (430, high), [0.06, 64 / high, 0.9, 1 - 94 / high]), value.words)]


def alt(plan):
    """Return the two charts of a plan in words."""
    where = listing(dict.fromkeys(bake.what for bake in plan.bakes))
    return f"{plural(len(plan.bakes), 'bake')} on {plural(plan.days, 'day')}: {where}.", plan.notes[1]
