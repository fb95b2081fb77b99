"""The charts of a formula: each is `chart(ax, compared)` and returns a handle with `.update(compared)`.

Baseline hollow and grey, variant filled. Lines and areas are labelled where they lie, not by a legend.
"""

import numpy as np
from matplotlib.patches import Rectangle

from ..balance import schemes
from ..words import figure
from . import marks
from .compared import SPAN, class_corners, hydration_contours, map_lines
from .look import ACCENT, ACCENT_LIGHT, BASELINE, CLASS_FILLS, COLOURS, INK, ON_DARK, QUIET, filled, frame, note, title
from .overlay import moving

_FAR = 1e3
_FULL = 0.82  # share of its axis that a stacked bar may fill, its total standing behind it
MAP_BUTTER, MAP_SUGAR = 55.0, 32.0  # how far the class map reaches [% of flour]
_METHOD_WORDS = {
    "developed": "sugar above 12: once developed",
    "half": "fat 5 to 15: at half development",
    "four_fifths": "fat above 15: at four fifths",
}


class ClassMap:
    """Dough class over butter and sugar, with the lines that change the method, and where the formula stands."""

    def __init__(self, ax, compared):
        frame(ax, "", "butter, % of flour, as weighed", "sugar, % of flour, as weighed")
        title(ax, "Dough class, and when fat and sugar go in", pad=28)
        words = "total hydration, % of flour (dotted)"
        ax.annotate(
            words, (0, 1), (0, 15), "axes fraction", "offset points", fontsize=8.3, color=COLOURS["water"], va="bottom"
        )
        note(ax, "fields: assumed here; dashed: a baking school's glossary")
        ax.set_xlim(0, MAP_BUTTER)
        ax.set_ylim(0, MAP_SUGAR)
        ax.set_facecolor(CLASS_FILLS[-1])
        self.ax = ax
        steps = list(enumerate(compared.names))
        edge = {"edgecolor": "#8d8062", "linewidth": 0.9, "zorder": 1}
        self.fields = [
            moving(ax.add_patch(Rectangle((-1, -1), 1, 1, facecolor=CLASS_FILLS[n], **edge)))
            for n, _ in reversed(steps[:-1])
        ]
        self.words = [
            marks.text(ax, name, 9.5, "#5b4f33", CLASS_FILLS[n], style="italic", zorder=5, clip_on=True)
            for n, name in steps
        ]
        blue = COLOURS["water"]
        self.contours = [marks.line(ax, blue, linewidth=0.9, dashes=(1, 2.2), zorder=2) for _ in range(16)]
        self.levels = [marks.text(ax, colour=blue, ha="center") for _ in self.contours]
        self.method = [marks.line(ax, INK, linewidth=1.3, dashes=(5, 2), zorder=4) for _ in _METHOD_WORDS]
        self.method_words = [marks.text(ax, clip_on=True, rotation_mode="anchor") for _ in self.method]
        self.published = [marks.line(ax, QUIET, linewidth=1.0, zorder=3) for _ in _published()]
        stands = {"sum": {"rotation": 0, "va": "bottom"}, "fat": {"rotation": 90, "va": "top"}}
        self.published_words = [
            marks.text(ax, words, colour=QUIET, clip_on=True, **stands[kind]) for words, kind, _ in _published()
        ]
        self.path = marks.line(ax, ACCENT, linewidth=1.2, marker="o", markersize=2.5, zorder=7)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_base = marks.text(ax, "baseline", 8.5, QUIET, va="top", zorder=9)
        self.say_now = marks.text(ax, "", 10, ACCENT, fontweight="bold", zorder=10)
        self.update(compared)

    def update(self, compared):
        """Move what depends on the variant: fields, lines, path and marks."""
        variant = compared.variant
        self._fields(class_corners(variant))
        self._contours(hydration_contours(variant, highest=MAP_BUTTER))
        lines, other_fat, other_sugar = map_lines(variant)
        for line, word, (when, ((xa, ya), (xb, yb))) in zip(self.method, self.method_words, lines, strict=True):
            marks.trace(line, (xa, xb), (ya, yb))
            upright = xa == xb
            word.set_text(_METHOD_WORDS[when])
            if word.get_rotation() != 90 * upright:
                word.set_rotation(90)
            marks.place(word, *((xa + 1.6, 13.2) if upright else (MAP_BUTTER - 0.5, ya + 0.3)))
            marks.align(word, "left" if upright else "right")
            marks.visible(word, 0 < xa < MAP_BUTTER if upright else 0 < ya < MAP_SUGAR)
        for line, word, (_, kind, value) in zip(self.published, self.published_words, _published(), strict=True):
            if kind == "fat":
                x = value - other_fat
                marks.trace(line, (x, x), (0, MAP_SUGAR))
                marks.place(word, x + 0.4, MAP_SUGAR - 0.6)
                marks.visible(word, 0 < x < MAP_BUTTER)
            else:
                whole = value - other_fat - other_sugar
                marks.trace(line, (0, whole), (whole, 0))
                marks.place(word, max(whole, 0) + 0.4, 0.35)
                marks.visible(word, 2 < whole < MAP_BUTTER)
        self._marks(compared)

    def _fields(self, corners):
        for patch, (x, y) in zip(self.fields, reversed(corners), strict=True):
            marks.bounds(patch, -1, -1, max(x, -0.5) + 1, max(y, -0.5) + 1)
        edges = [0.0, *(x for x, _ in corners), _FAR]
        for word, left, right in zip(self.words, edges[:-1], edges[1:], strict=True):
            left = max(left, 0.0)
            marks.place(word, left + 0.7, 3.2)
            marks.visible(word, min(right, MAP_BUTTER) - left > 5)

    def _contours(self, lines):
        for n, (line, word) in enumerate(zip(self.contours, self.levels, strict=True)):
            shown = n < len(lines)
            labelled = False
            if shown:
                level, ((xa, ya), (xb, yb)) = lines[n]
                marks.trace(line, (xa, xb), (ya, yb))
                x = xa + (xb - xa) * MAP_SUGAR / (yb - ya)
                labelled = round(level) % 2 == 0 and 1 < x < MAP_BUTTER - 1
                if labelled:
                    marks.place(word, x, MAP_SUGAR + 0.3, f"{level:.0f}")
            marks.visible(line, shown)
            marks.visible(word, labelled)

    def _marks(self, compared):
        butter, sugar = (compared.baseline.of_kind(kind) for kind in ("butter", "sugar"))
        x, y = (compared.variant.of_kind(kind) for kind in ("butter", "sugar"))
        marks.trace(self.base, [butter], [sugar])
        marks.place(self.say_base, butter + 1.3, sugar - 0.7)
        marks.visible(self.say_base, (x, y) != (butter, sugar) and butter < MAP_BUTTER - 8)
        marks.trace(self.path, *(zip(*compared.path, (x, y), strict=True) if compared.path else ([], [])))
        x, y = min(x, MAP_BUTTER - 0.6), min(y, MAP_SUGAR - 0.6)  # beyond the map the mark waits at its edge
        marks.trace(self.now, [x], [y])
        words = compared.names[compared.code]
        marks.beside(self.say_now, x, min(y + 0.5, MAP_SUGAR - 2.4), words, 1.3, x < MAP_BUTTER - 10)


