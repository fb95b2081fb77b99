"""The charts of a formula: where it stands among the classes of dough, what it is made of, where its water comes from.

Another formula beside it is hollow and grey. Lines and areas are labelled where they lie, not by a legend.
"""

import numpy as np
from matplotlib.patches import Rectangle

from ..balance import class_codes, measures, mixing_lines, own_steps, schemes
from ..balance.accounts import AT, lines_of, weights
from ..words import figure, listing
from . import marks
from .chart import Chart
from .look import ACCENT, BASELINE, CLASS_FILLS, COLOURS, INK, ON_DARK, QUIET, WRONG, filled, frame, thing
from .overlay import moving

_FAR = 1e3
MAP_BUTTER, MAP_SUGAR = 55.0, 32.0  # how far the class map reaches [% of flour]
_METHOD_WORDS = {
    "developed": "sugar in once developed",
    "half": "fat in half developed",
    "four_fifths": "fat in at four fifths",
}


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


class ClassMap(Chart):
    """A Formula among the classes of dough over butter and sugar, with the lines that change the method.

    before: a formula to begin from; published: whether the lines that have been printed are shown.
    """

    size, place = (416, 260), (0.105, 0.157, 0.877, 0.75)

    def _begin(self, formula, before=None, published=False):
        ax = self.ax
        frame(ax, "Dough class, and when fat and sugar go in", "butter, % of flour", "sugar, % of flour")
        ax.set(xlim=(0, MAP_BUTTER), ylim=(0, MAP_SUGAR), facecolor=CLASS_FILLS[-1])
        self.told, self.names = None, own_steps()[0]
        edge = {"edgecolor": "#8d8062", "linewidth": 0.9, "zorder": 1}
        self.fields = [
            moving(ax.add_patch(Rectangle((-1, -1), 1, 1, facecolor=fill, **edge)))
            for fill in CLASS_FILLS[len(self.names) - 2 :: -1]
        ]
        self.words = [
            marks.text(ax, name, 9.5, "#5b4f33", fill, style="italic", zorder=5, clip_on=True)
            for name, fill in zip(self.names, CLASS_FILLS, strict=True)
        ]
        self.method = [marks.line(ax, INK, linewidth=1.3, dashes=(5, 2), zorder=4) for _ in mixing_lines()]
        self.method_words = [
            marks.text(ax, _METHOD_WORDS[when], clip_on=True, ha="right") for *_, when in mixing_lines()
        ]
        self.published = [marks.line(ax, QUIET, linewidth=1.0, zorder=3) for _ in _published()]
        stands = {"sum": {"va": "bottom"}, "fat": {"rotation": 90, "ha": "right", "va": "top"}}
        self.published_words = [
            marks.text(ax, words, colour=QUIET, clip_on=True, **stands[kind]) for words, kind, _ in _published()
        ]
        self.joint = marks.line(ax, ACCENT, linewidth=1.2, zorder=7)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_base = marks.text(ax, "before", 8.5, QUIET, va="top", zorder=9)
        self.say_now = marks.text(ax, "", 10, ACCENT, fontweight="bold", zorder=10)

    def _move(self, formula, before=None, published=False):
        told = published, *((one.parts, one.ingredients) for one in (formula, before) if one)
        if told == self.told:  # all that it shows hangs on
            return self.alt
        self.told = told
        fields = self._fields(class_corners(formula))
        lines, other_fat, other_sugar = map_lines(formula)
        methods, printed = [], []
        for line, word, (_, ((xa, ya), (xb, yb))) in zip(self.method, self.method_words, lines, strict=True):
            marks.trace(line, (xa, xb), (ya, yb))
            upright = xa == xb
            if word.get_rotation() != 90 * upright:
                word.set_rotation(90 * upright)
            marks.place(word, *((xa + 2.1, MAP_SUGAR - 0.6) if upright else (MAP_BUTTER - 0.5, ya + 0.3)))
            methods.append((word, 0 < xa < MAP_BUTTER if upright else 0 < ya < MAP_SUGAR))
        for line, word, (_, kind, value) in zip(self.published, self.published_words, _published(), strict=True):
            x = value - other_fat - (0 if kind == "fat" else other_sugar)
            marks.trace(line, (x, x) if kind == "fat" else (0, x), (0, MAP_SUGAR) if kind == "fat" else (x, 0))
            marks.place(word, max(x, 0) + 0.4, MAP_SUGAR - 0.6 if kind == "fat" else 0.35)
            marks.visible(line, published)
            printed.append((word, published and x > 0))
        said, moved = self._marks(formula, before or formula)
        marks.clear(self.ax, self.now, [(self.say_now, True), (self.say_base, moved), *printed, *methods, *fields])
        return said

    def _fields(self, corners):
        for patch, (x, y) in zip(self.fields, reversed(corners), strict=True):
            marks.bounds(patch, -1, -1, max(x, -0.5) + 1, max(y, -0.5) + 1)
        edges = [0.0, *(x for x, _ in corners), _FAR]
        wide = []
        for word, left, right in zip(self.words, edges[:-1], edges[1:], strict=True):
            marks.place(word, max(left, 0.0) + 0.7, 0.5)
            wide.append((word, min(right, MAP_BUTTER) - max(left, 0.0) > len(word.get_text()) + 0.9))
        return wide

    def _marks(self, formula, before):
        butter, sugar = (before.of_kind(kind) for kind in ("butter", "sugar"))
        here = x, y = tuple(formula.of_kind(kind) for kind in ("butter", "sugar"))
        marks.trace(self.base, [butter], [sugar])
        marks.place(self.say_base, butter + 0.8, sugar - 1.2)
        marks.trace(self.joint, [butter, here[0]], [sugar, here[1]])
        x, y = min(x, MAP_BUTTER - 0.6), min(y, MAP_SUGAR - 0.6)  # beyond the map the mark waits at its edge
        marks.trace(self.now, [x], [y])
        values = measures(formula, ("fat", "sugars", "total_hydration"))
        name = self.names[int(class_codes(values["fat"], values["sugars"]))]
        marks.beside(self.say_now, x, min(y + 0.5, MAP_SUGAR - 2.4), name, 1.3, x < MAP_BUTTER - 10)
        said = (
            f"Class map: {name} at butter {figure(here[0])} and sugar {figure(here[1])} % of flour; total hydration "
            f"{figure(values['total_hydration'])} % of flour."
        )
        return said, here != (butter, sugar)


