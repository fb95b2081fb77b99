"""Pictures that move in the lessons: bars, glasses, bowls and a disc on a dome, each a Chart."""

import numpy as np
from matplotlib.patches import Polygon, Rectangle

from ..words import figure, signed
from . import marks
from .chart import Chart
from .charts import Stacks
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, QUIET, frame
from .overlay import moving

# the flour is 100


class FlourIs100(Stacks):
    """A dough's lines on 100 flour above the same lines on 100 dough.

    The value is two dicts {thing: % of total flour} and {thing: % of dough}.
    """

    size, place = (640, 250), (0.135, 0.02, 0.85, 0.87)
    title, least = "One dough, counted in % of flour and in % of dough", 275.0
    rows, hollow = ("% of flour", "% of dough"), (False, False)
    order, called = ("flour", "milk", "egg", "fat", "sugar", "rest"), {"fat": "butter", "rest": "salt, yeast"}

    def _begin(self, value):
        super()._begin(value)
        self.ax.plot([100, 100], [-0.46, 1.44], color=ACCENT, linewidth=1.4, dashes=(4, 2.5), zorder=5)

    def _sides(self, value):
        return value

    def _total(self, sides, row):
        return "100 %: the dough" if row else super()._total(sides, row)


def _bar(ax, colour, edge=INK, **style):
    """Return a moving bar without a size yet."""
    return moving(ax.add_patch(Rectangle((0, 0), 0, 0, facecolor=colour, edgecolor=edge, **style)))


# where the water hides


class Glasses(Chart):
    """A glass for each ingredient: as high as it is weighed, filled as high as it holds water [% of flour].

    The value is {name: (as weighed, water in it)}.
    """

    size, place = (640, 300), (0.075, 0.09, 0.915, 0.82)
    highest = 58.0

    def _begin(self, shown):
        ax, blue = self.ax, COLOURS["water"]
        frame(ax, "Weighed, and the water in it", "", "% of total flour")
        ax.set(xlim=(-0.5, len(shown) - 0.5), ylim=(0, self.highest))
        ax.set_xticks(range(len(shown)), list(shown))
        ax.tick_params(axis="x", length=0, labelsize=9.5, colors=INK)
        self.glasses = {}
        for name in shown:
            glass = _bar(ax, "white", BASELINE, linewidth=1.2, zorder=2)
            water = _bar(ax, blue, blue, linewidth=1.2, zorder=3)
            say_weighed = marks.text(ax, "", 8.5, QUIET, ha="center")
            say_water = marks.text(ax, "", 10, blue, ha="center", fontweight="bold")
            self.glasses[name] = (glass, water, say_weighed, say_water)

    def _move(self, shown):
        for place, (name, parts) in enumerate(self.glasses.items()):
            glass, water, say_weighed, say_water = parts
            weighed, wet = shown[name]
            marks.bounds(glass, place - 0.32, 0, 0.64, weighed)
            marks.bounds(water, place - 0.32, 0, 0.64, wet)
            top = min(weighed, self.highest)
            marks.place(say_water, place, top + 0.01 * self.highest, f"{figure(wet)} water")
            marks.place(say_weighed, place, top + 0.065 * self.highest, f"{figure(weighed)} weighed")


# milk for egg


class MilkForEgg(Stacks):
    """The water that egg and milk bring, before an exchange above, after it below [% of flour].

    The value is two dicts {thing: water}, before and after.
    """

    size, place = (640, 190), (0.09, 0.02, 0.9, 0.83)
    title, least = "Water that egg and milk bring, % of total flour", 66.0
    rows, order, called = ("before", "after"), ("milk", "egg"), {"milk": "from milk", "egg": "from egg"}

    def _sides(self, value):
        return value

    def _total(self, sides, row):
        more = sum(sides[1].values()) - sum(sides[0].values())
        return super()._total(sides, row) + (f" ({signed(more)})" if row and more > 0.005 else "")


# the preferment folded in


