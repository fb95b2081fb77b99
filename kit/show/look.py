"""The look of every chart: one colour and hatch for each thing, the type, and the frame of an axis."""

from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from .colours import ACCENT as ACCENT
from .colours import ACCENT_LIGHT as ACCENT_LIGHT
from .colours import BASELINE as BASELINE
from .colours import HAIR, INK, QUIET
from .colours import WRONG as WRONG

CRUST, CRUST_EDGE = "#c9a66b", "#6b5a35"  # a drawn topping; the dough beneath it is flour's colour
PICTOGRAMS = ("Noto Emoji", "Segoe UI Emoji", "Symbola")  # fonts of outlines; matplotlib reads none of colours
SMALL = 8.3  # pt, 11 px on a page
PIXELS = 96  # dots per inch, so that 9 points are 12 px on a page

# Steps of lightness from milk to water keep them apart in a grey print; the hatch does where they touch.
COLOURS = {
    "flour": "#efe6d2",
    "milk": "#d3e8f5",
    "fat": "#f2c14e",
    "egg": "#e8884a",
    "sugar": "#a85c92",
    "water": "#2f6fa3",
    "yeast": "#9a8f6a",
    "rest": "#bdbdbd",
}
HATCHES = {"flour": "", "milk": "..", "fat": "//", "egg": "\\\\", "sugar": "xx", "water": "", "yeast": "--", "rest": ""}
ON_DARK = {"water", "sugar"}
CLASS_FILLS = ("#ffffff", "#f6f3ec", "#ebe4d3", "#dccfb2", "#c8b58c")

_GROUPS = {"egg": "egg", "fat": "fat", "dairy": "milk", "sugar": "sugar"}


def thing(row):
    """Return which of the coloured things a row of the ingredients is.

    >>> thing({"kind": "oil", "group": "fat"}), thing({"kind": "spice", "group": "flavour"})
    ('fat', 'rest')
    """
    found = _GROUPS.get(row["group"], row["kind"])
    return found if found in COLOURS else "rest"


def filled(name):
    """Return the look of an area of one of the coloured things: its colour and its hatch."""
    return {
        "facecolor": COLOURS[name],
        "edgecolor": INK,
        "linewidth": 0.7,
        "hatch": HATCHES[name],
        "hatchcolor": "#00000050",
    }


def figure(width, height):
    """Return a Figure of so many pixels, with the house's type."""
    made = Figure(figsize=(width / PIXELS, height / PIXELS), dpi=PIXELS, facecolor="white")
    FigureCanvasAgg(made)  # which measures words before anything is drawn
    return made


def as_written(artist):
    """Have all words of a figure or an axis drawn as they are: a name with two dollar signs is no equation.

    A letter that the house's type lacks, such as a little picture, is taken from another installed font.
    """
    installed = font_manager.get_font_names()
    more = [name for name in PICTOGRAMS if name in installed]
    for text in artist.findobj(Text):
        text.set_parse_math(False)
        if more and text.get_fontweight() == "normal":  # of a bold one that is not there matplotlib complains
            text.set_fontfamily([*dict.fromkeys([*text.get_fontfamily(), *more])])


def title(ax, words, size=9.5, pad=6):
    """Write the title of an axis, at its left."""
    ax.set_title(words, loc="left", fontsize=size, fontweight="bold", color=INK, pad=pad)


def note(ax, words, down=40, va="bottom"):
    """Write a quiet line so many points below an axis."""
    ax.annotate(words, (0, 0), (0, -down), "axes fraction", "offset points", fontsize=SMALL, color=QUIET, va=va)


def frame(ax, words="", x="", y="", grid="", bare=""):
    """Give an axis the house's frame: title left, units in the axis titles, hairlines only where asked.

    bare: the directions, x or y, that have neither line nor ticks.
    """
    ax.set_facecolor("white")
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for direction in bare:
        ax.spines["bottom" if direction == "x" else "left"].set_visible(False)
        ax.set(**{f"{direction}ticks": []})
    for side in ("left", "bottom"):
        ax.spines[side].set_color(QUIET)
        ax.spines[side].set_linewidth(0.8)
    ax.tick_params(labelsize=8.5, colors=QUIET, length=3, width=0.8)
    title(ax, words)
    ax.set_xlabel(x, fontsize=8.5, color=INK)
    ax.set_ylabel(y, fontsize=8.5, color=INK)
    if grid:
        ax.grid(axis=grid, color=HAIR, linewidth=0.6)
        ax.set_axisbelow(True)
