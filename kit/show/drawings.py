"""A round piece under its disc of topping, drawn to scale [mm] from above and from the side."""

import functools

import numpy as np
from matplotlib.patches import Polygon

from ..process.dome import PATTERNS
from ..process.topping import STAGES, piece_domes, topping_fit
from ..words import figure, plural
from . import marks
from .chart import Chart
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, QUIET, WRONG, frame, title
from .overlay import moving

_CRUST = {"linewidth": 0.7, "joinstyle": "round", "zorder": 3}
_TURN = np.linspace(0, 2 * np.pi, 73)
_RING = 10 * np.column_stack([np.cos(_TURN), np.sin(_TURN)])  # mm around a piece of 1 cm


def dough(ax, outline):
    """Return a piece of dough of that outline, which moves."""
    look = {"facecolor": COLOURS["flour"], "edgecolor": CRUST_EDGE, "linewidth": 1.2, "zorder": 2}
    return moving(ax.add_patch(Polygon(outline, closed=True, **look)))


def _scale(widest):
    """Return half the width and the height [mm] of a view that a ToppingFit has room in."""
    return 5.6 * widest.baked.width, 12 * (widest.baked.height + widest.thickness)


class View(Chart):
    """A ToppingFit at a stage, to scale [mm]: dome and topping, the dome as shaped, and how large it is.

    widest: another that must have room in the same frame.
    """

    title = x = y = ""
    end = "|"  # the mark at the ends of what is measured

    def _begin(self, fit, stage="proofed", widest=None):
        self.reach, self.high = _scale(widest or fit)
        frame(self.ax, self.title, self.x, self.y)
        self.ax.set(xlim=(-self.reach, self.reach), aspect="equal")
        self.dough, self.crust = dough(self.ax, _RING), marks.shape(self.ax, CRUST, CRUST_EDGE, **_CRUST)
        self.shaped = marks.line(self.ax, BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=4)
        self.say_shaped = marks.text(self.ax, "as shaped", colour=QUIET, ha="center")
        self.size_line = marks.line(self.ax, ACCENT, linewidth=1.2, marker=self.end, markersize=9, zorder=7)
        self.say_size = marks.text(self.ax, "", 9.5, ACCENT, ha="center", va="top", fontweight="bold")

    def _outlined(self, stage, shaped, at):
        """Show the dome as it was shaped once it has risen, its words at a place."""
        marks.trace(self.shaped, *shaped)
        marks.place(self.say_shaped, *at)
        for artist in (self.shaped, self.say_shaped):
            marks.visible(artist, stage != STAGES[0])


class TopView(View):
    """A ToppingFit seen from above at a stage: dome, segments of topping and the gaps between them [mm]."""

    size, place = (430, 440), (0.115, 0.105, 0.865, 0.845)
    title, x, y = "From above, to scale", "across the scores, mm", "along the scores, mm"

    def _begin(self, fit, stage="proofed", widest=None):
        super()._begin(fit, stage, widest)
        self.ax.set(ylim=(-self.reach, self.reach))
        self.beyond = marks.text(self.ax, "larger than this frame", 9, ACCENT, ha="left", va="top")
        marks.place(self.beyond, -0.97 * self.reach, 0.97 * self.reach)

    def _move(self, fit, stage="proofed", widest=None):
        dome, shaped = fit.dome(stage), 5 * fit.shaped.width
        self.dough.set_xy(_RING * dome.width / 2)
        marks.outlines(self.crust, [10 * outline[:, :2] for outline in fit.segments(stage)])
        self._outlined(stage, (_RING * fit.shaped.width / 2).T, (0, min(shaped, 0.92 * self.reach)))
        half, low = 5 * dome.width, -0.9 * self.reach
        marks.trace(self.size_line, [-half, half], [low, low])
        marks.place(self.say_size, 0, low - 0.015 * self.reach, f"{figure(2 * half, 0)} mm")
        marks.visible(self.beyond, half > self.reach)
        scored = f"scores {fit.pattern}, gaps {figure(10 * fit.gap(stage))} mm"
        if len(fit.section(stage)) == 1:
            scored = "in one piece"
        return (
            f"The piece from above, {stage}: {figure(10 * dome.width, 0)} mm wide, covered to "
            f"{figure(fit.cover(stage), 0)} % by a disc, {scored}."
        )


class SideView(View):
    """A ToppingFit cut across its scores at a stage: dome, topping and gaps [mm], as large as TopView."""

    title, x, y, end = "Cut across the scores, to the same scale", "mm", "mm", "_"

    def _begin(self, fit, stage="proofed", widest=None):
        super()._begin(fit, stage, widest)
        self.ax.set(ylim=(-0.03 * self.high, self.high))
        self.say_shaped.set(ha="right", path_effects=marks.halo(COLOURS["flour"]))
        self.say_size.set(ha="left", va="center", path_effects=marks.halo(COLOURS["flour"]))
        self.say_gap = marks.text(self.ax, "", 9.5, ACCENT, ha="center", fontweight="bold")

    @property
    def size(self):
        """As high as the cut needs at the scale of TopView."""
        reach, high = _scale(self.beside.get("widest") or self.value)
        return 416, 72 + 1.03 * high * TopView.size[0] * TopView.place[2] / (2 * reach)

    @property
    def place(self):
        """Between its title and the words beneath."""
        wide, high = self.size
        return 0.095, 44 / high, TopView.size[0] * TopView.place[2] / wide, 1 - 70 / high

    def _move(self, fit, stage="proofed", widest=None):
        dome, ends, gap = fit.dome(stage), fit.section(stage), 10 * float(fit.gap(stage))
        self.dough.set_xy(10 * np.column_stack(dome.profile()))
        marks.outlines(self.crust, [10 * _thick(dome, *segment, fit.thickness) for segment in ends])
        self._outlined(stage, 10 * np.array(fit.shaped.profile()), (-0.03 * self.reach, 3 * fit.shaped.height))
        top = 10 * (dome.height + fit.thickness)
        size, scores = f"{figure(top, 0)} mm", PATTERNS[fit.pattern]
        marks.trace(self.size_line, [0, 0], [0, top])
        marks.place(self.say_size, 0.03 * self.reach, 0.4 * top, f"{size} topped")
        parts = plural(len(ends), "strip" if scores.strips else "plate")
        words = f"gaps {figure(gap)} mm between {parts}" if gap else "the scores are still closed"
        if not scores.scored:
            words = "one whole disc, not scored"
        elif len(ends) == 1:
            words = "one piece: scores wider apart than the disc"
        marks.place(self.say_gap, 0, min(top + 0.04 * self.high, 0.88 * self.high), words)
        return f"The piece cut across its scores, {size} high topped: {words}."


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
        self.parts = [(dough(ax, _RING), marks.shape(ax, CRUST, CRUST_EDGE, **_CRUST)) for _ in range(2)]
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


_own_fit = functools.lru_cache(maxsize=4)(topping_fit)  # one formula is asked for at every move


def fit_as_thick(formula, before):
    """Return the ToppingFit of a formula whose disc is as thick as another's, as far as its piece takes it.

    None where there is no topping.
    """
    if not (formula.has("topping") and formula.pieces.topping > 0):
        return None
    own = _own_fit(formula)
    if before is formula or not (before.has("topping") and before.pieces.topping > 0):
        return own
    disc = own.disc * np.sqrt(own.thickness / _own_fit(before).thickness)
    return topping_fit(formula, disc=max(disc, 1.01 * own.shaped.base_diameter))


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
