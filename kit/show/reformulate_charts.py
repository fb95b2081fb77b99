"""Charts of what must hold: each ingredient and quantity before and after, and what one point of each does."""

from dataclasses import dataclass

import numpy as np

from ..balance import QUANTITIES
from ..balance.quantities import in_words
from ..reformulate import measured
from ..reformulate.moving import PROCESS
from ..words import figure, listing, signed
from . import marks
from .look import ACCENT, ACCENT_LIGHT, BASELINE, INK, QUIET, frame, title
from .look import figure as look_figure
from .overlay import Overlay
from .panel import Still

_LINE, _MARK = 0.34, 0.72  # where a row's words and its marks stand in it


@dataclass(frozen=True)
class Row:
    """One row of a chart: where it was, where it came to, the band that was asked, and both in words."""

    name: str
    before: float
    after: float
    words: str
    low: float = np.nan
    high: float = np.nan
    strong: bool = False

    @property
    def changed(self):
        """Whether a reader sees it change."""
        return "→" in self.words


class Rows:
    """Rows of before (hollow) and after (filled), each with its name and figures above its marks, its band behind.

    update(rows): Row each. What lies beyond the axis waits at its edge; its figures are in the words.
    """

    def __init__(self, ax, title, x, low, high, rows):
        frame(ax, title, x, grid="x", bare="y")
        self.low, self.high = low, high
        ax.set_xlim(low, high)
        ax.set_ylim(rows + 0.1, -0.05)
        ax.tick_params(axis="x", length=0)
        self.band = marks.shape(ax, ACCENT_LIGHT, zorder=1)
        self.edge = marks.line(ax, ACCENT, linewidth=2, zorder=3)
        self.joints = marks.line(ax, ACCENT, linewidth=2.2, zorder=4)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        across = ax.get_yaxis_transform()
        self.names = [marks.text(ax, size=9, va="center", transform=across) for _ in range(rows)]
        self.words = [marks.text(ax, size=9, va="center", ha="right", transform=across) for _ in range(rows)]

    def update(self, rows):
        """Move marks, bands and words; rows beyond those there is room for are left out."""
        rows = rows[: len(self.names)]
        at = np.arange(len(rows)) + _MARK
        before, after = (
            np.clip([getattr(row, side) for row in rows], self.low, self.high) for side in ("before", "after")
        )
        marks.trace(self.base, before, at)
        marks.trace(self.now, after, at)
        marks.strokes(self.joints, np.column_stack([before, after]), np.column_stack([at, at]))
        boxes = []
        for where, row in zip(at, rows, strict=True):
            if not np.isnan(row.low):
                low, high = np.clip([row.low, row.high], self.low, self.high)
                boxes.append((low, where - 0.27, high, where + 0.27))
        marks.boxes(self.band, boxes)
        edges = [(end, low, high) for left, low, right, high in boxes for end in {float(left), float(right)}]
        x, low, high = np.array(edges).reshape(-1, 3).T
        marks.strokes(self.edge, np.column_stack([x, x]), np.column_stack([low, high]))
        marks.fill(self.names, [(0.0, n + _LINE, row.name) for n, row in enumerate(rows)])
        marks.fill(self.words, [(1.0, n + _LINE, row.words) for n, row in enumerate(rows)])
        for row, name, words in zip(rows, self.names, self.words, strict=False):  # as many as there are rows
            for text, strong in ((name, row.strong), (words, row.changed)):
                plain = INK if row.strong or row.changed else QUIET
                marks.style(text, ACCENT if strong else plain, "bold" if strong else "normal")


def change_in_words(before, after, unit, digits=2):
    """Return what a figure was and what it came to, once where both read alike.

    >>> change_in_words(18, 25, "%"), change_in_words(60.4, 60.401, "%")
    ('18.00 → 25.00 %', '60.40 %')
    """
    one, other = figure(before, digits), figure(after, digits)
    return f"{other} {unit}".rstrip() if one == other else f"{one} → {other} {unit}".rstrip()


