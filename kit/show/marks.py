"""Moving parts of a chart: words, lines and marks in the house's look, and setting them to what changed."""

import functools

import numpy as np
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from .look import ACCENT, BASELINE, INK, SMALL, figure
from .overlay import moving


def halo(colour="white"):
    """Return what keeps words readable over lines."""
    return [withStroke(linewidth=2.5, foreground=colour)]


def text(ax, words="", size=SMALL, colour=INK, behind="white", **style):
    """Return a moving text of an axis."""
    style = {"va": "bottom", "zorder": 6, "path_effects": halo(behind) if behind else []} | style
    return moving(ax.text(0, 0, words, fontsize=size, color=colour, **style))


def line(ax, colour, **style):
    """Return a moving line without points yet."""
    return moving(ax.plot([], [], color=colour, **style)[0])


def shape(ax, face, edge="none", **style):
    """Return a moving area of an axis, or many in one, without outlines yet."""
    return moving(ax.add_patch(PathPatch(Path([(0, 0)]), facecolor=face, edgecolor=edge, **style)))


def dot(ax, filled):
    """Return a moving mark: the variant's filled, the baseline's hollow."""
    if filled:
        return line(
            ax, ACCENT, marker="o", markersize=8.5, markeredgecolor="white", linestyle="", zorder=9, clip_on=False
        )
    look = {"markerfacecolor": "white", "markeredgecolor": BASELINE, "markeredgewidth": 2}
    return line(ax, BASELINE, marker="o", markersize=9, linestyle="", zorder=8, clip_on=False, **look)


# Setting a thing to what it is would have it written again, so these look first, and take no rounding for a move.


def differs(before, after):
    """Say whether two rows of numbers differ by more than rounding."""
    return len(before) != len(after) or any(abs(a - b) > 1e-6 for a, b in zip(before, after, strict=True))


def place(word, x, y, words=None):
    """Put a text at a place, with new words when they are given."""
    if differs(word.get_position(), (x, y)):
        word.set_position((x, y))
    if words is not None:
        word.set_text(words)


def beside(word, x, y, words, gap, right):
    """Put words beside a place, a gap right of it or left of it."""
    align(word, "left" if right else "right")
    place(word, x + (gap if right else -gap), y, words)


def fill(texts, found):
    """Put (x, y, words) of each into these texts, and hide those that are left over."""
    for n, word in enumerate(texts):
        visible(word, n < len(found))
        if n < len(found):
            place(word, *found[n])


def strokes(curve, x, y):
    """Draw a line in pieces that do not touch: a row of x and of y for each piece."""
    gaps = np.full((len(x), 1), np.nan)
    trace(curve, np.hstack([x, gaps]).ravel(), np.hstack([y, gaps]).ravel())


def trace(curve, x, y):
    """Draw a line through these points."""
    if differs(curve.get_xdata(), x) or differs(curve.get_ydata(), y):
        curve.set_data(x, y)


def bounds(patch, *given):
    """Set a rectangle's left, bottom, width and height."""
    if differs((patch.get_x(), patch.get_y(), patch.get_width(), patch.get_height()), given):
        patch.set_bounds(*given)


def visible(artist, shown):
    """Show an artist or hide it."""
    if artist.get_visible() != bool(shown):
        artist.set_visible(bool(shown))


def align(word, side):
    """Set the side of its place that a text stands on."""
    if word.get_ha() != side:
        word.set_ha(side)


def style(word, colour, weight="normal"):
    """Set a text's colour and weight."""
    if word.get_color() != colour:
        word.set_color(colour)
    if word.get_fontweight() != weight:
        word.set_fontweight(weight)


def clear(ax, dot, words):
    """Show each (word, whether it is wanted) that lies in its axis, not over the dot nor over one named before it."""
    x, y = ax.transData.transform((dot.get_xdata()[0], dot.get_ydata()[0]))
    taken, room = [Bbox.from_bounds(x - 7, y - 7, 14, 14)], ax.bbox
    for word, wanted in words:
        if wanted:
            x, y = word.get_transform().transform(word.get_unitless_position())
            box = _extent(word.get_text(), *(get(word) for get in _LOOKS)).translated(x, y)
            inside = room.x0 <= box.x0 and box.x1 <= room.x1 + 8 and room.y0 <= box.y0 and box.y1 <= room.y1
            if wanted := inside and not box.count_overlaps(taken):
                taken.append(box)
        visible(word, wanted)


_LOOKS = (
    Text.get_fontproperties,
    Text.get_rotation,
    Text.get_horizontalalignment,
    Text.get_verticalalignment,
)


@functools.lru_cache(maxsize=512)
def _extent(words, font, rotation, ha, va):
    """Return the box [px] of words that stand at 0, 0."""
    bench = figure(1, 1)
    written = bench.text(0, 0, words, fontproperties=font, rotation=rotation, rotation_mode="anchor", ha=ha, va=va)
    return written.get_window_extent(bench.canvas.get_renderer())


def outlines(patch, many):
    """Give one patch many closed outlines; setting a path does not say by itself that it has changed."""
    # no command closes them, so that matplotlib leaves out points on the way that nobody sees
    closed = [Path(np.vstack([outline, outline[:1]])) for outline in many]
    patch.set_path(Path.make_compound_path(*closed) if closed else Path(np.zeros((1, 2))))
    patch.stale = True


def boxes(patch, given):
    """Give one patch many rectangles: left, bottom, right and top of each."""
    outlines(patch, [np.array([(a, low), (b, low), (b, high), (a, high)]) for a, low, b, high in given])
