"""A round piece under its disc of topping, drawn to scale [mm] from above and from the side."""

import functools

import numpy as np

from ..process.dome import PATTERNS
from ..process.topping import STAGES, piece_domes, topping_fit
from ..words import figure, plural
from .chart import Chart
from .look import ACCENT, BASELINE, COLOURS, CRUST, CRUST_EDGE, INK, QUIET, WRONG, frame, title

_FLOUR = COLOURS["flour"]
_DASHED = {"dashes": (4, 2.5)}
_TURN = np.linspace(0, 2 * np.pi, 73)
_RING = 10 * np.column_stack([np.cos(_TURN), np.sin(_TURN)])  # mm around a piece of 1 cm


class Piece(Chart):
    """A piece of dough and what lies on it."""

    def _dough(self, outline):
        return self._outline(outline, facecolor=_FLOUR, edgecolor=CRUST_EDGE, linewidth=1.2, zorder=2)

    def _crust(self, outlines):
        return self._area(outlines, CRUST, CRUST_EDGE, linewidth=0.7, joinstyle="round", zorder=3)


def _scale(widest):
    """Return half the width and the height [mm] of a view that a ToppingFit has room in."""
    return 5.6 * widest.baked.width, 12 * (widest.baked.height + widest.thickness)


class View(Piece):
    """A ToppingFit at a stage, to scale [mm]: dome and topping, the dome as shaped, and how large it is.

    widest: another that must have room in the same frame.
    """

    title = x = y = ""

    def _begin(self, fit, stage="proofed", widest=None):
        self.reach, self.high = _scale(widest or fit)
        frame(self.ax, self.title, self.x, self.y)
        self.ax.set(xlim=(-self.reach, self.reach), ylim=self._heights(), aspect="equal")

    def _drawn(self, stage, outline, segments, shaped, *at, **look):
        """Draw the dome, what lies on it, and once it has risen how it was shaped, the words of that at a place."""
        self.dough, self.crust, risen = self._dough(outline), self._crust(segments), stage != STAGES[0]
        self._line(*shaped, BASELINE, linewidth=1.2, zorder=4, visible=risen, **_DASHED)
        self._text(*at, "as shaped" * risen, color=QUIET, **look)

    def _sized(self, x, y, end, at, words, **look):
        """Draw how large it is between two ends, each of that mark, its words at a place."""
        self.size_line = self._line(x, y, ACCENT, linewidth=1.2, marker=end, markersize=9, zorder=7)
        self.say_size = self._text(*at, words, 9.5, ACCENT, fontweight="bold", **look)


class TopView(View):
    """A ToppingFit seen from above at a stage: dome, segments of topping and the gaps between them [mm]."""

    size, edges = (430, 440), (0.115, 46.2, 0.865, 68.2)
    title, x, y = "From above, to scale", "across the scores, mm", "along the scores, mm"

    def _heights(self):
        return -self.reach, self.reach

    def _move(self, fit, stage="proofed", widest=None):
        dome, ring, reach = fit.dome(stage), _RING * fit.shaped.width / 2, self.reach
        segments = [10 * outline[:, :2] for outline in fit.segments(stage)]
        at = 0, min(5 * fit.shaped.width, 0.92 * reach)
        self._drawn(stage, _RING * dome.width / 2, segments, ring.T, *at, ha="center")
        half, low = 5 * dome.width, -0.9 * reach
        middle = {"ha": "center", "va": "top"}
        self._sized([-half, half], [low, low], "|", (0, low - 0.015 * reach), f"{figure(2 * half, 0)} mm", **middle)
        beyond = "larger than this frame" * bool(half > reach)
        self._text(-0.97 * reach, 0.97 * reach, beyond, 9, ACCENT, va="top")
        scored = f"scores {fit.pattern}, gaps {figure(10 * fit.gap(stage))} mm"
        if len(fit.section(stage)) == 1:
            scored = "in one piece"
        return (
            f"The piece from above, {stage}: {figure(10 * dome.width, 0)} mm wide, covered to "
            f"{figure(fit.cover(stage), 0)} % by a disc, {scored}."
        )