class IngredientRows(Rows):
    """Lines of a formula before and after, each on its own base; chart(ax, rows), rows of `ingredient_rows`."""

    def __init__(self, ax, rows, reach, base="% of total flour", room=None):
        super().__init__(ax, "Ingredients", base, 0, reach, room or len(rows))
        self.update(rows)


def ingredient_rows(before, after, asked=None, others=False):
    """Return rows for IngredientRows: the dough's lines but its one flour, as the total formula has them.

    asked {ingredient or kind: (low, high, word)}: the band that was asked of it, and what to call it. others: the
    lines of the other parts too, each under its part's name, and what has changed first.
    """
    sides = [_lines(f, others) for f in (before, after)]
    ingredients, asked = after.ingredients, asked or {}
    keys = dict.fromkeys((*sides[0], *sides[1]))
    kinds = [ingredients[key]["kind"] for part, key in keys if not part]
    rows = []
    for part, key in keys:
        name, kind = ingredients[key]["name"], ingredients[key]["kind"]
        one, other = (side.get((part, key), 0.0) for side in sides)
        if kind == "flour" and kinds.count(kind) == 1 and one == other and not part:
            continue
        low, high, word = asked.get(name) or asked.get(kind) or (np.nan, np.nan, "")
        if kinds.count(kind) > 1 and name not in asked:
            low = high = np.nan  # the band is that of the kind, not of one of its lines
        shown = f"{part}: {name}" if part else f"{name}, {word}" if word else name
        rows.append(Row(shown, one, other, change_in_words(one, other, "%"), low, high, bool(word)))
    return sorted(rows, key=lambda row: not row.changed) if others else rows


def _lines(formula, others):
    """Return {(part, key): percentage}: the dough's as the total formula has it, under no name."""
    found = {("", key): float(v) for key, v in zip(formula.dough_keys, formula.dough_percentages, strict=True)}
    if others:
        for part in formula.parts:
            if part not in formula.bowls:
                found |= {(part.name, key): float(v) for key, v in zip(part.keys, part.percentages, strict=True)}
    return found


class QuantityRows(Rows):
    """Quantities before and after as changes [% of what each was], figures in their own units.

    chart(ax, rows): (name, unit, before, after, low, high, word) each, low and high the band that was asked.
    """

    REACH = 40.0  # % of each that the axis shows to both sides

    def __init__(self, ax, rows, room=None):
        x = "change, % of what each was"
        super().__init__(ax, "What came of it", x, -self.REACH, self.REACH, room or len(rows))
        ax.set_xticks([-40, -20, 0, 20, 40], ["−40", "−20", "0", "+20", "+40"])
        ax.axvline(0, color=BASELINE, linewidth=1.0, zorder=0)
        self.update(rows)

    def update(self, rows):
        """Move the rows."""
        super().update([self._row(*row) for row in rows])

    @staticmethod
    def _row(name, unit, before, after, low=np.nan, high=np.nan, word=""):
        def change(value):
            # a quantity that was nought has no share to change by: what comes waits at the edge
            return 100 * (value / before - 1) if before else np.sign(value) * 1e9 if value else 0.0

        words = change_in_words(before, after, unit, 3 if unit.startswith("of 1") else 2 if abs(before) < 100 else 1)
        shown = f"{name}, {word}" if word else name
        return Row(shown, 0.0, change(after), words, change(low), change(high), bool(word))


def quantity_rows(solved, names, before=None):
    """Return rows for QuantityRows from a Solved: the quantities named, the band of each demand with its word.

    before: what the quantities were, when they are measured already.
    """
    before = before or measured(solved.before, names)
    after = measured(solved.formula, names)
    came = {c.demand.name: c for c in solved.demands}
    rows = []
    for name in names:
        unit = QUANTITIES[name].unit if name in QUANTITIES else PROCESS[name][1]
        unit = "%" if unit.startswith("%") else unit  # what of is in the name
        low = high = np.nan
        word = ""
        if name in came:
            demand = came[name].demand
            low, high = demand.low, demand.high
            word = "given up" if came[name].traded else "held"
        rows.append((in_words(name), unit, before[name], after[name], low, high, word))
    return rows


