"""The charts of the trial book: each is `chart(ax, value)` and returns a handle with `.update(value)`.

Bakes are chosen, not dragged, so each chart is drawn whole when its value changes. The first column is hollow and
grey, what is compared with it filled; pale is what the kitchen's own repeats differ by.
"""

import math

import numpy as np
from matplotlib.patches import Rectangle

from ..errors import AmountError, must
from ..process import Rise, RiseCauses, ToppingFit, WaterTemperature
from ..process.day import Day
from ..trials.calibrating import Checked
from ..trials.comparing import SideBySide
from ..trials.effects import Effects
from ..trials.lineage import Lineage
from ..trials.planning import Plan
from ..words import capital, figure, listing, plural, signed
from . import look
from .drawings import SideView, TopView
from .foresee_charts import DoughTemperatures, RiseBars, RiseChart, Timeline, TrayView, WaterBars
from .look import ACCENT, ACCENT_LIGHT, BASELINE, HAIR, INK, QUIET, SMALL
from .marks import apart, halo
from .overlay import Overlay
from .panel import Still
from .planning_charts import drawn_plan

FARTHEST = 4.0  # repeat limits from the first: what is farther stands at the edge
ROW = 19.0  # px of a row of the tree
DEEP = 3  # generations that have room beside each other; more are an outline
INDENT = 18.0  # px of a generation in an outline
NAMED = 6  # bakes outside their band named in one chart


# what kit foresees: each chart, its size [px] and its place in the figure
FORESEEN = {
    Rise: [(RiseChart, (430, 400), [0.12, 0.14, 0.845, 0.795])],
    RiseCauses: [(RiseBars, (416, 400), [0.03, 0.0, 0.965, 0.935])],
    ToppingFit: [
        (TopView, (430, 440), [0.115, 0.105, 0.865, 0.845]),
        (SideView, (416, 240), [0.095, 0.18, 0.89, 0.71]),
    ],
    WaterTemperature: [
        (WaterBars, (430, 450), [0.01, 0.0, 0.98, 0.942]),
        (DoughTemperatures, (416, 330), [0.02, 0.14, 0.955, 0.77]),
    ],
    Day: [(Timeline, (540, 440), [0.315, 0.105, 0.65, 0.835]), (TrayView, (306, 320), [0.135, 0.4, 0.84, 0.52])],
}


class _Chart:
    def __init__(self, ax, value, **how):
        self.ax = ax
        self.update(value, **how)

    def update(self, value, **how):
        """Draw this value in place of the last."""
        self.value = value
        self.ax.clear()
        self.alt = self._draw(self.ax, value, **how)
        look.as_written(self.ax)

    def _word(self, x, y, words, colour=INK, **style):
        style = {"va": "center", "path_effects": halo()} | style
        return self.ax.text(x, y, words, fontsize=SMALL, color=colour, **style)


def response_of(side, name):
    """Return a Response of a SideBySide by its name or words; its first when there is none of that name."""
    return next((r for r in side.responses if name in (r.name, r.what)), side.responses[0] if side.responses else None)


class ResponseDots(_Chart):
    """One response of each column: a dot a bake, the range, the mean, and the repeats' band about the first's mean."""

    def _draw(self, ax, side, name="height"):
        row = response_of(side, name)
        if row is None:
            return _empty(ax, "Nothing was measured yet: enter heights, masses or scores.")
        unit = "points" if " to " in row.unit else row.unit
        look.frame(ax, f"{capital(row.what)}: a dot a bake, a bar their mean", f"{row.what}, {row.unit}", bare="y")
        ax.set_ylim(len(side.names) - 0.35, -0.75)
        means, said = row.means, []
        for n, (column, bakes, readings) in enumerate(zip(side.names, row.bakes, row.readings, strict=True)):
            limit = row.limits[n - 1] if n else None
            if limit is not None and means[0] is not None:
                ax.add_patch(Rectangle((means[0] - limit, n - 0.2), 2 * limit, 0.4, color=ACCENT_LIGHT, zorder=1))
            colour = ACCENT if n else BASELINE
            ax.plot([min(bakes), max(bakes)] if bakes else [], [n, n] if bakes else [], color=colour, linewidth=1.2)
            fill = {"color": colour, "markerfacecolor": colour if n else "white", "markeredgewidth": 1.6}
            ax.plot(bakes, [n] * len(bakes), "o", markersize=6.5, zorder=4, **fill)
            if len(bakes) > 1:
                ax.plot([means[n]] * 2, [n - 0.2, n + 0.2], color=colour, linewidth=2.4, zorder=5)
            words = f"{figure(means[n], row.digits)} {unit}" if bakes else "not measured"
            said.append(f"{column} {words}")
            counted = f"; {plural(len(bakes), 'bake')}, {plural(readings, 'reading')}" if bakes else ""
            # in the axes' own width, so that no word depends on where the dots lie
            ax.text(
                0,
                n - 0.4,
                f"{column}: {words}{counted}",
                fontsize=SMALL,
                color=INK if n else QUIET,
                va="center",
                transform=ax.get_yaxis_transform(),
                path_effects=halo(),
            )
        if means[0] is not None:
            ax.axvline(means[0], color=BASELINE, linewidth=1, dashes=(4, 3), zorder=2)
        ax.margins(x=0.12)
        if any(limit is not None for limit in row.limits):
            look.note(ax, "pale: means no farther from the first's than repeats differ", 38, "top")
        return f"{capital(row.what)} of {listing(said)}."