def _published():
    """The published lines worth drawing over the map: [(words, fat or sum, value)]."""
    lines = (
        ("reinhart_2001", "rich", "a textbook, 2001"),
        ("german_stollen", "stollen", "German code"),
        ("german_stollen", "butter stollen", "German code"),
    )
    found = []
    for scheme, word, who in lines:
        row = next(row for row in schemes()[scheme] if row["class"] == word)
        found.append((f"{word} from {row.fat_min:.0f}: {who}", "fat", row.fat_min))
    row = next(row for row in schemes()["german_code"] if row.fat_sugar_sum_min)
    line = row.fat_sugar_sum_min
    return [*found, (f"fat + sugar {line:.1f}, {row['class']}: German code", "sum", line)]


class Stacks:
    """Two stacked bars, the baseline hollow above and the variant filled below; each part labelled where it lies.

    rows: their names; hollow: which of them are drawn without their colours.
    """

    def __init__(self, ax, compared, title, read, order, highest, rows=("baseline", "variant"), hollow=(True, False)):
        frame(ax, title, bare="x")
        self.read, self.order, self.wide = read, order, highest
        ax.set_xlim(0, highest)
        ax.set_ylim(-1.02, 1.44)
        ax.set_yticks([1, 0], rows)
        ax.tick_params(axis="y", length=0)
        self._pixels = ax.get_position().width * ax.figure.bbox.width
        self.bars, self.labels = {}, {}
        for side in (0, 1):
            for name in order:
                fill = filled(name)
                if hollow[side]:
                    fill = {"facecolor": "white", "edgecolor": BASELINE, "linewidth": 1.0}
                bar = Rectangle((0, 1 - side - 0.42), 0, 0.84, zorder=3, **fill)
                self.bars[side, name] = moving(ax.add_patch(bar))
                colour = QUIET if hollow[side] else "white" if name in ON_DARK else INK
                halo = None if hollow[side] else COLOURS[name]
                middle = {"ha": "center", "va": "center", "linespacing": 1.05}
                self.labels[side, name] = marks.text(ax, "", 8.3, colour, halo, **middle)
        self.small = marks.text(ax, "", 8.3, QUIET, None, va="top")
        self.totals = [
            marks.text(ax, "", 9.5, QUIET if empty else ACCENT, None, fontweight="bold", va="center")
            for empty in hollow
        ]
        self.update(compared)

    def update(self, compared):
        """Bring both bars to the formulas' values; what is too narrow for its name is told below the variant."""
        sides = [self.read(compared, side) for side in (0, 1)]
        # Beyond the axis both bars shrink alike, so that their totals keep room.
        fit = min(1.0, _FULL * self.wide / max(sum(values.values()) for values, *_ in sides))
        for side, (values, words, total) in enumerate(sides):
            y = 1 - side
            left, small = 0.0, []
            for name in self.order:
                value, label = values.get(name, 0.0), self.labels[side, name]
                wide = value * fit
                marks.bounds(self.bars[side, name], left, y - 0.42, wide, 0.84)
                marks.visible(self.bars[side, name], value > 0)
                for text in (words(name, value), words(name, value).split("\n")[-1], ""):
                    if wide / self.wide * self._pixels > 6.4 * max(map(len, text.split("\n"))) + 3:
                        break
                marks.place(label, left + wide / 2, y, text)
                marks.visible(label, text)
                if value > 0 and "\n" not in text:
                    small.append(words(name, value).replace("\n", " "))
                left += wide
            marks.place(self.totals[side], left + 0.014 * self.wide, y, total)
        marks.place(self.small, 0, -0.56, ", ".join(small))


