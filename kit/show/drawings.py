"""A round piece under its disc of topping, drawn to scale [mm] from above and from the side."""

import numpy as np
from matplotlib.patches import Polygon

from ..process.topping import STAGES, piece_domes, topping_fit
from ..words import figure, plural
from . import marks
from .chart import Chart
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, QUIET, frame, title
from .overlay import moving

_CRUST = {"linewidth": 0.7, "joinstyle": "round", "zorder": 3}
_TURN = np.linspace(0, 2 * np.pi, 73)
_RING = 10 * np.column_stack([np.cos(_TURN), np.sin(_TURN)])  # mm around a piece of 1 cm


def _dough(ax, outline):
    look = {"facecolor": COLOURS["flour"], "edgecolor": CRUST_EDGE, "linewidth": 1.2, "zorder": 2}
    return moving(ax.add_patch(Polygon(outline, closed=True, **look)))


def _outline(ax, words):
    line = marks.line(ax, BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=4)
    return line, marks.text(ax, words, colour=QUIET, ha="center")


def _high(fit):
    """Return how high [mm] the cut reaches."""
    return 12 * (fit.baked.height + fit.thickness)


def _reach(fit):
    """Return how far [mm] a view reaches that a piece has room in."""
    return 5.6 * fit.baked.width


class TopView(Chart):
    """A ToppingFit seen from above at a stage: dome, segments of topping and the gaps between them [mm].

    widest: another that must have room in the same frame.
    """

    size, place = (430, 440), (0.115, 0.105, 0.865, 0.845)

    def _begin(self, fit, stage="proofed", widest=None):
        ax, reach = self.ax, _reach(widest or fit)
        frame(ax, "From above, to scale", "across the scores, mm", "along the scores, mm")
        ax.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
        self.reach = reach
        self.dough, self.crust = _dough(ax, _RING), marks.shape(ax, CRUST, CRUST_EDGE, **_CRUST)
        self.shaped, self.say_shaped = _outline(ax, "as shaped")
        self.across = marks.line(ax, ACCENT, linewidth=1.2, marker="|", markersize=9, zorder=7)
        self.say_across = marks.text(ax, "", 9.5, ACCENT, ha="center", va="top", fontweight="bold")
        self.beyond = marks.text(ax, "larger than this frame", 9, ACCENT, ha="left", va="top")

    def _move(self, fit, stage="proofed", widest=None):
        dome = fit.dome(stage)
        self.dough.set_xy(_RING * dome.width / 2)
        marks.outlines(self.crust, [10 * outline[:, :2] for outline in fit.segments(stage)])
        earlier = stage != STAGES[0]
        marks.trace(self.shaped, *(_RING * fit.shaped.width / 2).T)
        marks.place(self.say_shaped, 0, 5 * fit.shaped.width + 0.01 * self.reach)
        half, low = 5 * dome.width, -0.9 * self.reach
        marks.trace(self.across, [-half, half], [low, low])
        marks.place(self.say_across, 0, low - 0.015 * self.reach, f"{figure(2 * half, 0)} mm")
        marks.visible(self.shaped, earlier)
        marks.visible(self.say_shaped, earlier and 5 * fit.shaped.width < 0.92 * self.reach)
        marks.place(self.beyond, -0.97 * self.reach, 0.97 * self.reach)
        marks.visible(self.beyond, half > self.reach)
        scored = f"scores {fit.pattern}, gaps {figure(10 * fit.gap(stage))} mm"
        if len(fit.section(stage)) == 1:
            scored = "in one piece"
        return (
            f"The piece from above, {stage}: {figure(10 * dome.width, 0)} mm wide, covered to "
            f"{figure(fit.cover(stage), 0)} % by a disc, {scored}."
        )


class SideView(Chart):
    """A ToppingFit cut across its scores at a stage: dome, topping and gaps [mm], as large as TopView."""

    def _begin(self, fit, stage="proofed", widest=None):
        ax, reach, high = self.ax, _reach(widest or fit), _high(widest or fit)
        frame(ax, "Cut across the scores, to the same scale", "mm", "mm")
        ax.set(xlim=(-reach, reach), ylim=(-0.03 * high, high), aspect="equal")
        self.reach, self.high = reach, high
        self.dough, self.crust = _dough(ax, _RING), marks.shape(ax, CRUST, CRUST_EDGE, **_CRUST)
        self.shaped, self.say_shaped = _outline(ax, "as shaped")
        self.say_shaped.set(ha="right", path_effects=marks.halo(COLOURS["flour"]))
        self.tall = marks.line(ax, ACCENT, linewidth=1.2, marker="_", markersize=9, zorder=7)
        self.say_tall = marks.text(ax, "", 9.5, ACCENT, COLOURS["flour"], va="center", fontweight="bold")
        self.say_gap = marks.text(ax, "", 9.5, ACCENT, ha="center", fontweight="bold")

    @property
    def size(self):
        """As high as the cut needs at the scale of TopView."""
        wide, fit = TopView.size[0] * TopView.place[2], self.beside.get("widest") or self.value
        return 416, 72 + 1.03 * _high(fit) * wide / (2 * _reach(fit))

    @property
    def place(self):
        """Between its title and the words beneath."""
        wide, high = self.size
        return 0.095, 44 / high, TopView.size[0] * TopView.place[2] / wide, 1 - 70 / high

    def _move(self, fit, stage="proofed", widest=None):
        dome = fit.dome(stage)
        self.dough.set_xy(10 * np.column_stack(dome.profile()))
        ends = fit.section(stage)
        marks.outlines(self.crust, [10 * _thick(dome, *segment, fit.thickness) for segment in ends])
        marks.trace(self.shaped, *(10 * np.array(fit.shaped.profile())))
        for artist in (self.shaped, self.say_shaped):
            marks.visible(artist, stage != STAGES[0])
        marks.place(self.say_shaped, -0.03 * self.reach, 3 * fit.shaped.height)
        top = 10 * (dome.height + fit.thickness)
        marks.trace(self.tall, [0, 0], [0, top])
        marks.place(self.say_tall, 0.03 * self.reach, 0.4 * top, f"{figure(top, 0)} mm high")
        gap = 10 * float(fit.gap(stage))
        words = f"gaps {figure(gap)} mm between {plural(len(ends), 'strip')}" if gap else "the scores are still closed"
        if not fit.scored:
            words = "one whole disc, not scored"
        elif len(ends) == 1:
            words = "one strip: the scores lie wider apart than the disc"
        marks.place(self.say_gap, 0, min(top + 0.04 * self.high, 0.88 * self.high), words)
        return f"The piece cut across its scores, {figure(10 * dome.height, 0)} mm high: {words}."


