"""Charts of planned trials: what is baked where, what so many bakes can see, and what they said."""

import math

import numpy as np
from matplotlib.patches import Rectangle
from scipy.spatial import ConvexHull

from ..balance import own_steps
from ..trials.comparing import described
from ..trials.effects import Effects
from ..trials.planning import MIXTURES, MOST, Plan, smallest_by_days
from ..words import capital, figure, listing, plural, signed
from . import marks
from .compared import class_corners
from .look import ACCENT, ACCENT_LIGHT, BASELINE, CLASS_FILLS, HAIR, INK, QUIET, frame

ROOM = 0.45  # of the range of a factor, left free beside it
LINES = 12  # words beside places of bakes that one chart holds
SEES = 6.0  # SD of repeats that the axis of smallest differences reaches


def places(levels):
    """Return where bakes lie on a plane: two factors, three shares in a triangle (third up), one factor and the day."""
    real = levels.real
    if real.shape[1] == 3 and np.ptp(real.sum(1)) < 0.1:
        return np.column_stack([real[:, 1] + real[:, 2] / 2, real[:, 2] * math.sqrt(3) / 2])
    return real[:, :2] if real.shape[1] > 1 else np.column_stack([real[:, 0], levels.days])


def reach(plan):
    """Return ((low, high), (low, high)) of the axes that hold a plan's bakes with some room, in round steps."""
    found = []
    for column in places(plan.levels).T:
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
        shares, factors = plan.kind in MIXTURES, plan.factors[:2]
        titles = [f"{f.name}, {f.unit}" for f in factors] + ["day"] * (2 - len(factors))
        limits = reach(plan)
        frame(ax, "What is baked where, and in which turn", *([""] * 2 if shares else titles))
        ax.set_xlim(*limits[0])
        ax.set_ylim(*limits[1])
        if shares:
            self._triangle(plan)
        elif [f.path for f in factors] == [("butter",), ("sugar",)]:
            self._classes(plan.formula)
        if len(factors) < 2:
            ax.set_yticks(range(1, plan.days + 1))
        turns = "its turn on day 1 · 2 ..." if plan.days > 1 and len(factors) > 1 else "its turn"
        said = f"hollow: the control; beside each bake {turns}"
        ax.annotate(said, (0, 0), (0, -40), "axes fraction", "offset points", fontsize=8.3, color=QUIET, va="bottom")
        self.control, self.others = marks.dot(ax, False), marks.dot(ax, True)
        if len(plan.factors) == 3 and not shares:
            self.control.set_markersize(14)  # a ring about the others of its place
        self.words = [marks.text(ax, size=8.5, va="center", zorder=10) for _ in range(LINES)]
        self.update(plan)

    def _classes(self, formula):
        names = own_steps()[0]
        self.ax.set_facecolor(CLASS_FILLS[-1])
        corners = class_corners(formula)
        for n, (x, y) in reversed(list(enumerate(corners))):
            self.ax.add_patch(Rectangle((-1e3, -1e3), x + 1e3, y + 1e3, facecolor=CLASS_FILLS[n], edgecolor="#8d8062",
                                        linewidth=0.9, zorder=1))  # fmt: skip
        (low, high), bottom = self.ax.get_xlim(), self.ax.get_ylim()[0]
        edges = [low, *(x for x, _ in corners), 1e3]
        for name, left, right in zip(names, edges[:-1], edges[1:], strict=True):
            left, right = max(left, low), min(right, high)
            if right - left > 0.12 * (high - low):
                self.ax.annotate(name, (left, bottom), (3, 4), "data", "offset points", fontsize=9, style="italic",
                                 color="#5b4f33", annotation_clip=True)  # fmt: skip

    def _triangle(self, plan):
        low = [f.low for f in plan.factors]
        free = 100 - sum(low)
        corners = np.array([[low[m] + free * (m == n) for m in range(3)] for n in (0, 1, 2, 0)])
        x, y = corners[:, 1] + corners[:, 2] / 2, corners[:, 2] * math.sqrt(3) / 2
        self.ax.plot(x, y, color=QUIET, linewidth=0.9, zorder=1)
        for n, factor in enumerate(plan.factors):
            words = f"{factor.name} {figure(factor.high, 0)} %"
            self.ax.annotate(words, (x[n], y[n]), (0, 16 if n == 2 else -20), "data", "offset points", ha="center",
                             fontsize=8.5, color=INK, va="center")  # fmt: skip
        self.ax.set(xticks=[], yticks=[], aspect="equal")
        for side in ("left", "bottom"):
            self.ax.spines[side].set_visible(False)

    def update(self, plan):
        """Move the marks to the bakes of a plan, and write their turns beside them."""
        xy, controls = places(plan.levels), np.array([bake.control for bake in plan.bakes])
        marks.trace(self.control, *xy[controls].T)
        marks.trace(self.others, *xy[~controls].T)
        spots = np.unique(np.round(xy, 3), axis=0)
        lines = [words for spot in spots for words in self._beside(plan, xy, spot, spots)][:LINES]
        for n, word in enumerate(self.words):
            marks.visible(word, n < len(lines))
            if n < len(lines):
                x, y, words, side = lines[n]
                marks.place(word, x, y, words)
                marks.align(word, side)

    def _beside(self, plan, xy, spot, spots):
        """Yield (x, y, words, side) of the turns of the bakes at one spot, a line for each level of a third factor."""
        (left, right), (bottom, top) = self.ax.get_xlim(), self.ax.get_ylim()
        third = plan.levels.real[:, 2] if len(plan.factors) == 3 and plan.kind not in MIXTURES else np.zeros(len(xy))
        here = np.abs(xy - spot).max(1) < 1e-3
        groups = np.unique(third[here])
        row = spots[np.abs(spots[:, 1] - spot[1]) < 0.05 * abs(top - bottom), 0]
        side, across, up = "left", 0.025, 0.0
        if row.min() < spot[0] < row.max():
            side, across, up = "center", 0.0, 0.05  # above, with others on both sides of it
        elif spot[0] < row.max():
            side, across = "right", -0.025
        for n, level in enumerate(groups):
            bakes = [b for b, at in zip(plan.bakes, here & (third == level), strict=True) if at]
            by_day = {b.day: ",".join(str(c.turn) for c in bakes if c.day == b.day) for b in bakes}
            words = "·".join(by_day.values()) if len(bakes) <= 6 else plural(len(bakes), "bake")
            if len(plan.factors) > 1 and len(by_day) < plan.days and len(bakes) <= 6:
                words = f"day {', '.join(map(str, by_day))}: {words}"
            if len(groups) > 1 or len(set(third)) > 1:
                words = f"{plan.factors[2].name} {level:g}: {words}"
            y = spot[1] + (up + 0.042 * (0.5 * (len(groups) - 1) - n)) * (top - bottom)
            yield spot[0] + across * (right - left), y, words, side


