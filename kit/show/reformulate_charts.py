"""Charts of what must hold: each ingredient and quantity before and after, and what one point of each does."""

from typing import NamedTuple

import numpy as np

from ..balance import QUANTITIES, in_words
from ..reformulate import measured
from ..reformulate.moving import PROCESS
from ..words import figure, listing, without_zeros
from .chart import Chart
from .look import ACCENT, ACCENT_LIGHT, BASELINE, INK, QUIET, frame

_LINE, _MARK = 0.28, 0.74  # where a row's words and its marks stand in it


class Row(NamedTuple):
    """One row: where it was, where it came to, the band that was asked, and both in words."""

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


class Rows(Chart):
    """Rows of before (hollow) and after (filled), each with its name and figures above its marks, its band behind.

    A kind says its titles, its `reach` and the `rows` of a value. room: for how many rows, else those there are. What
    lies beyond the axis waits at its edge; its figures are in the words.
    """

    title = x = ""
    edges = (0.035, 44, 0.93, 68)

    def rows(self, value, **beside):
        """Return the Rows of a value."""

    def reach(self, **beside):
        """Return the ends of the axis."""

    @property
    def size(self):
        """As high as its rows need."""
        room = self.beside.get("room") or len(self.rows(self.value, **self.beside))
        return 410, 70 + 31 * room

    def _begin(self, value, room=None, **beside):
        self.room = room or len(self.rows(value, **beside))
        frame(self.ax, self.title, self.x, grid="x", bare="y")
        self.low, self.high = self.reach(**beside)
        self.ax.set(xlim=(self.low, self.high), ylim=(self.room + 0.1, -0.05))
        self.ax.tick_params(axis="x", length=0)

    def _move(self, value, room=None, **beside):
        rows = self.rows(value, **beside)[: self.room]
        at = np.arange(len(rows)) + _MARK
        columns = [[row[n] for row in rows] for n in (1, 2, 4, 5)]
        before, after, low, high = (np.clip(column, self.low, self.high) for column in columns)
        asked = ~np.isnan(low)
        boxes = np.column_stack([low, at - 0.27, high, at + 0.27])[asked].tolist()
        self.band = self._boxes(boxes, ACCENT_LIGHT, zorder=1)
        edges = [(end, low, high) for left, low, right, high in boxes for end in {left, right}]
        x, low, high = np.array(edges).reshape(-1, 3).T
        self._strokes(np.column_stack([x, x]), np.column_stack([low, high]), ACCENT, linewidth=2, zorder=3)
        self._strokes(np.column_stack([before, after]), np.column_stack([at, at]), ACCENT, linewidth=2.2, zorder=4)
        self.base, self.now = self._dot(before, at, False), self._dot(after, at, True)
        self.names, self.words = [], []
        for n, row in enumerate([*rows, *[Row("", 0, 0, "")] * (self.room - len(rows))]):
            usual = INK if row.strong or row.changed else QUIET
            for texts, x, words, strong in (
                (self.names, 0.0, row.name, row.strong),
                (self.words, 1.0, row.words, row.changed),
            ):
                color, weight = (ACCENT, "bold") if strong else (usual, "normal")
                look = {"va": "center", "ha": "right" if x else "left", "transform": self.ax.get_yaxis_transform()}
                texts.append(self._text(x, n + _LINE, words, 9, color, fontweight=weight, **look))
        said = listing(f"{row.name} {row.words}" for row in rows if row.changed or row.strong)
        return f"{self.title}: {said or 'nothing changed'}."


def change_in_words(before, after, unit, digits=2):
    """Return what a figure was and what it came to, once where both read alike.

    >>> change_in_words(18, 25, "%"), change_in_words(60.4, 60.401, "%")
    ('18 → 25 %', '60.4 %')
    """
    one, other = (without_zeros(figure(value, digits)) for value in (before, after))
    return f"{other} {unit}".rstrip() if one == other else f"{one} → {other} {unit}".rstrip()


class IngredientRows(Rows):
    """The lines of a Formula beside those it had before, each on its own base; the dough's one flour is left out.

    asked {ingredient or kind: (low, high, word)}: the band that was asked of it, and what to call it; others: the
    lines of the other parts too, each under its part's name, and what has changed first; far: how far it reaches.
    """

    title, x = "Ingredients", "% of total flour"

    def reach(self, far=100.0, **beside):
        """Return the ends of the axis [%]."""
        return 0, far

    def rows(self, value, before=None, asked=None, others=False, **beside):
        """Return a Row a line."""
        return ingredient_rows(before or value, value, asked, others)


def ingredient_rows(before, after, asked=None, others=False):
    """Return the Rows of the lines of two formulas, the dough's as the total formula has them; as IngredientRows."""
    sides = [_lines(f, others) for f in (before, after)]
    ingredients, asked = after.ingredients, asked or {}
    keys = dict.fromkeys((*sides[0], *sides[1]))
    kinds = [ingredients[key].kind for part, key in keys if not part]
    rows = []
    for part, key in keys:
        name, kind = ingredients[key].name, ingredients[key].kind
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
    """Quantities of a Solved before and after, as changes [% of what each was], with the bands that were asked.

    names: which, else those that were asked of; measured_before: what they were, when that is known already.
    """

    title, x = "What came of it", "change, % of what each was"
    REACH = 40.0  # % of each that the axis shows to both sides

    def reach(self, **beside):
        """Return the ends of the axis [%]."""
        return -self.REACH, self.REACH

    def _begin(self, value, **beside):
        super()._begin(value, **beside)
        self.ax.set_xticks([-40, -20, 0, 20, 40], ["−40", "−20", "0", "+20", "+40"])
        self.ax.axvline(0, color=BASELINE, linewidth=1.0, zorder=0)

    def rows(self, value, names=None, measured_before=None, **beside):
        """Return a Row a quantity, and the topping of a piece."""
        came = {c.demand.name: c for c in value.demands}
        names = names or [name for name in came if name in QUANTITIES or name in PROCESS]
        before, after = measured_before or measured(value.before, names), measured(value.formula, names)
        rows = []
        for name in names:
            unit = QUANTITIES[name].unit if name in QUANTITIES else PROCESS[name][1]
            band = ()
            if name in came:
                band = came[name].demand.low, came[name].demand.high, "given up" if came[name].traded else "held"
            rows.append(_change(in_words(name), unit, before[name], after[name], *band))
        if value.before.has("topping"):
            sides = (float(f.pieces.topping) for f in (value.before, value.formula))
            rows.append(_change("topping on a piece", "g", *sides))
        return rows


def _change(name, unit, before, after, low=np.nan, high=np.nan, word=""):
    def change(value):
        # a quantity that was nought has no share to change by: what comes waits at the edge
        return 100 * (value / before - 1) if before else np.sign(value) * 1e9 if value else 0.0

    unit = "%" if unit.startswith("%") else unit  # what of is in the name
    words = change_in_words(before, after, unit, 3 if unit.startswith("of 1") else 2 if abs(before) < 100 else 1)
    shown = f"{name}, {word}" if word else name
    return Row(shown, 0.0, change(after), words, change(low), change(high), bool(word))