def _thick(dome, start, end, thickness, points=13):
    """Return the outline [cm] of a slice of topping between two points of the dome, as thick as it is."""
    middle = np.array([0.0, dome.height - dome.sphere_radius])
    turns = [np.arctan2(*(np.asarray(point) - middle)) for point in (start, end)]  # from the axis
    turn = np.linspace(*turns, points)
    arc = np.column_stack([np.sin(turn), np.cos(turn)])
    radius = dome.sphere_radius
    return middle + np.vstack([radius * arc, (radius + thickness) * arc[::-1]])


class Bun(Chart):
    """A Formula's baked piece from above and, beneath, cut across its scores, to one scale [mm].

    before: another formula, whose disc is as thick: more topping then makes it wider, as far as the piece takes it.
    """

    size, place = (396, 260), (0.0, 0.0, 1.0, 0.907)

    def _begin(self, formula, before=None):
        ax, (wide, high) = self.ax, self.size
        ax.set_axis_off()
        title(ax, "The baked piece, to scale: from above, and cut")
        dome = piece_domes(before or formula)["baked"]
        self.unit = float(10 * max(dome.width, dome.height))
        top = 1.76 * self.unit
        across = top * wide / (high * self.place[3])
        ax.set(xlim=(-0.6 * self.unit, across - 0.6 * self.unit), ylim=(-0.07 * self.unit, top - 0.07 * self.unit))
        self.told, self.middle = None, 1.14 * self.unit
        self.parts = [(_dough(ax, _RING), marks.shape(ax, CRUST, CRUST_EDGE, **_CRUST)) for _ in range(2)]
        self.before = marks.line(ax, BASELINE, linewidth=1.4, dashes=(4, 2.5), zorder=5)
        at, step = 0.7 * self.unit, 0.14 * self.unit
        self.says = [marks.text(ax, "", 9.5, ACCENT, None, va="center", fontweight="bold")]
        self.says += [marks.text(ax, "", 8.5, INK, None, va="center") for _ in range(4)]
        for n, word in enumerate(self.says):
            marks.place(word, at, self.middle + (1.5 - n) * step)

    def _move(self, formula, before=None):
        told = formula.pieces, formula.losses, before
        if told == self.told:  # all that it shows hangs on
            return self.alt
        self.told = told
        first = fit_as_thick(before, before) if before else None
        fit, dome = fit_as_thick(formula, before or formula), piece_domes(formula)["baked"]
        (above, crust), (cut, slices) = self.parts
        above.set_xy(_RING * dome.width / 2 + (0, self.middle))
        cut.set_xy(10 * np.column_stack(dome.profile()))
        shown, edges = [], []
        if fit:
            shown = [10 * outline[:, :2] + (0, self.middle) for outline in fit.segments("baked")]
            edges = [10 * _thick(dome, *segment, fit.thickness) for segment in fit.section("baked")]
        marks.outlines(crust, shown)
        marks.outlines(slices, edges)
        self.edge = max((float(outline[:, 0].max()) for outline in shown), default=0.0)
        if formula is before or before is None:
            self._first = self.edge, 10 * float(dome.sphere_radius)
        rim = 10 * float(dome.at(first.disc / 2)[0]) if first and fit and first.topping != fit.topping else 0.0
        ring = _RING * (rim / 10)
        marks.trace(self.before, ring[:, 0], ring[:, 1] + self.middle)
        size = f"{figure(10 * dome.width, 0)} mm wide, {figure(10 * dome.height, 0)} mm high"
        words = ["no topping", size]
        if fit:
            words = [
                f"{figure(fit.topping)} g on {figure(fit.piece, 0)} g",
                f"disc {figure(10 * fit.disc, 0)} mm",
                f"{figure(10 * fit.thickness)} mm thick",
                f"covers {figure(fit.cover('baked'), 0)} % baked",
                size,
            ]
        for word, said in zip(self.says, [*words, "", "", ""], strict=False):
            word.set_text(said)
        return f"The baked piece: {', '.join(words)}."

    def times(self, across):
        """Return how many times as much topping as before reaches so far [mm] across, rolled as thick."""
        edge, sphere = self._first
        flat = (1 - np.sqrt(1 - min(x / sphere, 1.0) ** 2) for x in (across, edge))
        return next(flat) / next(flat)


def fit_as_thick(formula, before):
    """Return the ToppingFit of a formula whose disc is as thick as another's, as far as its piece takes it.

    None where there is no topping.
    """
    if not (formula.has("topping") and formula.pieces.topping > 0):
        return None
    own = topping_fit(formula)
    if before is formula or not (before.has("topping") and before.pieces.topping > 0):
        return own
    disc = own.disc * np.sqrt(own.thickness / topping_fit(before).thickness)
    return topping_fit(formula, disc=max(disc, 1.01 * own.shaped.base_diameter))
