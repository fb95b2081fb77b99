"""The charts of the trial book: bakes laid side by side, the tree of variants, how far what was foreseen was off.

The first column is hollow and grey, what is compared with it filled; pale is what the kitchen's own repeats differ by.
"""

import numpy as np
from matplotlib.patches import Rectangle

from ..words import capital, figure, listing, plural
from . import look
from .chart import Drawn
from .look import ACCENT, ACCENT_LIGHT, BASELINE, INK, QUIET, SMALL
from .marks import halo

ROW = 19.0  # px of a row of the tree
INDENT = 18.0  # px of a generation of it
NAMED = 4  # bakes outside their band named in one chart


def response_of(side, name):
    """Return a Response of a SideBySide by its name or words; its first when there is none of that name."""
    return next((r for r in side.responses if name in (r.name, r.what)), side.responses[0] if side.responses else None)


def _unit(row):
    return "points" if " to " in row.unit else row.unit


class ResponseDots(Drawn):
    """One response of a SideBySide: a dot a bake, the range, the mean, and the repeats' band about the first's mean."""

    @property
    def size(self):
        """As high as its columns need."""
        return 410, 100 + 46.0 * len(self.value.names)

    @property
    def place(self):
        """Above it a title, beneath it two lines."""
        high = self.size[1]
        return 0.06, 66 / high, 0.9, 1 - 96 / high

    def _draw(self, ax, side, response="height"):
        row = response_of(side, response)
        if row is None:
            return _empty(ax, "Nothing was measured yet: enter heights, masses or scores.")
        look.frame(ax, f"{capital(row.what)}: a dot a bake, a bar their mean", f"{row.what}, {row.unit}", bare="y")
        ax.set_ylim(len(side.names) - 0.35, -0.75)
        first, said = row.means[0], []
        for n, (column, bakes, readings, mean) in enumerate(
            zip(side.names, row.bakes, row.readings, row.means, strict=True)
        ):
            limit = row.limits[n - 1] if n and first is not None else None
            if limit is not None:
                ax.add_patch(Rectangle((first - limit, n - 0.2), 2 * limit, 0.4, color=ACCENT_LIGHT, zorder=1))
            colour = ACCENT if n else BASELINE
            fill = {"color": colour, "markerfacecolor": colour if n else "white", "markeredgewidth": 1.6}
            if bakes:
                ax.plot([min(bakes), max(bakes)], [n, n], color=colour, linewidth=1.2)
            ax.plot(bakes, [n] * len(bakes), "o", markersize=6.5, zorder=4, **fill)
            if len(bakes) > 1:
                ax.plot([mean] * 2, [n - 0.2, n + 0.2], color=colour, linewidth=2.4, zorder=5)
            words = f"{figure(mean, row.digits)} {_unit(row)}" if bakes else "not measured"
            said.append(f"{column} {words}")
            counted = f"; {plural(len(bakes), 'bake')}, {plural(readings, 'reading')}" if bakes else ""
            _across(ax, n - 0.4, f"{column}: {words}{counted}", color=INK if n else QUIET)
        if first is not None:
            ax.axvline(first, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=2)
        ax.margins(x=0.12)
        if any(limit is not None for limit in row.limits):
            look.note(ax, "pale: means no farther from the first's than repeats differ", 38, "top")
        return f"{capital(row.what)} of {listing(said)}."


class LineageTree(Drawn):
    """A Lineage of variants as an outline: each beneath its parent and that one's earlier variants, set in by one."""

    place = (0.0, 0.0, 1.0, 1.0)

    @property
    def size(self):
        """A row a variant."""
        return 848, max(ROW * (len(self.value.nodes) + 1.4) + 8, 80)

    def _draw(self, ax, tree, **beside):
        if not tree.nodes:
            return _empty(ax, "No trial yet: enter one.")
        ax.set_axis_off()
        wide, high = ax.get_figure().bbox.size * ax.get_position().size
        ax.set(xlim=(0, wide), ylim=(high / ROW - 0.7, -0.7))
        step = min(INDENT, wide / 2 / tree.width)
        order = _outline(tree)
        spot = {node.key: (10 + step * node.x, order.index(node.key)) for node in tree.nodes}
        for origin, child in tree.edges:
            (left, above), (right, below) = spot[origin], spot[child]
            style = {"color": QUIET, "linewidth": 0.9, "zorder": 1, "solid_joinstyle": "round"}
            ax.plot([left, left, left, right], [above, above, below, below], **style)
        kept = 0
        for node in tree.nodes:
            (x, y), verdict = spot[node.key], getattr(node.item, "verdict", "")
            keep = verdict == "keep"
            kept += keep
            fill = {"markerfacecolor": ACCENT if keep else "white", "markeredgecolor": ACCENT if keep else QUIET}
            ax.plot(x, y, "X" if verdict == "drop" else "o", markersize=7, markeredgewidth=1.4, zorder=3, **fill)
            box = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
            decided = getattr(node.item, "decision", "")
            word = ax.text(
                x + 10,
                y,
                f"{node.label}{' · ' * bool(decided)}{decided}",
                fontsize=SMALL,
                color=INK,
                va="center",
                zorder=4,
                bbox=box,
            )
            _cut(word, wide - x - 44)
        ax.text(0, high / ROW - 1.2, "  filled: keep; crossed: drop", fontsize=SMALL, color=QUIET, va="center")
        roots = plural(len(tree.nodes) - len(tree.edges), "root")
        grown = f"{plural(len(tree.nodes), 'variant')} in {plural(tree.width, 'generation')} from {roots}"
        return f"Tree of {grown}; {kept} with the verdict keep."


