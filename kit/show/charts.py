"""The charts of a formula: where it stands among the classes of dough, what it is made of, where its water comes from.

Another formula beside it is hollow and grey. Lines and areas are labelled where they lie, not by a legend.
"""

import functools

import numpy as np

from ..balance import dough_class, measures, mixing_lines, own_steps, total_hydration
from ..balance.accounts import AT, lines_of, weights
from ..tables import table
from ..words import figure, listing
from .chart import Chart
from .look import ACCENT, BASELINE, CLASS_FILLS, COLOURS, INK, ON_DARK, QUIET, WRONG, filled, frame, thing

MAP_BUTTER, MAP_SUGAR = 55.0, 32.0  # how far the class map reaches [% of flour]


def map_lines(formula):
    """Return where the method changes over butter and sugar, and the other fat and sugar as weighed [% of flour].

    [(when, ((x, y), (x, y)))]: x and y are butter and sugar [% of flour, as weighed]; two points span the plane.
    """
    as_weighed = measures(formula, ("fat_as_weighed", "sugar_as_weighed"))
    other_fat = as_weighed["fat_as_weighed"] - formula.of_kind("butter")
    other_sugar = as_weighed["sugar_as_weighed"] - formula.of_kind("sugar")
    lines = []
    for what, at, when in mixing_lines():
        x, y = at - other_fat, at - other_sugar
        lines.append((when, ((x, 0), (x, 500)) if what == "fat" else ((0, y), (500, y))))
    return lines, other_fat, other_sugar


def _brings(formula, kind, name):
    """Return what 1 g of a kind, in the mixture the formula has of it, brings to an account [g per g]; never 0, so
    that what is unknown or brings nothing reaches its line far off.
    """
    lines = zip(formula.dough_keys, formula.dough_percentages.tolist(), strict=True)
    shares = {key: value for key, value in lines if value and formula.ingredients[key].kind == kind}
    shares = shares or {formula.ingredients.of_kind(kind)[0]: 1.0}
    brought = weights(formula, list(shares))[:, AT[name]]
    return float(np.dot(brought, list(shares.values())) / sum(shares.values())) or 1e-6


def class_corners(formula):
    """Return [(butter, sugar)] at which each step of the house's classes after the first begins [% of flour]."""
    _, fat_begins, sugar_begins = own_steps()
    values = measures(formula, ("fat", "sugars"))
    butter = formula.of_kind("butter") + (fat_begins - values["fat"]) / _brings(formula, "butter", "fat_not_flour")
    sweet = _brings(formula, "sugar", "sugars_not_lactose")
    sugar = formula.of_kind("sugar") + (sugar_begins - values["sugars"]) / sweet
    return list(zip(butter[1:].tolist(), sugar[1:].tolist(), strict=True))


@functools.lru_cache(maxsize=4)
def class_said(formula):
    """Return the class of a dough in a word: the map asks for it, and the figures beside it."""
    return dough_class(formula).said


