"""What every chart has in common: it shows a value, follows another, and says in words what it shows.

Its marks are in the house's look: said anew for each value, made once, then moved.
"""

import functools

import numpy as np
from matplotlib.patches import PathPatch, Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from . import look
from .look import ACCENT, BASELINE, INK, SMALL
from .overlay import Overlay, moving
from .panel import Still

_DOT = {"marker": "o", "linestyle": "", "clip_on": False}
_FILLED = _DOT | {"color": ACCENT, "markersize": 8.5, "markeredgecolor": "white", "zorder": 9}
_HOLLOW = _DOT | {"color": BASELINE, "markersize": 9, "markerfacecolor": "white", "markeredgecolor": BASELINE}
_HOLLOW |= {"markeredgewidth": 2, "zorder": 8}


@functools.cache
def halo(colour="white"):
    """Return what keeps words readable over lines; nothing for no colour."""
    return [withStroke(linewidth=2.5, foreground=colour)] if colour else []


class Chart:
    """One value drawn on one axis; in a notebook a picture with its words.

    value: what it shows; ax: a matplotlib axis to draw on, else a figure of its own; beside: what a kind of chart can
    show with it, such as `before`, one of the same kind, hollow and grey. Where a kind follows dials `_move` says all
    marks, for every value the same ones in the same order.
    """

    size: tuple = (430, 400)  # px of a figure of its own
    # where the axis lies in it: left [share], bottom [px], width [share], height left over beneath and above [px]
    edges: tuple = (0.12, 56, 0.845, 82)
    alt = ""  # what is to be seen, in words

    def __init__(self, value, ax=None, **beside):
        self.value, self.beside, self._made = value, beside, []
        if ax is None:
            (_, high), (left, bottom, wide, rest) = self.size, self.edges
            ax = look.figure(*self.size).add_axes((left, bottom / high, wide, 1 - rest / high))
        self.ax = ax
        self._begin(value, **beside)
        self.update(value, **beside)

    def _begin(self, value, **beside):
        """Draw what stays."""

    def _move(self, value, **beside):
        """Say the marks of a value; return in words what is then to be seen."""

    def update(self, value, **beside):
        """Show another value of the same kind."""
        self.value, self._turn = value, 0
        self.alt = self._move(value, **beside)

    def still(self):
        """Return (width [px], PNG, words)."""
        figure = self.ax.figure
        return figure.bbox.width, Overlay(figure).picture(), self.alt

    def _repr_html_(self):
        return Still([self.still()])._repr_html_()

    # its marks

    def _mark(self, make, name, where, **look):
        """Return the mark whose turn it is, made by make() at the first value; of place and look what differs is set.

        name: what its place is called; where: that.
        """
        if self._turn == len(self._made):
            self._made.append((moving(make()), None, {}))
        artist, was, looked = self._made[self._turn]
        changed = {} if looked == look else {each: look[each] for each in look if looked.get(each) != look[each]}
        if not _alike(was, where):
            changed[name] = where
        for each, value in changed.items():
            getattr(artist, f"set_{each}")(value)
            artist.stale = True  # which setting a path does not say by itself
        self._made[self._turn] = artist, where, look
        self._turn += 1
        return artist

    def _text(self, x, y, words, size=SMALL, color=INK, behind="white", **look):
        """Return words at a place."""
        usual = {"va": "bottom", "zorder": 6, "path_effects": halo(behind), "visible": bool(words)}
        look = {"fontsize": size, "color": color} | usual | look
        return self._mark(lambda: self.ax.text(0, 0, ""), "position", (x, y), text=words, **look)

    def _texts(self, room, found, *given, **look):
        """Return as many texts as there is room for; found: (x, y, words) of those that are not hidden."""
        found = [*found, *[(0.0, 0.0, "")] * room][:room]
        return [self._text(*each, *given, **look) for each in found]

    def _line(self, x, y, color, **look):
        """Return a line through these points."""
        return self._mark(lambda: self.ax.plot([], [])[0], "data", np.array([x, y], float), color=color, **look)

    def _strokes(self, x, y, color, **look):
        """Return a line in pieces that do not touch: a row of x and of y for each piece."""
        x, y = (np.hstack([each, np.full((len(each), 1), np.nan)]).ravel() for each in (x, y))
        return self._line(x, y, color, **look)

    def _dot(self, x, y, filled, **look):
        """Return a mark, or many: the variant's filled, the baseline's hollow."""
        return self._line(np.atleast_1d(x), np.atleast_1d(y), **(_FILLED if filled else _HOLLOW) | look)

    def _box(self, *bounds, **look):
        """Return a rectangle: left, bottom, width and height."""
        return self._mark(lambda: self.ax.add_patch(Rectangle((0, 0), 0, 0)), "bounds", bounds, **look)

    def _outline(self, points, **look):
        """Return an area of one closed outline."""
        return self._mark(lambda: self.ax.add_patch(Polygon(points)), "xy", points, **look)

    def _area(self, outlines, facecolor, edgecolor="none", **look):
        """Return many areas as one mark, each closed."""
        # no command closes them, so that matplotlib leaves out points on the way that nobody sees
        points = np.vstack([part for outline in outlines for part in (outline, outline[:1])] or np.zeros((1, 2)))
        codes = np.full(len(points), Path.LINETO)
        codes[np.cumsum([0, *(len(outline) + 1 for outline in outlines[:-1])])] = Path.MOVETO
        look |= {"facecolor": facecolor, "edgecolor": edgecolor}
        return self._mark(lambda: self.ax.add_patch(PathPatch(Path([(0, 0)]))), "path", Path(points, codes), **look)

    def _boxes(self, given, facecolor, edgecolor="none", **look):
        """Return many rectangles as one mark: left, bottom, right and top of each."""
        corners = [np.array([(a, low), (b, low), (b, high), (a, high)]) for a, low, b, high in given]
        return self._area(corners, facecolor, edgecolor, **look)

    def _clear(self, dot, words):
        """Show each (word, whether it is wanted) that lies in the axis, not over the dot nor over one named before."""
        x, y = self.ax.transData.transform((dot.get_xdata()[0], dot.get_ydata()[0]))
        taken, room = [Bbox.from_bounds(x - 7, y - 7, 14, 14)], self.ax.bbox
        for word, wanted in words:
            if wanted:
                x, y = word.get_transform().transform(word.get_unitless_position())
                box = _extent(word.get_text(), *(get(word) for get in _LOOKS)).translated(x, y)
                inside = room.x0 <= box.x0 and box.x1 <= room.x1 + 8 and room.y0 <= box.y0 and box.y1 <= room.y1
                if wanted := inside and not box.count_overlaps(taken):
                    taken.append(box)
            if word.get_visible() != bool(wanted):
                word.set_visible(bool(wanted))


def _alike(before, after):
    """Return whether a mark lies where it did, rounding apart. One area is never taken for another."""
    if before is None or isinstance(after, Path):
        return False
    if isinstance(after, tuple):
        return not any(abs(a - b) > 1e-6 for a, b in zip(before, after, strict=True))
    return before.shape == after.shape and not np.any(np.abs(before - after) > 1e-6)


_LOOKS = (Text.get_fontproperties, Text.get_rotation, Text.get_horizontalalignment, Text.get_verticalalignment)


@functools.lru_cache(maxsize=512)
def _extent(words, font, rotation, ha, va):
    """Return the box [px] of words that stand at 0, 0."""
    bench = look.figure(1, 1)
    written = bench.text(0, 0, words, fontproperties=font, rotation=rotation, rotation_mode="anchor", ha=ha, va=va)
    return written.get_window_extent(bench.canvas.get_renderer())