class SensitivityBars:
    """What one point more of each ingredient does to one quantity: a bar a row, its exact slope beside it.

    chart(ax, sensitivities, quantity); names: whether the rows are named here. Bars run from nought; what does
    nothing has no bar.
    """

    ROOM = 0.4  # share of the axis that a figure needs beyond the longest bar

    def __init__(self, ax, sensitivities, quantity, names=True):
        self.quantity = quantity
        unit = sensitivities.units[sensitivities.quantities.index(quantity)]
        rows = [f"{n}, 1 {p}" for n, p in zip(sensitivities.ingredients, sensitivities.per, strict=True)]
        frame(ax, bare="xy")
        title(ax, f"{in_words(quantity)}\n{unit}", 8.5, 4)
        ax.set_yticks(range(len(rows)), [row.replace("% of flour", "%") for row in rows] if names else [""] * len(rows))
        ax.tick_params(axis="y", length=0, labelcolor=INK)
        ax.set_ylim(len(rows) - 0.5, -0.5)
        slopes = self._slopes(sensitivities)
        ends = np.array([min(slopes.min(), 0.0), max(slopes.max(), 0.0)])
        beyond = self.ROOM * (np.ptp(ends) or 1.0)
        ax.set_xlim(ends[0] - beyond * (ends[0] < 0), ends[1] + beyond * (ends[1] > 0 or not ends[0]))
        ax.axvline(0, color=BASELINE, linewidth=1.0, zorder=2)
        self.more, self.less = (marks.shape(ax, f, ACCENT, linewidth=0.9, zorder=3) for f in (ACCENT, ACCENT_LIGHT))
        self.words = [marks.text(ax, va="center") for _ in rows]
        self.update(sensitivities)

    def _slopes(self, sensitivities):
        return sensitivities.slopes[:, sensitivities.quantities.index(self.quantity)]

    def update(self, sensitivities):
        """Move bars and figures."""
        slopes = self._slopes(sensitivities)
        apart = 0.02 * np.ptp(self.more.axes.get_xlim())
        for row, (slope, word) in enumerate(zip(slopes, self.words, strict=True)):
            shown = signed(slope, 3 if np.abs(slopes).max() < 1.5 else 2)
            marks.beside(word, slope, row, shown if slope else "0", apart, slope >= 0)
            marks.style(word, INK if slope else QUIET)
        bars = [(0, row - 0.3, slope, row + 0.3) for row, slope in enumerate(slopes)]
        marks.boxes(self.more, [bar for bar in bars if bar[2] > 0])
        marks.boxes(self.less, [bar for bar in bars if bar[2] < 0])


def sensitivity_charts(sensitivities):
    """Return small multiples of SensitivityBars, one a quantity, as a still picture with words."""
    names, columns = sensitivities.quantities, 3
    lines, rows = -(-len(names) // columns), len(sensitivities.ingredients)
    left, each, gap = 150, 218, 12
    tall = 42 + 19 * rows
    width, height = left + columns * (each + gap), lines * tall + 8
    figure = look_figure(width, height)
    for n, name in enumerate(names):
        column, line = n % columns, n // columns
        box = [left + column * (each + gap), height - (line + 1) * tall + 4, each, tall - 42]
        ax = figure.add_axes([box[0] / width, box[1] / height, box[2] / width, box[3] / height])
        SensitivityBars(ax, sensitivities, name, names=column == 0)
    said = []
    for name in names:
        top = sensitivities.largest(name)[:2]
        said.append(
            f"{name.replace('_', ' ')}: {listing(f'{what} {signed(slope, 2)}' for what, slope in top) or 'none'}"
        )
    words = f"Bars of what one point more of each ingredient does. The strongest: {'; '.join(said)}."
    return Still([(width, Overlay(figure).picture(), words)])
