"""Live charts: what keeps still is drawn once, what moves is laid over it as SVG marks.

Saving a whole matplotlib figure takes tens of milliseconds, most of it for axes, ticks and labels that
stay as they are. Here they become the background of an `<svg>`; only the marks are written anew.
"""

import functools
import io
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
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from ..page import address, escape
from .look import as_written
from .look import figure as figure_of

_LETTERS = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C"}
_CAPS = {"projecting": "square"}
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}


def moving(artists):
    """Mark a text, line or patch of matplotlib, or a list or container of them, as moving, and return it.

    Moving text is shown letter by letter, and turns about its place: a name holding two dollar signs is no equation.

    >>> from matplotlib.figure import Figure
    >>> line, = moving(Figure().subplots().plot([0, 1], [0, 1]))
    >>> line.get_animated()
    True
    """
    for artist in flatten([artists]):
        artist.set_animated(True)  # which matplotlib itself leaves out when it draws a figure
        if isinstance(artist, Text):
            artist.set_parse_math(False)
            artist.set_rotation_mode("anchor")
    return artists


class Overlay:
    """A figure in two layers: a still picture and the marks that move over it.

    Lay out the figure and set its limits first: from here on its axes keep their places, and no mark is added.

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
        figure.draw_without_rendering()
        figure.set_layout_engine("none")
        owners = [(0, figure), *((axes.zorder, axes) for axes in figure.axes)]
        found = [
            (layer + (owner is figure) * artist.zorder, artist.zorder, artist)
            for layer, owner in owners
            for artist in owner.get_children()
            if artist.get_animated()
        ]
        self._moving = [artist for *_, artist in sorted(found, key=itemgetter(0, 1))]  # the lowest first
        self._written, self._definitions = {}, {}
        # of its parts: what the moving artists share, then each
        self.names = [f"{self.name}-{n}" for n in ("shared", *range(len(self._moving)))]

    @functools.cached_property
    def ground(self):
        """The still picture as an address, twice as fine as it is shown."""
        return address(self.picture(192, moving=False))

    def parts(self):
        """Return {name: SVG} of the moving artists, and of what they share; hidden ones are empty."""
        for artist in self._moving:
            if artist.get_visible() and (artist.stale or artist not in self._written):  # else it is as it was
                self._written[artist] = self._mark(artist)
                artist.stale = False
        marks = [self._written[artist] if artist.get_visible() else "" for artist in self._moving]
        shared = "".join(text.format(key) for text, key in self._definitions.items())
        return dict(zip(self.names, [shared, *marks], strict=True))

    def picture(self, dpi=150, moving=True):
        """Return still picture and marks, or the still picture alone, as PNG bytes at `dpi` [pixels/inch]."""
        usual, out = self.figure.dpi, io.BytesIO()
        self.figure.dpi = dpi
        try:
            self._canvas.draw()  # leaves out what moves ...
            for artist in self._moving if moving else ():
                changed = artist.stale
                artist.draw(self._canvas.get_renderer())  # ... which then lies on top, as in the page
                artist.stale = changed  # the page has not seen it yet
            pixels = np.asarray(self._canvas.buffer_rgba())
        finally:
            self.figure.dpi = usual
        matplotlib.image.imsave(out, pixels, format="png", dpi=dpi)
        return out.getvalue()

    # an artist as SVG

    def _mark(self, artist):
        write = self._text if isinstance(artist, Text) else self._line if isinstance(artist, Line2D) else self._patch
        clip, box = "", artist.get_clip_box()
        if box is not None and artist.get_clip_on():
            left, bottom, width, height = box.bounds
            outline = f"M{left:.1f},{self._down(bottom + height):.1f}h{width:.1f}v{height:.1f}h{-width:.1f}Z"
            key = self._define(f'<clipPath id="{{}}"><path d="{outline}"/></clipPath>')
            clip = f' clip-path="url(#{key})"'
        return f"<g{clip}>{write(artist)}</g>"

    def _down(self, y):
        return self.figure.bbox.height - y

    def _define(self, text):
        return self._definitions.setdefault(text, f"{self.name}-{len(self._definitions)}")

    def _outlined(self, artist, path):
        """Return where a path of an artist lies in the picture, as path data."""
        transform = artist.get_transform()
        return _outline(transform.transform_path_non_affine(path), transform.get_affine(), self.figure.bbox.height)

    def _stroke(self, colour, points, join, cap, dashes=(0, None)):
        pixels = self.figure.dpi / 72
        if not points:
            return ""
        (offset, lengths), dashed = dashes, ""
        if lengths:
            lengths = " ".join(f"{length * pixels:.1f}" for length in lengths)
            dashed = f' stroke-dasharray="{lengths}" stroke-dashoffset="{offset * pixels:.1f}"'
        ends = _unless("miter", stroke_linejoin=join) + _unless("butt", stroke_linecap=_CAPS.get(cap, cap))
        return f' stroke="{_colour(colour)}" stroke-width="{points * pixels:.2f}"{ends}{dashed}'

    def _line(self, line):
        drawn, alpha = "", line.get_alpha()
        if line.get_linestyle() != "None" and (outline := self._outlined(line, line.get_path())):
            of = "dash" if line.is_dashed() else "solid"
            join, cap = (getattr(line, f"get_{of}_{end}style")() for end in ("join", "cap"))
            stroke = self._stroke((line.get_color(), alpha), line.get_linewidth(), join, cap, line._dash_pattern)
            drawn = f'<path d="{outline}" fill="none"{stroke}/>'
        places = line.get_transform().transform(line.get_xydata())
        places = places[np.isfinite(places).all(axis=1)]
        if line.get_marker() == "None" or not len(places):
            return drawn
        outline, join, cap = _marker(line.get_marker(), line.get_markersize() * self.figure.dpi / 72)
        key = self._define(f'<path id="{{}}" d="{outline}"/>')
        uses = "".join(f'<use href="#{key}" x="{x:.1f}" y="{self._down(y):.1f}"/>' for x, y in places.tolist())
        stroke = self._stroke((line.get_markeredgecolor(), alpha), line.get_markeredgewidth(), join, cap)
        return f'{drawn}<g fill="{_colour((line.get_markerfacecolor(), alpha))}"{stroke}>{uses}</g>'

    def _patch(self, patch):
        if not (outline := self._outlined(patch, patch.get_path())):
            return ""
        fill, edge = _colour(patch.get_facecolor()), patch.get_edgecolor()
        width = patch.get_linewidth() if edge[3] else 0
        stroke = self._stroke(edge, width, patch.get_joinstyle(), patch.get_capstyle(), patch._dash_pattern)
        if not (hatch := patch.get_hatch()):
            return f'<path d="{outline}" fill="{fill}"{stroke}/>'
        pixels = self.figure.dpi / 72
        pattern = _hatch(hatch, _colour(patch.get_hatchcolor()), patch.get_hatch_linewidth() * pixels, 72 * pixels)
        beneath = "" if fill == "none" else f'<path d="{outline}" fill="{fill}"/>'
        return f'{beneath}<path d="{outline}" fill="url(#{self._define(pattern)})"{stroke}/>'

    def _text(self, text):
        x, y = text.get_transform().transform(text.get_unitless_position()).tolist()
        y, turn, font = self._down(y), text.get_rotation(), text.get_fontproperties()
        weight, pixels = weight_dict.get(font.get_weight(), font.get_weight()), self.figure.dpi / 72
        look = f'fill="{_colour((text.get_color(), text.get_alpha()))}"'
        for halo in text.get_path_effects():
            width = halo._gc["linewidth"] * pixels
            look += f' stroke="{to_hex(halo._gc["foreground"])}" stroke-width="{width:.2f}" paint-order="stroke"'
        look += f' font-size="{font.get_size_in_points() * pixels:.2f}"{_unless(400, font_weight=weight)}'
        look += _unless("normal", font_style=font.get_style()) + _unless("start", text_anchor=_ANCHORS[text.get_ha()])
        look += f' transform="rotate({-turn:.1f} {x:.1f} {y:.1f})"' if turn else ""
        lines = text.get_text().split("\n")
        downs = _baselines(len(lines), font, text.get_va(), text._linespacing, self.figure.dpi)
        return "".join(
            f'<text x="{x:.1f}" y="{y + down:.1f}" {look}>{escape(line)}</text>'
            for line, down in zip(lines, downs, strict=True)
            if line
        )


@functools.lru_cache(maxsize=256)
def _baselines(lines, font, va, linespacing, dpi):
    """Return how far beneath its place each line of a text stands [px]."""
    found = []

    class Heard(RendererBase):
        def draw_text(self, gc, x, y, *given, **more):
            found.append(y - 1)  # of a canvas one pixel high

    figure = figure_of(1, 1)
    figure.dpi = dpi
    written = figure.text(0, 0, "\n".join(["lp"] * lines), fontproperties=font, va=va, linespacing=linespacing)
    written.draw(Heard())
    return found


@functools.lru_cache(maxsize=64)
def _marker(symbol, size):
    """Return the outline of a marker of so many pixels about its place, and how its lines join and end."""
    marker = MarkerStyle(symbol)
    outline = _outline(marker.get_path(), marker.get_transform().frozen().scale(size), 0)
    return outline, marker.get_joinstyle(), marker.get_capstyle()


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
def _colour(given):
    colour = to_rgba(given)
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