def _published():
    """The published lines worth drawing over the map: [(words, fat or sum, value)]."""
    lines = (
        ("reinhart_2001", "rich", "a textbook"),
        ("german_stollen", "stollen", "German code"),
        ("german_stollen", "butter stollen", "German code"),
    )
    found = []
    for scheme, word, who in lines:
        row = next(row for row in schemes()[scheme] if row["class"] == word)
        found.append((f"{word} {row.fat_min:.0f}: {who}", "fat", row.fat_min))
    row = next(row for row in schemes()["german_code"] if row.fat_sugar_sum_min)
    line = row.fat_sugar_sum_min
    return [*found, (f"fat + sugar {line:.1f}, {row['class']}: German code", "sum", line)]


HOLLOW = ("no water", "lost")  # what is not there, or no longer
COLOUR_OF = {"butter": "fat", "bun": "flour"}


class Bars(Chart):
    """Rows of bars that lie end to end, each under its name and its words, and a mark that somebody set on one.

    The value is {row: ({part: its length}, words)}, the rows and parts always the same; title and highest: of the axis;
    mark: (row, where). A part of the sponge is hatched; of what is not there the outline alone is drawn. What is too
    narrow for its name is named beneath its row. fit: how much shorter all is drawn.
    """

    hollow: tuple[str, ...] = ()  # rows of which the outline alone is drawn

    @property
    def size(self):
        """As wide as a tablet held upright has room for, as high as its rows need [px]."""
        return 400, 46 + 64 * len(self.value)

    @property
    def place(self):
        """Beneath the title."""
        return 0.01, 0.0, 0.98, 1 - 26 / self.size[1]

    def _begin(self, shown, title, highest, mark):
        ax, rows = self.ax, list(shown)
        frame(ax, title, bare="xy")
        ax.set(xlim=(0, highest), ylim=(len(rows) + 0.3, 0))
        asked = rows.index(mark[0])  # which has room above it for the words of the mark
        self.rows = {row: n + 0.26 * (n >= asked) for n, row in enumerate(rows)}
        if any("100 %" in words for _, words in shown.values()):
            ax.axvline(100, color=BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=5)
        self.pixel = highest / (ax.get_position().width * ax.figure.bbox.width)
        self.bars, self.words, self.ends, self.beneath = {}, {}, {}, {}
        for row, (parts, _) in shown.items():
            for part in parts:
                word = COLOUR_OF.get(part.split()[-1], part.split()[-1])
                name = word if word in COLOURS else "rest"
                style, halo, ink = filled(name), COLOURS[name], "white" if name in ON_DARK else INK
                if part.startswith("sponge"):
                    style |= {"hatch": "//"}
                if part in HOLLOW or row in self.hollow:
                    style, halo, ink = {"facecolor": "white", "edgecolor": BASELINE}, "white", QUIET
                self.bars[row, part] = moving(ax.add_patch(Rectangle((0, 0), 0, 0, zorder=3, **style)))
                self.words[row, part] = marks.text(ax, "", 8.6, ink, halo, ha="center", va="center", linespacing=1.05)
            ax.text(0, self.rows[row], row, fontsize=9.5, color=INK, va="top")
            ink = QUIET if row in self.hollow else ACCENT
            self.ends[row] = marks.text(ax, "", 9.5, ink, va="top", ha="right", fontweight="bold", zorder=7)
            self.beneath[row] = marks.text(ax, "", 8.6, va="top", colour=INK)
        self.mark = marks.line(ax, WRONG, linewidth=2.4, zorder=8)
        self.say_mark = marks.text(ax, "", 9, WRONG, va="bottom", fontweight="bold", zorder=9)

    def _move(self, shown, highest, mark, fit=1.0, **_):
        for row, (parts, said) in shown.items():
            left, narrow, y = 0.0, [], self.rows[row]
            for part, length in parts.items():
                drawn = length * fit
                marks.bounds(self.bars[row, part], left, y + 0.26, drawn, 0.5)
                name, text = part.removeprefix("sponge "), figure(length)
                room = drawn / (6.4 * self.pixel) * (part not in HOLLOW)  # letters
                wide = room >= max(len(name), len(text))
                marks.place(self.words[row, part], left + drawn / 2, y + 0.51, f"{name}\n{text}" if wide else "")
                if not wide and length and part not in HOLLOW:
                    narrow.append(f"{name} {text}")
                left += drawn
            marks.place(self.ends[row], highest, y, said)
            marks.place(self.beneath[row], 0, y + 0.78, ", ".join(narrow) if len(parts) > 2 else "")
        row, at = mark
        y = self.rows[row]
        marks.trace(self.mark, [at, at] if at else [], [y, y + 0.78] if at else [])
        marks.beside(self.say_mark, at, y, "your mark" if at else "", 0, at < highest / 2)


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