_WATER_WORDS = {"fat": "butter"}


def water_sources(ax, compared):
    """Draw where the dough's water comes from, baseline above variant [% of flour]; returns a handle."""

    def read(shown, side):
        values = shown.water[side]
        total = f"{figure(sum(values.values()))} %"
        return values, lambda name, v: f"{_WATER_WORDS.get(name, name)}\n{figure(v)}", total

    highest = max(max(sum(side.values()) for side in compared.water) * 1.3, 85)
    order = ("milk", "egg", "water", "fat", "yeast", "rest")
    return Stacks(ax, compared, "Where the water comes from, % of flour", read, order, highest)


_MADE_WORDS = {"egg": "egg solids", "milk": "milk solids"}


def made_of(ax, compared):
    """Draw what the dough is made of on 100 flour, baseline above variant [% of flour]; returns a handle."""

    def read(shown, side):
        values = shown.made_of[side]

        def words(name, value):
            return f"{_MADE_WORDS.get(name, name)}\n{figure(value, 0 if value >= 10 else 1)}"

        return values, words, f"{figure(sum(values.values()), 0)} %"

    highest = max(max(sum(side.values()) for side in compared.made_of) * 1.12, 270)
    order = ("flour", "water", "fat", "sugar", "egg", "milk", "rest")
    title = "What the dough is made of, % of flour"
    return Stacks(ax, compared, title, read, order, highest)


