"""Live charts: what keeps still is drawn once, what moves is laid over it as SVG marks.

Saving a whole matplotlib figure takes tens of milliseconds, most of it for axes, ticks and labels that
stay as they are. Here they become the background of an `<svg>`; only the marks are written anew.
"""

import functools
import io
import itertools
import uuid
from operator import itemgetter

import matplotlib.image
import numpy as np
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cbook import flatten
from matplotlib.colors import to_hex, to_rgba
from matplotlib.font_manager import weight_dict
from matplotlib.hatch import get_path as hatch_path
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from ..page import address, escape
from .look import as_written

_LETTERS = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C"}
_CAPS = {"projecting": "square"}
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}


def moving(artists):
    """Mark a matplotlib artist, or a list or container of them, as moving, and return it.

    Moving text is shown letter by letter: a name holding two dollar signs is no equation.

    >>> from matplotlib.figure import Figure
    >>> line, = moving(Figure().subplots().plot([0, 1], [0, 1]))
    >>> line.get_animated()
    True
    """
    for artist in flatten([artists]):
        artist.set_animated(True)  # which matplotlib itself leaves out when it draws a figure
        if isinstance(artist, Text):
            artist.set_parse_math(False)
    return artists


class Overlay:
    """A figure in two layers: a still picture and the marks that move over it.

    Lay out the figure and set its limits first: from here on its axes keep their places.

    >>> from matplotlib.figure import Figure
    >>> figure = Figure()
    >>> _ = moving(figure.text(0.5, 0.5, "proofed"))
    >>> sum("proofed" in mark for mark in Overlay(figure).parts().values())
    1
    """

    def __init__(self, figure):
        self.figure = figure
        self.name = f"chart-{uuid.uuid4().hex[:8]}"  # two notebooks open side by side share one page
        self._canvas = FigureCanvasAgg(figure)
        as_written(figure)
        self._writer = _MarkWriter(figure, self.name)
        figure.draw_without_rendering()
        figure.set_layout_engine("none")

    @functools.cached_property
    def ground(self):
        """The still picture as an address, twice as fine as it is shown."""
        return address(self.picture(192, moving=False))

    @property
    def names(self):
        """Return the names of its parts: what the moving artists share, then each, the lowest first."""
        return [f"{self.name}-{n}" for n in ("shared", *range(len(self._moving(hidden=True))))]

    def parts(self):
        """Return {name: SVG} of the moving artists, and of what they share; hidden ones are empty."""
        shown = self._writer.each(self._moving())
        marks = [shown.get(artist, "") for artist in self._moving(hidden=True)]
        return dict(zip(self.names, [self._writer.shared(), *marks], strict=True))

    def picture(self, dpi=150, moving=True):
        """Return still picture and marks, or the still picture alone, as PNG bytes at `dpi` [pixels/inch]."""
        usual, out = self.figure.dpi, io.BytesIO()
        self.figure.dpi = dpi
        try:
            self._canvas.draw()  # leaves out what moves ...
            for artist in self._moving() if moving else ():
                changed = artist.stale
                artist.draw(self._canvas.get_renderer())  # ... which then lies on top, as in the page
                artist.stale = changed  # the page has not seen it yet
            pixels = np.asarray(self._canvas.buffer_rgba())
        finally:
            self.figure.dpi = usual
        matplotlib.image.imsave(out, pixels, format="png", dpi=dpi)
        return out.getvalue()

    def _moving(self, hidden=False):
        """Return the visible moving artists, or all of them, the lowest first."""
        owners = [(0, self.figure), *((axes.zorder, axes) for axes in self.figure.axes if axes.get_visible())]
        found = [
            (layer + (owner is self.figure) * artist.zorder, artist.zorder, artist)
            for layer, owner in owners
            for artist in owner.get_children()
            if artist.get_animated() and (hidden or artist.get_visible())
        ]
        return [artist for *_, artist in sorted(found, key=itemgetter(0, 1))]