class DifferencesChart(_Chart):
    """Every response's difference from the first, in what the kitchen's repeats differ by: beyond the band counts."""

    def _draw(self, ax, side):
        rows = [r for r in side.responses if any(limit is not None for limit in r.limits)]
        if not rows:
            return _empty(ax, "No plan was repeated, or one pair only:\nhow far bakes differ is not known.")
        one = len(side.names) == 2
        look.frame(ax, f"Differences from {side.names[0]}", "difference / what repeats differ by")
        ax.set_xlim(-FARTHEST, FARTHEST)
        ax.set_ylim(len(rows) - 0.4, -0.6 if one else -0.75)
        ax.axvspan(-1, 1, color=ACCENT_LIGHT, zorder=0)
        ax.axvline(0, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=1)
        ax.set_yticks(range(len(rows)), [r.what for r in rows])
        ax.tick_params(axis="y", length=0, labelcolor=INK, labelsize=SMALL)
        ax.spines["left"].set_visible(False)
        beyond = []
        for n, row in enumerate(rows):
            ax.axhline(n, color=HAIR, linewidth=0.5, zorder=0.5)
            found = []
            for m, (difference, limit) in enumerate(zip(row.differences, row.limits, strict=True), 2):
                if limit is None:
                    continue
                far = difference.value / limit if limit else math.copysign(math.inf, difference.value)
                x = float(np.clip(far, -FARTHEST, FARTHEST))
                marker = "o" if abs(far) <= FARTHEST else "<" if far < 0 else ">"
                ax.plot(
                    x,
                    n,
                    marker if one else "|",
                    color=ACCENT,
                    markersize=8 if one else 5,
                    zorder=4,
                    markeredgecolor="white" if one else ACCENT,
                    clip_on=False,
                )
                found.append((x, str(m)))
                if one:
                    unit = "" if " to " in row.unit or " per " in row.unit else f" {row.unit.split(' of ')[0]}"
                    ax.text(
                        1.02,
                        n,
                        f"{signed(difference.value, row.digits)}{unit}",
                        fontsize=SMALL,
                        color=INK,
                        va="center",
                        transform=ax.get_yaxis_transform(),
                    )
                if row.beyond[m - 2]:
                    beyond.append(f"{row.what} of {side.names[m - 1]} {signed(difference.value, row.digits)}")
            if not one:
                for (x, _), (beside, number) in zip(sorted(found), apart(sorted(found), 0.42, FARTHEST), strict=True):
                    ax.plot((x, beside), (n, n - 0.3), color=ACCENT, linewidth=0.7, zorder=3, clip_on=False)
                    self._word(
                        beside, n - 0.26, number, colour=ACCENT, fontweight="bold", ha="center", va="bottom", zorder=5
                    )
        if not one:
            look.note(ax, ", ".join(f"{n} {name}" for n, name in enumerate(side.names[1:], 2)), 38, "top")
        some = f"beyond what repeats differ by: {listing(beyond)}" if beyond else "none beyond what repeats differ by"
        return f"Differences from {side.names[0]} in {plural(len(rows), 'response')}, {some}."