_WIDE = TopView.size[0] * TopView.edges[2]  # px of both views


class SideView(View):
    """A ToppingFit cut across its scores at a stage: dome, topping and gaps [mm], as large as TopView."""

    edges = (0.095, 44, _WIDE / 416, 70)
    title, x, y = "Cut across the scores, to the same scale", "mm", "mm"

    def _heights(self):
        return -0.03 * self.high, self.high

    @property
    def size(self):
        """As high as the cut needs at the scale of TopView."""
        reach, high = _scale(self.beside.get("widest") or self.value)
        return 416, 72 + 1.03 * high * _WIDE / (2 * reach)

    def _move(self, fit, stage="proofed", widest=None):
        dome, ends, gap = fit.dome(stage), fit.section(stage), 10 * float(fit.gap(stage))
        outline, crust = 10 * np.column_stack(dome.profile()), _thick(dome, ends, fit.thickness)
        at = -0.03 * self.reach, 3 * fit.shaped.height
        shaped = 10 * np.array(fit.shaped.profile())
        self._drawn(stage, outline, crust, shaped, *at, behind=_FLOUR, ha="right")
        top, scores = 10 * (dome.height + fit.thickness), PATTERNS[fit.pattern]
        size, at = f"{figure(top, 0)} mm", (0.03 * self.reach, 0.4 * top)
        self._sized([0, 0], [0, top], "_", at, f"{size} topped", va="center", behind=_FLOUR)
        parts = plural(len(ends), "strip" if scores.strips else "plate")
        words = f"gaps {figure(gap)} mm between {parts}" if gap else "the scores are still closed"
        if not scores.scored:
            words = "one whole disc, not scored"
        elif len(ends) == 1:
            words = "one piece: scores wider apart than the disc"
        at = 0, min(top + 0.04 * self.high, 0.88 * self.high)
        self.say_gap = self._text(*at, words, 9.5, ACCENT, ha="center", fontweight="bold")
        return f"The piece cut across its scores, {size} high topped: {words}."


def _thick(dome, ends, thickness, points=13):
    """Return outlines (n, points, 2) [mm] of slices of topping between points (n, 2, 2) of the dome [cm]."""
    middle, radius = np.array([0.0, dome.height - dome.sphere_radius]), dome.sphere_radius
    turns = np.arctan2(*np.moveaxis(ends - middle, -1, 0))  # of both ends, from the axis
    turn = np.linspace(*turns.T, points, axis=1)
    arc = np.stack([np.sin(turn), np.cos(turn)], axis=-1)
    return 10 * (middle + np.hstack([radius * arc, (radius + thickness) * arc[:, ::-1]]))


class Bun(Piece):
    """A Formula's baked piece from above and, beneath, cut across its scores, to one scale [mm].

    before: another formula, whose disc is as thick: more topping then makes it wider, as far as the piece takes it.
    """

    size, edges = (396, 260), (0.0, 0, 1.0, 24.18)
    told = None

    def _begin(self, formula, before=None):
        (wide, high), dome = self.size, piece_domes(before or formula)["baked"]
        self.ax.set_axis_off()
        title(self.ax, "The baked piece, to scale: from above, and cut")
        self.unit = float(10 * max(dome.width, dome.height))
        top = 1.76 * self.unit
        across = top * wide / (high - self.edges[3])
        self.ax.set(xlim=(-0.6 * self.unit, across - 0.6 * self.unit), ylim=(-0.07 * self.unit, top - 0.07 * self.unit))
        self.middle = 1.14 * self.unit

    def _move(self, formula, before=None):
        told = formula.pieces, formula.losses, before
        if told == self.told:  # all that it shows hangs on
            return self.alt
        self.told = told
        first = fit_as_thick(before, before) if before else None
        fit, dome = fit_as_thick(formula, before or formula), piece_domes(formula)["baked"]
        raised, above, cut, rim = (0, self.middle), [], [], 0.0
        size = f"{figure(10 * dome.width, 0)} mm wide, {figure(10 * dome.height, 0)} mm high"
        words = ["no topping", size]
        if fit:
            above = [10 * outline[:, :2] + raised for outline in fit.segments("baked")]
            cut = _thick(dome, fit.section("baked"), fit.thickness)
            if first and first.topping != fit.topping:
                rim = 10 * float(dome.at(first.disc / 2)[0])
            words = [
                f"{figure(fit.topping)} g on {figure(fit.piece, 0)} g",
                f"disc {figure(10 * fit.disc, 0)} mm",
                f"{figure(10 * fit.thickness)} mm thick",
                f"covers {figure(fit.cover('baked'), 0)} % baked",
                size,
            ]
        for outline, crust in ((_RING * dome.width / 2 + raised, above), (10 * np.column_stack(dome.profile()), cut)):
            self._dough(outline)
            self._crust(crust)
        self._line(*(_RING * rim / 10 + raised).T, BASELINE, linewidth=1.4, zorder=5, **_DASHED)
        self.edge = max((float(outline[:, 0].max()) for outline in above), default=0.0)
        if formula is before or before is None:
            self._first = self.edge, 10 * float(dome.sphere_radius)
        self.says = []
        for n, said in enumerate([*words, "", "", ""][:5]):
            look = {"va": "center", "fontweight": "normal" if n else "bold"}
            at = 0.7 * self.unit, self.middle + (1.5 - n) * 0.14 * self.unit
            self.says.append(self._text(*at, said, *((8.5, INK) if n else (9.5, ACCENT)), None, **look))
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