class _MarkWriter(RendererBase):
    """Write what matplotlib's artists ask a renderer to draw as SVG elements."""

    def __init__(self, figure, name):
        super().__init__()
        self._figure, self._name = figure, name
        self._written, self._definitions = {}, {}

    def each(self, artists):
        """Return {artist: its markup}, a `<g>` each."""
        self._size = self._figure.bbox.size
        for artist in artists:
            if artist.stale or artist not in self._written:  # what has not changed is not written again
                self._written[artist] = self._mark(artist)
        return {artist: self._written[artist] for artist in artists}

    def shared(self):
        """Return the definitions that marks refer to."""
        return "".join(text.format(key) for text, key in self._definitions.items())

    def _mark(self, artist):
        self._artist, self._drawn, self._halo = artist, [], ""
        effects = artist.get_path_effects()
        if isinstance(artist, Text) and effects:  # left to matplotlib they would turn the words into outlines
            (halo,) = (effect._gc for effect in effects)
            width = self.points_to_pixels(halo["linewidth"])
            self._halo = f' stroke="{to_hex(halo["foreground"])}" stroke-width="{width:.2f}" paint-order="stroke"'
            artist.set_path_effects([])
        artist.draw(self)
        if self._halo:
            artist.set_path_effects(effects)
            artist.stale = False
        runs = itertools.groupby(self._drawn, key=itemgetter(0))
        return "".join(["<g>", *(f"<g{clip}>{''.join(text for _, text in run)}</g>" for clip, run in runs), "</g>"])

    def _define(self, text):
        return self._definitions.setdefault(text, f"{self._name}-{len(self._definitions)}")

    def _put(self, gc, markup):
        clip, outline, (path, transform) = "", "", gc.get_clip_path()
        if path is not None:
            outline = _outline(path, transform, self._size[1])
        elif (box := gc.get_clip_rectangle()) is not None:
            left, bottom, width, height = box.bounds
            outline = f"M{left:.1f},{self._size[1] - bottom - height:.1f}h{width:.1f}v{height:.1f}h{-width:.1f}Z"
        if outline:
            key = self._define(f'<clipPath id="{{}}"><path d="{outline}"/></clipPath>')
            clip = f' clip-path="url(#{key})"'
        self._drawn.append((clip, markup))

    def _fill(self, gc, face):
        return "none" if face is None else _colour(tuple(face), gc.get_alpha() if gc.get_forced_alpha() else None)

    def _stroke(self, gc):
        if not (width := self.points_to_pixels(gc.get_linewidth())):
            return ""
        cap, dashed, (offset, dashes) = gc.get_capstyle(), "", gc.get_dashes()
        if dashes is not None:
            lengths = " ".join(f"{self.points_to_pixels(dash):.1f}" for dash in dashes)
            dashed = f' stroke-dasharray="{lengths}" stroke-dashoffset="{self.points_to_pixels(offset):.1f}"'
        ends = _unless("miter", stroke_linejoin=gc.get_joinstyle())
        ends += _unless("butt", stroke_linecap=_CAPS.get(cap, cap))
        return f' stroke="{self._fill(gc, gc.get_rgb())}" stroke-width="{width:.2f}"{ends}{dashed}'

    def draw_path(self, gc, path, transform, rgbFace=None):
        fill, stroke = self._fill(gc, rgbFace), self._stroke(gc)
        outline = _outline(path, transform, self._size[1])
        if gc.get_hatch():
            if fill != "none":
                self._put(gc, f'<path d="{outline}" fill="{fill}"/>')
            colour = self._fill(gc, gc.get_hatch_color())
            line = self.points_to_pixels(gc.get_hatch_linewidth())
            fill = f"url(#{self._define(_hatch(gc.get_hatch(), colour, line, self.points_to_pixels(72)))})"
        if outline:
            self._put(gc, f'<path d="{outline}" fill="{fill}"{stroke}/>')

    def draw_markers(self, gc, marker_path, marker_trans, path, trans, rgbFace=None):
        places = trans.transform(path.vertices)
        places = places[np.isfinite(places).all(axis=1)]
        if len(places):
            key = self._define(f'<path id="{{}}" d="{_outline(marker_path, marker_trans, 0)}"/>')
            uses = "".join(f'<use href="#{key}" x="{x:.1f}" y="{self._size[1] - y:.1f}"/>' for x, y in places.tolist())
            self._put(gc, f'<g fill="{self._fill(gc, rgbFace)}"{self._stroke(gc)}>{uses}</g>')

    def draw_text(self, gc, x, y, s, prop, angle, ismath=False, mtext=None):
        if ismath:
            return super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
        anchor = "start"
        if mtext is not None and angle == 0:  # holds its place where the reader's font is wider than ours
            x, anchor = mtext.get_transform().transform(mtext.get_unitless_position())[0], _ANCHORS[mtext.get_ha()]
        turn = f' transform="rotate({-angle:.1f} {x:.1f} {y:.1f})"' if angle else ""
        weight = weight_dict.get(prop.get_weight(), prop.get_weight())
        font = f'font-size="{self.points_to_pixels(prop.get_size_in_points()):.2f}"{_unless(400, font_weight=weight)}'
        font += _unless("normal", font_style=prop.get_style()) + _unless("start", text_anchor=anchor)
        look = f'fill="{self._fill(gc, gc.get_rgb())}"{self._halo} {font}{turn}'
        self._put(gc, f'<text x="{x:.1f}" y="{y:.1f}" {look}>{escape(s)}</text>')

    def get_text_width_height_descent(self, s, prop, ismath):
        """Measure words; those that an anchor holds in their place are as high as any and need no width."""
        if isinstance(self._artist, Text) and not self._artist.get_rotation() and "\n" not in self._artist.get_text():
            return _size_of_any(prop)
        return super().get_text_width_height_descent(s, prop, ismath)

    def get_canvas_width_height(self):
        return self._size

    def points_to_pixels(self, points):
        return points * self._figure.dpi / 72