class LineageTree(_Chart):
    """The tree of variants: parents left, what was varied from them to the right; a deep one is an outline."""

    def _draw(self, ax, tree):
        if not tree.nodes:
            return _empty(ax, "No trial yet: enter one.")
        ax.set_axis_off()
        wide, high = ax.get_figure().bbox.size * ax.get_position().size
        ax.set_xlim(0, wide)
        ax.set_ylim(high / ROW - 0.7, -0.7)
        deep = tree.width > DEEP
        column = min(INDENT, wide / 2 / tree.width) if deep else wide / tree.width
        spot = {node.key: (10 + column * node.x, node.y) for node in tree.nodes}
        if deep:
            spot = {key: (spot[key][0], row) for row, key in enumerate(_outline(tree))}
        for origin, child in tree.edges:
            (left, above), (right, below) = spot[origin], spot[child]
            bend = left if deep else right - 20
            ax.plot(
                [left, bend, bend, right],
                [above, above, below, below],
                color=QUIET,
                linewidth=0.9,
                zorder=1,
                solid_joinstyle="round",
            )
        for node in tree.nodes:
            (x, y), verdict = spot[node.key], getattr(node.item, "verdict", "")
            fill = {"keep": ACCENT, "drop": "white"}.get(verdict, "white")
            edge = ACCENT if verdict == "keep" else QUIET
            ax.plot(
                x,
                y,
                "X" if verdict == "drop" else "o",
                markersize=7,
                markerfacecolor=fill,
                markeredgecolor=edge,
                markeredgewidth=1.4,
                zorder=3,
            )
            word = self._word(
                x + 10, y, node.label, zorder=4, bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5}
            )
            _cut(word, (wide - x if deep else column) - 44)
        roots = len(tree.nodes) - len(tree.edges)
        kept = sum(getattr(node.item, "verdict", "") == "keep" for node in tree.nodes)
        ax.text(0, high / ROW - 1.2, "  filled: keep; crossed: drop", fontsize=SMALL, color=QUIET, va="center")
        return (
            f"Tree of {plural(len(tree.nodes), 'variant')} in {plural(tree.width, 'generation')} from "
            f"{plural(roots, 'root')}; {kept} with the verdict keep."
        )


class CheckedChart(_Chart):
    """One quantity, how far off it was foreseen, bake by bake: bands that meet the line hold; those outside are named.

    What the default foresaw stands hollow and thin, left of the kitchen's own.
    """

    def _draw(self, ax, checked, quantity="baked mass"):
        before = checked.before
        rows = [row for row in checked.rows if row[1] == quantity]
        if not rows:
            return _empty(ax, f"No {quantity} was foreseen and measured.")
        unit = rows[0][2].replace(" per ", "/")
        digits = 2 if unit == "mm/mm" else 1
        ends = rows[0][0] if len(rows) == 1 else f"{rows[0][0]} to {rows[-1][0]}"
        look.frame(ax, "", f"{plural(len(rows), 'bake')}, {ends}", f"foreseen − measured, {unit}")
        look.title(ax, capital(quantity), pad=34)
        errors = [("this kitchen", checked, ACCENT, "●")] + [("by default", before, QUIET, "○")] * (before is not None)
        said = []
        for n, (whose, each, colour, mark) in enumerate(errors):
            error = each.error(quantity)
            said.append(f"error {figure(error, digits + (error < 0.1))} {unit} {whose}")
            ax.annotate(
                f"{mark} {said[-1]}",
                (0, 1),
                (0, 4 + 13 * n),
                "axes fraction",
                "offset points",
                fontsize=SMALL,
                color=colour,
            )
        at = {(row[0], row[6]): n for n, row in enumerate(rows)}
        usual = [row for row in before.rows if row[1] == quantity and (row[0], row[6]) in at] if before else []
        aside = 0.18 if usual else 0.0
        drawn = [(n + aside, *_off(row)) for n, row in enumerate(rows)]
        default = [(at[row[0], row[6]] - aside, *_off(row)) for row in usual]
        up = _span([0.0, *(value for _, *band in (*drawn, *default) for value in band)])
        ax.axhline(0, color=QUIET, linewidth=0.9, dashes=(4, 3), zorder=1)
        ax.set_xlim(-1, len(rows))
        ax.set_ylim(up)
        ax.set_xticks([])
        ax.yaxis.labelpad = 1
        ax.locator_params(axis="y", nbins=6)
        slot = ax.get_position().width * ax.get_figure().bbox.width / (len(rows) + 1)
        for x, off, low, high in default:
            ax.plot([x, x], [low, high], "_-", color=QUIET, linewidth=0.8, markersize=min(5, 0.3 * slot), zorder=2)
            ax.plot(x, off, "o", markersize=min(4, 0.3 * slot), color=QUIET, markerfacecolor="white", zorder=4)
        for x, off, low, high in drawn:
            ax.plot(
                [x, x], [low, high], color=ACCENT_LIGHT, linewidth=min(4, 0.3 * slot), zorder=3, solid_capstyle="butt"
            )
            ax.plot(x, off, "o", markersize=min(5, 0.4 * slot), color=ACCENT, markeredgecolor="white", zorder=5)
        outside = [(row[0], *place[:2]) for row, place in zip(rows, drawn, strict=True) if place[2] > 0 or place[3] < 0]
        outside.sort(key=lambda each: -abs(each[2]))
        wide, high = len(rows) + 1, up[1] - up[0]
        taken = [((x + 1) / wide, (off - up[0]) / high) for x, off, *_ in (*drawn, *default)]
        for code, place, off in outside[:NAMED]:
            x, y = _beside((place + 1) / wide, (off - up[0]) / high, taken)
            ax.plot((place, x * wide - 1), (off, up[0] + y * high), color=INK, linewidth=0.8, zorder=6)
            self._word(x * wide - 1, up[0] + y * high, code, ha="center", zorder=7)
        inside = len(rows) - len(outside)
        named = f"; outside: {listing(code for code, *_ in outside[:NAMED])}" if outside else ""
        return f"{capital(quantity)}: {inside} of {len(rows)} bakes within their 80 % band{named}; {listing(said)}."