class ClassMap(Chart):
    """A Formula among the classes of dough over butter and sugar, with the lines that change the method.

    before: a formula to begin from; published: whether the lines that have been printed are shown.
    """

    size, edges = (416, 260), (0.105, 40.82, 0.877, 65)
    told = None

    def _begin(self, formula, before=None, published=False):
        frame(self.ax, "Dough class, and when fat and sugar go in", "butter, % of flour", "sugar, % of flour")
        self.ax.set(xlim=(0, MAP_BUTTER), ylim=(0, MAP_SUGAR), facecolor=CLASS_FILLS[-1])

    def _move(self, formula, before=None, published=False):
        told = published, *((one.parts, one.ingredients) for one in (formula, before) if one)
        if told == self.told:  # all that it shows hangs on
            return self.alt
        self.told, before = told, before or formula
        corners, (lines, other_fat, other_sugar) = class_corners(formula), map_lines(formula)
        edge = {"edgecolor": "#8d8062", "linewidth": 0.9, "zorder": 1}
        self.fields = [
            self._box(-1, -1, max(x, -0.5) + 1, max(y, -0.5) + 1, facecolor=fill, **edge)
            for fill, (x, y) in reversed(list(zip(CLASS_FILLS, corners, strict=False)))
        ]
        ends = [0.0, *(min(max(x, 0.0), MAP_BUTTER) for x, _ in corners), MAP_BUTTER]
        italic = {"style": "italic", "zorder": 5, "clip_on": True}
        self.words = [
            self._text(left + 0.7, 0.5, name, 9.5, "#5b4f33", fill, **italic)
            for name, fill, left in zip(own_steps()[0], CLASS_FILLS, ends, strict=False)
        ]
        fields = [(word, ends[n + 1] - ends[n] > len(word.get_text()) + 0.9) for n, word in enumerate(self.words)]
        self.method, self.method_words, self.published, self.published_words = [], [], [], []
        inside, printed = [], []
        on_map = {row.when: row.on_map for row in table("mixing_method").rows}
        for when, ((xa, ya), (xb, yb)) in lines:
            upright = xa == xb
            self.method.append(self._line((xa, xb), (ya, yb), INK, linewidth=1.3, dashes=(5, 2), zorder=4))
            at = (xa + 2.1, MAP_SUGAR - 0.6) if upright else (MAP_BUTTER - 0.5, ya + 0.3)
            look = {"rotation": 90 * upright, "ha": "right", "clip_on": True}
            self.method_words.append(self._text(*at, on_map[when], **look))
            inside.append(0 < xa < MAP_BUTTER if upright else 0 < ya < MAP_SUGAR)
        for words, kind, value in _published():
            x, top, look = value - other_fat, MAP_SUGAR - 0.6, {"rotation": 90, "ha": "right", "va": "top"}
            ends = (x, x), (0, MAP_SUGAR)
            if kind == "sum":
                x, top, look = x - other_sugar, 0.35, {}
                ends = (0, x), (x, 0)
            self.published.append(self._line(*ends, QUIET, linewidth=1.0, zorder=3, visible=published))
            self.published_words.append(self._text(max(x, 0) + 0.4, top, words, color=QUIET, clip_on=True, **look))
            printed.append(published and x > 0)
        said, moved = self._marks(formula, before)
        printed, methods = zip(self.published_words, printed, strict=True), zip(self.method_words, inside, strict=True)
        self._clear(self.now, [(self.say_now, True), (self.say_base, moved), *printed, *methods, *fields])
        return said

    def _marks(self, formula, before):
        was, here = ([one.of_kind(kind) for kind in ("butter", "sugar")] for one in (before, formula))
        x, y = min(here[0], MAP_BUTTER - 0.6), min(here[1], MAP_SUGAR - 0.6)  # beyond the map it waits at its edge
        name, right = class_said(formula), x < MAP_BUTTER - 10
        self.joint = self._line(*zip(was, here, strict=True), ACCENT, linewidth=1.2, zorder=7)
        self.base, self.now = self._dot(*was, False), self._dot(x, y, True)
        self.say_base = self._text(was[0] + 0.8, was[1] - 1.2, "before", 8.5, QUIET, va="top", zorder=9)
        bold = {"fontweight": "bold", "zorder": 10, "ha": "left" if right else "right"}
        at = x + (1.3 if right else -1.3), min(y + 0.5, MAP_SUGAR - 2.4)
        self.say_now = self._text(*at, name, 10, ACCENT, **bold)
        said = (
            f"Class map: {name} at butter {figure(here[0])} and sugar {figure(here[1])} % of flour; total hydration "
            f"{figure(total_hydration(formula))} % of flour."
        )
        return said, here != was


def _published():
    """Yield (words, fat or sum, value) of the published lines that are drawn over the map."""
    rows = [row for row in table("dough_classes").rows if row.on_map]
    for row in rows:
        if row.fat_min:
            yield f"{row['class']} {row.fat_min:.0f}: {row.on_map}", "fat", row.fat_min
    for row in rows:
        if line := row.fat_sugar_sum_min:
            yield f"fat + sugar {line:.1f}, {row['class']}: {row.on_map}", "sum", line


HOLLOW = ("no water", "lost")  # what is not there, or no longer
COLOUR_OF = {"butter": "fat", "bun": "flour"}