@functools.lru_cache(maxsize=256)
def _size_of_any(font):
    return RendererBase().get_text_width_height_descent("lp", font, False)


def _outline(path, transform, height):
    """Return the SVG path data of `path`, its y axis turned to run down from `height` [px]; unknown points break it."""
    path = path.cleaned(transform, remove_nans=True, simplify=path.should_simplify, curves=True)
    template, with_point = _template(path.codes.tobytes())
    points = path.vertices[with_point]
    points[:, 1] = height - points[:, 1]
    return template % tuple(points.ravel().tolist())


@functools.lru_cache(maxsize=1024)
def _template(codes):
    """Return the letters of path data with room for the points, and the indices of the codes that hold one."""
    parts, with_point, before = [], [], None
    for index, code in enumerate(codes):
        if code == Path.CLOSEPOLY:
            parts.append("Z")
        elif code != Path.STOP:
            # A letter holds until the next, but a point that follows an M is a line to it.
            parts.append(("" if code == before != Path.MOVETO else _LETTERS[code]) + "%.1f,%.1f")
            with_point.append(index)
        before = code
    return " ".join(parts), np.array(with_point, dtype=int)


def _unless(usual, **attribute):
    """Return an SVG attribute, or nothing where it says what holds anyway."""
    ((name, value),) = attribute.items()
    return "" if value == usual else f' {name.replace("_", "-")}="{value}"'


@functools.lru_cache(maxsize=1024)
def _colour(rgba, alpha):
    colour = to_rgba(rgba, alpha)
    return to_hex(colour, keep_alpha=colour[3] < 1) if colour[3] else "none"


@functools.lru_cache(maxsize=64)
def _hatch(hatch, colour, line, inch):
    """Return an SVG pattern of matplotlib's hatch, `line` and `inch` in pixels.

    matplotlib repeats a square inch at density 6; a third of it at density 2 repeats alike in a ninth of the markup.
    """
    side = inch / 3
    outline = _outline(hatch_path(hatch, 2), Affine2D().scale(side), side)
    return (
        f'<pattern id="{{}}" patternUnits="userSpaceOnUse" width="{side:.4f}" height="{side:.4f}">'
        f'<path d="{outline}" fill="{colour}" stroke="{colour}" stroke-width="{line:.2f}"/></pattern>'
    )