def picture_of(value, response="height"):
    """Return the Still of what is foreseen, planned, tried or checked, with words for those who can't see it.

    value: a Rise, RiseCauses, ToppingFit, WaterTemperature, Day, SideBySide, Lineage, Checked, Plan or Effects;
    response: the response of a SideBySide to show bake by bake.
    """
    made = drawn(value, response)
    return Still([(figure.bbox.width, Overlay(figure).picture(), alt) for figure, alt in made])


def drawn(value, response="height"):
    """Return [(figure, its words)] of what `picture_of` shows."""
    if isinstance(value, SideBySide):
        return _drawn_side(value, response)
    if isinstance(value, Lineage):
        high = ROW * ((len(value.nodes) if value.width > DEEP else value.height) + 1.4) + 8
        return [_one(LineageTree, value, (848, max(high, 80)), [0.0, 0.0, 1.0, 1.0])]
    if isinstance(value, Checked):
        box = [0.225, 0.12, 0.745, 0.68]
        return [_one(CheckedChart, value, (274, 320), box, quantity=q) for q in value.quantities]
    if type(value) in FORESEEN:
        return [_one(chart, value, *place) for chart, *place in FORESEEN[type(value)]]
    if isinstance(value, (Plan, Effects)):
        return [(made, words) for (made, _), words in drawn_plan(value, _one)]
    be, do = "what kit foresees, plans or lays side by side", "try kit.rise(bun), or kit.side_by_side"
    raise AmountError(must("value", be, type(value).__name__, do))


def _drawn_side(side, response):
    rows = sum(any(limit is not None for limit in r.limits) for r in side.responses)
    high = max(300.0, 96 + (20 if len(side.names) == 2 else 29) * rows)
    dots = max(min(high, 100 + 64.0 * len(side.names)), 230.0)
    box = [0.325, 66 / high, 0.47 if len(side.names) == 2 else 0.64, 1 - (66 + 30) / high]
    return [
        _one(DifferencesChart, side, (430, high), box),
        _one(ResponseDots, side, (410, dots), [0.06, 66 / dots, 0.9, 1 - (66 + 30) / dots], name=response),
    ]


def _one(chart, value, size, box, **how):
    made = look.figure(*size)
    handle = chart(made.add_axes(box), value, **how)
    return made, getattr(handle, "alt", "")


def _off(row):
    """Return how far foreseen, low and high of a row of a Checked are from what was measured."""
    return tuple(value - row[6] for value in row[3:6])


def _span(values):
    values = list(values)
    room = 0.06 * (max(values) - min(values)) or 1.0
    return min(values) - room, max(values) + room


def _beside(x, y, taken):
    """Return the nearest place for a code beside a dot that covers no other dot or code; shares of the axes.

    taken: the places of all dots, to which those that the code covers are added.
    """

    def covered(place):
        return sum(abs(place[0] - u) < 0.1 and abs(place[1] - v) < 0.04 for u, v in taken)

    around = [
        (x + across, y + up)
        for across in (0.13, -0.13, 0.0, 0.2, -0.2)
        for up in (0.0, 0.06, -0.06, 0.12, -0.12, 0.18, -0.18)
        if 0.09 < x + across < 0.93 and 0.03 < y + up < 0.97 and (across or abs(up) > 0.05)
    ]
    best = min(around, key=lambda place: (covered(place), abs(place[0] - x) + abs(place[1] - y)))
    taken += [(best[0] + shift, best[1]) for shift in (-0.08, 0.0, 0.08)]
    return best


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


def _empty(ax, words):
    ax.set_axis_off()
    ax.text(0.5, 0.5, words, fontsize=9.5, color=QUIET, ha="center", va="center", transform=ax.transAxes)
    return words