class CheckedChart(Drawn):
    """One quantity of a Checked, how far off it was foreseen, bake by bake: bands that meet the line hold.

    What the default foresaw stands hollow and thin, left of the kitchen's own.
    """

    size, place = (274, 320), (0.225, 0.165, 0.745, 0.635)

    @classmethod
    def each(cls, value, **beside):
        """Return a chart for each quantity."""
        return [cls(value, quantity=quantity) for quantity in value.quantities]

    def _draw(self, ax, checked, quantity="baked mass"):
        rows, before = [row for row in checked.rows if row[1] == quantity], checked.before
        if not rows:
            return _empty(ax, f"No {quantity} was foreseen and measured.")
        unit = rows[0][2].replace(" per ", "/")
        at = {(row[0], row[6]): n for n, row in enumerate(rows)}
        usual = [row for row in before.rows if row[1] == quantity and (row[0], row[6]) in at] if before else []
        aside = 0.18 if usual else 0.0
        drawn = [(n + aside, *_off(row)) for n, row in enumerate(rows)]
        default = [(at[row[0], row[6]] - aside, *_off(row)) for row in usual]
        outside = [row[0] for row, (_, _, low, high) in zip(rows, drawn, strict=True) if low > 0 or high < 0]
        named = f"outside: {', '.join(outside[:NAMED])}{' …' * (len(outside) > NAMED)}" if outside else ""
        ends = rows[0][0] if len(rows) == 1 else f"{rows[0][0]} to {rows[-1][0]}"
        x = f"{plural(len(rows), 'bake')}, {ends}\n{named}"
        look.frame(ax, "", x, f"foreseen − measured, {unit}")
        look.title(ax, capital(quantity), pad=34)
        said, place = [], ("axes fraction", "offset points")
        for n, (whose, each, colour, mark) in enumerate(
            [("this kitchen", checked, ACCENT, "●")] + [("by default", before, QUIET, "○")] * (before is not None)
        ):
            error = each.error(quantity)
            digits = (2 if unit == "mm/mm" else 1) + (error < 0.1)
            said.append(f"error {figure(error, digits)} {unit} {whose}")
            ax.annotate(f"{mark} {said[-1]}", (0, 1), (0, 4 + 13 * n), *place, fontsize=SMALL, color=colour)
        ends = [0.0, *(value for _, *band in (*drawn, *default) for value in band)]
        room = 0.06 * np.ptp(ends) or 1.0
        ax.axhline(0, color=QUIET, linewidth=0.9, dashes=(4, 3), zorder=1)
        ax.set(xlim=(-1, len(rows)), ylim=(min(ends) - room, max(ends) + room), xticks=[])
        ax.yaxis.labelpad = 1
        ax.locator_params(axis="y", nbins=6)
        slot = ax.get_position().width * ax.get_figure().bbox.width / (len(rows) + 1)
        small, wide = min(4, 0.3 * slot), {"solid_capstyle": "butt", "zorder": 3}
        for x, off, low, high in default:
            ax.plot([x, x], [low, high], "_-", color=QUIET, linewidth=0.8, markersize=small, zorder=2)
            ax.plot(x, off, "o", markersize=small, color=QUIET, markerfacecolor="white", zorder=4)
        for x, off, low, high in drawn:
            ax.plot([x, x], [low, high], color=ACCENT_LIGHT, linewidth=small, **wide)
            ax.plot(x, off, "o", markersize=small + 1, color=ACCENT, markeredgecolor="white", zorder=5)
        inside = f"{len(rows) - len(outside)} of {len(rows)} bakes within their 80 % band"
        return f"{capital(quantity)}: {inside}{'; ' * bool(named)}{named}; {listing(said)}."


def _off(row):
    """Return how far foreseen, low and high of a row of a Checked are from what was measured."""
    return tuple(value - row[6] for value in row[3:6])


def _outline(tree):
    """Return the keys of a tree, each variant beneath its parent and that one's earlier variants."""
    children, keys = {}, []
    parent = {child: origin for origin, child in tree.edges}
    for node in tree.nodes:
        children.setdefault(parent.get(node.key), []).append(node.key)
    left = children[None][::-1]
    while left:
        keys.append(left.pop())
        left += children.get(keys[-1], [])[::-1]
    return keys


def _cut(word, room):
    """Shorten a text to so many px, with an ellipsis."""
    word.set_parse_math(False)
    letters = word.get_text()
    while len(letters) > 1 and (wide := word.get_window_extent().width) > room:
        letters = letters[: max(min(int(len(letters) * room / wide), len(letters) - 1), 1)]
        word.set_text(f"{letters.rstrip()}…")


def _across(ax, y, words, x=0.0, color=INK):
    """Write words at a share of the axis's width, so that their place depends on no figure."""
    place = {"va": "center", "transform": ax.get_yaxis_transform(), "path_effects": halo()}
    ax.text(x, y, words, fontsize=SMALL, color=color, **place)


def _empty(ax, words):
    ax.set_axis_off()
    ax.text(0.5, 0.5, words, fontsize=9.5, color=QUIET, ha="center", va="center", transform=ax.transAxes)
    return words