class SmallestChart:
    """The smallest difference that a plan sees, against bakes: its own days marked, and the kitchen's repeats."""

    def __init__(self, ax, plan):
        self.ax = ax
        (what, unit, self.digits), self.per = described(plan.field), plan.scatter.value if plan.scatter else 1.0
        self.unit = unit if plan.scatter else "SD of repeats"
        frame(ax, "The smallest difference it would see", "bakes in all", f"{what}, {self.unit}", "y")
        ax.set_xlim(0, MOST)
        ax.set_ylim(0, SEES * self.per)
        ax.axhline(self.per, color=BASELINE, linewidth=1.1, dashes=(4, 3), zorder=2)
        words = f"your repeats, {figure(self.per, 2)} {unit}" if plan.scatter else "repeats, 1 SD"
        ax.annotate(words, (0, self.per), (4, -5), "data", "offset points", fontsize=8.3, color=QUIET, va="top")
        words = "dots: one day more each; seen in four of five such trials"
        ax.annotate(words, (0, 0), (0, -40), "axes fraction", "offset points", fontsize=8.3, color=QUIET, va="bottom")
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
        right = len(plan.bakes) < 0.6 * MOST
        above = min(y + 0.02 * SEES * self.per, 0.93 * SEES * self.per)
        marks.place(self.word, len(plan.bakes) + (1 if right else -1), above, words)
        marks.align(self.word, "left" if right else "right")


class EffectRows:
    """Each effect with its 95 % interval: filled where it leaves 0 out, hollow where it may be nothing."""

    def __init__(self, ax, found):
        frame(ax, f"{capital(found.what)}: from low to high", f"{found.what}{found._unit()}")
        ax.axvline(0, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=1)
        ax.set_ylim(len(found.effects) - 0.4, -0.75)
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        for n, each in enumerate(found.effects):
            ax.axhline(n, color=HAIR, linewidth=0.5, zorder=0.5)
            if each.error is not None:
                ax.plot([each.low, each.high], [n, n], color=ACCENT_LIGHT, linewidth=5, zorder=2, solid_capstyle="butt")
            ax.plot(each.value, n, "o", markersize=8, color=ACCENT, zorder=4, markeredgewidth=1.6,
                    markerfacecolor=ACCENT if each.beyond else "white")  # fmt: skip
            words = f"{each.what}  {signed(each.value, found.digits)}"
            ax.text(0, n - 0.33, words, fontsize=9, color=INK, va="center", transform=ax.get_yaxis_transform())
        ax.margins(x=0.12)
        said = "pale: 95 % interval; hollow: may be nothing" if found.df else "no bake repeated: no interval"
        ax.annotate(said, (0, 0), (0, -38), "axes fraction", "offset points", fontsize=8.3, color=QUIET, va="top")