class DiscOnDome(Piece):
    """A bun from the side under its disc of topping, and the disc lying flat beneath, to one scale [mm].

    The value is (Dome [cm], disc or None while it is asked for [mm], how far it lies on the tray all round [mm]);
    title: of the axis; mark: ("", how wide somebody says the disc is).
    """

    size, edges = (400, 236), (0.01, 38.94, 0.98, 64.9)
    reach, high = 90.0, 48.0  # half the width and the height of the axis [mm]

    def _begin(self, shown, title, **_):
        frame(self.ax, title, "mm", bare="y")
        self.ax.set(xlim=(-self.reach, self.reach), ylim=(-0.62 * self.high, self.high), aspect="equal")

    def _move(self, shown, mark, **_):
        """Lay the disc on the dome: as large an area is covered, the rest lies on the tray; None is no disc yet."""
        dome, disc, on_tray = shown
        seen, low, wide = disc is not None, -0.2 * self.high, mark[1]
        self._dough(10 * np.column_stack(dome.profile()))
        rim, top = 10 * dome.radius, 10 * dome.height
        x, y = (10 * values for values in dome.at(np.linspace(-1, 1, 61) * min(disc or 0, 10 * dome.whole_disc) / 20))
        if on_tray:
            x, y = np.hstack([-rim - on_tray, x, rim + on_tray]), np.hstack([0, y, 0])
        half = (disc or 0) / 2
        edge, crust = ({"linewidth": w, "zorder": z, "solid_capstyle": "butt"} for w, z in ((7, 3), (5, 4)))
        self.crust, self.flat = (
            [self._line(*at, CRUST_EDGE, **edge), self._line(*at, CRUST, **crust)]  # the edge, the topping over it
            for at in ((x, y), ([-half, half], [low, low]))
        )
        slant = ([0, rim], [top, 0]) if seen else ([], [])
        self._line(*slant, ACCENT, linewidth=1.4, zorder=5, **_DASHED)
        set_at = ([-wide / 2, wide / 2], [1.9 * low] * 2) if wide else ([], [])
        self.mark = self._line(*set_at, WRONG, linewidth=2.4, zorder=8)
        middle, bold = {"ha": "center", "va": "top"}, {"fontweight": "bold"}
        slant = f"top to rim: {figure(5 * dome.whole_disc)} mm" * seen
        self._text(-0.2 * rim, 0.3 * top, slant, 9.5, ACCENT, _FLOUR, **middle, **bold)
        flat = f"the disc, flat: {figure(disc, 0)} mm wide" if seen else ""
        self._text(0, 1.2 * low, flat, 9.5, INK, **middle)
        set_at = f"your mark: {figure(wide, 0)} mm wide" if wide else ""
        self._text(0, 2.1 * low, set_at, 9, WRONG, **middle, **bold)