def sweetness(ax, compared):
    """Draw where a raw piece's sugars lie, topping and crumb, baseline above variant [g]; returns a handle."""

    def read(shown, side):
        told = shown.values[side]
        values = {"sugar": told["sugars_per_piece_topping"], "flour": told["sugars_per_piece_dough"]}
        in_topping = told["sweetness_split"]
        share = {"sugar": ("topping", in_topping), "flour": ("crumb", 100 - in_topping if values["flour"] else 0.0)}

        def words(name, value):
            return f"{share[name][0]} {figure(value)} g\n{figure(share[name][1], 0)} %"

        return values, words, f"{figure(sum(values.values()))} g"

    highest = max(max(v["sugars_per_piece_topping"] + v["sugars_per_piece_dough"] for v in compared.values) * 1.6, 1)
    title = "Where the sweetness lies, g of a raw piece"
    return Stacks(ax, compared, title, read, ("sugar", "flour"), highest)


class YieldChart:
    """Pieces (or baked mass with its band) against the ingredient being moved, in points from the baseline."""

    def __init__(self, ax, compared, what):
        self.ax, self.what = ax, what
        frame(ax, "Pieces, same flour" if what == "pieces" else "All pieces baked, kg", grid="y")
        ax.set_xlim(*SPAN)
        ax.set_xticks([-20, 0, 20, 40], ["−20", "0", "+20", "+40"])
        centre = self._value(compared.made[0])
        ax.set_ylim(centre * 0.8, centre * 1.4)
        ax.locator_params(axis="y", nbins=5)
        self.band = moving(ax.fill_between([0, 1], [0, 0], [0, 0], facecolor=ACCENT_LIGHT, edgecolor="none", zorder=1))
        self._edges = ()
        self.line = marks.line(ax, ACCENT, linewidth=1.6, zorder=4)
        ax.axvline(0, color=BASELINE, linewidth=1.0, zorder=2)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.word = marks.text(ax, "", 10, ACCENT, fontweight="bold", zorder=10)
        if what == "pieces":
            self.moved = marks.text(ax, "", 8.5, INK, transform=ax.transAxes, va="top")
        else:
            note = "band: usual bake losses"
            ax.text(0, -0.38, note, transform=ax.transAxes, fontsize=8.3, color=QUIET, va="top")
        self.update(compared)

    def _value(self, made):
        return made.pieces if self.what == "pieces" else made.baked_mass / 1000

    def update(self, compared):
        """Move the curve, its band and the two marks."""
        kind = compared.moving
        start = compared.baseline.of_kind(kind)
        low, high = self.ax.get_ylim()
        marks.visible(self.line, compared.sweep is not None)
        marks.visible(self.band, compared.sweep is not None and self.what != "pieces")
        if compared.sweep is not None:
            points, made = compared.sweep
            marks.trace(self.line, points, self._value(made))
            if self.what != "pieces":
                count = made.pieces / 1000
                edges = np.array([points, count * made.baked_piece_low, count * made.baked_piece_high])
                if marks.differs(self._edges, edges.ravel()):
                    self._edges = edges.ravel()
                    self.band.set_data(*edges)
        marks.trace(self.base, [0], [self._value(compared.made[0])])
        y = self._value(compared.made[1])
        words = f"{y:,.0f}" if self.what == "pieces" else f"{y:,.2f}"
        x = np.clip(compared.variant.of_kind(kind) - start, *SPAN)
        y = np.clip(y, low, high)
        marks.trace(self.now, [x], [y])
        above = min(y + (high - low) * 0.04, high - (high - low) * 0.16)
        marks.beside(self.word, x, above, words, 2, x < SPAN[1] - 16)
        if self.what == "pieces":
            marks.place(self.moved, 0, -0.24, f"x: points of {kind} from the baseline's {figure(start)} % of flour")


def pieces(ax, compared):
    """Draw the count of pieces from the same flour against the ingredient being moved; returns a handle."""
    return YieldChart(ax, compared, "pieces")


def baked_mass(ax, compared):
    """Draw the baked mass of all pieces [kg] with its band against the ingredient being moved; returns a handle."""
    return YieldChart(ax, compared, "baked mass")