class ModelMap:
    """Contours of a Surface or Mixture inside what was baked, the bakes on it, and where it is highest or level."""

    def __init__(self, ax, found):
        levels, xy = found.levels, places(found.levels)
        shares = len(levels.names) == 3
        names = [f"{name}, {unit}".rstrip(", ") for name, unit in zip(levels.names, levels.units, strict=True)]
        frame(ax, f"{capital(found.what)}{found._unit()}, where it was baked", *([""] * 2 if shares else names[:2]))
        fine = _fine(levels.coded, shares)
        fine = fine[found.inside(fine)]
        real = levels.middle + levels.half * fine
        at = places(type(levels)(levels.names, levels.units, real, fine, levels.days, levels.middle, levels.half))
        lines = ax.tricontour(*at.T, found.many(fine), levels=8, colors=ACCENT, linewidths=0.9, zorder=2)
        ax.clabel(lines, fontsize=8.3, fmt=lambda value: figure(value, found.digits), inline_spacing=2)
        ax.plot(*xy.T, "o", markersize=5, color=QUIET, zorder=3)
        around = xy[ConvexHull(xy).vertices]
        ax.fill(*around.T, facecolor="none", edgecolor=HAIR, linewidth=1, zorder=1)
        for limit, column in zip((ax.set_xlim, ax.set_ylim), xy.T, strict=True):
            limit(column.min() - 0.1 * np.ptp(column), column.max() + 0.1 * np.ptp(column))
        if shares:
            for n, name in enumerate(levels.names):
                x, y = xy[levels.coded[:, n].argmax()]
                words = f"{name} {figure(levels.real[:, n].max(), 0)} %"
                ax.annotate(
                    words, (x, y), (0, 7 if n == 2 else -16), "data", "offset points", ha="center", fontsize=8.5
                )
            ax.set(xticks=[], yticks=[], aspect="equal")
            for side in ("left", "bottom"):
                ax.spines[side].set_visible(False)
            best, value = found.extremes[1]
        else:
            best, value, inside = found.stationary or ({}, 0.0, False)
            best = best if inside and found.kind in ("highest", "lowest") else {}
        if best:
            mark = places(type(levels)(levels.names, (), np.array([[*best.values()]]), None, None, None, None))
            ax.plot(*mark.T, "o", markersize=9, color=ACCENT, markeredgecolor="white", zorder=5)
            ax.annotate(figure(value, found.digits), mark[0], (7, 5), "data", "offset points", fontsize=10,
                        color=ACCENT, fontweight="bold", path_effects=marks.halo(), zorder=6)  # fmt: skip


def _fine(coded, shares):
    """Return a fine grid (coded) over what may have been baked."""
    if shares:
        return np.array([(i, j, 60 - i - j) for i in range(61) for j in range(61 - i)]) / 60
    ends = [np.linspace(*(coded[:, n].min(), coded[:, n].max()), 61) for n in (0, 1)]
    return np.array(np.meshgrid(*ends)).reshape(2, -1).T


def drawn_plan(value, one):
    """Return [(figure, its words)] of a Plan, Effects, Surface or Mixture; one: what draws a chart in a figure."""
    if isinstance(value, Plan):
        charts = [one(kind, value, (430, 420), [0.13, 0.165, 0.84, 0.75]) for kind in (PlanePlot, SmallestChart)]
        return list(zip(charts, alt(value), strict=True))
    if isinstance(value, Effects):
        high = 100 + 40 * len(value.effects)
        return [(one(EffectRows, value, (430, high), [0.06, 64 / high, 0.9, 1 - 94 / high]), value.sentence)]
    return [(one(ModelMap, value, (430, 400), [0.13, 0.13, 0.84, 0.78]), value.sentence)]


def alt(plan):
    """Return the two charts of a plan in words."""
    where = listing(dict.fromkeys(bake.what for bake in plan.bakes))
    return f"{plural(len(plan.bakes), 'bake')} on {plural(plan.days, 'day')}: {where}.", plan.sentences[1]