class Bars(Chart):
    """Rows of bars that lie end to end, each under its name and its words, and a mark that somebody set on one.

    The value is {row: ({part: its length}, words)}, the rows and parts always the same; title and highest: of the axis;
    mark: (row, where). A part of the sponge is hatched; of what is not there the outline alone is drawn. What is too
    narrow for its name is named beneath its row. fit: how much shorter all is drawn.
    """

    edges = (0.01, 0, 0.98, 26)
    hollow: tuple[str, ...] = ()  # rows of which the outline alone is drawn

    @property
    def size(self):
        """As wide as a tablet held upright has room for, as high as its rows need [px]."""
        return 400, 46 + 64 * len(self.value)

    def _begin(self, shown, title, highest, mark):
        ax, rows = self.ax, list(shown)
        frame(ax, title, bare="xy")
        ax.set(xlim=(0, highest), ylim=(len(rows) + 0.3, 0))
        asked = rows.index(mark[0])  # which has room above it for the words of the mark
        self.rows = {row: n + 0.26 * (n >= asked) for n, row in enumerate(rows)}
        for row, y in self.rows.items():
            ax.text(0, y, row, fontsize=9.5, color=INK, va="top")
        if any("100 %" in words for _, words in shown.values()):
            ax.axvline(100, color=BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=5)
        self.pixel = highest / (ax.get_position().width * ax.figure.bbox.width)

    def _move(self, shown, highest, mark, fit=1.0, **_):
        self.bars, self.words, self.ends, self.beneath = {}, {}, {}, {}
        for row, (parts, said) in shown.items():
            left, narrow, y = 0.0, [], self.rows[row]
            for part, length in parts.items():
                drawn, name, text = length * fit, part.removeprefix("sponge "), figure(length)
                style, halo, ink = _look_of(part, row in self.hollow)
                room = drawn / (6.4 * self.pixel) * (part not in HOLLOW)  # letters
                wide = bool(room >= max(len(name), len(text)))
                middle = {"ha": "center", "va": "center", "linespacing": 1.05}
                self.bars[row, part] = self._box(left, y + 0.26, drawn, 0.5, zorder=3, **style)
                at = left + drawn / 2, y + 0.51
                self.words[row, part] = self._text(*at, f"{name}\n{text}" * wide, 8.6, ink, halo, **middle)
                if not wide and length and part not in HOLLOW:
                    narrow.append(f"{name} {text}")
                left += drawn
            bold = {"va": "top", "ha": "right", "fontweight": "bold", "zorder": 7}
            self.ends[row] = self._text(highest, y, said, 9.5, QUIET if row in self.hollow else ACCENT, **bold)
            self.beneath[row] = self._text(0, y + 0.78, ", ".join(narrow) * (len(parts) > 2), 8.6, va="top")
        row, at = mark
        y, side = self.rows[row], "left" if at < highest / 2 else "right"
        self.mark = self._line([at, at] if at else [], [y, y + 0.78] if at else [], WRONG, linewidth=2.4, zorder=8)
        self._text(at, y, "your mark" * bool(at), 9, WRONG, fontweight="bold", zorder=9, ha=side)


def _look_of(part, hollow):
    """Return the look of a part's bar, and the colours behind and of its words."""
    if hollow or part in HOLLOW:
        return {"facecolor": "white", "edgecolor": BASELINE}, "white", QUIET
    word = COLOUR_OF.get(part.split()[-1], part.split()[-1])
    name = word if word in COLOURS else "rest"
    hatched = {"hatch": "//"} if part.startswith("sponge") else {}
    return filled(name) | hatched, COLOURS[name], "white" if name in ON_DARK else INK


class WaterSources(Bars):
    """Where the water of a Formula's dough comes from [% of flour]; before: another formula, above it."""

    size, hollow = (400, 174), ("before",)
    title, least = "Where the water comes from, % of flour", 85.0

    def _sides(self, value, before):
        sides = {"before": water_sources(before or value), "now": water_sources(value)}
        sums = {row: sum(side.values()) for row, side in sides.items()}
        return {row: (side, f"{figure(sums[row])} %") for row, side in sides.items()}, max(sums.values())

    def _begin(self, value, before=None):
        shown, most = self._sides(value, before)
        self.highest = max(self.least, 1.25 * most)
        super()._begin(shown, self.title, self.highest, ("now", 0.0))

    def _move(self, value, before=None):
        shown, most = self._sides(value, before)
        fit = min(1.0, self.highest / most)  # beyond the axis both bars shrink alike
        super()._move(shown, self.highest, ("now", 0.0), fit)
        parts, whole = shown["now"]
        said = listing(f"{name} {figure(part)}" for name, part in parts.items() if part >= 0.05)
        return f"{self.title}: {said}; in all {whole}."


def water_sources(formula):
    """Return {thing: water it brings to the dough} [% of flour], in the order milk, egg, water, butter, yeast, rest."""
    lines = lines_of(formula)
    brought = lines.grams * weights(formula, lines.keys)[:, AT["water_not_flour"]]
    result = dict.fromkeys(("milk", "egg", "water", "butter", "yeast", "rest"), 0.0)
    for key, value in zip(lines.keys, brought.tolist(), strict=True):
        if value:
            name = thing(formula.ingredients[key]).replace("fat", "butter")
            result[name if name in result else "rest"] += value
    return result