class FoldedIn(Chart):
    """Sponge, final dough and total formula as bars of flour and milk [% of total flour], the sponge's part hatched.

    The value is ((flour, milk) of the sponge, (flour, milk) of the final dough).
    """

    size, place = (640, 260), (0.14, 0.02, 0.85, 0.87)
    highest = 215.0

    def _begin(self, shown):
        ax = self.ax
        frame(ax, "Two bowls, one dough: flour and milk, % of total flour")
        ax.set(xlim=(0, self.highest), ylim=(-0.62, 2.62))
        ax.set_yticks([2, 1, 0], ["sponge", "final dough", "total formula"])
        ax.set_xticks([])
        ax.tick_params(axis="y", length=0, labelsize=9, colors=INK)
        ax.spines["bottom"].set_visible(False)
        self.pixels = ax.get_position().width * ax.figure.bbox.width / self.highest
        self.rows = []
        for hatch in ("//", "", ""):
            things = [COLOURS["flour"], COLOURS["milk"]]
            words = [marks.text(ax, "", 8.8, INK, colour, ha="center", va="center", zorder=7) for colour in things]
            whole = marks.text(ax, "", 10, ACCENT, va="center", fontweight="bold", zorder=7)
            self.rows.append((self._bars(ax, hatch), words, whole))
        self.folded = self._bars(ax, "//")

    def _bars(self, ax, hatch):
        """Return the bars of flour and milk."""
        style = {"hatch": hatch, "hatchcolor": "#00000045", "linewidth": 0.8, "zorder": 3}
        return [_bar(ax, COLOURS[thing], **style) for thing in ("flour", "milk")]

    def _move(self, shown):
        sponge, final = shown
        total = tuple(a + b for a, b in zip(sponge, final, strict=True))
        for y, held, row in zip((2, 1, 0), (sponge, final, total), self.rows, strict=True):
            bars, words, hydration = row
            left = 0.0
            for place, name in enumerate(("flour", "milk")):
                marks.bounds(bars[place], left, y - 0.36, held[place], 0.72)
                room = held[place] if y else final[place]  # in the total, beside the sponge's hatched part
                text = next(
                    t
                    for t in (f"{name} {figure(held[place])}", figure(held[place]), "")
                    if 6.2 * len(t) < room * self.pixels
                )
                marks.place(words[place], left + held[place] - room / 2, y, text)
                left += held[place]
            of = "milk on its flour" if y else "of total flour"
            marks.place(hydration, left + 1.5, y, f"{figure(100 * held[1] / held[0], 0)} % {of}")
        marks.bounds(self.folded[0], 0, -0.36, sponge[0], 0.72)
        marks.bounds(self.folded[1], total[0], -0.36, sponge[1], 0.72)


# the disc that must reach the sides


def _topping(ax):
    """Return a moving disc seen from the side: its edge, and the topping over it."""
    ends = {"solid_capstyle": "butt"}
    return marks.line(ax, CRUST_EDGE, linewidth=7, zorder=3, **ends), marks.line(
        ax, CRUST, linewidth=5, zorder=4, **ends
    )


class DiscOnDome(Chart):
    """A bun from the side under its disc of topping, and the disc lying flat beneath, to one scale [mm].

    The value is (Dome [cm], disc [mm]).
    """

    size, place = (640, 330), (0.02, 0.125, 0.96, 0.8)
    reach, high = 78.0, 48.0  # half the width and the height of the axis [mm]

    def _begin(self, shown):
        ax, reach, high = self.ax, self.reach, self.high
        frame(ax, "A bun from the side under its disc, to scale", "mm")
        ax.set_xlim(-reach, reach)
        ax.set_ylim(-0.42 * high, high)
        ax.set_aspect("equal")
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        self.low = -0.2 * high
        dough = {"facecolor": COLOURS["flour"], "edgecolor": CRUST_EDGE, "linewidth": 1.2, "zorder": 2}
        self.dough = moving(ax.add_patch(Polygon(np.zeros((3, 2)), closed=True, **dough)))
        self.crust, self.flat = _topping(ax), _topping(ax)
        self.slant = marks.line(ax, ACCENT, linewidth=1.4, dashes=(4, 2.5), zorder=5)
        self.say_slant = marks.text(ax, "", 9.5, ACCENT, COLOURS["flour"], ha="center", va="top", fontweight="bold")
        self.say_flat = marks.text(ax, "", 9.5, INK, ha="center", va="top")

    def _move(self, shown):
        dome, disc = shown
        across, up = (10 * values for values in dome.profile())
        self.dough.set_xy(np.column_stack([across, up]))
        slant = np.linspace(-1, 1, 61) * min(disc, 10 * dome.whole_disc) / 20
        x, y = (10 * values for values in dome.at(slant))
        for on_dome, flat in zip(self.crust, self.flat, strict=True):
            marks.trace(on_dome, x, y)
            marks.trace(flat, [-disc / 2, disc / 2], [self.low, self.low])
        rim, top = 10 * dome.radius, 10 * dome.height
        marks.trace(self.slant, [0, rim], [top, 0])
        marks.place(self.say_slant, -0.2 * rim, 0.3 * top, f"top to rim, straight: {figure(5 * dome.whole_disc)} mm")
        marks.place(self.say_flat, 0, self.low - 0.05 * self.high, f"the disc, flat: {figure(disc, 0)} mm wide")
